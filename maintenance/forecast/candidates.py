"""What one rule asks of one component, before the rules are weighed against each other.

These are the rules that need no array: calendar, season and wear. Silt has its own module, storms theirs.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from maintenance.forecast import wear
from maintenance.forecast.days import MEAN_YEAR_DAYS, add_months, in_year
from maintenance.forecast.records import (
    CalendarNumbers,
    ComponentState,
    ForecastSettings,
    Reason,
    Rule,
    SeasonNumbers,
    WearNumbers,
    WearState,
)
from maintenance.forecast.season import Climate

UNKNOWN_DAYS: Final = 90
"""What was never done, as far as anyone knows, is wanted within this."""

_SEASON_REASON: Final = {
    "wet_season": "season_wet",
    "leaf_fall": "season_leaf_fall",
    "freeze": "season_freeze",
    "thaw": "season_thaw",
    "date": "season_date",
}


@dataclass(frozen=True, slots=True)
class Candidate:
    """What one rule asks: dates, the chance at the best of them, why, and the numbers used."""

    rule: Rule
    earliest: date
    best: date
    latest: date
    reasons: tuple[Reason, ...]
    inputs: tuple[tuple[str, str | int | float | None], ...]
    chance: float | None = None
    look_first: bool = False


def within(
    rule: Rule, earliest: date, latest: date, reasons: tuple[Reason, ...], lead_days: int, **inputs: object
) -> Candidate:
    """A candidate whose best day is `lead_days` before its latest, or its earliest if that is later."""
    earliest = min(earliest, latest)
    best = max(earliest, latest - timedelta(days=lead_days))
    told = tuple((name, _plain(value)) for name, value in inputs.items())
    return Candidate(rule, earliest, best, latest, reasons, told)


def last_done(component: ComponentState, rule: Rule) -> date | None:
    """The day the rule's task, or one that counts as it, was last done."""
    counts = (rule.task, *rule.also_done_by)
    return max((done.on for done in component.done if done.task in counts), default=None)


def calendar_candidate(
    component: ComponentState, rule: Rule, numbers: CalendarNumbers, settings: ForecastSettings
) -> Candidate:
    """So many months after the task was last done, else after the part went in, else within 90 days of being known."""
    done = last_done(component, rule)
    base = done or component.installed_on
    months = numbers.every_months
    if base is None:
        first = add_months(component.known_since, months)
        latest = min(first, component.known_since + timedelta(days=UNKNOWN_DAYS))
        reason = Reason("calendar_unknown", (("months", months),))
        return within(
            rule, component.known_since, latest, (reason,), settings.lead_days, every_months=months, last_done=None
        )
    latest = add_months(base, months)
    early = numbers.early_days
    if early is None:
        early = round(min(max((latest - base).days / 4, 21), 90))
    earliest = max(base, latest - timedelta(days=early))
    code = "calendar" if done else "calendar_installed"
    reason = Reason(code, (("months", months), ("on", base.isoformat())))
    return within(rule, earliest, latest, (reason,), settings.lead_days, every_months=months, last_done=done)


def season_candidate(
    component: ComponentState,
    rule: Rule,
    numbers: SeasonNumbers,
    climate: Climate,
    settings: ForecastSettings,
    as_of: date,
) -> Candidate | None:
    """This year's window while it is open or in its grace, else the next one; None where the climate has no such day.

    A window counts as kept if the task was done since it opened, and for parts that went in since, or that the
    register first held after it had closed.
    """
    done = last_done(component, rule)
    fresh = component.installed_on or date.min
    for year in range(as_of.year - 1, as_of.year + 3):
        anchor = _anchor(numbers, climate, year)
        if anchor is None:
            return None
        opens = anchor + timedelta(days=numbers.opens_days)
        closes = anchor + timedelta(days=numbers.closes_days)
        missed = closes + timedelta(days=numbers.grace_days) < as_of
        kept = (done is not None and done >= opens) or fresh >= opens or component.known_since > closes
        if missed or kept:
            continue
        reason = Reason(_SEASON_REASON[numbers.anchor], (("anchor", anchor.isoformat()),))
        return within(rule, opens, closes, (reason,), settings.lead_days, anchor=anchor, last_done=done)
    return None


