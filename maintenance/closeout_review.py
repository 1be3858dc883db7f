"""What the office does with closeouts that wait or are flagged: take, match, set aside, look again."""

from datetime import date
from typing import Any

from django.db import transaction

from core import normalise
from core.act import Act
from core.history import record_change
from core.problem import BadInput, Conflict, FieldProblem, NotAllowed
from jobs.edits import raise_revision
from jobs.models import Component, Property
from maintenance.closeout import apply_closeout
from maintenance.closeout_after import recompute
from maintenance.closeout_hold import tick
from maintenance.decide.closeout_flags import ACTIONS, FLAGS
from maintenance.models import Closeout, CloseoutFlag, CloseoutReceived, TaskDone, VisitTask

State = CloseoutReceived.State


def clear_flag(*, act: Act, flag: CloseoutFlag, action: str, note: str = "") -> CloseoutFlag:
    """Do one of the actions a flag allows (decide/closeout_flags.py) and clear it. `match` needs match_closeout.

    "accept" and "retry" apply the closeout; where it then waits for another reason, a new flag says which.
    Raises BadInput for an action the flag has not, Conflict where it was cleared before.
    """
    _office_only(act)
    allowed = FLAGS[flag.code].actions
    if action not in allowed or action == "match":
        message = f"action is {action[:20]!r}: give one of {', '.join(a for a in allowed if a != 'match')}."
        raise BadInput(message, fields=(FieldProblem("action", message, action),))
    how = f"{ACTIONS[action]}. {normalise.line(note)}".strip()
    with transaction.atomic():
        tick(act, flag, how)
        if action == "take_second":
            _take_second(act, flag)
        if action == "set_aside":
            _set_aside(act, flag.received, how)
    if action in ("accept", "retry"):
        _apply(act, flag.received, accepted=action == "accept")
    if action == "take_second" and flag.received.property_id is not None:
        recompute(act=act, property_id=flag.received.property_id)
    flag.refresh_from_db()
    return flag


def match_closeout(*, act: Act, received: CloseoutReceived, property: Property) -> Closeout | None:
    """Say which property a typed address was, and apply the closeout there. None where it then waits for more."""
    _office_only(act)
    with transaction.atomic():
        row = CloseoutReceived.objects.select_for_update().get(pk=received.pk)
        if row.state not in (State.UNMATCHED, State.NEEDS_OFFICE) or row.visit_id is not None or row.body_no > 1:
            raise Conflict(f"This closeout is {row.get_state_display()}: there is nothing to match.", code="matched")
        before = str(row.property.uid) if row.property else None
        CloseoutReceived.objects.filter(pk=row.pk).update(property=property)
        for flag in row.flags.filter(code="unmatched", cleared_at=None):
            tick(act, flag, f"Matched to {property.address}")
        record_change(
            act=act,
            noun="closeout",
            uid=row.uid,
            action="match",
            before={"property": before},
            after={"property": str(property.uid)},
            property_uid=property.uid,
        )
    received.refresh_from_db()
    return _apply(act, received, accepted=False)


def set_aside(*, act: Act, received: CloseoutReceived, why: str) -> CloseoutReceived:
    """Leave a waiting closeout unapplied for good; its bytes stay kept. Raises Conflict where it was applied."""
    _office_only(act)
    reason = normalise.line(why)
    if not reason:
        message = "Say why the closeout is set aside."
        raise BadInput(message, fields=(FieldProblem("why", message, why),))
    with transaction.atomic():
        for flag in received.flags.filter(cleared_at=None):
            tick(act, flag, reason)
        _set_aside(act, received, reason)
    received.refresh_from_db()
    return received


def _apply(act: Act, received: CloseoutReceived, *, accepted: bool) -> Closeout | None:
    received.refresh_from_db()
    closeout = apply_closeout(act=act, received=received, accepted=accepted)
    if closeout is not None:
        recompute(act=act, property_id=closeout.visit.property_id)
    return closeout


def _set_aside(act: Act, received: CloseoutReceived, why: str) -> None:
    rows = CloseoutReceived.objects.filter(pk=received.pk).exclude(state=State.APPLIED)
    if not rows.update(state=State.SET_ASIDE, state_note=why[:400]):
        raise Conflict("This closeout was applied already; it cannot be set aside.", code="applied")
    record_change(act=act, noun="closeout", uid=received.uid, action="set_aside", after={"why": why})


def _take_second(act: Act, flag: CloseoutFlag) -> None:
    """Count the second report of a task too, recorded now; the visit shows its outcome."""
    side: dict[str, Any] = flag.sides["second"]
    component = Component.objects.get(uid=side["component"])
    closeout = Closeout.objects.get(received=flag.received)
    TaskDone.objects.create(
        uid=side["uid"],
        component=component,
        task=side["task"],
        outcome=side["outcome"],
        reason=side["reason"],
        done_on=date.fromisoformat(side["done_on"]),
        recorded_at=act.at,
        left_fill=side["left_fill"],
        by=side["by"],
        closeout=closeout,
    )
    VisitTask.objects.filter(visit=closeout.visit, component=component, task=side["task"]).update(
        outcome=side["outcome"], reason=side["reason"]
    )
    raise_revision(component.property_id)


def _office_only(act: Act) -> None:
    if not act.is_office:
        raise NotAllowed("Only the office decides about closeouts.")
