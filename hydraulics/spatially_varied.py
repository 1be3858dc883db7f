"""Steady flow in a rectangular channel that takes water in along its length: the momentum form, many at once.

State: M = Q^2/(g A) + b y^2/2 (specific momentum, m3). Along the channel
    dM/dx = b y (S0 - Sf),   Q = Qu + q x,   Sf = n^2 Q^2 / (A^2 R^(4/3)),
which is the full spatially varied flow equation of increasing discharge: written for the depth it carries the term
2 q Q / (g A^2), and water entering sideways brings no momentum of its own along the channel.
Source: Chow, Open-Channel Hydraulics, 1959, section 12-1 and 12-5; Henderson, Open Channel Flow, 1966, section 7.2.
The momentum form stays regular at a free fall, where the depth form divides by nothing.

x runs from the upstream end. A free fall ends in critical depth; where S0 > Sf + 2 yc q/Q at critical depth the flow
passes through critical inside, subcritical above that place, supercritical below it; the deeper momentum governs.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from hydraulics.units import GRAVITY_M_S2, FloatArray

SAMPLES: Final = 65
"""Places at which a control inside the channel is looked for."""

DRY_M: Final = 1e-9
"""Depth below which nothing is divided by it [m]."""

STIFF: Final = 1.5
"""Steps over the length in which the depth settles, above which an explicit step would swing."""


@dataclass(frozen=True)
class Reach:
    """Channels of one calculation; all arrays have the same one-dimensional shape."""

    width: FloatArray
    length: FloatArray
    manning_n: FloatArray
    slope: FloatArray

    def pick(self, mask: np.ndarray) -> "Reach":
        """The channels where ``mask`` is true."""
        return Reach(self.width[mask], self.length[mask], self.manning_n[mask], self.slope[mask])


def critical_depth(flow: FloatArray, width: FloatArray) -> FloatArray:
    """yc = (Q^2 / (g b^2))^(1/3) [m]."""
    return np.asarray(np.cbrt((flow / width) ** 2 / GRAVITY_M_S2))


def friction_slope(flow: FloatArray, depth: FloatArray, width: FloatArray, manning_n: FloatArray) -> FloatArray:
    """Manning's Sf = n^2 Q^2 / (A^2 R^(4/3)) [m/m]; 0 without flow."""
    depth = np.maximum(depth, DRY_M)
    area = width * depth
    radius = area / (width + 2.0 * depth)
    return np.asarray((manning_n * flow / area) ** 2 / (radius * np.cbrt(radius)))


def _excess_at_critical(reach: Reach, lateral: FloatArray, upstream: FloatArray, x: FloatArray) -> FloatArray:
    """S0 - Sf - 2 yc q/Q at critical depth; above 0 the flow leaves critical towards supercritical."""
    per_metre = lateral / reach.length
    flow = upstream + per_metre * x
    depth = critical_depth(flow, reach.width)
    inflow_term = np.divide(2.0 * depth * per_metre, flow, out=np.full_like(flow, np.inf), where=flow > 0.0)
    return reach.slope - friction_slope(flow, depth, reach.width, reach.manning_n) - inflow_term


def control_section(reach: Reach, lateral: FloatArray, upstream: FloatArray) -> FloatArray:
    """Where the flow passes into supercritical, x [m]; NaN in channels where it nowhere does."""
    control = np.full(reach.length.shape, np.nan)
    sloped = np.flatnonzero((reach.slope > 0.0) & (lateral + upstream > 0.0))
    if not sloped.size:
        return control
    some = reach.pick(sloped)
    side, above = lateral[sloped], upstream[sloped]
    share = np.linspace(0.0, 1.0, SAMPLES)[1:, None] ** 2
    wide = Reach(*(np.broadcast_to(part, (SAMPLES - 1, sloped.size)) for part in vars(some).values()))
    excess = _excess_at_critical(wide, side, above, share * some.length)
    first = np.argmax(excess > 0.0, axis=0)
    found = excess.max(axis=0) > 0.0
    high = share[first, 0] * some.length
    low = np.where(first > 0, share[np.maximum(first - 1, 0), 0], 0.0) * some.length
    for _ in range(50):
        middle = 0.5 * (low + high)
        beyond = _excess_at_critical(some, side, above, middle) > 0.0
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    control[sloped] = np.where(found, high, np.nan)
    return control


@dataclass(frozen=True)
class Marched:
    """A march along channels: places, depths and momenta, arrays of (steps + 1, channels) in marching order."""

    x: FloatArray
    depth: FloatArray
    momentum: FloatArray


