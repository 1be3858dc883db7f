"""What one silt reading says about the rate: measured depths, intervals judged by eye, shallow depths, owners' looks.

A reading is log-normal around the fill f0 + r E (catch basins: around min(f0 + r E, 0.6), the trapping limit). A
measured depth is a point, anything else an interval of fill.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from maintenance.forecast.normal import LOG_SQRT_2PI, log_between
from maintenance.forecast.records import MEASURED, Bools, Floats, Ints

CUTS: Final[Floats] = np.array([0.0, 1 / 8, 3 / 8, 5 / 8, 7 / 8, 1.0, np.inf])
"""Edges of the grades as fill; grade k lies between cuts k and k + 1 (methods: 1/8, 3/8, 5/8, 7/8, full to 1)."""

SHALLOW_IN: Final = 0.25
"""A depth under this [in] cannot be told from none on site: it is the interval 0 to 1/4 in."""

TRAPPING_LIMIT: Final = 0.6
"""Fill at which a catch basin stops trapping (Pitt & Bissonnette 1984, as quoted in EPA's menu of best practices:
basins trap up to about 60 % of their sump; value from memory)."""

LEAST_EXPOSURE: Final = 0.02
"""Silting time [mean years] below which a reading is kept but teaches nothing about the rate."""


@dataclass(frozen=True, eq=False, slots=True)
class RateGroups:
    """Per component, shape (n,): `mu`, `tau` of its group's log rate [1/mean year], `s` the log error of a reading [-],
    `cap` the fill at which its kind stops trapping (inf: never)."""

    mu: Floats
    tau: Floats
    s: Floats
    cap: Floats

    def __len__(self) -> int:
        return len(self.mu)

    def take(self, rows: Ints) -> RateGroups:
        """Some of the components."""
        return RateGroups(self.mu[rows], self.tau[rows], self.s[rows], self.cap[rows])


@dataclass(frozen=True, eq=False, slots=True)
class RateReadings:
    """Readings as the posterior takes them: equal-length arrays, any order.

    `component`: index into the groups' arrays. `cycle`: cleanings between this reading and now (0: since the last).
    `exposure` [mean years] and `fill_left` [-] since and at that cycle's start. `low` and `high`: interval of fill,
    equal where measured. `rounding`: relative error of rounding, standard deviation [-].
    """

    component: Ints
    cycle: Ints
    exposure: Floats
    fill_left: Floats
    low: Floats
    high: Floats
    rounding: Floats

    def __len__(self) -> int:
        return len(self.component)

    def take(self, rows: Ints | Bools) -> RateReadings:
        """Some of the readings."""
        return RateReadings(*(getattr(self, name)[rows] for name in self.__slots__))


def cycle_starts(rows: RateReadings) -> Ints:
    """First row of each (component, cycle) run of sorted rows."""
    change = np.flatnonzero((np.diff(rows.component) != 0) | (np.diff(rows.cycle) != 0))
    return np.concatenate(([0], change + 1)).astype(np.int64)


def fill_intervals(
    depth_in: Floats, height_in: Floats, step_in: Floats, grade: Ints, by_owner: Bools
) -> tuple[Floats, Floats, Floats]:
    """(low, high, rounding) of each reading; NaN where a depth was measured but the height is unknown.

    A measured depth carries the rounding of its tape, step / sqrt(12) relative to the depth. An owner's grade is
    widened by one grade each way (overflowing counts as the grade above full).
    """
    wider = by_owner.astype(np.int64)
    at = np.clip(grade, 0, len(CUTS) - 2)
    low = CUTS[np.maximum(at - wider, 0)]
    high = CUTS[np.minimum(at + 1 + wider, len(CUTS) - 1)]
    measured = grade == MEASURED
    with np.errstate(invalid="ignore", divide="ignore"):
        fill = np.where(height_in > 0, depth_in / height_in, np.nan)
        least = np.where(height_in > 0, SHALLOW_IN / height_in, np.nan)
        rounding = np.where(measured & (depth_in > 0), step_in / np.sqrt(12) / depth_in, 0.0)
    shallow = measured & (depth_in < SHALLOW_IN)
    low = np.where(measured, np.where(shallow, np.where(np.isnan(least), np.nan, 0.0), fill), low)
    high = np.where(measured, np.where(shallow, least, fill), high)
    return low, high, np.where(shallow, 0.0, rounding)


def naive_log_rates(readings: RateReadings) -> tuple[Floats, Floats]:
    """Log rates that would put the fill at each end of each reading's interval; -inf and inf where there is none."""
    with np.errstate(divide="ignore"):
        low = np.log(np.maximum(readings.low - readings.fill_left, 0) / readings.exposure)
        high = np.log(np.maximum(readings.high - readings.fill_left, 0) / readings.exposure)
    return low, high


def log_likelihood(readings: RateReadings, s: Floats, cap: Floats, row: Ints, x: Floats) -> Floats:
    """Log likelihood of each reading at log rates `x[row]`, shape (readings, nodes).

    `s`, `cap` are per reading: log error [-] and trapping limit [fill] (inf: none); `x` is (components, nodes).
    """
    log_fill = x[row] + np.log(readings.exposure)[:, None]
    bent = (readings.fill_left > 0) | np.isfinite(cap)
    if bent.any():
        fill = readings.fill_left[bent, None] + readings.exposure[bent, None] * np.exp(x)[row[bent]]
        log_fill[bent] = np.log(np.minimum(fill, cap[bent, None]))
    spread = np.hypot(s, readings.rounding)[:, None]
    result = np.empty_like(log_fill)
    point = readings.low == readings.high
    if point.any():
        z = (np.log(readings.low[point])[:, None] - log_fill[point]) / spread[point]
        result[point] = -0.5 * z * z - np.log(spread[point]) - LOG_SQRT_2PI
    span = ~point
    if span.any():
        with np.errstate(divide="ignore"):
            low, high = np.log(readings.low[span])[:, None], np.log(readings.high[span])[:, None]
        result[span] = log_between((low - log_fill[span]) / spread[span], (high - log_fill[span]) / spread[span])
    return result
