"""Pumps and their discharge lines: pump curve, line curve, the duty point where they meet.

Line: static lift + Hazen-Williams friction + minor losses. Hazen-Williams in SI, h = 10.667 L Q^1.852 / (C^1.852
D^4.871) [m], the form of the EPANET 2.2 manual, table 3.1; minor losses h = K V^2 / 2g. The C value changes friction
by a third between 130 and 150, the bore (least-wall or mean) by 5 %: both are inputs, shown wherever the result is.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from hydraulics import monotone_cubic
from hydraulics.limits import scalar_or_array, within
from hydraulics.units import FOOT_M, GRAVITY_M_S2, FloatArray

HAZEN_WILLIAMS_SI: Final = 4.727 * FOOT_M ** (4.871 - 3 * 1.852)
"""EPANET's 4.727 (ft, ft3/s) in m and m3/s: 10.667."""
FLOW_EXPONENT: Final = 1.852
SLOW_M_S: Final = 2.0 * FOOT_M
FAST_M_S: Final = 8.0 * FOOT_M
"""Velocities flagged: under 2 ft/s a line does not scour itself, over 8 ft/s it wears (9VAC25-790-440)."""


@dataclass(frozen=True)
class PumpCurve:
    """Head of a pump over its flow, from three or more points (flow_m3s, head_m), flow rising, head falling.

    Three points: H = A - B Q^C through them, good down to no head. More: shape-preserving cubic, good to the last
    point and level before the first. Raises ValueError for points no falling curve goes through.

    >>> curve = PumpCurve([(0.0, 7.0), (0.002, 6.0), (0.004, 3.0)])
    >>> round(curve.exponent, 6), round(curve.head(0.001), 6)
    (2.0, 6.75)
    """

    points: Sequence[tuple[float, float]]
    shutoff_head_m: float = field(init=False)
    coefficient: float = field(init=False, repr=False)
    exponent: float = field(init=False, repr=False)
    _slopes: FloatArray | None = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", tuple((float(flow), float(head)) for flow, head in self.points))
        if len(self.points) < 3:
            raise ValueError(f"the pump curve has {len(self.points)} points; it needs at least 3 of flow and head")
        flows, heads = self._arrays()
        within("pump flow", flows, 0.0, 1.0, "m3/s")
        within("pump head", heads, 0.0, 200.0, "m")
        if (np.diff(flows) <= 0.0).any() or (np.diff(heads) >= 0.0).any():
            raise ValueError("the pump curve must have rising flows and falling heads")
        if len(self.points) == 3:
            shutoff, coefficient, exponent = _power_law(flows, heads)
            cubic = None
        else:
            shutoff, coefficient, exponent = float(heads[0]), 0.0, 0.0
            cubic = monotone_cubic.slopes(flows, heads)
        for name, value in (("shutoff_head_m", shutoff), ("coefficient", coefficient), ("exponent", exponent)):
            object.__setattr__(self, name, value)
        object.__setattr__(self, "_slopes", cubic)

    def _arrays(self) -> tuple[FloatArray, FloatArray]:
        return np.array([p[0] for p in self.points]), np.array([p[1] for p in self.points])

    @property
    def largest_flow_m3s(self) -> float:
        """Where the curve ends: no head left (three points) or the last point given (more)."""
        if self._slopes is None:
            return float((self.shutoff_head_m / self.coefficient) ** (1.0 / self.exponent))
        return self.points[-1][0]

    def head(self, flow_m3s: ArrayLike) -> float | FloatArray:
        """Head [m] at a flow from 0 to ``largest_flow_m3s``."""
        flow = within("pump flow", flow_m3s, 0.0, self.largest_flow_m3s * (1 + 1e-12), "m3/s")
        return scalar_or_array(self._head(flow))

    def _head(self, flow: FloatArray) -> FloatArray:
        if self._slopes is None:
            return np.asarray(self.shutoff_head_m - self.coefficient * flow**self.exponent)
        flows, heads = self._arrays()
        return monotone_cubic.evaluate(flows, heads, self._slopes, np.clip(flow, flows[0], flows[-1]))

    def flow(self, head_m: ArrayLike) -> FloatArray:
        """Flow [m3/s] at a head; 0 from shut-off head up, the curve's end below its last head."""
        head = np.asarray(head_m, dtype=np.float64)
        if self._slopes is None:
            drop = np.maximum(self.shutoff_head_m - np.maximum(head, 0.0), 0.0)
            return np.asarray((drop / self.coefficient) ** (1.0 / self.exponent))
        flow = _falling_root(lambda q: self._head(q) - head, self.largest_flow_m3s, head.shape)
        return np.where(head >= self.shutoff_head_m, 0.0, flow)