class _Stages:
    """What a march needs at every half step, computed once: none of it depends on the depth."""

    def __init__(
        self, reach: Reach, lateral: FloatArray, upstream: FloatArray, start: FloatArray, end: FloatArray, steps: int
    ) -> None:
        t = np.linspace(0.0, 1.0, 2 * steps + 1)[:, None]
        self.x = start + (end - start) * (t * t * (3.0 - 2.0 * t))
        flow = np.maximum(upstream + lateral / reach.length * self.x, 0.0)
        critical = critical_depth(flow, reach.width)
        self.least_momentum = 1.5 * reach.width * critical * critical
        self.critical_cubed = critical**3
        self.drag = (reach.manning_n * flow) ** 2
        self.pace = (end - start) * (6.0 * t * (1.0 - t)) / steps
        self.width, self.slope = reach.width, reach.slope
        self.sloped = bool(reach.slope.any())

    def depth(self, half_step: int, held: FloatArray, *, steep: bool) -> FloatArray:
        """Depth of a momentum at or above the critical one: y^3 - 3 s^2 y + 2 yc^3 = 0 with 3 s^2 = 2 M/b.

        The subcritical root, or with ``steep`` the supercritical one.
        """
        scale = np.sqrt(held * (2.0 / 3.0) / self.width)
        ratio = np.minimum(self.critical_cubed[half_step] / np.maximum(scale * scale * scale, DRY_M**3), 1.0)
        angle = np.arccos(-ratio) * (1.0 / 3.0)
        if steep:
            angle -= 2.0 * np.pi / 3.0
        return np.maximum(2.0 * scale * np.cos(angle), DRY_M)

    def change(self, half_step: int, depth: FloatArray) -> FloatArray:
        """Change of the momentum over one whole step at this place and depth."""
        area = self.width * depth
        radius = area / (self.width + 2.0 * depth)
        friction = self.drag[half_step] / (area * area * radius * np.cbrt(radius))
        return np.asarray((self.slope - friction) * area * self.pace[half_step])

    def stiff(self, step: int, depth: FloatArray) -> np.ndarray:
        """Channels whose depth settles within less than this step: thin fast films, and a nearly dry upstream end.

        Never a level one: there the depth itself comes from friction over the whole length.
        """
        if not self.sloped:
            return np.zeros(0, dtype=np.intp)
        area = self.width * depth
        radius = area / (self.width + 2.0 * depth)
        friction = self.drag[2 * step] / (area * area * radius * np.cbrt(radius))
        froude = self.critical_cubed[2 * step] / (depth * depth * depth)
        settling = (self.slope + 7.0 / 3.0 * friction) / (depth * np.maximum(np.abs(1.0 - froude), 0.3))
        return np.flatnonzero(np.abs(self.pace[2 * step + 1]) * settling > STIFF)

    def settle(
        self, step: int, rows: np.ndarray, momentum: FloatArray, depth: FloatArray, *, steep: bool
    ) -> FloatArray:
        """Momentum after an implicit (backward) step of the channels ``rows``: stable however quickly they settle.

        The depth that fits is the only root of a monotone function on its side of critical depth; Newton, held there.
        """
        at, width, slope = 2 * step + 2, self.width[rows], self.slope[rows]
        cubed, drag = self.critical_cubed[at][rows], self.drag[at][rows]
        dx = self.x[at][rows] - self.x[at - 2][rows]
        critical = np.cbrt(cubed)
        sign = -1.0 if steep else 1.0

        def misfit(y: FloatArray) -> tuple[FloatArray, FloatArray]:
            area = width * y
            radius = area / (width + 2.0 * y)
            friction = drag / (area * area * radius * np.cbrt(radius))
            value = width * (cubed / y + 0.5 * y * y) - momentum - dx * area * (slope - friction)
            lean = width * (y - cubed / (y * y)) - dx * width * (slope + 7.0 / 3.0 * friction)
            return sign * value, sign * lean

        low, high = (np.full(rows.size, DRY_M), critical) if steep else (critical, 2.0 * depth + critical + DRY_M)
        low = np.maximum(low, DRY_M)
        high = np.maximum(high, low)
        for _ in range(0 if steep else 60):
            short = misfit(high)[0] < 0.0
            if not short.any():
                break
            high = np.where(short, 2.0 * high, high)
        y = np.clip(depth, low, high)
        for _ in range(60):
            value, lean = misfit(y)
            low, high = np.where(value < 0.0, y, low), np.where(value < 0.0, high, y)
            newer = y - value / np.where(lean > 0.0, lean, np.inf)
            newer = np.where((newer > low) & (newer < high), newer, 0.5 * (low + high))
            moved = np.abs(newer - y)
            y = newer
            if (moved <= 1e-12 * y + 1e-16).all():
                break
        return np.asarray(width * (cubed / y + 0.5 * y * y))


