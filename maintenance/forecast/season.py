"""Silting time: how much of a mean year's silt-moving weather lies between two days.

The load g(t) [mean years per year] has a yearly mean of 1 and mixes three shares: rain, leaf fall and a constant one of
at least 0.05. In a year without a gauge record every calendar year, leap or not, holds exactly 1 mean year. Observed
rain replaces the climate's rain and is divided by the climate's yearly mean, never by its own year's total, so a wet
year counts for more than 1. Gaps in the record take the climate and are counted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from maintenance.forecast.days import day_number, in_year
from maintenance.forecast.records import Anchor, Bools, Floats, Ints

LEAST_CONSTANT: Final = 0.05
"""Least constant share of the load: some silt always moves, and the inverse stays defined."""

_EPOCH: Final = date(1970, 1, 1).toordinal()
_LENGTHS: Final = {
    False: np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]),
    True: np.array([31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]),
}


@dataclass(frozen=True, slots=True)
class Climate:
    """Twelve monthly means and the days of the year that season rules hang on.

    `rain_mm`: mean rain of each month [mm]. `leaf`: leaf fall of each month, any scale. Anchors are (month, day) or
    None where the region knows no such day: the wet season's first day, the day leaf fall is over, the first and the
    last day of freezing.
    """

    rain_mm: tuple[float, ...]
    leaf: tuple[float, ...]
    wet_season: tuple[int, int] | None = None
    leaf_fall: tuple[int, int] | None = None
    freeze: tuple[int, int] | None = None
    thaw: tuple[int, int] | None = None

    def __post_init__(self) -> None:
        for name, values in (("rain_mm", self.rain_mm), ("leaf", self.leaf)):
            if len(values) != 12 or not all(math.isfinite(v) and v >= 0 for v in values):
                raise ValueError(f"{name} is {values}: give twelve monthly values of 0 or more, January first")

    @property
    def yearly_rain_mm(self) -> float:
        """Mean rain of a year [mm]."""
        return sum(self.rain_mm)

    def anchor(self, anchor: Anchor, year: int) -> date | None:
        """The anchor day of `year`, None where this climate has none. "date" is not the climate's to know."""
        when = getattr(self, anchor, None)
        return None if when is None else in_year(year, *when)


def climate_of(
    rain_mm: Sequence[float],
    *,
    leaf_months: Sequence[int] = (10, 11, 12),
    wet_season_month: int | None = None,
    freeze_month: int | None = None,
    thaw_month: int | None = None,
) -> Climate:
    """A climate from the company's settings: months instead of days. Leaf fall is even over `leaf_months` and over
    with the last of them; the other days are the first of their month (thaw: the first day without frost).

    Raises ValueError for a month outside 1 to 12 or other than twelve rain means.
    """
    for month in (*leaf_months, *(m for m in (wet_season_month, freeze_month, thaw_month) if m is not None)):
        if not 1 <= month <= 12:
            raise ValueError(f"month is {month}: give 1 to 12")
    leaf = tuple(1.0 if month in leaf_months else 0.0 for month in range(1, 13))
    over = _day_after_leaves(leaf)
    first = {m: (m, 1) for m in range(1, 13)}
    return Climate(
        rain_mm=tuple(float(v) for v in rain_mm),
        leaf=leaf,
        wet_season=None if wet_season_month is None else first[wet_season_month],
        leaf_fall=over,
        freeze=None if freeze_month is None else first[freeze_month],
        thaw=None if thaw_month is None else first[thaw_month],
    )


def _day_after_leaves(leaf: tuple[float, ...]) -> tuple[int, int] | None:
    """First of the month after the last leaf month of the run, which may cross the new year."""
    ends = [m for m in range(12) if leaf[m] > 0 and leaf[(m + 1) % 12] == 0]
    return ((ends[-1] + 1) % 12 + 1, 1) if ends else None


@dataclass(frozen=True, eq=False, slots=True)
class GaugeRecord:
    """Daily rain of one gauge: `rain_mm[i]` fell on day `first_day` + i, NaN where the record has a gap.

    `yearly_mean_mm`: the gauge's own climate mean, so that a change between a wet and a dry gauge is no jump in the
    load; None takes the property's climate. It is used from `used_from` on (a day number; -inf: from its beginning).
    """

    name: str
    first_day: int
    rain_mm: Floats
    yearly_mean_mm: float | None = None
    used_from: float = -math.inf