@dataclass(frozen=True)
class PumpsTogether:
    """Pumps on one line: flows added at equal head (each behind its check valve)."""

    curves: tuple[PumpCurve, ...]

    @property
    def shutoff_head_m(self) -> float:
        """Head at which the strongest pump stops delivering [m]."""
        return max(curve.shutoff_head_m for curve in self.curves)

    @property
    def largest_flow_m3s(self) -> float:
        """All curves at their ends [m3/s]."""
        return sum(curve.largest_flow_m3s for curve in self.curves)

    def _head(self, flow: FloatArray) -> FloatArray:
        top = self.shutoff_head_m
        drop = _falling_root(lambda d: flow - self._flow(top - d), top, flow.shape)
        return np.asarray(top - drop)

    def _flow(self, head: FloatArray) -> FloatArray:
        return np.asarray(sum(curve.flow(head) for curve in self.curves))


@dataclass(frozen=True)
class DischargeLine:
    """A line from a pump to where the water comes out; every number may be an array, and they broadcast.

    static_lift_m: from the water in the basin to the higher of outlet and line high point, no siphon credit, 0 to
    60 [m]; length_m: 0 to 2000 [m]; diameter_m: true bore, 0.01 to 1 [m]; hazen_williams_c: 60 to 160;
    minor_k: sum of the loss coefficients of fittings and valves, 0 to 500.
    """

    static_lift_m: ArrayLike
    length_m: ArrayLike
    diameter_m: ArrayLike
    hazen_williams_c: ArrayLike = 150.0
    minor_k: ArrayLike = 0.0

    def __post_init__(self) -> None:
        within("static lift", self.static_lift_m, 0.0, 60.0, "m")
        within("discharge line length", self.length_m, 0.0, 2000.0, "m")
        within("discharge line bore", self.diameter_m, 0.01, 1.0, "m")
        within("Hazen-Williams C", self.hazen_williams_c, 60.0, 160.0, "")
        within("sum of minor loss coefficients", self.minor_k, 0.0, 500.0, "")

    @property
    def bore_area_m2(self) -> FloatArray:
        """Area of the bore [m2]."""
        return np.asarray(0.25 * np.pi * np.asarray(self.diameter_m, dtype=np.float64) ** 2)

    def friction_per_flow(self) -> FloatArray:
        """r of h = r Q^1.852 [m]."""
        length, bore, c = (
            np.asarray(v, dtype=np.float64) for v in (self.length_m, self.diameter_m, self.hazen_williams_c)
        )
        return np.asarray(HAZEN_WILLIAMS_SI * length / (c**FLOW_EXPONENT * bore**4.871))

    def minor_per_flow(self) -> FloatArray:
        """m of h = m Q^2 [m]."""
        return np.asarray(np.asarray(self.minor_k, dtype=np.float64) / (2.0 * GRAVITY_M_S2 * self.bore_area_m2**2))

    def head(self, flow_m3s: ArrayLike) -> float | FloatArray:
        """Head the line needs at a flow [m].

        >>> line = DischargeLine(0.0, 30.48, 2.067 * 0.0254)
        >>> round(line.head(40 * 6.30901964e-5) / 0.3048, 2)
        2.63
        """
        flow = within("flow", flow_m3s, 0.0, 1.0, "m3/s")
        losses = self.friction_per_flow() * flow**FLOW_EXPONENT + self.minor_per_flow() * flow**2
        return scalar_or_array(np.asarray(self.static_lift_m, dtype=np.float64) + losses)


@dataclass(frozen=True)
class DutyPoint:
    """Where pump curve and line curve meet. Arrays where the line has arrays.

    ``status`` is "duty", "no flow" (shut-off head not above the lift: the pump runs and moves nothing) or "beyond the
    curve" (the line asks less head than the curve's last point; the flow of that point is given).
    """

    flow_m3s: float | FloatArray
    head_m: float | FloatArray
    velocity_m_s: float | FloatArray
    status: str | np.ndarray
    shutoff_head_m: float
    static_lift_m: float | FloatArray

    @property
    def flows(self) -> bool:
        """Whether any water moves (all entries)."""
        return bool(np.all(np.asarray(self.flow_m3s) > 0.0))

    @property
    def velocity_flag(self) -> str:
        """ "slow" under 2 ft/s, "fast" over 8 ft/s, else empty; for a single duty point."""
        velocity = float(self.velocity_m_s)
        if not self.flows:
            return ""
        return "slow" if velocity < SLOW_M_S else "fast" if velocity > FAST_M_S else ""

    def __str__(self) -> str:
        if np.ndim(self.flow_m3s):
            return f"{np.size(self.flow_m3s)} duty points"
        if self.status == "no flow":
            return f"no flow: shut-off head {self.shutoff_head_m:.2f} m, lift {float(self.static_lift_m):.2f} m"
        return f"{float(self.flow_m3s):.6f} m3/s at {float(self.head_m):.2f} m ({self.status})"