def _anchor(numbers: SeasonNumbers, climate: Climate, year: int) -> date | None:
    if numbers.anchor == "date":
        return in_year(year, numbers.month, numbers.day)
    return climate.anchor(numbers.anchor, year)


def wear_candidate(
    component: ComponentState, rule: Rule, numbers: WearNumbers, settings: ForecastSettings, as_of: date
) -> Candidate | None:
    """When a hidden failure wants its next test, or when replacing costs less than waiting; None if age is unknown."""
    state = component.wear or WearState()
    shape, scale = _life(rule, numbers, state)
    if state.equivalent_age_years is not None:
        age_now = state.equivalent_age_years
    elif component.installed_on is not None:
        age_now = max((as_of - component.installed_on).days, 0) / MEAN_YEAR_DAYS * state.wear_per_year
    else:
        return None
    pace = max(state.wear_per_year, 1e-6)
    if numbers.purpose == "replace":
        return _replacement(component, rule, numbers, settings, shape, scale, age_now, pace, as_of)
    return _next_test(component, rule, numbers, settings, shape, scale, age_now, pace, as_of)


def _life(rule: Rule, numbers: WearNumbers, state: WearState) -> tuple[float, float]:
    """Shape and scale: the company's own life where it is learned, unless someone gave numbers for this very place."""
    own_place = rule.component_id is not None or rule.property_id is not None
    if state.shape is None or state.scale_years is None or own_place:
        return numbers.shape, wear.scale_of_median(numbers.median_life_years, numbers.shape)
    return state.shape, state.scale_years


def _next_test(
    component: ComponentState,
    rule: Rule,
    numbers: WearNumbers,
    settings: ForecastSettings,
    shape: float,
    scale: float,
    age_now: float,
    pace: float,
    as_of: date,
) -> Candidate:
    accepted = settings.unavailability if numbers.unavailability is None else numbers.unavailability
    done = last_done(component, rule)
    base = done or component.installed_on or component.known_since
    age_then = max(age_now - (as_of - base).days / MEAN_YEAR_DAYS * pace, 0.0)
    interval = wear.test_interval(shape, scale, age_then, accepted) / pace
    latest = _after(base, interval)
    early = round(min(max((latest - base).days / 4, 21), 90))
    reason = Reason("wear_test", (("interval", round(interval, 4)), ("unavailability", accepted)))
    found = within(
        rule,
        max(base, latest - timedelta(days=early)),
        latest,
        (reason,),
        settings.lead_days,
        shape=shape,
        scale_years=scale,
        age_at_last_test=age_then,
        interval_years=interval,
        unavailability=accepted,
        last_done=done,
    )
    span = max((found.best - base).days, 0) / MEAN_YEAR_DAYS * pace
    chance = round(wear.chance_of_failure(age_then, span, shape, scale), 6)
    return Candidate(rule, found.earliest, found.best, found.latest, found.reasons, found.inputs, chance)


def _replacement(
    component: ComponentState,
    rule: Rule,
    numbers: WearNumbers,
    settings: ForecastSettings,
    shape: float,
    scale: float,
    age_now: float,
    pace: float,
    as_of: date,
) -> Candidate | None:
    state = component.wear or WearState()
    ratio = numbers.cost_ratio if state.cost_ratio is None else state.cost_ratio
    age = wear.replacement_age(shape, scale, 1.0, ratio)
    if age is None:
        return None
    # From the install date where it is known, so that the day does not drift with the day of asking.
    if state.equivalent_age_years is None and component.installed_on is not None:
        latest = _after(component.installed_on, age / pace)
    else:
        latest = _after(as_of, (age - age_now) / pace)
    reason = Reason("wear_replace", (("age", round(age, 3)),))
    earliest = latest - timedelta(days=182)
    numbers_used = {"shape": shape, "scale_years": scale, "cost_ratio": ratio, "age_years": age}
    return within(rule, earliest, latest, (reason,), settings.lead_days, **numbers_used)


def _after(base: date, years: float) -> date:
    days = base.toordinal() + int(years * MEAN_YEAR_DAYS // 1)
    return date.fromordinal(min(max(days, date.min.toordinal()), date.max.toordinal() - 400))


def _plain(value: object) -> str | int | float | None:
    if value is None or isinstance(value, str | int):
        return value
    if isinstance(value, date):
        return value.isoformat()
    return float(f"{float(str(value)):.6g}")
