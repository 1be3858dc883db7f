"""Writes what a closeout means: parts, readings, tasks, hazards, then its end. Called in one transaction."""

from datetime import date
from typing import Any
from uuid import uuid5

from core import clock
from core.act import Act
from jobs import hazards
from jobs.kinds import words
from jobs.models import Component
from maintenance.closeout_end import end_visit, flag_times, link_photos
from maintenance.closeout_parts import Found, Yard, kind_and_known
from maintenance.closeout_place import Place, find_place, locked, unplanned_visit
from maintenance.closeout_writing import Writing
from maintenance.decide import closeout_values as values
from maintenance.decide.closeout_meaning import CloseoutBody, ReadingTaken, TaskReported
from maintenance.decide.closeout_summary import PartTold, TaskTold
from maintenance.models import Closeout, CloseoutReceived, Reading, TaskDone, VisitTask
from maintenance.part_replaced import replace_part

NOT_A_REPORT = "not_looked_at"


def write(*, act: Act, received_id: int, body: CloseoutBody, accepted: bool) -> Closeout | None:
    """Write one closeout, once: the present one is returned if it was written before, None if it was set aside.

    Raises Waits, ImpossibleValue or a Problem of the register; the caller's transaction then takes all back.
    """
    received, visit = locked(received_id, body)
    if received.state == CloseoutReceived.State.APPLIED:
        return Closeout.objects.get(received=received)
    if received.state == CloseoutReceived.State.SET_ASIDE:
        return None
    place = find_place(received, visit, body, accepted=accepted)
    work = _begin(act, received, body, place)
    _replace_parts(work)
    _write_readings(work)
    _write_tasks(work)
    for number, found in enumerate(body.hazards_found):
        uid = uuid5(received.uid, f"hazard:{number}")
        hazards.add_hazard(act=act, property=place.property, uid=uid, **found.model_dump())
    link_photos(work)
    flag_times(work)
    end_visit(work)
    return work.closeout


def _begin(act: Act, received: CloseoutReceived, body: CloseoutBody, place: Place) -> Writing:
    skew_s = received.skew_s
    if skew_s is None:
        skew_s = values.skew_seconds(None, body.phone_at, received.received_at)
    left_at = values.corrected(body.left_at, skew_s, received.received_at).at
    arrived = body.arrived_at or body.left_at
    visit = place.visit or unplanned_visit(
        act, received, place, values.corrected(arrived, skew_s, received.received_at).at
    )
    closeout = Closeout.objects.create(
        uid=received.uid,
        received=received,
        visit=visit,
        technician=place.technician,
        effective=place.effective,
        arrived_at=values.corrected(arrived, skew_s, received.received_at).at if body.arrived_at else None,
        left_at=left_at,
        lids_fastened=body.lids_fastened,
        nobody_home=body.nobody_home,
        signature=body.signature,
        note=body.note,
        applied_at=act.at,
    )
    return Writing(
        act=act,
        received=received,
        body=body,
        place=place,
        visit=visit,
        closeout=closeout,
        yard=Yard.of(place.property.pk),
        skew_s=skew_s,
        worked_on=clock.local_date(left_at, place.property.zone),
    )


def _replace_parts(work: Writing) -> None:
    """Old part out, new part in, in the same act; one that someone replaced meanwhile is left and flagged."""
    for item in work.body.parts_replaced:
        old = work.yard.named(item.component, item.tag)
        if old.successor_id is not None or old.retired_on is not None:
            now = work.yard.by_id.get(old.successor_id or 0)
            if now is not None and now.uid == item.new_uid:
                continue
            words = f"{old} was taken out on {old.retired_on} already; the part reported here was not put in again."
            work.flag("already_replaced", words, reported=item.model_dump(mode="json"), present=str(now or ""))
            continue
        new = replace_part(
            act=work.act,
            component=old,
            on=work.worked_on,
            reason=item.reason,
            because=item.because,
            dimensions=item.dimensions,
            certainty=item.certainty,
            name=item.name,
            note=item.note,
            uid=item.new_uid,
            besides_visit=work.visit.pk,
        )
        old.refresh_from_db()
        work.yard.put_in(old, new)
        work.parts_told.append(PartTold(old.kind, old.tag, item.reason))


def _at(work: Writing, item: ReadingTaken | TaskReported, on: date, *, after: bool) -> Component:
    found: Found = work.yard.at(item.component, item.tag, on, after=after)
    if found.instead_of is not None:
        old, new = found.instead_of, found.component
        words = f"It names {old}, taken out on {old.retired_on}; what was done after counts for the part there now."
        work.flag("retired_part", words, named=str(old.uid), counted_for=str(new.uid))
    return found.component


