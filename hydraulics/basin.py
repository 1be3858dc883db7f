"""Pumped basins: routing an inflow through floats and pumps, cycle times, active volume, drawdown test.

The basin is prismatic (one area at all levels). Active volume V = t q / 4: US Army EI 11C201 / UFC 3-240-04A (1997)
section 7. Between starts at an inflow Q the basin fills in V/Q and is drawn down in V/(q - Q).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from hydraulics.basin_cycling import Cycled, cycle
from hydraulics.basin_pumps import BasinPump, LevelFlow, fit
from hydraulics.limits import scalar_or_array, within
from hydraulics.units import FloatArray
from hydraulics.worst_phase import flow_steps, peak_level

__all__ = [
    "BasinPump",
    "LevelFlow",
    "Routed",
    "cycle_seconds",
    "drawdown_flow",
    "least_seconds_to_spill",
    "minimum_active_volume",
    "most_starts_per_hour",
    "route",
    "route_worst_phase",
    "seconds_to_spill",
]


@dataclass(frozen=True)
class Routed:
    """What a routing found. For one basin: numbers, and arrays (pumps,); for many: (basins,) and (basins, pumps).

    starts: of each pump; run_s: running time [s]; pumped_m3: delivered, less what came back through the check valve
    (``returned_m3``); spilled_m3: over the rim; stored_m3: what stands in the basin more than at the start;
    peak_level_m, end_level_m [m over the floor]; first_spill_s: NaN if it never spilled [s]; short_cycling: more came
    back at a stop than the active volume, so that the pump started again at once; levels_m: at the end of each step,
    only on request. inflow_m3 = pumped + spilled + stored, to 1e-9.
    """

    starts: np.ndarray
    run_s: FloatArray
    pumped_m3: FloatArray
    returned_m3: FloatArray
    short_cycling: np.ndarray
    inflow_m3: float | FloatArray
    spilled_m3: float | FloatArray
    stored_m3: float | FloatArray
    peak_level_m: float | FloatArray
    end_level_m: float | FloatArray
    first_spill_s: float | FloatArray
    levels_m: FloatArray | None


def route(
    inflow_m3s: ArrayLike,
    step_s: float,
    area_m2: ArrayLike,
    depth_m: ArrayLike,
    pumps: Sequence[BasinPump],
    start_level_m: ArrayLike = 0.0,
    *,
    series: bool = False,
) -> Routed:
    """Route an inflow through one basin, or through many at once.

    inflow_m3s: (steps,) or (basins, steps), even within a step, 0 to 10 [m3/s]; step_s: 0.001 to 86,400 [s];
    area_m2: 0.01 to 100 [m2]; depth_m: floor to rim, where it spills, 0.05 to 20 [m]; start_level_m: 0 to the rim [m];
    the last three and the pumps' numbers may be arrays (basins,). Pumps are off at the start unless the level stands at
    their float. Starts and volumes do not depend on the step: floats are met inside it. Raises ValueError for levels
    above the rim and for numbers out of range.

    >>> found = route([0.001] * 60, 60.0, 0.25, 0.6, [BasinPump(0.3, 0.1, 0.002)], 0.1)
    >>> found.starts.tolist(), round(found.run_s[0])
    ([36], 1800)
    """
    flows = within("inflow", inflow_m3s, 0.0, 10.0, "m3/s")
    if flows.ndim not in (1, 2) or flows.shape[-1] == 0:
        raise ValueError(f"inflow has shape {flows.shape}; it must be (steps,) or (basins, steps), not empty")
    step = float(within("routing step", step_s, 0.001, 86_400.0, "s"))
    area = within("basin area", area_m2, 0.01, 100.0, "m2")
    depth = within("basin depth", depth_m, 0.05, 20.0, "m")
    start = within("start level", start_level_m, 0.0, 20.0, "m")
    shape = np.broadcast_shapes(flows.shape[:-1], area.shape, depth.shape, start.shape, *_shapes(pumps))
    basins = int(np.prod(shape)) if shape else 1
    area, depth, start = (np.broadcast_to(part, (basins,)).astype(np.float64) for part in (area, depth, start))
    if (start > depth).any():
        raise ValueError("start level is above the rim of the basin")
    for pump in pumps:
        if (np.asarray(pump.on_level_m) >= depth).any():
            raise ValueError(f"pump-on level is {np.max(pump.on_level_m):g} m; it must be below the rim")
    rows = flows.reshape(-1, flows.shape[-1])
    if series:
        merged, durations = rows, np.full(rows.shape[1], step)
    else:
        merged, durations = _merged(rows, step)
    fitted = fit(pumps or [_no_pump(depth)], basins, depth)
    sums = cycle(merged, durations, area, depth, fitted, start, series=series)
    inflow = np.broadcast_to(rows.sum(axis=1) * step, (basins,))
    return _result(sums, start, area, inflow, single=not shape, pumps=len(pumps))


def _shapes(pumps: Sequence[BasinPump]) -> list[tuple[int, ...]]:
    shapes = []
    for pump in pumps:
        shapes += [np.shape(part) for part in (pump.on_level_m, pump.off_level_m, pump.failed, pump.leak_m3)]
        if isinstance(pump.flow_m3s, LevelFlow):
            shapes += [np.shape(pump.flow_m3s.levels_m)[:-1], np.shape(pump.flow_m3s.flows_m3s)[:-1]]
        else:
            shapes.append(np.shape(pump.flow_m3s))
    return shapes


def _no_pump(depth: FloatArray) -> BasinPump:
    return BasinPump(on_level_m=0.999 * depth, off_level_m=0.0 * depth, flow_m3s=0.0, failed=True)


def _merged(rows: FloatArray, step: float) -> tuple[FloatArray, FloatArray]:
    """Runs of steps in which no basin's inflow changes, as one step each."""
    changes = np.flatnonzero((rows[:, 1:] != rows[:, :-1]).any(axis=0)) + 1
    begins = np.concatenate([[0], changes])
    counts = np.diff(np.concatenate([begins, [rows.shape[1]]]))
    return rows[:, begins], counts * step


