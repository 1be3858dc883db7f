"""Round gravity pipes by Manning, clean or with a flat bed of silt, full or partly full.

Source: Manning's formula, Chow, Open-Channel Hydraulics, 1959, sections 5-6 and 6-4; the silt bed is a horizontal
chord: area above it, wetted arc above it plus the width of the bed.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from hydraulics.limits import scalar_or_array, within
from hydraulics.units import FloatArray


@dataclass(frozen=True)
class PipeFlow:
    """Flow of a pipe section at one depth. All arrays share one shape (floats for float arguments)."""

    flow_m3s: float | FloatArray
    velocity_m_s: float | FloatArray
    area_m2: float | FloatArray
    hydraulic_radius_m: float | FloatArray


def _segment(radius: FloatArray, depth: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Area, arc and chord of the circle below ``depth`` over its lowest point."""
    angle = 2.0 * np.arccos(np.clip(1.0 - depth / radius, -1.0, 1.0))
    return 0.5 * radius**2 * (angle - np.sin(angle)), radius * angle, 2.0 * radius * np.sin(0.5 * angle)


def section(diameter_m: ArrayLike, depth_m: ArrayLike, silt_m: ArrayLike = 0.0) -> tuple[FloatArray, FloatArray]:
    """Area [m2] and wetted perimeter [m] between the silt bed and the water; 0 where the water is below the silt.

    Depth and silt are measured from the invert of the clean pipe [m].

    >>> [round(float(part), 6) for part in section(0.1, 0.05)]
    [0.003927, 0.15708]
    """
    diameter = within("pipe diameter", diameter_m, 0.0, 5.0, "m", open_low=True)
    radius = 0.5 * diameter
    silt = np.minimum(within("silt depth", silt_m, 0.0, 5.0, "m"), diameter)
    depth = np.clip(within("water depth", depth_m, 0.0, 5.0, "m"), silt, diameter)
    area_below, arc_below, bed = _segment(radius, silt)
    area_all, arc_all, _ = _segment(radius, depth)
    area = np.maximum(area_all - area_below, 0.0)
    wet = area > 0.0
    return area, np.where(wet, arc_all - arc_below + bed, 0.0)


def partly_full(
    diameter_m: ArrayLike, depth_m: ArrayLike, slope: ArrayLike, manning_n: ArrayLike, silt_m: ArrayLike = 0.0
) -> PipeFlow:
    """Uniform flow at ``depth_m`` over the invert: Q = A R^2/3 S^1/2 / n.

    diameter_m: up to 5 [m]; slope: 0 to 1 [m/m]; manning_n: 0.005 to 0.1; silt_m: from the invert [m].
    The arguments broadcast.

    >>> half = partly_full(0.1, 0.05, 0.01, 0.010).flow_m3s / full_flow(0.1, 0.01, 0.010)
    >>> round(half, 6)
    0.5
    """
    fall = within("slope", slope, 0.0, 1.0, "m/m")
    roughness = within("Manning n", manning_n, 0.005, 0.1, "")
    area, perimeter = section(diameter_m, depth_m, silt_m)
    radius = np.divide(area, perimeter, out=np.zeros(np.shape(area)), where=perimeter > 0.0)
    velocity = np.asarray(np.cbrt(radius) ** 2 * np.sqrt(fall) / roughness)
    flow = np.asarray(area * velocity)
    parts = (scalar_or_array(np.asarray(part)) for part in (flow, velocity, area, radius))
    return PipeFlow(*parts)


def full_flow(
    diameter_m: ArrayLike, slope: ArrayLike, manning_n: ArrayLike, silt_m: ArrayLike = 0.0
) -> float | FloatArray:
    """What the pipe carries running full, without surcharge [m3/s]; 0 once silt fills it.

    >>> from hydraulics.units import from_si, to_si
    >>> round(from_si(full_flow(to_si(4.026, "in"), 1 / 96, 0.010), "gpm"))
    115
    """
    return partly_full(diameter_m, np.asarray(diameter_m, dtype=np.float64), slope, manning_n, silt_m).flow_m3s


def normal_depth(
    flow_m3s: ArrayLike, diameter_m: ArrayLike, slope: ArrayLike, manning_n: ArrayLike, silt_m: ArrayLike = 0.0
) -> float | FloatArray:
    """Depth over the invert [m] at which the flow runs uniform; the full diameter where it is full flow or more.

    Between full flow and the 7.6 % more a nearly full pipe could carry there are two depths and no safe one: such
    flows count as full. Needs slope > 0.

    >>> round(normal_depth(0.5 * full_flow(0.1, 0.01, 0.012), 0.1, 0.01, 0.012), 9)
    0.05
    """
    flow = within("flow", flow_m3s, 0.0, 100.0, "m3/s")
    within("slope", slope, 0.0, 1.0, "m/m", open_low=True)
    full = np.asarray(full_flow(diameter_m, slope, manning_n, silt_m))
    shape = np.broadcast_shapes(flow.shape, full.shape)
    low = np.broadcast_to(np.asarray(silt_m, dtype=np.float64), shape).copy()
    high = np.broadcast_to(np.asarray(diameter_m, dtype=np.float64), shape).copy()
    low, top = np.minimum(low, high), high.copy()
    for _ in range(60):
        middle = 0.5 * (low + high)
        below = np.asarray(partly_full(diameter_m, middle, slope, manning_n, silt_m).flow_m3s) < flow
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return scalar_or_array(np.where(flow >= full, top, high))
