"""The route sheet: one technician's visits of one day in driving order, with what must be known at each."""

from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any
from uuid import UUID

from django.db.models import OuterRef, Prefetch, QuerySet, Subquery
from django.db.models.functions import Coalesce

from core.act import Act
from core.models import User
from jobs.kinds import registry
from jobs.models import Hazard, Property
from maintenance.decide.what_to_bring import what_to_bring
from maintenance.models import Closeout, Visit, VisitTask, VisitTechnician
from maintenance.read import visible

ON_SHEET = (Visit.State.AGREED, Visit.State.BEGUN, Visit.State.DONE)


@dataclass(frozen=True, slots=True)
class HazardLine:
    """Something not to hit; position in feet from the corner, depth in inches."""

    uid: UUID
    kind: str
    kind_words: str
    note: str
    x_ft: float | None
    y_ft: float | None
    depth_in: float | None


@dataclass(frozen=True, slots=True)
class TaskLine:
    """One task at one part."""

    uid: UUID
    task: str
    words: str
    component_uid: UUID
    tag: str
    kind: str
    kind_words: str
    part_name: str
    minutes: int
    latest_on: date | None
    outcome: str


@dataclass(frozen=True, slots=True)
class LastVisit:
    """What the crew found the time before."""

    on: datetime | None
    by: str
    lines: tuple[str, ...]
    note: str


@dataclass(frozen=True, slots=True)
class Stop:
    """One visit on the sheet; hazards come first. `gate_code` is for the crew's eyes and never leaves in a message."""

    visit_uid: UUID
    number: int
    state: str
    local_date: date
    local_start: time | None
    span_minutes: int | None
    minutes: int
    cover: str
    hazards: tuple[HazardLine, ...]
    property_uid: UUID
    address: str
    city: str
    lat: float | None
    lon: float | None
    access_note: str
    gate_code: str
    corner: str
    people: tuple[str, ...]
    tasks: tuple[TaskLine, ...]
    last_visit: LastVisit | None
    bring: tuple[str, ...]
    note: str
    customer_note: str


def route_sheet(act: Act, user: User, day: date) -> tuple[Stop, ...]:
    """Visits of `user` on the local date `day` that the asking person may see, in driving order. Five queries."""
    rows = visible.visits(act).filter(local_date=day, state__in=ON_SHEET, technicians__user=user)
    return _stops(act, rows)


def stop(act: Act, visit_uid: UUID) -> Stop | None:
    """One visible visit as the sheet shows it, whoever goes there and in whatever state. Five queries."""
    return next(iter(_stops(act, visible.visits(act).filter(uid=visit_uid))), None)


def _stops(act: Act, rows: QuerySet[Visit]) -> tuple[Stop, ...]:
    rows = (
        rows.select_related("property")
        .annotate(last_closeout=Subquery(_last_closeout()))
        .prefetch_related(
            Prefetch("property__hazards", Hazard.objects.filter(gone_at=None).order_by("id"), to_attr="present"),
            Prefetch("tasks", VisitTask.objects.select_related("component").order_by("id")),
            Prefetch("technicians", VisitTechnician.objects.select_related("user").order_by("-lead", "id")),
        )
    )
    visits = sorted(rows, key=driving_order)
    keys = {visit.last_closeout for visit in visits if visit.last_closeout}
    last = Closeout.objects.select_related("technician").in_bulk(keys)
    may_know_codes = act.is_office or act.role == "crew"
    return tuple(
        _stop(visit, number, last.get(visit.last_closeout), may_know_codes)
        for number, visit in enumerate(visits, start=1)
    )


def driving_order(visit: Visit) -> tuple[bool, int, time, int]:
    """Placed visits by place, then the rest by time and age."""
    return (visit.place_in_day == 0, visit.place_in_day, visit.local_start or time(23, 59), visit.pk)


def _last_closeout() -> Any:
    """Key of the newest closeout at the same property, of another visit."""
    return (
        Closeout.objects.filter(visit__property=OuterRef("property"))
        .exclude(visit=OuterRef("pk"))
        .order_by(Coalesce("left_at", "applied_at").desc(), "-id")
        .values("pk")[:1]
    )


def _stop(visit: Visit, number: int, last: Closeout | None, may_know_codes: bool) -> Stop:
    prop: Property = visit.property
    tasks = tuple(_task_line(task) for task in visit.tasks.all())
    return Stop(
        visit_uid=visit.uid,
        number=number,
        state=visit.state,
        local_date=visit.local_date or date.min,
        local_start=visit.local_start,
        span_minutes=visit.span_minutes,
        minutes=visit.minutes,
        cover=visit.cover,
        hazards=tuple(
            HazardLine(h.uid, h.kind, h.get_kind_display(), h.note, h.x_ft, h.y_ft, h.depth_in)
            for h in getattr(prop, "present", ())
        ),
        property_uid=prop.uid,
        address=prop.address,
        city=prop.city,
        lat=prop.lat,
        lon=prop.lon,
        access_note=prop.access_note,
        gate_code=prop.gate_code if may_know_codes else "",
        corner=prop.corner,
        people=tuple(place.user.display_name for place in visit.technicians.all()),
        tasks=tasks,
        last_visit=_last_visit(last),
        bring=what_to_bring((t.task, f"{t.kind_words} {t.tag}".strip()) for t in tasks),
        note=visit.note,
        customer_note=visit.customer_note,
    )


def _task_line(row: VisitTask) -> TaskLine:
    part = row.component
    return TaskLine(
        uid=row.uid,
        task=row.task,
        words=row.words,
        component_uid=part.uid,
        tag=part.tag,
        kind=part.kind,
        kind_words=registry.get(part.kind).name,
        part_name=part.name,
        minutes=row.minutes,
        latest_on=row.latest_on,
        outcome=row.outcome,
    )


def _last_visit(closeout: Closeout | None) -> LastVisit | None:
    if closeout is None:
        return None
    lines = tuple(closeout.summary.get("lines", ()))
    return LastVisit(closeout.left_at, closeout.technician.display_name, lines, closeout.note)
