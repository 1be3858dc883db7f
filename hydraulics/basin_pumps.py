"""Pumps of a basin as routing sees them: switching levels and flow by water level."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from hydraulics.limits import within
from hydraulics.units import INCH_M, FloatArray

LEAST_BAND_M: Final = 1.0 * INCH_M
"""Least distance of on from off level."""


@dataclass(frozen=True, eq=False)
class LevelFlow:
    """Pump flow over the water level, straight between the knots, level beyond the first and the last.

    levels_m: (knots,) rising [m over the basin floor]; flows_m3s: (knots,) or, basin by basin, (basins, knots).
    ``levels_m`` may be (basins, knots) too. From the duty point at each level: ``pump.flow_at_levels``.
    """

    levels_m: ArrayLike
    flows_m3s: ArrayLike

    def __post_init__(self) -> None:
        levels = within("level of the flow table", self.levels_m, 0.0, 20.0, "m")
        within("pump flow", self.flows_m3s, 0.0, 1.0, "m3/s")
        if levels.shape[-1] != np.shape(self.flows_m3s)[-1]:
            raise ValueError(f"{levels.shape[-1]} levels need as many flows, not {np.shape(self.flows_m3s)[-1]}")
        if (np.diff(levels, axis=-1) < 0.0).any():
            raise ValueError("levels of the flow table must rise")


@dataclass(frozen=True, eq=False)
class BasinPump:
    """One pump of a basin; numbers may be arrays, one a basin.

    on_level_m, off_level_m: where its float switches, on at least 1 in above off [m over the floor];
    flow_m3s: a constant flow, or a LevelFlow; failed: never runs; leak_m3: water that comes back through the check
    valve at each stop, the line's volume up to its high point if the valve leaks [m3].
    Two pumps on one line: the one that comes on second brings what the pair delivers more (``pump.PumpsTogether``).
    """

    on_level_m: ArrayLike
    off_level_m: ArrayLike
    flow_m3s: ArrayLike | LevelFlow
    failed: ArrayLike = False
    leak_m3: ArrayLike = 0.0

    def __post_init__(self) -> None:
        on = within("pump-on level", self.on_level_m, 0.0, 20.0, "m")
        off = within("pump-off level", self.off_level_m, 0.0, 20.0, "m")
        if (on - off < LEAST_BAND_M * (1 - 1e-9)).any():
            gap = float(np.min(on - off))
            raise ValueError(f"pump-on is {gap:.4g} m above pump-off; it must be at least {LEAST_BAND_M:g} m above")
        within("returned volume", self.leak_m3, 0.0, 10.0, "m3")
        if not isinstance(self.flow_m3s, LevelFlow):
            within("pump flow", self.flow_m3s, 0.0, 1.0, "m3/s")


@dataclass(frozen=True)
class Fitted:
    """The pumps of many basins on one level grid. Arrays: (basins, pumps), grid (basins, knots) rising,
    flows (pumps, basins, knots), straight between knots."""

    on: FloatArray
    off: FloatArray
    running_allowed: np.ndarray
    leak: FloatArray
    grid: FloatArray
    flows: FloatArray


def _per_basin(value: ArrayLike, basins: int) -> FloatArray:
    return np.broadcast_to(np.asarray(value, dtype=np.float64), (basins,)).copy()


def _knots(pump: BasinPump, basins: int) -> tuple[FloatArray, FloatArray]:
    if not isinstance(pump.flow_m3s, LevelFlow):
        return np.zeros((basins, 1)), _per_basin(pump.flow_m3s, basins)[:, None]
    levels = np.asarray(pump.flow_m3s.levels_m, dtype=np.float64)
    flows = np.asarray(pump.flow_m3s.flows_m3s, dtype=np.float64)
    shape = (basins, levels.shape[-1])
    return np.broadcast_to(levels, shape), np.broadcast_to(flows, shape)


def fit(pumps: Sequence[BasinPump], basins: int, top: FloatArray) -> Fitted:
    """Bring the pumps of ``basins`` basins onto one grid of levels from 0 to ``top`` (basins,) [m]."""
    tables = [_knots(pump, basins) for pump in pumps]
    levels = [np.zeros((basins, 1)), top[:, None]]
    levels += [np.clip(table[0], 0.0, top[:, None]) for table in tables if table[0].shape[1] > 1]
    grid = np.sort(np.concatenate(levels, axis=1), axis=1)
    flows = np.zeros((len(pumps), basins, grid.shape[1]))
    for index, (knots, values) in enumerate(tables):
        flows[index] = values if knots.shape[1] == 1 else _straight(grid, knots, values)
    return Fitted(
        on=np.stack([_per_basin(pump.on_level_m, basins) for pump in pumps], axis=1),
        off=np.stack([_per_basin(pump.off_level_m, basins) for pump in pumps], axis=1),
        running_allowed=np.stack([_per_basin(pump.failed, basins) == 0.0 for pump in pumps], axis=1),
        leak=np.stack([_per_basin(pump.leak_m3, basins) for pump in pumps], axis=1),
        grid=grid,
        flows=flows,
    )


def _straight(at: FloatArray, knots: FloatArray, values: FloatArray) -> FloatArray:
    """Linear interpolation row by row: ``at`` (rows, n), ``knots`` and ``values`` (rows, k); level beyond the ends."""
    index = np.clip((knots[:, None, :] <= at[:, :, None]).sum(axis=2) - 1, 0, knots.shape[1] - 2)
    low, high = np.take_along_axis(knots, index, 1), np.take_along_axis(knots, index + 1, 1)
    first, last = np.take_along_axis(values, index, 1), np.take_along_axis(values, index + 1, 1)
    width = np.where(high > low, high - low, 1.0)
    share = np.clip(np.where(high > low, (at - low) / width, at >= high), 0.0, 1.0)
    return np.asarray(first + (last - first) * share)