def march(
    reach: Reach,
    lateral: FloatArray,
    upstream: FloatArray,
    start: FloatArray,
    end: FloatArray,
    first_momentum: FloatArray | None,
    steps: int,
    *,
    steep: bool = False,
) -> Marched:
    """Classic fourth-order steps from ``start`` to ``end`` [m], from critical depth or ``first_momentum``.

    The places are dense at both ends, x = start + (end - start) t^2 (3 - 2 t): near a critical section the momentum
    changes with the power 3/2 of the distance and is smooth only in t, and near a dry upstream end the depth changes
    with the root of x.
    """
    at = _Stages(reach, lateral, upstream, start, end, steps)
    least = at.least_momentum
    depths, momenta = np.empty((2, steps + 1, *reach.width.shape))
    momentum = np.maximum(0.0 if first_momentum is None else first_momentum, least[0])
    depth = at.depth(0, momentum, steep=steep)
    depths[0], momenta[0] = depth, momentum
    for step in range(steps):
        half, whole = 2 * step + 1, 2 * step + 2
        first = at.change(2 * step, depth)
        second = at.change(half, at.depth(half, np.maximum(momentum + 0.5 * first, least[half]), steep=steep))
        third = at.change(half, at.depth(half, np.maximum(momentum + 0.5 * second, least[half]), steep=steep))
        fourth = at.change(whole, at.depth(whole, np.maximum(momentum + third, least[whole]), steep=steep))
        stiff = at.stiff(step, depth)
        before = momentum[stiff]
        momentum = np.maximum(momentum + (first + 2.0 * (second + third) + fourth) / 6.0, least[whole])
        if stiff.size:
            momentum[stiff] = at.settle(step, stiff, before, depth[stiff], steep=steep)
        depth = at.depth(whole, momentum, steep=steep)
        depths[step + 1], momenta[step + 1] = depth, momentum
    return Marched(at.x[::2], depths, momenta)


@dataclass(frozen=True)
class Surface:
    """Water surface along channels: places from the free end up, depths and the control inside, if any.

    x, depth: (places, channels) [m]; control: (channels,) [m], NaN where there is none.
    """

    x: FloatArray
    depth: FloatArray
    control: FloatArray


def surface(reach: Reach, lateral: FloatArray, upstream: FloatArray, steps: int) -> Surface:
    """The whole water surface at a fixed number of steps; lateral and upstream flows (channels,) [m3/s].

    Channels without an inner control take one march, so the others are only computed where they exist. With a
    control, the part below it is marched both ways and the larger momentum governs: that is where a jump stands.
    """
    control = control_section(reach, lateral, upstream)
    inside = ~np.isnan(control)
    zero = np.zeros(reach.length.shape)
    if not inside.any():
        marched = march(reach, lateral, upstream, reach.length, zero, None, steps)
        return Surface(marched.x, marched.depth, control)
    below_to = np.where(inside, control, 0.0)
    below = march(reach, lateral, upstream, reach.length, below_to, None, steps)
    some, side, above, at = reach.pick(inside), lateral[inside], upstream[inside], control[inside]
    fast = march(some, side, above, at, some.length, None, steps, steep=True)
    depth_below = below.depth.copy()
    governs = fast.momentum[::-1] > below.momentum[:, inside]
    depth_below[:, inside] = np.where(governs, fast.depth[::-1], below.depth[:, inside])
    upper = march(some, side, above, at, np.zeros(at.shape), below.momentum[-1, inside], steps)
    x_upper, depth_upper = np.zeros((steps + 1, inside.size)), np.empty((steps + 1, inside.size))
    depth_upper[:] = depth_below[-1]
    x_upper[:, inside], depth_upper[:, inside] = upper.x, upper.depth
    return Surface(np.concatenate([below.x, x_upper]), np.concatenate([depth_below, depth_upper]), control)


def settled_surface(reach: Reach, lateral: FloatArray, upstream: FloatArray, tolerance: float = 1e-8) -> Surface:
    """The surface with its steps doubled until upstream and deepest depths settle, in parts of the deepest.

    Thin fast films need many steps; 3072 is the most, where what is left lies far below what a tape can measure.
    """
    steps, before = 96, surface(reach, lateral, upstream, 48)
    while True:
        after = surface(reach, lateral, upstream, steps)
        deepest = after.depth.max(axis=0)
        change = np.maximum(np.abs(deepest - before.depth.max(axis=0)), np.abs(after.depth[-1] - before.depth[-1]))
        if steps >= 3072 or (change <= 8.0 * tolerance * deepest).all():
            return after
        steps, before = 2 * steps, after
