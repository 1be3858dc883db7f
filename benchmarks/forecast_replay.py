"""Replays an invented company's history visit by visit: what was forecast and what came.

A forecast is made at every visit from what was noted up to then. Its dates are checked against the truth as if nobody
cleaned before them; the visits themselves follow the due windows, late as visits are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np

from benchmarks.forecast_company import KINDS, START, YEARS, Company, look
from maintenance.forecast.days import day_before_or_on
from maintenance.forecast.group_learning import learn_groups
from maintenance.forecast.records import (
    MEASURED,
    Cleaning,
    ComponentState,
    ForecastSettings,
    GroupPrior,
    Readings,
    Rule,
    SiltNumbers,
)
from maintenance.forecast.season import GaugeRecord, Season
from maintenance.forecast.silt_states import SiltStates, silt_states
from maintenance.forecast.silting import chance_over, exposure_at_chance
from maintenance.forecast.windows import due_windows

CHANCES: Final = (0.05, 0.20, 0.50)
FIRST: Final = START.toordinal()
DAYS: Final = round(YEARS * 365.25)
_STEP_IN: Final = 0.25
_MIDDLE: Final = (0.06, 0.25, 0.5, 0.75, 0.94, 1.05)

RULES: Final = [
    Rule(f"silt_{kind}", kind, "clean", "silt", "firm", SiltNumbers(threshold), 20, "crew", "clean", "invented")
    for kind, _, threshold, _ in KINDS
]


@dataclass
class Tally:
    """What a replay counts: visits, cleanings, cleanings that found under half the limit, days over the limit."""

    visits: int = 0
    cleanings: int = 0
    wasted: int = 0
    days_over: float = 0.0
    hits: dict[float, list[bool]] = field(default_factory=lambda: {chance: [] for chance in CHANCES})
    horizon: list[tuple[float, bool]] = field(default_factory=list)
    skipped: int = 0


@dataclass
class _Part:
    state: ComponentState
    left: float
    rate: float
    since: int
    next_visit: int
    planned: bool = False
    look_first: bool = False


def replay(
    company: Company,
    *,
    consequence: str = "outdoor_room",
    pooled: bool = True,
    settings: ForecastSettings | None = None,
    days: int = DAYS,
    step_days: int = 7,
) -> Tally:
    """So many days of visits by due window, worked through in steps; `consequence` sets the tolerance everywhere."""
    run = _Replay(company, consequence, settings or ForecastSettings(), pooled, days, step_days)
    for begin in range(0, days, step_days):
        run.step(begin)
    run.close()
    return run.tally


def leftover(company: Company) -> tuple[float, float]:
    """Fill a cleaning leaves, and what is noted of it: half of the crews note nothing."""
    left = float(company.rng.uniform(0, 0.04))
    return left, left if company.rng.random() < 0.5 else 0.0


def next_rate(company: Company, part: int) -> float:
    """The rate of the cycle that a cleaning begins."""
    return float(company.rate[part] * company.rng.gamma(25, 1 / 25))


def lateness(company: Company) -> int:
    """Days a visit comes after its best day: a week or so, now and then two months."""
    return int(company.rng.exponential(8) + (60 if company.rng.random() < 0.05 else 0))


class _Replay:
    def __init__(
        self, company: Company, consequence: str, settings: ForecastSettings, pooled: bool, days: int, step_days: int
    ) -> None:
        self.company, self.settings, self.pooled = company, settings, pooled
        self.days, self.step_days = days, step_days
        self.tally = Tally()
        self.rows: list[list[tuple[Any, ...]]] = [[] for _ in range(len(company))]
        self.parts = [self._new(part, consequence) for part in range(len(company))]
        self.asked = 365

    def _new(self, part: int, consequence: str) -> _Part:
        company = self.company
        kind = KINDS[company.kind[part]][0]
        put_in = int(company.put_in[part])
        state = ComponentState(
            id=part,
            property_id=part,
            kind=kind,
            known_since=START,
            canopy=company.group(part).split("/")[1],
            consequence=consequence,
            installed_on=day_before_or_on(FIRST + put_in),
            silt_height_in=float(company.height_in[part]),
            watched_for_silt=True,
        )
        return _Part(state, 0.0, float(company.rate[part]), put_in, put_in)

    def step(self, begin: int) -> None:
        """The visits of one step, then a new forecast for the parts that were seen or put in."""
        if self.pooled and begin >= self.asked:
            self.settings = replace(self.settings, groups=self._pool(begin))
            self.asked += 365
        seen = [part for part, one in enumerate(self.parts) if one.next_visit < begin + self.step_days]
        if not seen:
            return
        for part in seen:
            one = self.parts[part]
            if one.planned:
                self._visit(part, one.next_visit, one.look_first)
        states, windows = self._windows(seen, begin + self.step_days)
        self._check(states, seen)
        for window in windows:
            one = self.parts[window.component_id]
            wanted = window.best.toordinal() - FIRST
            one.next_visit = max(wanted, one.next_visit + 14, begin + self.step_days) + lateness(self.company)
            one.planned, one.look_first = True, window.look_first

    def close(self) -> None:
        """Days over the limit between each part's last visit and the end."""
        for part, one in enumerate(self.parts):
            self.tally.days_over += _days_over(self.company, part, one, self.days)

    def _season(self, until: int) -> dict[str, Season]:
        rain = self.company.rain_mm[: max(until, 1)]
        return {"": Season(self.company.climate, (GaugeRecord("yard", FIRST, rain),))}

    def _windows(self, parts: Sequence[int], until: int) -> tuple[SiltStates, list[Any]]:
        states = [self.parts[part].state for part in parts]
        readings = Readings.from_rows(row for part in parts for row in self.rows[part])
        season = self._season(until)
        as_of = day_before_or_on(FIRST + until)
        silt = silt_states(states, readings, season, self.settings)
        return silt, due_windows(as_of, RULES, states, readings, season, self.settings)

    def _visit(self, part: int, day: int, look_first: bool) -> None:
        company, one = self.company, self.parts[part]
        fill = _fill(company, part, one, day)
        self.tally.visits += 1
        self.tally.days_over += _days_over(company, part, one, min(day, self.days))
        noted = look(company, part, fill)
        threshold = float(company.threshold[part])
        judged = None
        if noted is not None:
            depth, grade = noted
            self.rows[part].append((part, FIRST + day + 0.4, depth, _STEP_IN, grade, False))
            judged = depth / company.height_in[part] if grade == MEASURED and depth is not None else _MIDDLE[grade]
        if look_first and judged is not None and judged < threshold / 2:
            one.left, one.since = fill, day
            return
        self.tally.cleanings += 1
        self.tally.wasted += fill < threshold / 2
        left, told = leftover(company)
        cleaning = Cleaning(FIRST + day + 0.9, told)
        one.state = replace(one.state, cleanings=(*one.state.cleanings, cleaning))
        one.left, one.since = left, day
        one.rate = next_rate(company, part)

    def _check(self, states: SiltStates, parts: Sequence[int]) -> None:
        """Forecast dates and chances just made, against the truth as if nobody cleaned before."""
        company = self.company
        index = np.arange(len(parts))
        left, level = states.fill_left, company.threshold[np.array(parts)]
        weather = states.weather(self.settings.weather_cv)
        for chance in CHANCES:
            time = exposure_at_chance(states.rate, left, level, chance, weather)
            days = np.floor(states.day_reached(index, time)).astype(int) - FIRST
            for k, part in enumerate(parts):
                over = self._truth(part, int(days[k]))
                if over is None:
                    self.tally.skipped += 1
                else:
                    self.tally.hits[chance].append(over)
        ahead = np.array([self.parts[part].next_visit for part in parts]) + company.rng.integers(30, 900, len(parts))
        time = states.exposure(index, (ahead + FIRST).astype(float))
        chances = chance_over(states.rate, left, time, level, weather)
        for k, part in enumerate(parts):
            over = self._truth(part, int(ahead[k]))
            if over is not None:
                self.tally.horizon.append((float(chances[k]), over))

    def _truth(self, part: int, day: int) -> bool | None:
        """Over its limit on that day? None for a day not after the visit or beyond what is simulated."""
        one = self.parts[part]
        if not one.since < day < self.company.moved.shape[1] - 1:
            return None
        return bool(_fill(self.company, part, one, day) > self.company.threshold[part])

    def _pool(self, until: int) -> tuple[GroupPrior, ...]:
        """Every group re-estimated from what was noted up to now, thin ones kept."""
        states = [one.state for one in self.parts]
        readings = Readings.from_rows(row for rows in self.rows for row in rows)
        found = learn_groups(states, readings, self._season(until), self.settings)
        return tuple(one.prior for one in found if one.learned)


def _fill(company: Company, part: int, one: _Part, day: int) -> float:
    where = np.array([part])
    return float(
        company.fill(where, np.array([one.left]), np.array([one.rate]), np.array([one.since]), np.array([day]))[0]
    )


def _days_over(company: Company, part: int, one: _Part, until: int) -> float:
    return days_over(company, part, one.left, one.rate, one.since, until)


def days_over(company: Company, part: int, left: float, rate: float, since: int, until: int) -> float:
    """Days from `since` to `until` on which the part was over its limit."""
    days = np.arange(since, until)
    size = len(days)
    if not size:
        return 0.0
    begun = np.full(size, since)
    fill = company.fill(np.full(size, part), np.full(size, left), np.full(size, rate), begun, days)
    return float(np.sum(fill > company.threshold[part]))