def gauge_record(
    name: str,
    days: Ints,
    rain_mm: Floats,
    *,
    yearly_mean_mm: float | None = None,
    used_from: date | None = None,
) -> GaugeRecord:
    """A record from rows in any order: day numbers and rain [mm, 0 or more]; missing days become gaps.

    Raises ValueError for a day given twice or for rain below 0; NaN is a gap.
    """
    days = np.asarray(days, dtype=np.int64)
    rain = np.asarray(rain_mm, dtype=float)
    if len(days) == 0:
        raise ValueError(f"gauge {name}: give at least one day")
    if len(np.unique(days)) != len(days):
        raise ValueError(f"gauge {name}: a day is given twice; settle which value counts before forecasting")
    if np.any(rain < 0):
        raise ValueError(f"gauge {name}: rain is below 0 mm on day {int(days[rain < 0][0])}")
    series = np.full(int(days.max() - days.min()) + 1, np.nan)
    series[days - days.min()] = rain
    start = -math.inf if used_from is None else day_number(used_from)
    return GaugeRecord(name, int(days.min()), series, yearly_mean_mm, start)


@dataclass(frozen=True, eq=False, slots=True)
class Season:
    """The weather of one place: its climate and what gauges observed there, in the order they were used."""

    climate: Climate
    gauges: tuple[GaugeRecord, ...] = ()


class Curve:
    """Silting time at one place for one mix of load: `exposure` between days and its inverse, both vectorised."""

    def __init__(self, season: Season, load: tuple[float, float, float]) -> None:
        """`load`: shares of rain, leaf fall and the constant part; sum 1, constant at least 0.05, else ValueError."""
        if min(load) < 0 or abs(sum(load) - 1) > 1e-9 or load[2] < LEAST_CONSTANT:
            raise ValueError(f"load is {load}: shares of rain, leaves, constant; sum 1, constant at least 0.05")
        self._steps = {leap: _climate_steps(season.climate, load, leap) for leap in (False, True)}
        self._sums = {leap: np.concatenate(([0.0], np.cumsum(steps))) for leap, steps in self._steps.items()}
        for sums in self._sums.values():
            sums[-1] = 1.0
        first, observed, gap = _stitched(season)
        excess = load[0] * (observed - _climate_rain(season.climate, first, len(observed)))
        self._excess = np.concatenate(([0.0], np.cumsum(np.where(gap, 0.0, excess))))
        self._gaps = np.concatenate(([0.0], np.cumsum(gap)))
        edges: Floats = first + np.arange(len(observed) + 1, dtype=np.float64)
        self._edges = edges
        self._totals = self._climate_total(edges) + self._excess

    @property
    def observed_until(self) -> date | None:
        """First day after the gauge record, None without one; from it on the climate stands in."""
        return None if len(self._edges) == 1 else date.fromordinal(int(self._edges[-1]))

    def exposure(self, from_day: Floats | float, to_day: Floats | float) -> Floats:
        """Silting time [mean years] from one instant to another (day numbers, broadcast); negative if reversed."""
        return self._total(np.asarray(to_day, dtype=float)) - self._total(np.asarray(from_day, dtype=float))

    def day_reached(self, from_day: Floats | float, exposure: Floats | float) -> Floats:
        """The instant (day number with fraction) at which `exposure` [mean years] has passed since `from_day`."""
        target = self._total(np.asarray(from_day, dtype=float)) + np.asarray(exposure, dtype=float)
        inside = np.interp(target, self._totals, self._edges)
        before, after = target < self._totals[0], target > self._totals[-1]
        outside = self._climate_day(target - np.where(after, self._excess[-1], 0.0))
        return np.where(before | after, outside, inside)

    def gap_days(self, from_day: Floats | float, to_day: Floats | float) -> Floats:
        """Days between two instants that lie in gaps of the gauge record and so took the climate."""
        ends = np.interp(np.asarray(to_day, dtype=float), self._edges, self._gaps)
        return ends - np.interp(np.asarray(from_day, dtype=float), self._edges, self._gaps)

    def _total(self, day: Floats) -> Floats:
        return self._climate_total(day) + np.interp(day, self._edges, self._excess)

    def _climate_total(self, day: Floats) -> Floats:
        year, start, leap = _years(day)
        within = day - start
        done = np.where(leap, _at(self._sums[True], within), _at(self._sums[False], within))
        return year.astype(np.float64) + done

    def _climate_day(self, total: Floats) -> Floats:
        total = np.clip(total, 1.0, 9998.0)
        year = np.floor(total).astype(np.int64)
        start, leap = _year_start(year), _is_leap(year)
        share = total - year
        long = np.interp(share, self._sums[True], np.arange(367.0))
        short = np.interp(share, self._sums[False], np.arange(366.0))
        return start + np.where(leap, long, short)


