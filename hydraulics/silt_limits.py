"""The fill at which one component alone no longer carries its share of the target storm.

Silt lies as an even layer, so the water surface of a channel keeps its shape over it: the limit is the least room
between the clean surface and the rim. Pipes and outlets lose section: the fill is found by halving.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from hydraulics.channel import outlet_flow
from hydraulics.channel_capacity import Filling, overfull
from hydraulics.judging import Judge, columns
from hydraulics.pipe import full_flow
from hydraulics.units import FloatArray

LEAST_FILL: Final = 0.125
"""A limit under 1/8 is "no margin for silt"."""


@dataclass(frozen=True)
class SiltLimit:
    """fill: 0 where the component does not carry its share even clean, 1 where silt never matters."""

    fill: float

    @property
    def no_margin(self) -> bool:
        """Whether the component has no margin for silt, so that the practice limit is to be used."""
        return self.fill < LEAST_FILL


def silt_limits(judge: Judge, share: float) -> dict[tuple[int, str], SiltLimit]:
    """Limits of all channels and pipes of a judge made from clean systems, by (system, tag)."""
    limits: dict[tuple[int, str], float] = {}
    flat, years = judge.flat, judge.rains.target_years
    diameter, slope, n, _ = columns(flat.pipes, 4)
    reaches = share * flat.pipes.demand.peaks(judge.rains, years) + judge.fixed["pipes"]
    if diameter.size:
        fills = _halve(lambda fill: np.asarray(full_flow(diameter, slope, n, fill * diameter)) - reaches, reaches)
        limits.update(zip(flat.pipes.owner, fills.tolist(), strict=True))
    if judge.filling.rim.size:
        room = -overfull(_scaled(judge.filling, share), np.ones(judge.filling.rim.size))
        fills = np.clip(room / judge.channel_depth, 0.0, 1.0)
        limits.update(zip(flat.channels.owner, fills.tolist(), strict=True))
    outlet, rim, _, ends = columns(flat.outlets, 4)
    if outlet.size:
        depths = dict(zip(flat.channels.owner, judge.channel_depth.tolist(), strict=True))
        depth = np.array([depths[owner] for owner in flat.outlets.owner])
        asked = share * flat.outlets.demand.peaks(judge.rains, years) + judge.fixed["outlets"]
        fills = _halve(lambda fill: np.asarray(outlet_flow(outlet, rim, fill * depth)) * ends - asked, asked)
        for owner, fill in zip(flat.outlets.owner, fills.tolist(), strict=True):
            limits[owner] = min(limits[owner], fill)
    return {owner: SiltLimit(fill) for owner, fill in limits.items()}


def _scaled(filling: Filling, share: float) -> Filling:
    return Filling(
        filling.reach, filling.rim, filling.rim_end,
        share * filling.lateral, share * filling.upstream, filling.upstream_fixed,
    )  # fmt: skip


def _halve(spare: Callable[[FloatArray], FloatArray], reaches: FloatArray) -> FloatArray:
    """Largest fill with capacity to spare; 0 where there is none even clean."""
    low, high = np.zeros(reaches.shape), np.ones(reaches.shape)
    for _ in range(40):
        middle = 0.5 * (low + high)
        carries = spare(middle) >= 0.0
        low, high = np.where(carries, middle, low), np.where(carries, high, middle)
    return np.where(spare(np.zeros(reaches.shape)) >= 0.0, low, 0.0)
