"""Which moves a visit may make, and what a change does to its times and counters. Pure: no records, no clock."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from types import MappingProxyType
from typing import Final, Literal, NamedTuple

from maintenance.calendar.event import next_last_modified
from maintenance.calendar.zones import find_zone, local_instant

State = Literal["proposed", "offered", "agreed", "begun", "done", "called_off"]

MOVES: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "proposed": ("offered", "agreed", "called_off"),
        "offered": ("proposed", "agreed", "called_off"),
        "agreed": ("offered", "agreed", "begun", "called_off"),
        "begun": ("agreed", "done"),
        "done": (),
        "called_off": (),
    }
)
"""From each state, the states it may move to. Only a closeout leads anywhere else: to done, from any state."""

WORDS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "proposed": "proposed",
        "offered": "offered",
        "agreed": "agreed",
        "begun": "begun",
        "done": "done",
        "called_off": "called off",
    }
)

SPAN_LOW_MIN: Final = 15
SPAN_HIGH_MIN: Final = 12 * 60
FARTHEST_DAYS: Final = 730
MOST_DAYS_OFFERED: Final = 10


class Day(NamedTuple):
    """A day of a visit: local date, optional local start and arrival span [min]."""

    local_date: date
    local_start: time | None = None
    span_minutes: int | None = None


@dataclass(frozen=True, slots=True)
class When:
    """Date, time and zone of a visit as the property's clock shows them."""

    local_date: date | None
    local_start: time | None
    span_minutes: int | None
    zone: str


def may(before: str, after: str) -> bool:
    """Whether a visit may move from `before` to `after` by a person's act (a closeout may always reach done).

    >>> may("offered", "agreed"), may("done", "agreed")
    (True, False)
    """
    return after in MOVES[before]


def possible(state: str) -> str:
    """What a visit in this state can become, in a sentence.

    >>> possible("offered")
    'It can become proposed or agreed or called off.'
    """
    found = [WORDS[after] for after in MOVES[state]]
    return f"It can become {' or '.join(found)}." if found else "It stays as it is."


def refusal(before: str, after: str) -> str:
    """Why a move is not possible, and which are.

    >>> refusal("done", "agreed")
    'This visit is done: it cannot become agreed any more. It stays as it is.'
    """
    rest = possible(before)
    if before == after:
        return f"This visit is {WORDS[before]} already. {rest}"
    return f"This visit is {WORDS[before]}: it cannot become {WORDS[after]} any more. {rest}"


def starts_at(when: When) -> datetime | None:
    """The UTC instant a visit starts, None where only a day is known.

    A time the clock skips means the first instant after the gap; a repeated time means the first of the two.

    >>> starts_at(When(date(2026, 7, 1), time(8, 0), None, "America/New_York")).isoformat()
    '2026-07-01T12:00:00+00:00'
    """
    if when.local_date is None or when.local_start is None:
        return None
    return local_instant(when.local_date, when.local_start, find_zone(when.zone))


def next_sequence(sequence: int, before: tuple[str, When], after: tuple[str, When]) -> int:
    """The SEQUENCE after a change: one more where date, time or state differ (RFC 5545 3.8.7.4), else the same."""
    return sequence + (before != after)


def next_changed_at(previous: datetime, at: datetime) -> datetime:
    """When the new revision was made, in whole seconds and always later than `previous` (LAST-MODIFIED must grow)."""
    return next_last_modified(previous, at)


def day_problems(day: Day, *, today: date, field: str = "local_date") -> list[tuple[str, str, object]]:
    """What is wrong with a day to come: (field, message, value); `today` is the property's own date."""
    problems: list[tuple[str, str, object]] = []
    if day.local_date < today:
        problems.append((field, f"{day.local_date} is past: give {today} or later.", str(day.local_date)))
    if day.local_date > today + timedelta(days=FARTHEST_DAYS):
        farthest = today + timedelta(days=FARTHEST_DAYS)
        problems.append((field, f"{day.local_date} is too far off: give {farthest} or sooner.", str(day.local_date)))
    if day.span_minutes is None:
        return problems
    if not SPAN_LOW_MIN <= day.span_minutes <= SPAN_HIGH_MIN:
        message = f"span_minutes is {day.span_minutes}: give {SPAN_LOW_MIN} to {SPAN_HIGH_MIN} min."
        problems.append(("span_minutes", message, day.span_minutes))
    if day.local_start is None:
        message = f"span_minutes is {day.span_minutes} min but no local_start is given: give both or neither."
        problems.append(("span_minutes", message, day.span_minutes))
    elif _minutes(day.local_start) + day.span_minutes > 24 * 60 - 1:
        message = f"{day.local_start:%H:%M} and {day.span_minutes} min reach past midnight: end by 23:59."
        problems.append(("span_minutes", message, day.span_minutes))
    return problems


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute


def closeout_finds(state: str, *, local_date: date | None, worked_on: date) -> tuple[tuple[str, str], ...]:
    """What is odd about a closeout of a visit in `state` for `local_date`: (flag code, words), () if nothing is.

    A done visit is not odd in itself: a second technician's closeout adds to it.
    """
    if state == "called_off":
        return (("visit_called_off", "The visit was called off, yet the crew was there."),)
    if state in ("proposed", "offered"):
        return (("visit_not_agreed", f"The visit was only {WORDS[state]}: no day had been agreed."),)
    if local_date is not None and local_date != worked_on:
        return (("visit_moved", f"The visit stood for {local_date}, the crew was there on {worked_on}."),)
    return ()
