"""Pump flow over the water level for each pump line of many systems, from the duty point at each level."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from hydraulics.basin_pumps import BasinPump, LevelFlow
from hydraulics.limits import within
from hydraulics.parts import DischargePipe, Power, Pump, SumpBasin
from hydraulics.pump import (
    FLOW_EXPONENT,
    DischargeLine,
    DutyPoint,
    PumpCurve,
    PumpsTogether,
    duty_point,
    flow_at_levels,
)
from hydraulics.units import FloatArray
from hydraulics.water_paths import Missing, PumpLine


@dataclass(frozen=True)
class LineTask:
    """One pump line to compute: its basin, pumps in the order they come on, line data from the off level up."""

    basin: SumpBasin
    pumps: tuple[Pump, ...]
    running: tuple[bool, ...]
    ratios: tuple[float, ...]
    line: DischargeLine | None
    levels: FloatArray


def table_levels(off: float, on: float, top: float) -> FloatArray:
    """Knots of a flow table: three up to pump-on, five from there to the rim."""
    return np.concatenate([np.linspace(off, on, 3)[:-1], np.linspace(on, top, 5)])


def float_levels(pump: Pump, basin: SumpBasin) -> tuple[float, float]:
    """On and off level of a pump, its own float's or the basin's [m over the floor]."""
    on = pump.on_level_m if pump.on_level_m is not None else basin.on_level_m
    off = pump.off_level_m if pump.off_level_m is not None else basin.off_level_m
    return float(on or 0.0), float(off or 0.0)


def runs(pump: Pump, power: Power) -> bool:
    """Whether a pump runs with this power."""
    return not pump.failed and pump.powered_by == power


def needs(basin: SumpBasin, group: PumpLine) -> list[Missing]:
    """What is unknown for the flow of a pump line."""
    missing = []
    if any(pump.curve is None and pump.flow_m3s is None for pump in group.pumps):
        missing += [Missing(p.tag, "pump_curve") for p in group.pumps if p.curve is None and p.flow_m3s is None]
    if all(pump.flow_m3s is not None for pump in group.pumps):
        return missing
    if not group.lines:
        return [*missing, Missing(group.pumps[0].tag, "discharge_line")]
    for line in group.lines:
        for name in ("length_m", "diameter_m", "lift_above_off_m", "hazen_williams_c", "minor_k"):
            if getattr(line, name) is None:
                missing.append(Missing(line.tag, name))
    missing += [Missing(v.tag, "minor_k") for v in group.valves if v.fitted and v.minor_k is None]
    return missing


def line_task(basin: SumpBasin, group: PumpLine, ratios: Mapping[str, float], power: Power) -> LineTask:
    """Prepare a pump line whose dimensions are all known.

    Lines in a row are taken as one: lengths as friction of the first one's bore, the highest lift, all losses. The
    check valve's loss is counted on the whole flow also where two pumps have one each (safe side).
    """
    ordered = sorted(group.pumps, key=lambda pump: float_levels(pump, basin)[0])
    on = min(float_levels(pump, basin)[0] for pump in ordered)
    off = min(float_levels(pump, basin)[1] for pump in ordered)
    line = None
    if group.lines and any(pump.flow_m3s is None for pump in ordered):
        first = group.lines[0]
        factor = [1.0] + [_friction_factor(first, other) for other in group.lines[1:]]
        lengths = sum(float(part.length_m or 0.0) * k for part, k in zip(group.lines, factor, strict=True))
        lift = max(max(p.lift_above_off_m or 0.0, p.high_point_above_off_m or 0.0) for p in group.lines)
        if group.outfall is not None:
            lift += group.outfall.opening_head_m + group.outfall.tailwater_m
        minor = sum(float(part.minor_k or 0.0) for part in group.lines)
        minor += sum(float(valve.minor_k or 0.0) for valve in group.valves if valve.fitted)
        line = DischargeLine(lift + off, lengths, first.diameter_m or 0.0, first.hazen_williams_c or 0.0, minor)
    flows = tuple(float(within("drawdown ratio", ratios.get(p.tag, 1.0), 0.0, 1.5, "")) for p in ordered)
    levels = table_levels(off, on, float(basin.depth_m or 0.0))
    return LineTask(basin, tuple(ordered), tuple(runs(pump, power) for pump in ordered), flows, line, levels)


def _friction_factor(first: DischargePipe, other: DischargePipe) -> float:
    """Friction of a metre of ``other`` over that of a metre of ``first`` at the same flow."""
    bores = (first.diameter_m or 1.0) / (other.diameter_m or 1.0)
    roughness = (first.hazen_williams_c or 1.0) / (other.hazen_williams_c or 1.0)
    return float(bores**4.871 * roughness**FLOW_EXPONENT)


def flow_tables(tasks: list[LineTask]) -> list[FloatArray]:
    """Flow each running pump of each task adds at the task's levels, (pumps, levels) [m3/s], drawdown ratio applied.

    A second pump on the line brings what the pair delivers more than the first alone. Single pumps with a three-point
    curve, by far the most, are solved together.
    """
    tables: list[FloatArray] = [np.zeros((len(task.pumps), task.levels.size)) for task in tasks]
    together = [
        index
        for index, task in enumerate(tasks)
        if task.running == (True,) and task.line is not None and _three_points(task.pumps[0])
    ]
    if together:
        flows = _power_law_flows([tasks[index] for index in together])
        for index, flow in zip(together, flows, strict=True):
            tables[index] = flow[None, :] * tasks[index].ratios[0]
    for index in set(range(len(tasks))) - set(together):
        tables[index] = _one_table(tasks[index])
    return tables


def _three_points(pump: Pump) -> bool:
    return pump.flow_m3s is None and pump.curve is not None and len(pump.curve.points) == 3


def _one_table(task: LineTask) -> FloatArray:
    rows = []
    before = np.zeros(task.levels.size)
    curves: list[PumpCurve] = []
    for pump, running, ratio in zip(task.pumps, task.running, task.ratios, strict=True):
        if not running:
            rows.append(np.zeros(task.levels.size))
            continue
        if pump.flow_m3s is not None or task.line is None or pump.curve is None:
            rows.append(np.full(task.levels.size, float(pump.flow_m3s or 0.0) * ratio))
            continue
        curves.append(pump.curve)
        curve = curves[0] if len(curves) == 1 else PumpsTogether(tuple(curves))
        flow = flow_at_levels(curve, task.line, task.levels)
        rows.append(np.maximum(flow - before, 0.0) * ratio)
        before = flow
    return np.array(rows)


def _power_law_flows(tasks: list[LineTask]) -> FloatArray:
    """Duty flows (tasks, levels) of H = A - B Q^C against lift + r Q^1.852 + m Q^2, by Newton held in a bracket."""
    curves = [task.pumps[0].curve for task in tasks]
    lines = [task.line for task in tasks]
    shutoff, b, c = (
        np.array([[getattr(curve, name)] for curve in curves]) for name in ("shutoff_head_m", "coefficient", "exponent")
    )
    lift = np.array([[float(np.asarray(line.static_lift_m))] for line in lines if line])
    r = np.array([[float(line.friction_per_flow())] for line in lines if line])
    m = np.array([[float(line.minor_per_flow())] for line in lines if line])
    lift = np.maximum(lift - np.array([task.levels for task in tasks]), 0.0)
    spare = np.maximum(shutoff - lift, 0.0)
    low = np.zeros(lift.shape)
    high = np.broadcast_to((spare / b) ** (1.0 / c), lift.shape).copy()
    flow = 0.5 * high
    for _ in range(60):
        losses = r * flow**FLOW_EXPONENT + m * flow * flow + b * flow**c
        excess = losses - spare
        low, high = np.where(excess <= 0.0, flow, low), np.where(excess > 0.0, flow, high)
        safe = np.maximum(flow, 1e-12)
        slope = (FLOW_EXPONENT * r * safe**FLOW_EXPONENT + 2.0 * m * safe**2 + c * b * safe**c) / safe
        newer = flow - excess / np.maximum(slope, 1e-300)
        newer = np.where((newer > low) & (newer < high), newer, 0.5 * (low + high))
        if np.all(np.abs(newer - flow) <= 1e-14 + 1e-13 * flow):
            flow = newer
            break
        flow = newer
    return np.where(spare > 0.0, flow, 0.0)


@dataclass(frozen=True)
class LineDuty:
    """One pump line at the level midway between on and off, for the pump page.

    pump_tags: pumps running on it; curve and line give the two curves to draw (lift taken from that level), None where
    a constant flow is all that is known; duty: where they meet, before any drawdown ratio; flow_m3s: what routing uses
    at that level, ratio applied.
    """

    pump_tags: tuple[str, ...]
    level_m: float
    curve: PumpCurve | PumpsTogether | None
    line: DischargeLine | None
    duty: DutyPoint | None
    flow_m3s: float


def line_duty(task: LineTask, table: FloatArray) -> LineDuty:
    """Curves and duty point of a pump line midway between on and off."""
    level = float(0.5 * (task.levels[0] + task.levels[2]))
    flow = float(np.interp(level, task.levels, table.sum(axis=0)))
    turning = [pump for pump, running in zip(task.pumps, task.running, strict=True) if running]
    tags = tuple(pump.tag for pump in turning)
    curves = tuple(pump.curve for pump in turning if pump.curve is not None and pump.flow_m3s is None)
    if task.line is None or not curves or len(curves) < len(turning):
        return LineDuty(tags, level, None, None, None, flow)
    curve = curves[0] if len(curves) == 1 else PumpsTogether(curves)
    line = replace(task.line, static_lift_m=max(float(np.asarray(task.line.static_lift_m)) - level, 0.0))
    return LineDuty(tags, level, curve, line, duty_point(curve, line), flow)


def routed_pumps(task: LineTask, table: FloatArray) -> list[BasinPump]:
    """The pumps of a task as routing takes them."""
    pumps = []
    for pump, running, flows in zip(task.pumps, task.running, table, strict=True):
        on, off = float_levels(pump, task.basin)
        pumps.append(BasinPump(on, off, LevelFlow(task.levels, flows), failed=not running))
    return pumps