def duty_point(curve: PumpCurve | PumpsTogether, line: DischargeLine) -> DutyPoint:
    """Flow and head at which the pump and the line agree.

    Raises nothing for a pump that is too weak: the result says "no flow" with the shut-off head and the lift.

    >>> print(duty_point(PumpCurve([(0.0, 7.0), (0.002, 6.0), (0.004, 3.0)]), DischargeLine(8.0, 10.0, 0.05)))
    no flow: shut-off head 7.00 m, lift 8.00 m
    """
    lift, friction, minor, area = np.broadcast_arrays(
        np.asarray(line.static_lift_m, dtype=np.float64),
        line.friction_per_flow(),
        line.minor_per_flow(),
        line.bore_area_m2,
    )

    def spare_head(flow: FloatArray) -> FloatArray:
        return np.asarray(curve._head(flow) - lift - friction * flow**FLOW_EXPONENT - minor * flow**2)

    end = curve.largest_flow_m3s
    flow = _falling_root(spare_head, end, lift.shape)
    weak = lift >= curve.shutoff_head_m
    flow = np.where(weak, 0.0, flow)
    head = np.where(weak, curve.shutoff_head_m, lift + friction * flow**FLOW_EXPONENT + minor * flow**2)
    beyond = ~weak & (spare_head(np.full(lift.shape, end)) > 0.0)
    status = np.where(weak, "no flow", np.where(beyond, "beyond the curve", "duty"))
    return DutyPoint(
        flow_m3s=scalar_or_array(flow),
        head_m=scalar_or_array(head),
        velocity_m_s=scalar_or_array(flow / area),
        status=status if status.ndim else str(status),
        shutoff_head_m=curve.shutoff_head_m,
        static_lift_m=scalar_or_array(lift),
    )


def flow_at_levels(curve: PumpCurve | PumpsTogether, line: DischargeLine, levels_m: ArrayLike) -> FloatArray:
    """Pump flow [m3/s] with the water at each level over the basin floor, ``line.static_lift_m`` taken from that floor.

    Water above the outlet adds no head: the lift is never counted below 0.
    """
    levels = within("water level", levels_m, 0.0, 20.0, "m")
    lift = np.maximum(float(np.asarray(line.static_lift_m)) - levels, 0.0)
    at_levels = DischargeLine(lift, line.length_m, line.diameter_m, line.hazen_williams_c, line.minor_k)
    return np.asarray(duty_point(curve, at_levels).flow_m3s)


def _power_law(flows: FloatArray, heads: FloatArray) -> tuple[float, float, float]:
    """A, B, C of H = A - B Q^C through three points."""
    ratio = (heads[0] - heads[2]) / (heads[0] - heads[1])
    if flows[0] == 0.0:
        exponent = float(np.log(ratio) / np.log(flows[2] / flows[1]))
    else:
        scaled = flows / flows[2]
        low, high = 1e-3, 20.0
        for _ in range(80):
            middle = 0.5 * (low + high)
            a, b, c = scaled**middle
            low, high = (middle, high) if (c - a) / (b - a) < ratio else (low, middle)
        exponent = 0.5 * (low + high)
    if not 0.01 < exponent < 19.9:
        raise ValueError(f"the three pump points need an exponent of {exponent:.3g}; it must be between 0.01 and 20")
    coefficient = float((heads[0] - heads[2]) / (flows[2] ** exponent - flows[0] ** exponent))
    return float(heads[0] + coefficient * flows[0] ** exponent), coefficient, exponent


def _falling_root(function: Callable[[FloatArray], FloatArray], high: float, shape: tuple[int, ...]) -> FloatArray:
    """Root of a falling function between 0 and ``high`` by halving; 0 or ``high`` where there is none between."""
    low_end, high_end = np.zeros(shape), np.full(shape, high)
    for _ in range(56):
        middle = 0.5 * (low_end + high_end)
        above = function(middle) > 0.0
        low_end, high_end = np.where(above, middle, low_end), np.where(above, high_end, middle)
    return 0.5 * (low_end + high_end)
