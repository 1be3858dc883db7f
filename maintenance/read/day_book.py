"""The week for the office's eyes: the lines of the day book with the work in words, what is late, the miles between."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from core import company
from core.act import Act
from jobs.kinds import registry, words
from maintenance.decide.miles import drive_miles
from maintenance.models import Visit, VisitTask
from maintenance.read.week import BookDay, Line, TechnicianDay, Week, week

Place = tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class LineSeen:
    """A line: what is done there, how late it is on that day, and the miles from the stop before (None: not known)."""

    line: Line
    work: str
    late_days: int
    miles: float | None


@dataclass(frozen=True, slots=True)
class ColumnSeen:
    """One technician's day; `back_miles` to the yard."""

    column: TechnicianDay
    lines: tuple[LineSeen, ...]
    back_miles: float | None


@dataclass(frozen=True, slots=True)
class DaySeen:
    """One day of the book."""

    day: date
    columns: tuple[ColumnSeen, ...]
    nobody: ColumnSeen


@dataclass(frozen=True, slots=True)
class DayBook:
    """The week, its sums, and its days as they are read."""

    week: Week
    days: tuple[DaySeen, ...]


def day_book(act: Act, start: date) -> DayBook:
    """The week that holds `start`: the queries of the week, one for the work, one for the places."""
    book = week(act, start)
    uids = {line.visit_uid for day in book.days for column in _columns(day) for line in column.lines}
    work = _work(uids)
    places = {uid: (lat, lon) for uid, lat, lon in _positions(uids) if lat is not None and lon is not None}
    now = company.at(act.at)
    yard = None if now.yard_lat is None or now.yard_lon is None else (now.yard_lat, now.yard_lon)
    days = tuple(
        DaySeen(
            day.day,
            tuple(_column(column, day.day, work, places, yard) for column in day.technicians),
            _column(day.nobody, day.day, work, {}, None),
        )
        for day in book.days
    )
    return DayBook(book, days)


def work_words(tasks: Iterable[VisitTask]) -> str:
    """'clean CB-1 and CH-1; test pump PU-1': the tasks in order, the parts of each together."""
    parts: dict[str, list[str]] = {}
    for task in tasks:
        parts.setdefault(task.task, []).append(part_words(task))
    return "; ".join(f"{_task(code)} {_listed(labels)}" for code, labels in parts.items())


def part_words(task: VisitTask) -> str:
    """'CB-1', or 'grate of CB-1' for a part without a tag of its own."""
    part = task.component
    if part.tag:
        return part.tag
    kind = registry.BY_CODE.get(part.kind)
    holder = part.part_of or part.sits_in
    name = kind.name if kind else part.kind
    return f"{name} of {holder.tag}" if holder and holder.tag else name


def _columns(day: BookDay) -> tuple[TechnicianDay, ...]:
    return (*day.technicians, day.nobody)


def _work(uids: set[UUID]) -> dict[UUID, list[VisitTask]]:
    rows = VisitTask.objects.filter(visit__uid__in=uids).select_related(
        "visit", "component__part_of", "component__sits_in"
    )
    found: dict[UUID, list[VisitTask]] = {}
    for row in rows.order_by("id"):
        found.setdefault(row.visit.uid, []).append(row)
    return found


def _positions(uids: set[UUID]) -> Iterable[tuple[UUID, float | None, float | None]]:
    return Visit.objects.filter(uid__in=uids).values_list("uid", "property__lat", "property__lon")


def _column(
    column: TechnicianDay,
    day: date,
    work: dict[UUID, list[VisitTask]],
    places: dict[UUID, tuple[float, float]],
    yard: Place,
) -> ColumnSeen:
    before, lines = yard, []
    for line in column.lines:
        here: Place = places.get(line.visit_uid)
        tasks = work.get(line.visit_uid, [])
        late = 0 if line.state == Visit.State.DONE else _late(tasks, day)
        lines.append(LineSeen(line, work_words(tasks), late, drive_miles([before, here])))
        before = here
    return ColumnSeen(column, tuple(lines), drive_miles([before, yard]) if lines else None)


def _late(tasks: Iterable[VisitTask], day: date) -> int:
    latest = [task.latest_on for task in tasks if task.latest_on is not None and not task.outcome]
    return max(0, (day - min(latest)).days) if latest else 0


def _task(code: str) -> str:
    task = words.TASKS.get(code)
    return "look at" if code == "look" else task.words if task else code


def _listed(labels: Sequence[str]) -> str:
    return labels[0] if len(labels) == 1 else f"{', '.join(labels[:-1])} and {labels[-1]}"
