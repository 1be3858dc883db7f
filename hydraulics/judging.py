"""The checks of the storm rating, each run once for all places of its kind.

A place passes a storm if what reaches it is within what it carries; its multiple is the largest multiple of the
target storm it passes. Pumped basins are judged by their limit level, by the worst-phase routing.
"""

from dataclasses import dataclass

import numpy as np

from hydraulics.basin_pumps import Fitted
from hydraulics.channel import outlet_flow
from hydraulics.channel_capacity import Filling, full_multiple, overfull
from hydraulics.demands import STEP_S, Rains
from hydraulics.duty_tables import float_levels, flow_tables
from hydraulics.flat_parts import Flat, FlatPlaces
from hydraulics.grate import intake
from hydraulics.pipe import full_flow
from hydraulics.search import largest_passing
from hydraulics.spatially_varied import Reach
from hydraulics.units import FloatArray
from hydraulics.worst_phase import Steps, flow_steps, peak_level

MARGIN = 1e-9
"""A storm within this share of a multiple passes: rounding, not water."""


@dataclass(frozen=True)
class Judged:
    """Places of one kind judged: arrays (places,). what: the words people see; fixed: pumped flow that reaches the
    place in any storm, flow: what the target storm adds [m3/s]; capacity [m3/s]; multiple [-]."""

    what: str
    owner: list[tuple[int, str]]
    fixed: FloatArray
    flow: FloatArray
    capacity: FloatArray
    multiple: FloatArray


def columns(places: FlatPlaces, width: int) -> list[FloatArray]:
    """The numbers of all places, one array a column; empty arrays where there are no places."""
    table = np.array(places.numbers, dtype=np.float64).reshape(-1, width)
    return [table[:, column] for column in range(width)]


def checked(places: FlatPlaces, name: str, values: FloatArray, low: float, high: float, unit: str) -> None:
    """Raise ValueError naming the component whose value is out of range."""
    bad = np.flatnonzero(~((values >= low) & (values <= high)))
    if bad.size:
        tag, value = places.owner[bad[0]][1], values[bad[0]]
        raise ValueError(f"{tag}: {name} is {value:g} {unit}; it must be at least {low:g} and at most {high:g} {unit}")


def _multiple_of(capacity: FloatArray, fixed: FloatArray, flow: FloatArray) -> FloatArray:
    room = capacity - fixed
    grows = flow > 0.0
    multiple = np.divide(room, flow, out=np.full(room.shape, np.inf), where=grows)
    return np.maximum(np.where(grows, multiple, np.where(room >= 0.0, np.inf, 0.0)), 0.0)