def _result(
    sums: Cycled, start: FloatArray, area: FloatArray, inflow: FloatArray, *, single: bool, pumps: int
) -> Routed:
    def one(values: FloatArray) -> float | FloatArray:
        return float(values[0]) if single else values

    def each(values: np.ndarray) -> np.ndarray:
        kept = values[:, :pumps]
        return kept[0] if single else kept

    series = sums.series
    if series is not None and single:
        series = series[0]
    return Routed(
        starts=each(sums.starts),
        run_s=each(sums.run_s),
        pumped_m3=each(sums.pumped - sums.returned),
        returned_m3=each(sums.returned),
        short_cycling=each(sums.short_cycling),
        inflow_m3=one(inflow),
        spilled_m3=one(sums.spilled),
        stored_m3=one((sums.level - start) * area),
        peak_level_m=one(sums.peak),
        end_level_m=one(sums.level),
        first_spill_s=one(sums.first_spill_s),
        levels_m=series,
    )


def route_worst_phase(
    inflow_m3s: ArrayLike, step_s: float, area_m2: ArrayLike, depth_m: ArrayLike, pumps: Sequence[BasinPump]
) -> float | FloatArray:
    """Peak level [m over the floor] in the worst phase of the pump cycle: from pump-on up, never below it.

    Arguments as ``route``. The peak may lie above the rim: the basin is taken as if its walls went on. It is monotone
    in the inflow and never below the peak of ``route`` from any start level up to pump-on, as long as nothing spills.

    >>> round(route_worst_phase([0.001, 0.003, 0.003], 60.0, 0.25, 0.6, [BasinPump(0.3, 0.1, 0.002)]), 6)
    0.78
    """
    flows = within("inflow", inflow_m3s, 0.0, 10.0, "m3/s")
    step = float(within("routing step", step_s, 0.001, 86_400.0, "s"))
    area = within("basin area", area_m2, 0.01, 100.0, "m2")
    depth = within("basin depth", depth_m, 0.05, 20.0, "m")
    if not pumps:
        raise ValueError("the basin has no pump: the worst phase starts at a pump-on level")
    shape = np.broadcast_shapes(flows.shape[:-1], area.shape, depth.shape, *_shapes(pumps))
    basins = int(np.prod(shape)) if shape else 1
    fitted = fit(pumps, basins, np.broadcast_to(depth, (basins,)).astype(np.float64))
    rows = np.broadcast_to(flows.reshape(-1, flows.shape[-1]), (basins, flows.shape[-1]))
    peak = peak_level(rows, step, np.broadcast_to(area, (basins,)).astype(np.float64), flow_steps(fitted))
    return scalar_or_array(peak.reshape(shape))


