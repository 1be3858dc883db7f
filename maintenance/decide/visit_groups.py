"""Gathers the tasks due at one property into visits, each on a day that suits all of its tasks. Pure.

Simple grouping: the task that can wait least opens a visit, and every task that is useful by then joins it. The day is
the middle one of the best days, kept within what all the tasks allow and off the weekend where that is possible.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

LEAD_DAYS: Final = 1
"""No visit is proposed for today: the day is a proposal still to be agreed."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """One task of one component with its due window; `key` names it for the caller."""

    key: tuple[int, str]
    earliest: date
    best: date
    latest: date


@dataclass(frozen=True, slots=True)
class Group:
    """Tasks of one visit. `no_later_than` may lie in the past: then something is overdue."""

    tasks: tuple[Wanted, ...]
    no_sooner_than: date
    best_on: date
    no_later_than: date


def groups(wanted: Iterable[Wanted], *, today: date, horizon_days: int) -> tuple[Group, ...]:
    """Visits for the tasks whose best day lies within `horizon_days` of `today`, the most pressing first.

    A task with its best day beyond that joins a visit whose day lies in its window, but opens none.
    """
    horizon = today + timedelta(days=horizon_days)
    left = sorted(wanted, key=lambda item: (item.latest, item.best, item.key))
    found = []
    while anchor := next((item for item in left if item.best <= horizon), None):
        until = max(anchor.latest, today + timedelta(days=LEAD_DAYS))
        due = [item for item in left if item.earliest <= until and item.best <= horizon]
        day = _day(due, today)
        joined = [item for item in left if item in due or item.earliest <= day <= item.latest]
        last = min(item.latest for item in due)
        found.append(
            Group(
                tasks=tuple(joined),
                no_sooner_than=min(max(item.earliest for item in due), day, last),
                best_on=day,
                no_later_than=last,
            )
        )
        left = [item for item in left if item not in joined]
    return tuple(found)


def _day(due: Sequence[Wanted], today: date) -> date:
    first = today + timedelta(days=LEAD_DAYS)
    low = max(first, max(item.earliest for item in due))
    high = min(item.latest for item in due)
    middle = sorted(item.best for item in due)[(len(due) - 1) // 2]
    day = max(low, min(middle, high))
    return _working_day(day, low, high)


def _working_day(day: date, low: date, high: date) -> date:
    """The nearest Monday to Friday, earlier rather than later, inside the window if there is one."""
    steps = sorted((n for n in range(-3, 4)), key=lambda n: (abs(n), n))
    near = [day + timedelta(days=n) for n in steps]
    weekdays = [other for other in near if other.weekday() < 5 and other >= low]
    inside = [other for other in weekdays if other <= high]
    return (inside or weekdays)[0]
