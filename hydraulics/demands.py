"""Rain and water of many systems as arrays: intensities, storms, and what reaches each place in them."""

from collections.abc import Sequence

import numpy as np

from hydraulics.parts import System
from hydraulics.rain import BLOCK_MIN, STORM_MIN, DepthDurationTable, block_order
from hydraulics.runoff import averaged_rain
from hydraulics.units import FloatArray
from hydraulics.water_paths import Water

BLOCKS = round(STORM_MIN / BLOCK_MIN)
STEP_S = 60.0 * BLOCK_MIN


def rain_problem(system: System) -> str:
    """What is wrong with the system's rain, empty if nothing is."""
    rain, years = system.rain, system.return_years
    if rain is None:
        return "no rain table is known"
    if rain.shortest_min > BLOCK_MIN or rain.longest_min < STORM_MIN:
        return (
            f"the rain table goes from {rain.shortest_min:g} to {rain.longest_min:g} min; "
            f"the rating storm needs {BLOCK_MIN:g} to {STORM_MIN:g} min"
        )
    if not rain.returns[0] <= years <= rain.returns[-1]:
        return f"the rain table goes from {rain.returns[0]:g} to {rain.returns[-1]:g} years; the target is {years:g}"
    return ""


class Rains:
    """The rain of many systems, by the tables they share. Systems are known by their index."""

    def __init__(self, systems: Sequence[System]) -> None:
        self.target_years = np.array([float(system.return_years) for system in systems])
        self.tables: list[DepthDurationTable] = []
        places: dict[int, int] = {}
        index = []
        for system in systems:
            table = system.rain
            if table is None:
                raise ValueError("a system without a rain table cannot be rated")
            if id(table) not in places:
                places[id(table)] = len(self.tables)
                self.tables.append(table)
            index.append(places[id(table)])
        self.table_of = np.array(index, dtype=np.intp)
        ends = BLOCK_MIN * np.arange(1, BLOCKS + 1)
        self._logs = [np.log(np.asarray(table.depth(ends, table.returns[:, None]))) for table in self.tables]
        self._order = block_order(BLOCKS)

    def ends(self) -> tuple[FloatArray, FloatArray]:
        """Smallest and largest return period of each system's table [years]."""
        low = np.array([table.returns[0] for table in self.tables])
        high = np.array([table.returns[-1] for table in self.tables])
        return low[self.table_of], high[self.table_of]

    def intensity(self, systems: np.ndarray, minutes: FloatArray, years: FloatArray) -> FloatArray:
        """Intensity [mm/h] for rows of (system, duration), at each system's return period ``years`` (systems,)."""
        found = np.empty(systems.size)
        for number, table in enumerate(self.tables):
            mask = self.table_of[systems] == number
            if mask.any():
                found[mask] = table.intensity(minutes[mask], years[systems[mask]])
        return found

    def storms(self, systems: np.ndarray, years: FloatArray) -> FloatArray:
        """Alternating block storms [mm a block], (rows, blocks), of rows of systems at ``years`` (systems,)."""
        depths = np.empty((systems.size, BLOCKS))
        for number, table in enumerate(self.tables):
            mask = self.table_of[systems] == number
            if not mask.any():
                continue
            knots = np.log(table.returns)
            at = np.log(years[systems[mask]])
            if knots.size == 1:
                depths[mask] = np.exp(self._logs[number][0])
                continue
            column = np.clip(np.searchsorted(knots, at, side="right") - 1, 0, knots.size - 2)
            share = np.clip((at - knots[column]) / (knots[column + 1] - knots[column]), 0.0, 1.0)[:, None]
            logs = self._logs[number]
            depths[mask] = np.exp(logs[column] + (logs[column + 1] - logs[column]) * share)
        depths[:, 1:] -= depths[:, :-1].copy()
        return np.asarray(depths[:, self._order])


class Demands:
    """What reaches a list of places: areas by time of concentration and shares of pumped flow, as sparse rows."""

    def __init__(self) -> None:
        self._system: list[int] = []
        self._areas: tuple[list[int], list[float], list[float]] = ([], [], [])
        self._pumped: tuple[list[int], list[int], list[float]] = ([], [], [])

    def add(self, system: int, waters: Sequence[Water], line_numbers: dict[str, int]) -> None:
        """Append one place of a system, reached by all of ``waters``; pump lines go by their number."""
        row = len(self._system)
        self._system.append(system)
        rows, minutes, sizes = self._areas
        pumped_rows, lines, shares = self._pumped
        for water in waters:
            for tc, area in water.areas.items():
                rows.append(row)
                minutes.append(tc)
                sizes.append(area)
            for line, share in water.pumped.items():
                pumped_rows.append(row)
                lines.append(line_numbers[line])
                shares.append(share)

    def close(self) -> None:
        """Turn the lists into arrays; nothing is added after."""
        self.system = np.array(self._system, dtype=np.intp)
        rows, minutes, sizes = self._areas
        self.rows = np.array(rows, dtype=np.intp)
        self.minutes = np.array(minutes, dtype=np.float64)
        self.sizes = np.array(sizes, dtype=np.float64)
        pumped_rows, lines, shares = self._pumped
        self.pumped_rows = np.array(pumped_rows, dtype=np.intp)
        self.pumped_lines = np.array(lines, dtype=np.intp)
        self.pumped_shares = np.array(shares, dtype=np.float64)

    def peaks(self, rains: Rains, years: FloatArray) -> FloatArray:
        """Sum over areas of C A i(own time of concentration), (places,) [m3/s]."""
        intensity = rains.intensity(self.system[self.rows], self.minutes, years)
        flow = self.sizes * intensity / 3.6e6
        return np.asarray(np.bincount(self.rows, weights=flow, minlength=self.system.size), dtype=np.float64)

    def fixed(self, line_flows: FloatArray) -> FloatArray:
        """Pumped flow that reaches each place whatever the storm, (places,) [m3/s]."""
        flow = self.pumped_shares * line_flows[self.pumped_lines]
        return np.asarray(np.bincount(self.pumped_rows, weights=flow, minlength=self.system.size), dtype=np.float64)

    def series(self, rains: Rains, years: FloatArray, places: np.ndarray) -> FloatArray:
        """Inflow of ``places`` in their own storms, (places, blocks and the time to run off) [m3/s]."""
        storms = rains.storms(self.system[places], years)
        at = np.full(self.system.size, -1)
        at[places] = np.arange(places.size)
        wanted = at[self.rows] >= 0
        rows, minutes, sizes = at[self.rows[wanted]], self.minutes[wanted], self.sizes[wanted]
        tail = int(np.ceil(minutes.max(initial=BLOCK_MIN) / BLOCK_MIN - 1e-9)) - 1
        total = np.zeros((places.size, BLOCKS + tail))
        for tc in np.unique(minutes):
            same = minutes == tc
            area = np.bincount(rows[same], weights=sizes[same], minlength=places.size)
            reached = np.flatnonzero(area)
            rain = averaged_rain(storms[reached], BLOCK_MIN, float(tc))
            total[reached, : rain.shape[1]] += area[reached, None] * rain / 3.6e6
        return total
