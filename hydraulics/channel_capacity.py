"""The multiple of a set of inflows at which channels are full to the rim: many channels in one search."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from hydraulics.search import largest_passing
from hydraulics.spatially_varied import Reach, surface
from hydraulics.units import GRAVITY_M_S2, FloatArray

AT_ONCE: Final = 2048
"""Channels of one march: more would leave the processor's cache."""

LEVEL_STEPS: Final = 40
SLOPED_STEPS: Final = 80
"""Steps of one surface: a capacity is good to 5e-5 level and to 1e-5 sloped as a rule (0.5 % in the thinnest film)."""


@dataclass(frozen=True)
class Filling:
    """Channels and the inflows that grow together; every array (channels,).

    rim, rim_end: what water may stand over floor and silt at the upstream end and at the free end [m];
    lateral, upstream: inflows at multiple 1 [m3/s]; upstream_fixed: inflow there at any multiple [m3/s].
    """

    reach: Reach
    rim: FloatArray
    rim_end: FloatArray
    lateral: FloatArray
    upstream: FloatArray
    upstream_fixed: FloatArray

    def pick(self, mask: np.ndarray) -> "Filling":
        """The channels where ``mask`` is true."""
        return Filling(
            self.reach.pick(mask), self.rim[mask], self.rim_end[mask],
            self.lateral[mask], self.upstream[mask], self.upstream_fixed[mask],
        )  # fmt: skip


def overfull(filling: Filling, multiple: FloatArray) -> FloatArray:
    """How far the deepest place stands over the rim at a multiple, (channels,) [m]; below 0 there is room."""
    over = np.empty(multiple.shape)
    sloped = filling.reach.slope > 0.0
    for members, steps in ((np.flatnonzero(~sloped), LEVEL_STEPS), (np.flatnonzero(sloped), SLOPED_STEPS)):
        for first in range(0, members.size, AT_ONCE):
            rows = members[first : first + AT_ONCE]
            some, times = filling.pick(rows), multiple[rows]
            found = surface(some.reach, times * some.lateral, times * some.upstream + some.upstream_fixed, steps)
            rim = some.rim + (some.rim_end - some.rim) * (found.x / some.reach.length)
            over[rows] = _highest(found.x, found.depth - rim)
    return over


def _highest(x: FloatArray, height: FloatArray) -> FloatArray:
    """Highest point of each column of (places, channels), through a parabola over the highest place and its two."""
    places, channels = height.shape
    column = np.arange(channels)
    middle = np.clip(np.argmax(height, axis=0), 1, places - 2)
    left, right = x[middle - 1, column] - x[middle, column], x[middle + 1, column] - x[middle, column]
    top = height[middle, column]
    fall_left, fall_right = height[middle - 1, column] - top, height[middle + 1, column] - top
    product = left * right * (left - right)
    safe = np.where(product == 0.0, 1.0, product)
    bend = (fall_left * right - fall_right * left) / safe
    lean = (fall_right * left**2 - fall_left * right**2) / safe
    vertex = np.where(bend < 0.0, -lean / (2.0 * np.where(bend < 0.0, bend, 1.0)), 0.0)
    inside = (product != 0.0) & (bend < 0.0) & (np.minimum(left, right) < vertex) & (vertex < np.maximum(left, right))
    arch = top + np.where(inside, vertex * (lean + bend * vertex), 0.0)
    return np.maximum(height.max(axis=0), arch)


def full_multiple(filling: Filling) -> FloatArray:
    """Largest multiple at which no place stands over the rim, (channels,) [-].

    0 where there is no room even without; infinite where nothing grows. Searched on the multiple to the power 2/3,
    with which depth grows nearly in proportion.
    """
    answer = np.full(filling.rim.size, np.inf)
    growing = filling.lateral + filling.upstream > 0.0
    room = (filling.rim > 1e-9) & (filling.rim_end > 1e-9)
    answer[growing & ~room] = 0.0
    todo = np.flatnonzero(growing & room)
    if not todo.size:
        return answer
    some = filling.pick(todo)
    least = overfull(some, np.zeros(todo.size))
    answer[todo[least >= 0.0]] = 0.0
    some, least, todo = some.pick(least < 0.0), least[least < 0.0], todo[least < 0.0]
    if todo.size:
        flow = some.reach.width * np.sqrt(GRAVITY_M_S2) * (some.rim / np.sqrt(3.0)) ** 1.5
        guess = (flow / (some.lateral + some.upstream)) ** (2.0 / 3.0)
        answer[todo] = largest_passing(lambda rows, x: overfull(some.pick(rows), x**1.5), least, guess) ** 1.5
    return answer
