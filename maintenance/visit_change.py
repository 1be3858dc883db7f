"""The one guarded way a visit changes: lock, compare, allowed move, counters, history, and who is told."""

from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any, NamedTuple

from django.db import transaction

from core import clock
from core.act import Act
from core.history import record_change
from core.problem import BadInput, Conflict, FieldProblem, NotAllowed, StaleVersion
from maintenance import reminders
from maintenance.decide import visit_moves
from maintenance.decide.visit_moves import Day, When
from maintenance.models import Visit
from maintenance.visit_cover import cover_after

KEPT = (
    "state",
    "cover",
    "local_date",
    "local_start",
    "span_minutes",
    "place_in_day",
    "minutes",
    "agreed_by",
    "answer_by",
    "called_off_why",
    "note",
    "customer_note",
)
"""Fields whose before and after stand in the history."""


class Step(NamedTuple):
    """One change of a visit. `to`: the state afterwards; `day`: a new day; `fields`: other columns to write.

    `only_from` narrows the states it may start from, where the table of moves allows more. A step that keeps state and
    day is no move, unless `is_move` says that one was meant (offering what is offered already is refused).
    """

    action: str
    to: str
    day: Day | None = None
    fields: Mapping[str, Any] = {}
    occasion: str = ""
    extra: dict[str, Any] | None = None
    only_from: tuple[str, ...] = ()
    is_move: bool = False


def office_only(act: Act, what: str) -> None:
    """Raise NotAllowed unless the office or the server itself acts."""
    if not act.is_office:
        raise NotAllowed(f"Only the office may {what}.")


def lock_visit(visit_id: int) -> Visit:
    """The present row, locked until the transaction ends (on SQLite the whole database is)."""
    return Visit.objects.select_for_update().get(pk=visit_id)


def local_today(act: Act, zone: str) -> date:
    """The property's own date at the instant of the act."""
    return clock.local_date(act.at, zone)


def check_days(days: list[Day], *, today: date, field: str = "local_date") -> None:
    """Raise BadInput naming every bad day."""
    found = [problem for day in days for problem in visit_moves.day_problems(day, today=today, field=field)]
    if found:
        fields = tuple(FieldProblem(name, message, value) for name, message, value in found)
        raise BadInput(" ".join(f.message for f in fields), fields=fields)


def take_step(*, act: Act, visit: Visit, step: Step, revision: int | None = None) -> Visit:
    """Make one change, guarded by the revision the caller saw, write the history and tell people.

    `visit` is brought up to date and returned. Raises StaleVersion (a `revision` was stated and is not the present
    one) or Conflict (someone changed the visit since it was read, or the move is not allowed).
    """
    with transaction.atomic():
        row = lock_visit(visit.pk)
        _check_revision(row, seen=visit.revision, stated=revision)
        if step.is_move or step.to != row.state or step.day is not None:
            check_move(row, step.to, step.only_from)
        write_step(act=act, row=row, step=step)
        visit.refresh_from_db()
        if step.occasion:
            reminders.queue_occasion(act=act, occasion=step.occasion, visit=visit, extra=step.extra)
    return visit


def check_move(row: Visit, to: str, only_from: tuple[str, ...] = ()) -> None:
    """Raise Conflict, saying what is possible, where the move is not in the table or not from this state."""
    if not visit_moves.may(row.state, to) or (only_from and row.state not in only_from):
        raise Conflict(visit_moves.refusal(row.state, to), code="move_not_allowed")


def write_step(*, act: Act, row: Visit, step: Step) -> None:
    """Write `step` onto the locked `row`: columns, sequence, revision, changed_at, and the history entry."""
    before = (row.state, when_of(row))
    after = (step.to, When(*step.day, row.zone) if step.day is not None else before[1])
    values: dict[str, Any] = {**step.fields, "state": step.to}
    if step.day is not None:
        zone = row.property.zone
        after = (step.to, When(*step.day, zone))
        values |= {"zone": zone, "starts_at": visit_moves.starts_at(after[1])}
        values |= step.day._asdict()
        values |= cover_after(row, step.day.local_date)
    values["sequence"] = visit_moves.next_sequence(row.sequence, before, after)
    values["revision"] = row.revision + 1
    values["changed_at"] = visit_moves.next_changed_at(row.changed_at, act.at)
    if not Visit.objects.filter(pk=row.pk, revision=row.revision).update(**values):
        raise Conflict("Someone else changed this visit at the same moment. Look at it again.", code="visit_changed")
    record_change(
        act=act,
        noun="visit",
        uid=row.uid,
        action=step.action,
        before={name: _plain(getattr(row, name)) for name in KEPT if name in values},
        after={name: _plain(values[name]) for name in KEPT if name in values},
        property_uid=row.property.uid,
    )


def when_of(visit: Visit) -> When:
    """Date, time and zone of a visit."""
    return When(visit.local_date, visit.local_start, visit.span_minutes, visit.zone)


def _check_revision(row: Visit, *, seen: int, stated: int | None) -> None:
    if stated is not None and stated != row.revision:
        raise StaleVersion(
            f"You saw revision {stated} of this visit; it is at revision {row.revision} now "
            f"({visit_moves.WORDS[row.state]}). Look at it again."
        )
    if stated is None and seen != row.revision:
        raise Conflict(
            f"This visit was changed meanwhile: it is {visit_moves.WORDS[row.state]} now. Look at it again.",
            code="visit_changed",
        )


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date | time | datetime) else value