def seconds_to_spill(
    inflow_m3s: ArrayLike, step_s: float, area_m2: float, spill_level_m: float, start_level_m: float
) -> float:
    """Time from the first step until the level reaches the spill level with no pump running [s]; infinite if never.

    For a pump that fails in a storm: give the inflow from the failure on and the level it finds.

    >>> round(seconds_to_spill([0.001] * 10, 60.0, 0.25, 0.6, 0.3), 6)
    75.0
    """
    flows = within("inflow", inflow_m3s, 0.0, 10.0, "m3/s")
    area = float(within("basin area", area_m2, 0.01, 100.0, "m2"))
    room = (float(spill_level_m) - float(start_level_m)) * area
    if room <= 0.0:
        return 0.0
    filled = np.cumsum(flows) * step_s
    if filled[-1] < room:
        return float("inf")
    index = int(np.searchsorted(filled, room))
    return float(step_s * (index + 1) - (filled[index] - room) / flows[index])


def least_seconds_to_spill(
    inflow_m3s: ArrayLike, step_s: float, area_m2: float, spill_level_m: float, start_level_m: float
) -> float:
    """The same for a pump that fails at the start of the worst step of the inflow [s]; infinite if it never spills."""
    flows = within("inflow", inflow_m3s, 0.0, 10.0, "m3/s")
    area = float(within("basin area", area_m2, 0.01, 100.0, "m2"))
    room = (float(spill_level_m) - float(start_level_m)) * area
    if room <= 0.0:
        return 0.0
    filled = np.concatenate([[0.0], np.cumsum(flows) * step_s])
    target = filled[:-1] + room
    index = np.searchsorted(filled, target)
    spills = np.flatnonzero(index < filled.size)
    if not spills.size:
        return float("inf")
    at = index[spills]
    times = step_s * at - (filled[at] - target[spills]) / flows[at - 1] - step_s * spills
    return float(times.min())


def minimum_active_volume(pump_flow_m3s: ArrayLike, min_cycle_s: ArrayLike) -> float | FloatArray:
    """Least volume between on and off, V = t q / 4 [m3], that keeps starts at least ``min_cycle_s`` apart.

    pump_flow_m3s: 0 to 1 [m3/s]; min_cycle_s: 0 to 86,400 [s]. The worst inflow is half the pump's flow.

    >>> round(minimum_active_volume(0.004, 360.0), 6)
    0.36
    """
    flow = within("pump flow", pump_flow_m3s, 0.0, 1.0, "m3/s")
    return scalar_or_array(np.asarray(0.25 * flow * within("least cycle", min_cycle_s, 0.0, 86_400.0, "s")))


def cycle_seconds(active_volume_m3: ArrayLike, inflow_m3s: ArrayLike, pump_flow_m3s: ArrayLike) -> float | FloatArray:
    """Time from start to start, V/Q + V/(q - Q) [s]; infinite without inflow and where the pump never catches up.

    >>> cycle_seconds(0.05, 0.001, 0.002)
    100.0
    """
    volume = within("active volume", active_volume_m3, 0.0, 1000.0, "m3")
    inflow = within("inflow", inflow_m3s, 0.0, 10.0, "m3/s")
    flow = within("pump flow", pump_flow_m3s, 0.0, 1.0, "m3/s")
    volume, inflow, flow = np.broadcast_arrays(volume, inflow, flow)
    cycles = (inflow > 0.0) & (flow > inflow)
    fill = np.divide(volume, inflow, out=np.full(volume.shape, np.inf), where=cycles)
    empty = np.divide(volume, flow - inflow, out=np.full(volume.shape, np.inf), where=cycles)
    return scalar_or_array(np.asarray(fill + empty))


def most_starts_per_hour(active_volume_m3: ArrayLike, pump_flow_m3s: ArrayLike) -> float | FloatArray:
    """Starts an hour at the worst inflow, half the pump's flow: 3600 q / (4 V) [1/h].

    >>> round(most_starts_per_hour(0.05, 0.002), 6)
    36.0
    """
    volume = within("active volume", active_volume_m3, 0.0, 1000.0, "m3", open_low=True)
    flow = within("pump flow", pump_flow_m3s, 0.0, 1.0, "m3/s")
    return scalar_or_array(np.asarray(900.0 * flow / volume))


def drawdown_flow(
    area_m2: ArrayLike, drop_m: ArrayLike, seconds: ArrayLike, inflow_m3s: ArrayLike = 0.0
) -> float | FloatArray:
    """Pump flow of a drawdown test, area x drop / time + inflow [m3/s]; area less what stands in the basin.

    >>> round(drawdown_flow(0.164, 0.1524, 12.0), 6)
    0.002083
    """
    area = within("basin area", area_m2, 0.01, 100.0, "m2")
    drop = within("drop of the level", drop_m, 0.0, 20.0, "m")
    time = within("drawdown time", seconds, 0.0, 86_400.0, "s", open_low=True)
    return scalar_or_array(np.asarray(area * drop / time + within("inflow", inflow_m3s, 0.0, 10.0, "m3/s")))