class Judge:
    """All places of many systems with their pumps' flows; storms are asked of it."""

    def __init__(self, flat: Flat, rains: Rains) -> None:
        flat.close()
        self.flat, self.rains = flat, rains
        self.tables = flow_tables(flat.tasks)
        self.line_flows = np.array(
            [
                np.interp(limit, task.levels, table.sum(axis=0))
                for task, table, limit in zip(flat.tasks, self.tables, flat.task_limits, strict=True)
            ]
        )
        self.capacities = self._capacities()
        self.filling, self.free_ends, self.channel_depth = self._channels()
        self.area, self.limit, self.steps = self._basins()
        self.fixed = {name: places.demand.fixed(self.line_flows) for name, places in self._named()}
        self.judged = self._judge()

    def _named(self) -> list[tuple[str, FlatPlaces]]:
        flat = self.flat
        return [
            ("pipes", flat.pipes), ("channels", flat.channels), ("outlets", flat.outlets),
            ("grates", flat.grates), ("basins", flat.basins),
        ]  # fmt: skip

    def _capacities(self) -> dict[str, FloatArray]:
        diameter, slope, n, silt = columns(self.flat.pipes, 4)
        checked(self.flat.pipes, "pipe diameter", diameter, 0.01, 5.0, "m")
        checked(self.flat.pipes, "Manning n", n, 0.005, 0.1, "")
        out_diameter, rim, out_silt, ends = columns(self.flat.outlets, 4)
        ponding, perimeter, open_area, blocked = columns(self.flat.grates, 4)
        outlets = np.asarray(outlet_flow(out_diameter, np.maximum(rim, 0.0), out_silt)) if rim.size else rim
        return {
            "pipes": np.asarray(full_flow(diameter, slope, n, silt)) if n.size else n,
            "outlets": outlets * ends,
            "grates": np.asarray(intake(ponding, perimeter, open_area, blocked)) if ponding.size else ponding,
        }

    def _channels(self) -> tuple[Filling, FloatArray, FloatArray]:
        places = self.flat.channels
        width, length, n, slope, rim, rim_end, ends, depth = columns(places, 8)
        checked(places, "channel width", width, 0.01, 5.0, "m")
        checked(places, "channel length", length * ends, 0.05, 500.0, "m")
        checked(places, "channel depth", depth, 0.005, 5.0, "m")
        checked(places, "channel slope", slope, 0.0, 0.2, "m/m")
        checked(places, "Manning n", n, 0.0, 0.1, "")
        years = self.rains.target_years
        filling = Filling(
            reach=Reach(width, length, n, slope),
            rim=rim,
            rim_end=rim_end,
            lateral=self.flat.channels.demand.peaks(self.rains, years) / ends,
            upstream=self.flat.above.peaks(self.rains, years),
            upstream_fixed=self.flat.above.fixed(self.line_flows),
        )
        return filling, ends, depth

    def _basins(self) -> tuple[FloatArray, FloatArray, Steps]:
        flat = self.flat
        area, _, limit = columns(flat.basins, 3)
        count = len(flat.basin_lines)
        pumps = max((sum(len(flat.tasks[line].pumps) for line in lines) for lines in flat.basin_lines), default=1)
        knots = 7
        on, off = np.zeros((count, pumps)), np.zeros((count, pumps))
        allowed = np.zeros((count, pumps), dtype=bool)
        grid, flows = np.zeros((count, knots)), np.zeros((pumps, count, knots))
        for row, lines in enumerate(flat.basin_lines):
            grid[row] = flat.tasks[lines[0]].levels
            place = 0
            for line in lines:
                task = flat.tasks[line]
                for index, pump in enumerate(task.pumps):
                    on[row, place], off[row, place] = float_levels(pump, task.basin)
                    allowed[row, place] = task.running[index]
                    flows[place, row] = np.interp(grid[row], task.levels, self.tables[line][index])
                    place += 1
            on[row, place:], off[row, place:] = on[row, 0], off[row, 0]
        fitted = Fitted(on, off, allowed, np.zeros((count, pumps)), grid, flows)
        return area, limit, flow_steps(fitted)

    def basin_series(self, rows: np.ndarray, years: FloatArray) -> FloatArray:
        """Storm inflow of basins ``rows`` at ``years`` (systems,), without the pumped part [m3/s]."""
        return self.flat.basins.demand.series(self.rains, years, rows)

    def _basin_multiples(self, series: FloatArray, fixed: FloatArray) -> FloatArray:
        """Largest multiple of the series that keeps the worst-phase peak at or below the limit."""
        answer = np.full(self.limit.size, np.inf)

        def over(rows: np.ndarray, times: FloatArray) -> FloatArray:
            inflow = times[:, None] * series[rows] + fixed[rows, None]
            return peak_level(inflow, STEP_S, self.area[rows], self.steps.pick(rows)) - self.limit[rows]

        every = np.arange(self.limit.size)
        at_zero = over(every, np.zeros(every.size))
        answer[at_zero > 0.0] = 0.0
        peak = series.max(axis=1, initial=0.0)
        todo = np.flatnonzero((at_zero <= 0.0) & (peak > 0.0))
        if todo.size:
            pumped = self.steps.flow[todo].max(axis=1)
            share = np.maximum(pumped, 0.05 * peak[todo])
            guess = share / peak[todo]
            answer[todo] = largest_passing(lambda rows, x: over(todo[rows], x), at_zero[todo], guess)
        return answer

    def _judge(self) -> list[Judged]:
        years = self.rains.target_years
        judged = []
        for name, what in (("pipes", "running full"), ("outlets", "its outlet"), ("grates", "its grate")):
            places = dict(self._named())[name]
            flow, fixed, capacity = places.demand.peaks(self.rains, years), self.fixed[name], self.capacities[name]
            judged.append(Judged(what, places.owner, fixed, flow, capacity, _multiple_of(capacity, fixed, flow)))
        filling = self.filling
        flow = filling.lateral * self.free_ends + filling.upstream
        times = full_multiple(filling)
        judged.append(
            Judged(
                "full to the rim", self.flat.channels.owner, filling.upstream_fixed, flow,
                filling.upstream_fixed + np.where(np.isfinite(times), times, 0.0) * flow, times,
            )
        )  # fmt: skip
        series = self.basin_series(np.arange(self.limit.size), years)
        fixed, peak = self.fixed["basins"], series.max(axis=1, initial=0.0)
        times = self._basin_multiples(series, fixed)
        carried = fixed + np.where(np.isfinite(times), times, 0.0) * peak
        judged.append(Judged("its level", self.flat.basins.owner, fixed, peak, carried, times))
        return judged

    def passes(self, years: FloatArray, systems: np.ndarray) -> np.ndarray:
        """Which systems pass the storm of their return period in ``years``; only those in ``systems`` are asked."""
        fails = np.zeros(years.size, dtype=bool)
        for name in ("pipes", "outlets", "grates"):
            demand = dict(self._named())[name].demand
            over = demand.peaks(self.rains, years) + self.fixed[name] > self.capacities[name] * (1.0 + MARGIN)
            fails[demand.system[over]] = True
        fails[self.flat.channels.demand.system[self._channels_over(years, systems)]] = True
        basins = self.flat.basins.demand.system
        rows = np.flatnonzero(np.isin(basins, systems) & ~fails[basins])
        if rows.size:
            inflow = self.basin_series(rows, years) + self.fixed["basins"][rows, None]
            peak = peak_level(inflow, STEP_S, self.area[rows], self.steps.pick(rows))
            fails[basins[rows[peak > self.limit[rows] * (1.0 + MARGIN)]]] = True
        return ~fails

    def _channels_over(self, years: FloatArray, systems: np.ndarray) -> np.ndarray:
        """Channels the storms of ``years`` overfill.

        Where both inflows grew alike, as with one time of concentration, the known multiple answers.
        """
        filling, demand = self.filling, self.flat.channels.demand
        if not filling.rim.size:
            return np.zeros(0, dtype=bool)
        lateral = demand.peaks(self.rains, years) / self.free_ends
        upstream = self.flat.above.peaks(self.rains, years)
        side = np.divide(lateral, filling.lateral, out=np.zeros_like(lateral), where=filling.lateral > 0.0)
        above = np.divide(upstream, filling.upstream, out=np.zeros_like(upstream), where=filling.upstream > 0.0)
        grew = np.maximum(side, above)
        alike = (np.abs(side - above) <= 1e-9 * grew) | (filling.lateral <= 0.0) | (filling.upstream <= 0.0)
        over = grew > self.judged[3].multiple * (1.0 + MARGIN)
        rows = np.flatnonzero(~alike & np.isin(demand.system, systems))
        if rows.size:
            part = filling.pick(rows)
            asked = Filling(part.reach, part.rim, part.rim_end, lateral[rows], upstream[rows], part.upstream_fixed)
            over[rows] = overfull(asked, np.ones(rows.size)) > MARGIN
        return np.asarray(over)
