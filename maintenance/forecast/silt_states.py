"""Where each part stands in its silting: the cycle under way, its readings, and what they say of its rate.

Works on all parts at once. A part without an install date and without a cleaning has no curve until a look finds how
much lies in it; from then on the curve starts from that look.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from maintenance.forecast.days import day_number
from maintenance.forecast.likelihood import TRAPPING_LIMIT, RateGroups, RateReadings, fill_intervals
from maintenance.forecast.priors import group_prior
from maintenance.forecast.rate_posterior import LEAST_CYCLE_SD, RatePosterior, posterior
from maintenance.forecast.records import (
    MEASURED,
    Bools,
    Cleaning,
    ComponentState,
    Floats,
    ForecastSettings,
    GroupPrior,
    Ints,
    Readings,
)
from maintenance.forecast.season import Curve, Season
from maintenance.forecast.weather import WeatherAhead

_BEFORE_ALL = 700_000.0  # a day number (1917) before any reading, to keep packed keys small
_SPAN = 300_000.0


@dataclass(frozen=True, eq=False, slots=True)
class SiltStates:
    """State of n parts, arrays in their order. `start` is NaN where a part has no curve.

    `curve[i]` indexes `curves`. `last_row`: row of the newest reading of the cycle under way, -1 where none; `low`,
    `high` belong to `readings` rows, `given` says which row of the readings put in each of them was. `anchored`: the
    curve starts from a look, not from a cleaning.
    """

    components: tuple[ComponentState, ...]
    priors: tuple[GroupPrior, ...]
    curves: tuple[Curve, ...]
    curve: Ints
    start: Floats
    fill_left: Floats
    anchored: Bools
    readings: Readings
    low: Floats
    high: Floats
    last_row: Ints
    unusable: Ints
    rows: RateReadings
    rate: RatePosterior
    given: Ints

    def __len__(self) -> int:
        return len(self.components)

    def exposure(self, index: Ints, day: Floats) -> Floats:
        """Silting time from each indexed part's cycle start to `day` [mean years]."""
        return self._by_curve(index, lambda curve, some: curve.exposure(self.start[index[some]], day[some]))

    def day_reached(self, index: Ints, exposure: Floats) -> Floats:
        """Day number at which each indexed part's silting time reaches `exposure`."""
        return self._by_curve(index, lambda curve, some: curve.day_reached(self.start[index[some]], exposure[some]))

    def weather(self, weather_cv: float) -> WeatherAhead:
        """What the weather to come does to each part: its rain share times `weather_cv`, and what a gauge has seen."""
        share = np.array([prior.load[0] for prior in self.priors], dtype=float)
        everyone = np.arange(len(self))
        until = [curve.observed_until for curve in self.curves]
        ends = np.array([-np.inf if day is None else day_number(day) for day in until])[self.curve]
        later = np.maximum(np.nan_to_num(self.start), ends)
        seen = np.where(np.isfinite(self.start), self.exposure(everyone, later), 0.0)
        return WeatherAhead(share * weather_cv, np.maximum(seen, 0.0))

    def _by_curve(self, index: Ints, value: Callable[[Curve, Ints], Floats]) -> Floats:
        result = np.zeros(len(index))
        for number, curve in enumerate(self.curves):
            some = np.flatnonzero(self.curve[index] == number)
            if len(some):
                result[some] = value(curve, some)
        return result


def silt_states(
    components: Sequence[ComponentState],
    readings: Readings,
    seasons: Mapping[str, Season],
    settings: ForecastSettings,
) -> SiltStates:
    """State and rate posterior of every component given; readings of others are ignored.

    Raises KeyError where a component names a season that is not there.
    """
    priors = tuple(group_prior(c.group, settings.groups) for c in components)
    curves, curve = _curves(components, priors, seasons)
    order, position = _mine(components, readings)
    mine = readings.take(order)
    height = np.array([np.nan if c.silt_height_in is None else c.silt_height_in for c in components], dtype=float)
    low, high, rounding = fill_intervals(mine.depth_in, height[position], mine.step_in, mine.grade, mine.by_owner)
    start, left, anchored = _starts(components, mine, position, low, high)
    cycle, from_day, from_fill = _cycles(components, start, left, anchored, mine.day, position)
    exposure = np.zeros(len(mine))
    for number, made in enumerate(curves):
        some = (curve[position] == number) & np.isfinite(from_day)
        exposure[some] = made.exposure(from_day[some], mine.day[some])
    rows = RateReadings(position, cycle, np.maximum(exposure, 0.0), from_fill, low, high, rounding)
    known = np.isfinite(low) & ~_said_twice(mine, position, low)
    taught = rows.take(known)
    rate = _rates(components, priors, taught, settings)
    last = np.full(len(components), -1, dtype=np.int64)
    newest = known & (cycle == 0) & np.isfinite(from_day)
    last[position[newest]] = np.flatnonzero(newest)
    unusable = np.bincount(position[np.isnan(low)], minlength=len(components))
    return SiltStates(
        tuple(components),
        priors,
        curves,
        curve,
        start,
        left,
        anchored,
        mine,
        low,
        high,
        last,
        unusable,
        taught,
        rate,
        order,
    )


