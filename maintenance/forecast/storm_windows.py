"""A look after a storm: one per property per 30 days, more storms add to its reason, any visit closes it.

The silt curve already holds the rain of the storm, so a look never moves a silt date.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final

from maintenance.forecast.candidates import Candidate
from maintenance.forecast.records import ComponentState, Reason, Rule, Storm, StormNumbers

ONE_LOOK_DAYS: Final = 30
"""A property is looked at once in so many days, however often it storms."""

FORGET_DAYS: Final = 60
"""An overdue look is dropped so long after its latest day: what the storm left is then in the readings or the curve."""


def counts(storm: Storm, numbers: StormNumbers) -> bool:
    """Whether a storm is worth a look: half of today's rating where hourly rain is known, else a day's rain."""
    if storm.share_of_rating is not None:
        return storm.share_of_rating >= numbers.least_share
    return storm.rain_mm >= numbers.least_daily_rain_mm


def storm_candidate(
    component: ComponentState,
    rule: Rule,
    numbers: StormNumbers,
    storms: Sequence[Storm],
    visits: Sequence[date],
    as_of: date,
) -> Candidate | None:
    """The open look at this component, None where none is; `storms` of its property by date, `visits` to it."""
    opened: Storm | None = None
    more: list[Storm] = []
    for storm in storms:
        if storm.on > as_of or not counts(storm, numbers):
            continue
        if opened is None or _forgotten(opened, numbers, storm.on):
            opened, more = storm, []
        elif not _closed(component, rule, numbers, visits, opened, storm.on):
            more.append(storm)
        elif (storm.on - opened.on).days >= ONE_LOOK_DAYS:
            opened, more = storm, []
    if opened is None or _forgotten(opened, numbers, as_of):
        return None
    if _closed(component, rule, numbers, visits, opened, as_of):
        return None
    latest = opened.on + timedelta(days=numbers.within_days)
    first = min(opened.on + timedelta(days=1), latest)
    best = min(first + timedelta(days=1), latest)
    reasons = [_told("storm", opened), *(_told("storm_more", storm) for storm in more)]
    inputs = (("storm_on", opened.on.isoformat()), ("rain_mm", round(opened.rain_mm, 1)), ("storms", 1 + len(more)))
    return Candidate(rule, first, best, latest, tuple(reasons), inputs)


def _forgotten(opened: Storm, numbers: StormNumbers, by: date) -> bool:
    return opened.on + timedelta(days=numbers.within_days + FORGET_DAYS) < by


def _closed(
    component: ComponentState,
    rule: Rule,
    numbers: StormNumbers,
    visits: Sequence[date],
    opened: Storm,
    by: date,
) -> bool:
    """Whether by that day the look was taken, or any visit to the component came in time to count as one."""
    looks = [done.on for done in component.done if done.task == rule.task or done.task in rule.also_done_by]
    until = opened.on + timedelta(days=numbers.closed_within_days)
    in_time = [visit for visit in visits if visit <= until]
    return any(opened.on < day <= by for day in (*looks, *in_time))


def _told(code: str, storm: Storm) -> Reason:
    return Reason(code, (("on", storm.on.isoformat()), ("rain", round(storm.rain_mm, 1))))
