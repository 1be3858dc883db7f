"""Visits from proposed to begun. A closeout alone ends one (maintenance/closeout.py)."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, time
from typing import Any
from uuid import UUID

from django.db import transaction

from core import company, limits, normalise
from core.act import Act
from core.history import record_change
from core.models import User
from core.problem import BadInput, Conflict, FieldProblem
from jobs.models import Job, Property
from maintenance.decide.visit_moves import MOST_DAYS_OFFERED, WORDS, Day, possible
from maintenance.models import OfferedDay, Visit, VisitTask
from maintenance.unanswered import answered, ask_another_day, unanswered
from maintenance.visit_change import Step, check_days, check_move, local_today, lock_visit, office_only, take_step
from maintenance.visit_cover import decide_cover
from maintenance.visit_people import assign, check_crew_may, check_homeowner_may, set_technicians
from maintenance.visit_tasks import TaskWanted, check_tasks

__all__ = [
    "agree",
    "ask_another_day",
    "assign",
    "begin",
    "call_off",
    "give_notice",
    "move",
    "not_begun",
    "offer",
    "propose",
    "set_cover",
    "take_back",
    "unanswered",
]

OPEN = ("proposed", "offered")


def propose(
    *,
    act: Act,
    property: Property,
    tasks: Iterable[Any],
    no_sooner_than: date | None = None,
    best_on: date | None = None,
    no_later_than: date | None = None,
    minutes: int | None = None,
    note: str = "",
    job: Job | None = None,
    uid: UUID | None = None,
) -> Visit:
    """A new proposed visit with its tasks (`TaskWanted`, due windows or mappings; at least one).

    `minutes` on site: the tasks' own and the company's set-up where not given. Raises BadInput naming each bad task;
    owner tasks are refused.
    """
    office_only(act, "propose a visit")
    if property.closed_at is not None:
        raise Conflict("This property is closed: no visits are proposed there.")
    wanted = check_tasks(property, tasks)
    total = minutes if minutes is not None else sum(w.minutes for w in wanted) + company.at(act.at).setup_minutes
    if not 0 <= total <= 24 * 60:
        message = f"minutes is {total}: give 0 to 1440 min."
        raise BadInput(message, fields=(FieldProblem("minutes", message, total),))
    on = best_on or local_today(act, property.zone)
    covered = decide_cover(property.pk, [(w.component, w.task, w.rule_code) for w in wanted], on)
    with transaction.atomic():
        visit = Visit.objects.create(
            **({"uid": uid} if uid else {}),
            property=property,
            zone=property.zone,
            cover=covered.cover,
            agreement=covered.agreement,
            job=job,
            minutes=total,
            no_sooner_than=no_sooner_than,
            best_on=best_on,
            no_later_than=no_later_than,
            notice_only=property.notice_only,
            note=normalise.text(note, limit=limits.NOTE),
            created_at=act.at,
            changed_at=act.at.replace(microsecond=0),
        )
        _write_tasks(visit, wanted)
        after = {"state": visit.state, "tasks": [f"{w.task} {w.component}" for w in wanted], "cover": visit.cover}
        record_change(act=act, noun="visit", uid=visit.uid, action="propose", after=after, property_uid=property.uid)
    return visit


def offer(*, act: Act, visit: Visit, days: Sequence[Any], revision: int | None = None) -> Visit:
    """Offer days to the homeowner (dates, `Day`s or mappings of local_date, local_start, span_minutes; 1 to 10).

    Not for a property that may be entered with notice only: give_notice. Also takes an agreed visit back to offered.
    """
    office_only(act, "offer days")
    if visit.property.notice_only:
        raise Conflict("This property may be entered with notice only: give notice of a day instead.", code="notice")
    today = local_today(act, visit.property.zone)
    chosen = sorted({day.local_date: day for day in map(as_day, days)}.values())
    if not 1 <= len(chosen) <= MOST_DAYS_OFFERED or len(chosen) != len(days):
        message = f"{len(days)} days given: offer 1 to {MOST_DAYS_OFFERED} different days."
        raise BadInput(message, fields=(FieldProblem("days", message, len(days)),))
    check_days(chosen, today=today, field="days")
    answer_by = date.fromordinal(today.toordinal() + company.at(act.at).answer_days)
    # The day agreed before stays to be read (calendars call it off by it), its instant does not.
    fields = {
        "offered_at": act.at,
        "answer_by": answer_by,
        "agreed_at": None,
        "agreed_by": "",
        "starts_at": None,
    }
    with transaction.atomic():
        # Locked first, so that the days written belong to whoever wins.
        lock_visit(visit.pk)
        OfferedDay.objects.filter(visit=visit).delete()
        OfferedDay.objects.bulk_create(OfferedDay(visit=visit, **day._asdict()) for day in chosen)
        step = Step("offer", "offered", fields=fields, occasion="offered", is_move=True)
        return take_step(act=act, visit=visit, step=step, revision=revision)


def take_back(*, act: Act, visit: Visit, revision: int | None = None) -> Visit:
    """Withdraw an offer: the visit is only proposed again."""
    office_only(act, "take back an offer")
    with transaction.atomic():
        step = Step("take_back", "proposed", fields={"offered_at": None, "answer_by": None}, is_move=True)
        take_step(act=act, visit=visit, step=step, revision=revision)
        OfferedDay.objects.filter(visit=visit).delete()
        answered(act, visit)
    return visit


def agree(
    *,
    act: Act,
    visit: Visit,
    local_date: date,
    local_start: time | None = None,
    span_minutes: int | None = None,
    agreed_by: str | None = None,
    technicians: Sequence[User] | None = None,
    revision: int | None = None,
) -> Visit:
    """Agree the day of a proposed or offered visit. A time not given is that of the offered day, if it had one.

    A homeowner may choose only among the offered days and must be one who agrees to days. `agreed_by` names who said
    yes ("user:...", "customer:..." or words); default the one who acts. Raises Conflict where it is agreed already.
    """
    check_homeowner_may(act, visit, local_date)
    if visit.state == Visit.State.AGREED:
        raise Conflict(f"This visit is agreed for {visit.local_date} already: move it instead.", code="agreed_already")
    day = _as_offered(visit, Day(local_date, local_start, span_minutes))
    check_days([day], today=local_today(act, visit.property.zone))
    fields = {"agreed_at": act.at, "agreed_by": normalise.line(agreed_by or act.who, limit=60)}
    with transaction.atomic():
        step = Step("agree", "agreed", day=day, fields=fields, occasion="agreed", only_from=OPEN)
        _with_people(act, visit, step, revision, technicians)
        answered(act, visit)
    return visit


def give_notice(
    *,
    act: Act,
    visit: Visit,
    local_date: date,
    local_start: time | None = None,
    span_minutes: int | None = None,
    technicians: Sequence[User] | None = None,
    revision: int | None = None,
) -> Visit:
    """Fix the day of a visit where the property may be entered with notice only; people are told, not asked."""
    office_only(act, "give notice")
    if not visit.property.notice_only:
        raise Conflict("This property is not marked 'may enter with notice only': offer days instead.", code="offer")
    if visit.state not in (Visit.State.PROPOSED, Visit.State.OFFERED):
        raise Conflict(f"This visit is {WORDS[visit.state]}: move it instead.", code="move_not_allowed")
    day = Day(local_date, local_start, span_minutes)
    check_days([day], today=local_today(act, visit.property.zone))
    fields = {"agreed_at": act.at, "agreed_by": act.who[:60], "notice_only": True}
    with transaction.atomic():
        step = Step("give_notice", "agreed", day=day, fields=fields, occasion="notice", only_from=OPEN)
        _with_people(act, visit, step, revision, technicians)
        answered(act, visit)
    return visit


def move(
    *,
    act: Act,
    visit: Visit,
    local_date: date,
    local_start: time | None = None,
    span_minutes: int | None = None,
    agreed_by: str | None = None,
    revision: int | None = None,
) -> Visit:
    """Put an agreed visit on another day or time; people are told. The same day and time again changes nothing."""
    office_only(act, "move a visit")
    day = Day(local_date, local_start, span_minutes)
    if visit.state != Visit.State.AGREED:
        words = f"This visit is {WORDS[visit.state]}: only an agreed visit is moved. {possible(visit.state)}"
        raise Conflict(words, code="move_not_allowed")
    if day == Day(visit.local_date or local_date, visit.local_start, visit.span_minutes) and revision is None:
        return visit
    check_days([day], today=local_today(act, visit.property.zone))
    fields = {"agreed_at": act.at, "agreed_by": normalise.line(agreed_by or act.who, limit=60), "place_in_day": 0}
    step = Step("move", "agreed", day=day, fields=fields, occasion="moved", only_from=("agreed",))
    return take_step(act=act, visit=visit, step=step, revision=revision)


def begin(*, act: Act, visit: Visit, revision: int | None = None) -> Visit:
    """The crew is there. Crew may begin only visits they are on."""
    check_crew_may(act, visit)
    step = Step("begin", "begun", fields={"begun_at": act.at}, is_move=True)
    return take_step(act=act, visit=visit, step=step, revision=revision)


def not_begun(*, act: Act, visit: Visit, revision: int | None = None) -> Visit:
    """Take back a "begun" pressed by mistake."""
    check_crew_may(act, visit)
    if visit.state != Visit.State.BEGUN:
        words = f"This visit is {WORDS[visit.state]}, not begun. {possible(visit.state)}"
        raise Conflict(words, code="move_not_allowed")
    step = Step("not_begun", "agreed", fields={"begun_at": None}, only_from=("begun",))
    return take_step(act=act, visit=visit, step=step, revision=revision)


def call_off(*, act: Act, visit: Visit, why: str, revision: int | None = None) -> Visit:
    """Call the visit off for good, with the reason people are told."""
    office_only(act, "call a visit off")
    reason = normalise.line(why, limit=300)
    if not reason:
        message = "Say why the visit is called off: people are told."
        raise BadInput(message, fields=(FieldProblem("why", message, why),))
    with transaction.atomic():
        step = Step(
            "call_off",
            "called_off",
            fields={"called_off_why": reason, "ended_at": act.at},
            occasion="called_off",
            extra={"why": reason},
            is_move=True,
        )
        take_step(act=act, visit=visit, step=step, revision=revision)
        answered(act, visit)
    return visit


def set_cover(*, act: Act, visit: Visit, cover: str, why: str = "", revision: int | None = None) -> Visit:
    """Say who pays, against or with the rules; "our fault" comes only from here. Possible in every state."""
    office_only(act, "say what covers a visit")
    if cover not in Visit.Cover.values:
        message = f"cover is {cover[:20]!r}: give one of {', '.join(Visit.Cover.values)}."
        raise BadInput(message, fields=(FieldProblem("cover", message, cover),))
    step = Step("set_cover", visit.state, fields={"cover": cover})
    return take_step(act=act, visit=visit, step=step, revision=revision)


def as_day(value: Any) -> Day:
    """A date, a `Day`, or a mapping or sequence of local_date, local_start, span_minutes as a `Day`."""
    if isinstance(value, date):
        return Day(value)
    return Day(**value) if isinstance(value, Mapping) else Day(*value)


def _write_tasks(visit: Visit, wanted: Sequence[TaskWanted]) -> None:
    VisitTask.objects.bulk_create(
        VisitTask(
            visit=visit,
            component=w.component,
            task=w.task,
            rule_code=w.rule_code,
            words=w.words,
            latest_on=w.latest_on,
            minutes=w.minutes,
        )
        for w in wanted
    )


def _as_offered(visit: Visit, day: Day) -> Day:
    if day.local_start is not None:
        return day
    row = OfferedDay.objects.filter(visit=visit, local_date=day.local_date).first()
    return Day(day.local_date, row.local_start, row.span_minutes) if row else day


def _with_people(act: Act, visit: Visit, step: Step, revision: int | None, technicians: Sequence[User] | None) -> None:
    """Take the step and put the technicians on the visit; the mail is written knowing both."""
    if technicians is not None:
        row = lock_visit(visit.pk)
        check_move(row, step.to, step.only_from)
        set_technicians(act, row, technicians)
    take_step(act=act, visit=visit, step=step, revision=revision)
