"""Channel runs: rectangular, water coming in along the length and at the upstream end, one free end or two.

The equations stand in ``spatially_varied``. Without friction a level channel stands sqrt(3) yc deep at its closed end
(Novak, Moffat, Nalluri and Narayanan, Hydraulic Structures, eq. 4.25 to 4.29). Engines that route by the dynamic wave
leave the momentum of lateral inflow out and come out 14 to 22 % low on level channels.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from hydraulics.channel_capacity import Filling, full_multiple
from hydraulics.limits import scalar_or_array, within
from hydraulics.pipe import section
from hydraulics.spatially_varied import Reach, critical_depth, settled_surface
from hydraulics.units import GRAVITY_M_S2, FloatArray

OUTLET_COEFFICIENT: Final = 0.60
"""Orifice coefficient of a pipe outlet (Fair, Geyer and Okun, Water and Wastewater Engineering, 2010, p. 493)."""


def _reach(width_m: ArrayLike, length_m: ArrayLike, manning_n: ArrayLike, slope: ArrayLike) -> tuple[FloatArray, ...]:
    return (
        within("channel width", width_m, 0.01, 5.0, "m"),
        within("channel length", length_m, 0.05, 500.0, "m"),
        within("Manning n", manning_n, 0.0, 0.1, ""),
        within("channel slope", slope, 0.0, 0.2, "m/m"),
    )


def upstream_depth(
    flow_m3s: ArrayLike,
    width_m: ArrayLike,
    length_m: ArrayLike,
    manning_n: ArrayLike,
    slope: ArrayLike = 0.0,
    upstream_inflow_m3s: ArrayLike = 0.0,
) -> float | FloatArray:
    """Depth at the upstream end of a channel with a free fall at the other [m].

    flow_m3s: the whole lateral inflow, even along the length, 0 to 5 [m3/s]; upstream_inflow_m3s: what comes in at
    the upstream end [m3/s]; width_m 0.01 to 5, length_m 0.05 to 500 [m]; manning_n 0 to 0.1; slope 0 to 0.2 [m/m].
    All broadcast. In a sloped channel the deepest place need not be upstream: see ``profile``.

    >>> round(upstream_depth(0.004, 0.1, 6.0, 0.0) / (3**0.5 * 0.0546428), 4)
    1.0
    """
    side = within("lateral flow", flow_m3s, 0.0, 5.0, "m3/s")
    above = within("upstream inflow", upstream_inflow_m3s, 0.0, 5.0, "m3/s")
    parts = np.broadcast_arrays(side, above, *_reach(width_m, length_m, manning_n, slope))
    lateral, inflow, *reach = (np.ravel(part).astype(np.float64) for part in parts)
    depth = settled_surface(Reach(*reach), lateral, inflow).depth[-1]
    return scalar_or_array(depth.reshape(parts[0].shape))


@dataclass(frozen=True)
class Profile:
    """Water surface of one channel, from the upstream end (x 0) to the free end.

    x_m, depth_m, flow_m3s, critical_depth_m: arrays of one length; control_m: where the flow passes into
    supercritical inside the channel, None where the free end controls.
    """

    x_m: FloatArray
    depth_m: FloatArray
    flow_m3s: FloatArray
    critical_depth_m: FloatArray
    control_m: float | None

    @property
    def upstream_depth_m(self) -> float:
        """Depth at the upstream end [m]."""
        return float(self.depth_m[0])

    @property
    def deepest_m(self) -> float:
        """Largest depth anywhere [m]."""
        return float(self.depth_m.max())

    @property
    def deepest_x_m(self) -> float:
        """Where it stands [m from the upstream end]."""
        return float(self.x_m[self.depth_m.argmax()])


def profile(
    flow_m3s: float,
    width_m: float,
    length_m: float,
    manning_n: float,
    slope: float = 0.0,
    upstream_inflow_m3s: float = 0.0,
) -> Profile:
    """Water surface of one channel with one free end; arguments as ``upstream_depth``, single numbers."""
    side = float(within("lateral flow", flow_m3s, 0.0, 5.0, "m3/s"))
    above = float(within("upstream inflow", upstream_inflow_m3s, 0.0, 5.0, "m3/s"))
    reach = Reach(*(np.atleast_1d(part) for part in _reach(width_m, length_m, manning_n, slope)))
    found = settled_surface(reach, np.array([side]), np.array([above]))
    x, first = np.unique(found.x[:, 0], return_index=True)
    flow = above + side * x / length_m
    control = float(found.control[0])
    return Profile(
        x_m=x,
        depth_m=found.depth[first, 0],
        flow_m3s=flow,
        critical_depth_m=critical_depth(flow, np.full_like(flow, width_m)),
        control_m=None if np.isnan(control) else control,
    )


def capacity(
    width_m: ArrayLike,
    depth_m: ArrayLike,
    length_m: ArrayLike,
    manning_n: ArrayLike,
    slope: ArrayLike = 0.0,
    silt_m: ArrayLike = 0.0,
    free_ends: ArrayLike = 1,
    freeboard_m: ArrayLike = 0.0,
    upstream_inflow_m3s: ArrayLike = 0.0,
    depth_end_m: ArrayLike | None = None,
) -> float | FloatArray:
    """Lateral inflow [m3/s] at which the deepest place, wherever it is, reaches the rim less the freeboard.

    depth_m: floor to rim at the upstream end, 0.005 to 5 [m]; depth_end_m: the same at the free end where the floor
    falls under a level rim, None if the rim runs parallel; silt_m: layer of even depth on the floor [m];
    free_ends: 1, or 2 for a channel open at both ends, which needs slope 0 and no upstream inflow (each half takes
    half); the others as ``upstream_depth``. 0 where silt, freeboard or the upstream inflow leave no room.
    Raises ValueError for two free ends with a slope.

    >>> round(capacity(0.1, 0.1, 12.0, 0.011, free_ends=2) / capacity(0.1, 0.1, 6.0, 0.011), 6)
    2.0
    """
    ends = np.asarray(free_ends)
    if not np.isin(ends, (1, 2)).all():
        raise ValueError(f"free ends are {ends}; a channel run has 1 or 2")
    above = within("upstream inflow", upstream_inflow_m3s, 0.0, 5.0, "m3/s")
    depth = within("channel depth", depth_m, 0.005, 5.0, "m")
    depth_end = depth if depth_end_m is None else within("channel depth at the end", depth_end_m, 0.005, 5.0, "m")
    silt = within("silt depth", silt_m, 0.0, 5.0, "m")
    freeboard = within("freeboard", freeboard_m, 0.0, 5.0, "m")
    width, length, roughness, fall = _reach(width_m, length_m, manning_n, slope)
    if ((ends == 2) & ((fall > 0.0) | (depth != depth_end))).any():
        raise ValueError("a channel with two free ends must be level: slope 0 and one depth")
    if ((ends == 2) & (above > 0.0)).any():
        raise ValueError("a channel with two free ends has no upstream end: upstream inflow must be 0")
    parts = np.broadcast_arrays(width, length / ends, roughness, fall, depth, depth_end, silt + freeboard, above, ends)
    flat = [np.ravel(part).astype(np.float64) for part in parts]
    filling = Filling(
        reach=Reach(*flat[:4]), rim=flat[4] - flat[6], rim_end=flat[5] - flat[6],
        lateral=np.ones(flat[0].shape), upstream=np.zeros(flat[0].shape), upstream_fixed=flat[7],
    )  # fmt: skip
    return scalar_or_array((full_multiple(filling) * flat[8]).reshape(parts[0].shape))


def outlet_flow(diameter_m: ArrayLike, depth_m: ArrayLike, silt_m: ArrayLike = 0.0) -> float | FloatArray:
    """What a piped end lets out with the water at ``depth_m`` over the floor [m3/s].

    Q = 0.60 A (2 g h)^1/2, A the part of the outlet between silt and water, h from its middle to the water.
    The outlet's invert is on the floor. diameter_m: 0.01 to 1 [m]; depth_m, silt_m: 0 to 5 [m].

    >>> round(outlet_flow(0.1, 0.3) / (0.60 * 0.007853982 * (2 * 9.80665 * 0.25) ** 0.5), 6)
    1.0
    """
    diameter = within("outlet diameter", diameter_m, 0.01, 1.0, "m")
    depth = within("water depth", depth_m, 0.0, 5.0, "m")
    silt = np.minimum(within("silt depth", silt_m, 0.0, 5.0, "m"), diameter)
    top = np.minimum(diameter, depth)
    area, _ = section(diameter, top, silt)
    head = np.maximum(depth - 0.5 * (np.minimum(silt, top) + top), 0.0)
    return scalar_or_array(np.asarray(OUTLET_COEFFICIENT * area * np.sqrt(2.0 * GRAVITY_M_S2 * head)))