def _write_readings(work: Writing) -> None:
    rows = []
    for number, item in enumerate(work.body.readings):
        at = work.time(item.measured_at or work.body.left_at)
        part = _at(work, item, work.day(at), after=item.moment == "after")
        value = values.check_reading(*kind_and_known(part), item)
        work.readings.setdefault(part.pk, []).append((item, value))
        rows.append(
            Reading(
                uid=uuid5(work.received.uid, f"reading:{number}"),
                component=part,
                code=item.code,
                **value._asdict(),
                moment=item.moment,
                measured_at=at,
                phone_at=item.measured_at,
                skew_s=work.skew_s,
                recorded_at=work.act.at,
                measured_by=work.by,
                entered_by=f"user:{work.received.sender.uid}" if work.received.sender else work.act.who,
                closeout=work.closeout,
            )
        )
    Reading.objects.bulk_create(rows)


def _write_tasks(work: Writing) -> None:
    """What was reported of each task; one that a colleague reported before waits under a flag."""
    planned = {(row.component_id, row.task): row for row in VisitTask.objects.filter(visit=work.visit)}
    reported = {
        (row.component_id, row.task): row
        for row in TaskDone.objects.filter(closeout__visit=work.visit).exclude(outcome=NOT_A_REPORT)
    }
    done, outcomes, unplanned = [], [], []
    for number, item in enumerate(work.body.tasks):
        part = _at(work, item, work.worked_on, after=item.task != "replace")
        same_place = work.yard.line_of(part)
        row = _of_place(planned, same_place, item.task)
        _check_task(part, item, row)
        made, told = _task_done(work, number, part, item)
        first = _of_place(reported, same_place, item.task)
        if first is not None and item.outcome != NOT_A_REPORT:
            _flag_twice(work, first, made)
            continue
        done.append(made)
        work.tasks_told.append(told)
        if row is None:
            row = planned[(part.pk, item.task)] = VisitTask(visit=work.visit, component=part, task=item.task)
            row.words = words.TASKS[item.task].words
            unplanned.append(row)
        elif item.outcome != NOT_A_REPORT or not row.outcome:
            outcomes.append(row)
        else:
            continue
        row.outcome, row.reason = item.outcome, item.reason
    TaskDone.objects.bulk_create(done)
    VisitTask.objects.bulk_create(unplanned)
    VisitTask.objects.bulk_update(outcomes, ["outcome", "reason"])


def _of_place(rows: dict[tuple[int, str], Any], same_place: set[int], task: str) -> Any:
    """The row of this task at a part, or at one before or after it in the same place."""
    return next((row for (part, code), row in rows.items() if part in same_place and code == task), None)


def _flag_twice(work: Writing, first: TaskDone, second: TaskDone) -> None:
    words_ = f"{second.task} of {second.component} was reported twice: {first.outcome}, then {second.outcome}."
    work.flag(
        "task_twice",
        words_,
        first={"by": first.by, "outcome": first.outcome, "reason": first.reason, "left_fill": first.left_fill},
        second={
            "uid": str(second.uid),
            "component": str(second.component.uid),
            "task": second.task,
            "outcome": second.outcome,
            "reason": second.reason,
            "done_on": second.done_on.isoformat(),
            "left_fill": second.left_fill,
            "by": second.by,
        },
    )


def _task_done(work: Writing, number: int, part: Component, item: TaskReported) -> tuple[TaskDone, TaskTold]:
    """The row of one reported task, not saved yet, with the silt left behind; and how it is told."""
    kind, known = kind_and_known(part)
    height = values.silt_height_in(kind, known)
    taken = work.readings.get(part.pk, [])
    left = None
    if item.outcome == "done" and item.task in values.CLEANING_TASKS:
        left = values.left_behind(height, item.left_fill, taken)
    found = values.found_fill(height, taken) if item.task in values.CLEANING_TASKS else None
    row = TaskDone(
        uid=uuid5(work.received.uid, f"task:{number}"),
        component=part,
        task=item.task,
        outcome=item.outcome,
        reason=item.reason,
        done_on=work.worked_on,
        recorded_at=work.act.at,
        left_fill=left,
        by=work.by,
        closeout=work.closeout,
    )
    return row, TaskTold(part.kind, part.tag, item.task, item.outcome, item.reason, found, left)


def _check_task(part: Component, item: TaskReported, row: VisitTask | None) -> None:
    kind, _ = kind_and_known(part)
    if row is None and item.task not in kind.tasks:
        raise values.ImpossibleValue(
            f"{item.task} is no task of {kind.a_name} ({part}): give one of {', '.join(kind.tasks)}"
        )