def _curves(
    components: Sequence[ComponentState], priors: Sequence[GroupPrior], seasons: Mapping[str, Season]
) -> tuple[tuple[Curve, ...], Ints]:
    """One curve for each pair of season and load, and which of them each component follows."""
    made: dict[tuple[str, tuple[float, float, float]], int] = {}
    curves: list[Curve] = []
    index = np.zeros(len(components), dtype=np.int64)
    for i, (component, prior) in enumerate(zip(components, priors, strict=True)):
        key = (component.season, prior.load)
        if key not in made:
            made[key] = len(curves)
            curves.append(Curve(seasons[component.season], prior.load))
        index[i] = made[key]
    return tuple(curves), index


def _mine(components: Sequence[ComponentState], readings: Readings) -> tuple[Ints, Ints]:
    """Rows of the readings of these components by component and day, and the component position of each row."""
    ids = np.array([c.id for c in components], dtype=np.int64)
    by_id = np.argsort(ids, kind="stable")
    place = np.searchsorted(ids[by_id], readings.component_id)
    inside = place < len(ids)
    hit = inside.copy()
    hit[inside] = ids[by_id][place[inside]] == readings.component_id[inside]
    rows = np.flatnonzero(hit)
    position = by_id[place[rows]]
    order = np.lexsort((rows, readings.day[rows], position))
    return rows[order], position[order]


def _said_twice(readings: Readings, position: Ints, low: Floats) -> Bools:
    """Grades given at the very time of a usable measured depth: the same look, so they teach nothing more."""
    key = _packed(position, readings.day)
    measured = (readings.grade == MEASURED) & np.isfinite(low)
    return ~measured & np.isin(key, key[measured])


def _starts(
    components: Sequence[ComponentState], readings: Readings, position: Ints, low: Floats, high: Floats
) -> tuple[Floats, Floats, Bools]:
    """Start of each cycle under way, the fill it started from, and whether a mere look gave both."""
    n = len(components)
    start, left = np.full(n, np.nan), np.zeros(n)
    for i, component in enumerate(components):
        if component.cleanings:
            newest = max(component.cleanings, key=lambda c: c.day)
            start[i], left[i] = newest.day, newest.fill_left
        elif component.installed_on is not None:
            start[i] = day_number(component.installed_on)
    usable = np.flatnonzero(np.isfinite(low) & np.isnan(start[position]))
    seen, first = np.unique(position[usable], return_index=True)
    row = usable[first]
    start[seen] = readings.day[row]
    left[seen] = (low[row] + np.where(np.isfinite(high[row]), high[row], low[row])) / 2
    anchored = np.zeros(n, dtype=bool)
    anchored[seen] = True
    return start, left, anchored


def _cycles(
    components: Sequence[ComponentState], start: Floats, left: Floats, anchored: Bools, day: Floats, position: Ints
) -> tuple[Ints, Floats, Floats]:
    """For each reading: cleanings between it and now, start of its cycle (NaN unknown), fill that cycle began with."""
    first = [
        start[i] if anchored[i] else np.nan if c.installed_on is None else day_number(c.installed_on)
        for i, c in enumerate(components)
    ]
    cleanings = [
        (i, clean.day, clean.fill_left) for i, c in enumerate(components) for clean in sorted(c.cleanings, key=_by_day)
    ]
    owner = np.array([row[0] for row in cleanings], dtype=np.int64)
    days = np.array([row[1] for row in cleanings], dtype=float)
    fills = np.array([row[2] for row in cleanings], dtype=float)
    total = np.bincount(owner, minlength=len(components))
    begin = np.concatenate(([0], np.cumsum(total)))[:-1]
    # One packed key orders all cleanings of all parts; a reading at the time of a cleaning comes before it.
    found = np.searchsorted(_packed(owner, days), _packed(position, day), side="left")
    before = found - begin[position]
    cleaned = before > 0
    from_day = np.where(cleaned, 0.0, np.array(first, dtype=float)[position])
    from_fill = np.where(anchored[position], left[position], 0.0)
    from_day[cleaned] = days[found[cleaned] - 1]
    from_fill[cleaned] = fills[found[cleaned] - 1]
    return total[position] - before, from_day, from_fill


def _by_day(cleaning: Cleaning) -> float:
    return cleaning.day


def _packed(owner: Ints, day: Floats) -> Floats:
    return owner.astype(np.float64) * _SPAN + np.clip(day - _BEFORE_ALL, 0.0, _SPAN - 1.0)


def _rates(
    components: Sequence[ComponentState],
    priors: Sequence[GroupPrior],
    rows: RateReadings,
    settings: ForecastSettings,
) -> RatePosterior:
    groups = RateGroups(
        np.array([p.mu for p in priors], dtype=float),
        np.array([p.tau for p in priors], dtype=float),
        np.array([p.s for p in priors], dtype=float),
        np.array([TRAPPING_LIMIT if c.kind == "catch_basin" else np.inf for c in components], dtype=float),
    )
    spread = np.array([settings.cycle_sd if p.cycle_sd is None else p.cycle_sd for p in priors], dtype=float)
    return posterior(groups, rows, nodes=settings.nodes, cycle_sd=np.where(spread < LEAST_CYCLE_SD, 0.0, spread))
