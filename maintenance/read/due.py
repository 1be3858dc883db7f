"""What is due: stored windows for lists, pages and the API, filtered and paged in the database."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from django.db.models import BooleanField, Exists, ExpressionWrapper, F, OuterRef, Q, QuerySet

from core import clock, company
from core.act import Act
from jobs.models import Property
from jobs.read import visible
from maintenance.models import DueWindow, VisitTask
from maintenance.read.stale import rules_stamp, stale

OPEN_STATES: Final = ("proposed", "offered", "agreed", "begun")
MOST_WEEKS: Final = 104


@dataclass(frozen=True, slots=True)
class DueFilter:
    """What to show. `weeks`: best day within so many weeks from today, overdue ones always with them (None: all).

    `technician_id`: windows that stand in an open visit of this technician. `who`: crew or owner; empty is both.
    `planned`: True only what stands in an open visit, False only what does not.
    """

    weeks: int | None = 8
    kind: str = ""
    task: str = ""
    who: str = ""
    technician_id: int | None = None
    area_id: int | None = None
    property_id: int | None = None
    planned: bool | None = None
    overdue: bool = False


def today_of(act: Act) -> date:
    """The company's calendar day at the act's instant."""
    return clock.local_date(act.at, company.at(act.at).zone)


def due(act: Act, wanted: DueFilter | None = None) -> QuerySet[DueWindow]:
    """Windows this person may see, the earliest best day first; slice it to page it.

    Each row comes with component, property, area and forecast, and is annotated `planned` (it stands in an open visit)
    and `stale` (being recomputed), so a page of any length costs the same queries.
    """
    wanted = wanted or DueFilter()
    today = today_of(act)
    in_visit = VisitTask.objects.filter(
        component=OuterRef("component"), task=OuterRef("task"), visit__state__in=OPEN_STATES
    )
    rows = (
        DueWindow.objects.filter(property__in=visible.properties(act), property__closed_at=None)
        .filter(_wanted(wanted, today))
        .annotate(planned=Exists(in_visit), stale=_stale(today))
    )
    if wanted.technician_id is not None:
        rows = rows.filter(Exists(in_visit.filter(visit__technicians__user=wanted.technician_id)))
    if wanted.planned is not None:
        rows = rows.filter(planned=wanted.planned)
    return rows.select_related(
        "component__system", "component__part_of", "component__sits_in", "property__area", "property__forecast"
    ).order_by("best_on", "latest_on", "id")


def _wanted(wanted: DueFilter, today: date) -> Q:
    given = Q()
    if wanted.weeks is not None:
        given &= Q(best_on__lte=today + timedelta(weeks=min(max(wanted.weeks, 0), MOST_WEEKS)))
    if wanted.overdue:
        given &= Q(latest_on__lt=today)
    for name, value in (("component__kind", wanted.kind), ("task", wanted.task), ("who", wanted.who)):
        if value:
            given &= Q(**{name: value})
    if wanted.area_id is not None:
        given &= Q(property__area=wanted.area_id)
    if wanted.property_id is not None:
        given &= Q(property=wanted.property_id)
    return given


def _stale(today: date) -> ExpressionWrapper:
    fresh = Q(
        property__forecast__register_revision=F("property__revision"),
        property__forecast__rules_stamp=rules_stamp(),
        property__forecast__as_of__gte=today,
    )
    return ExpressionWrapper(~fresh | Q(property__forecast=None), output_field=BooleanField())


@dataclass(frozen=True, slots=True)
class Ages:
    """How old the windows on show are: how many properties are being recomputed, failed, or were never computed."""

    properties: int
    stale: int
    failed: int


def ages(act: Act) -> Ages:
    """Counts over the properties this person may see. Three queries besides the stamp's."""
    seen = Property.objects.filter(pk__in=visible.properties(act), closed_at=None)
    waiting = stale(today_of(act), rules_stamp()).filter(pk__in=seen)
    return Ages(seen.count(), waiting.count(), seen.exclude(forecast__failed="").exclude(forecast=None).count())