def _climate_steps(climate: Climate, load: tuple[float, float, float], leap: bool) -> Floats:
    """Load of each day of a climate year [mean years]; sums to 1."""
    lengths = _LENGTHS[leap]
    rain, leaf, constant = load
    month = rain * _shares(climate.rain_mm, lengths) + leaf * _shares(climate.leaf, lengths)
    return np.repeat(month / lengths, lengths) + constant / lengths.sum()


def _shares(monthly: tuple[float, ...], lengths: Ints) -> Floats:
    """Monthly values as shares of their year; a year with none of it is spread evenly over its days."""
    values = np.array(monthly, dtype=float)
    return values / values.sum() if values.sum() > 0 else lengths / lengths.sum()


def _climate_rain(climate: Climate, first_day: int, count: int) -> Floats:
    """The climate's share of a year's rain on each of `count` days from `first_day`."""
    if count == 0:
        return np.zeros(0)
    days = np.arange(first_day, first_day + count, dtype=float)
    _, start, leap = _years(days)
    within = (days - start).astype(np.int64)
    per_day = {k: np.repeat(_shares(climate.rain_mm, n) / n, n) for k, n in _LENGTHS.items()}
    return np.where(leap, per_day[True][within], per_day[False][np.minimum(within, 364)])


def _stitched(season: Season) -> tuple[int, Floats, Floats]:
    """One observed series from all gauges: its first day, the share of a mean year's rain on each day, gap flags."""
    gauges = [g for g in season.gauges if len(g.rain_mm)]
    if not gauges:
        return date(2000, 1, 1).toordinal(), np.zeros(0), np.zeros(0, dtype=bool)
    first = min(g.first_day for g in gauges)
    last = max(g.first_day + len(g.rain_mm) for g in gauges)
    series = np.full(last - first, np.nan)
    for gauge in sorted(gauges, key=lambda g: g.used_from):
        mean = season.climate.yearly_rain_mm if gauge.yearly_mean_mm is None else gauge.yearly_mean_mm
        if not mean > 0:
            raise ValueError(f"gauge {gauge.name}: its yearly mean rain is {mean} mm; give a mean above 0 mm")
        begin = max(gauge.first_day, math.ceil(gauge.used_from) if math.isfinite(gauge.used_from) else gauge.first_day)
        # From the day a gauge takes over, its own gaps are gaps: the one before it is not asked again.
        series[max(begin - first, 0) :] = np.nan
        part = gauge.rain_mm[begin - gauge.first_day :]
        series[begin - first : begin - first + len(part)] = part / mean
    return first, np.nan_to_num(series), np.isnan(series)


def _at(sums: Floats, within: Floats) -> Floats:
    return np.interp(within, np.arange(len(sums), dtype=float), sums)


def _years(day: Floats) -> tuple[Ints, Floats, Bools]:
    """Calendar year, day number of its 1 January and leap flag of each instant."""
    # An unknown day (NaN) is taken as the epoch here; what is computed from it stays unknown by the day itself.
    days = np.floor(np.nan_to_num(np.asarray(day, dtype=float), nan=float(_EPOCH))).astype(np.int64) - _EPOCH
    year = days.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + 1970
    return year, _year_start(year), _is_leap(year)


def _year_start(year: Ints) -> Floats:
    start = (np.asarray(year) - 1970).astype("datetime64[Y]").astype("datetime64[D]").astype(np.int64)
    return (start + _EPOCH).astype(float)


def _is_leap(year: Ints) -> Bools:
    return (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
