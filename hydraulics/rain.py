"""Design rain: depth-duration-frequency tables, alternating blocks, SCS shapes.

Depths between the table's durations and return periods are read linearly in the logarithms of depth, duration and
return period; outside the table there is no value, only an error.
Alternating blocks: Chow, Maidment and Mays, Applied Hydrology, 1988, section 14.4.
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from hydraulics.limits import scalar_or_array, within
from hydraulics.scs_storm import scs_fraction, scs_storm
from hydraulics.units import FloatArray

__all__ = [
    "BLOCK_MIN",
    "STORM_MIN",
    "DepthDurationTable",
    "alternating_block",
    "block_order",
    "scs_fraction",
    "scs_storm",
]

BLOCK_MIN: Final = 5.0
STORM_MIN: Final = 1440.0


@dataclass(frozen=True, eq=False)
class DepthDurationTable:
    """Rain depths of one place by duration and return period, with where they come from.

    durations_min: rising [min]; return_years: rising, above 1 [years]; depths_mm: one row a duration, one column a
    return period [mm]; a single return period may be given as a plain row of depths. source: a line people see.
    Depths must rise with duration and with return period. Raises ValueError naming the first that does not.

    >>> table = DepthDurationTable([10, 15], [2, 10], [[17.6, 24.2], [22.1, 30.5]], "an example")
    >>> round(table.intensity(12, 10), 1)
    134.3
    """

    durations_min: ArrayLike
    return_years: ArrayLike
    depths_mm: ArrayLike
    source: str
    _log_durations: FloatArray = field(init=False, repr=False)
    _log_returns: FloatArray = field(init=False, repr=False)
    _log_depths: FloatArray = field(init=False, repr=False)

    def __post_init__(self) -> None:
        durations = np.atleast_1d(within("duration", self.durations_min, 1.0, 10_080.0, "min"))
        returns = np.atleast_1d(within("return period", self.return_years, 1.0, 1000.0, "years", open_low=True))
        depths = within("rain depth", self.depths_mm, 0.0, 2000.0, "mm", open_low=True)
        if depths.ndim == 1 and returns.size == 1:
            depths = depths[:, None]
        if depths.shape != (durations.size, returns.size):
            raise ValueError(
                f"rain depths are {depths.shape}; they must be one row for each of {durations.size} durations "
                f"and one column for each of {returns.size} return periods"
            )
        if not self.source.strip():
            raise ValueError("the rain table needs a source line")
        _must_rise("durations", durations, "min")
        _must_rise("return periods", returns, "years")
        for column, years in enumerate(returns):
            _must_rise(f"depths of the {years:g}-year storm", depths[:, column], "mm")
        for row, minutes in enumerate(durations):
            _must_rise(f"depths of {minutes:g} min", depths[row], "mm")
        for name, values in (("durations_min", durations), ("return_years", returns), ("depths_mm", depths)):
            values.setflags(write=False)
            object.__setattr__(self, name, values)
        object.__setattr__(self, "_log_durations", np.log(durations))
        object.__setattr__(self, "_log_returns", np.log(returns))
        object.__setattr__(self, "_log_depths", np.log(depths))

    @property
    def shortest_min(self) -> float:
        """Shortest duration of the table [min]."""
        return float(np.asarray(self.durations_min)[0])

    @property
    def longest_min(self) -> float:
        """Longest duration of the table [min]."""
        return float(np.asarray(self.durations_min)[-1])

    @property
    def returns(self) -> FloatArray:
        """Return periods of the table, rising [years]."""
        return np.asarray(self.return_years)

    def depth(self, duration_min: ArrayLike, return_years: ArrayLike) -> float | FloatArray:
        """Rain depth [mm] in ``duration_min`` at ``return_years``; the two broadcast. ValueError outside the table."""
        durations, returns = self.durations_min, self.return_years
        low, high = float(np.min(durations)), float(np.max(durations))
        minutes = within("duration", duration_min, low, high, "min (the table is not extrapolated)")
        low, high = float(np.min(returns)), float(np.max(returns))
        years = within("return period", return_years, low, high, "years (the table is not extrapolated)")
        return scalar_or_array(np.exp(self._read(np.log(minutes), np.log(years))))

    def intensity(self, duration_min: ArrayLike, return_years: ArrayLike) -> float | FloatArray:
        """Mean rain intensity [mm/h] over ``duration_min`` at ``return_years``; ValueError outside the table."""
        depths = np.asarray(self.depth(duration_min, return_years))
        return scalar_or_array(depths * 60.0 / np.asarray(duration_min, dtype=np.float64))

    def _read(self, log_minutes: FloatArray, log_years: FloatArray) -> FloatArray:
        row, row_share = _place(self._log_durations, log_minutes)
        column, column_share = _place(self._log_returns, log_years)
        next_row = np.minimum(row + 1, self._log_durations.size - 1)
        next_column = np.minimum(column + 1, self._log_returns.size - 1)
        table = self._log_depths
        short = table[row, column] * (1 - column_share) + table[row, next_column] * column_share
        long = table[next_row, column] * (1 - column_share) + table[next_row, next_column] * column_share
        return short * (1 - row_share) + long * row_share


def _must_rise(name: str, values: FloatArray, unit: str) -> None:
    falls = np.flatnonzero(np.diff(values) <= 0.0)
    if falls.size:
        before, after = values[falls[0]], values[falls[0] + 1]
        raise ValueError(f"{name} must rise; {after:g} {unit} follows {before:g} {unit}")


def _place(knots: FloatArray, at: FloatArray) -> tuple[np.ndarray, FloatArray]:
    """Index of the knot at or before each value, and how far the value lies towards the next one, 0 to 1."""
    if knots.size == 1:
        return np.zeros(np.shape(at), dtype=np.intp), np.zeros(np.shape(at))
    index = np.clip(np.searchsorted(knots, at, side="right") - 1, 0, knots.size - 2)
    return index, np.clip((at - knots[index]) / (knots[index + 1] - knots[index]), 0.0, 1.0)


def block_order(blocks: int) -> np.ndarray:
    """Which increment of the depth curve, 0 for the shortest duration, stands at each place of the storm.

    The shortest stands in the middle; the following ones go after and before it in turn, in the order of their
    duration, never by size: increments of a log-log table rise again at a knot, and sorting them would break the
    rule that every central span holds its table depth.

    >>> block_order(6).tolist()
    [4, 2, 0, 1, 3, 5]
    """
    middle = (blocks - 1) // 2
    order = np.empty(blocks, dtype=np.intp)
    steps = np.arange(blocks)
    places = np.where(steps % 2 == 1, middle + (steps + 1) // 2, middle - steps // 2)
    order[places] = steps
    return order


def alternating_block(
    table: DepthDurationTable, return_years: ArrayLike, block_min: float = BLOCK_MIN, storm_min: float = STORM_MIN
) -> FloatArray:
    """Rain of each block [mm] of the alternating block storm, shape of ``return_years`` + (blocks,).

    The table must reach from one block to the whole storm; ValueError otherwise. Any number of middle blocks
    k holds the table's depth of k blocks.
    """
    blocks = storm_min / float(within("block", block_min, 1.0, storm_min, "min"))
    if abs(blocks - round(blocks)) > 1e-9:
        raise ValueError(f"block is {block_min:g} min; it must divide the storm of {storm_min:g} min")
    ends = block_min * np.arange(1, round(blocks) + 1)
    depths = np.asarray(table.depth(ends, np.asarray(return_years, dtype=np.float64)[..., None]))
    increments = np.diff(depths, axis=-1, prepend=0.0)
    return increments[..., block_order(round(blocks))]
