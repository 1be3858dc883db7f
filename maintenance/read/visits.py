"""Lists of visits, calls to make and closeouts that wait: filtered in the database, a constant number of queries."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from core.act import Act
from jobs.read.visible import today as company_today
from maintenance.models import CallToMake, CloseoutFlag, CloseoutReceived, Visit, VisitTask, VisitTechnician
from maintenance.read import visible


@dataclass(frozen=True, slots=True)
class VisitFilter:
    """What to show; empty shows all. Days are local dates, both ends counted."""

    states: tuple[str, ...] = ()
    from_date: date | None = None
    until_date: date | None = None
    technician_id: int | None = None
    area_id: int | None = None
    property_id: int | None = None


def visit_list(act: Act, wanted: VisitFilter | None = None) -> QuerySet[Visit]:
    """Visits this person may see, dated ones first by day, then the best day; slice it to page it.

    Each comes with property, area, agreement, tasks with components, people and offered days: four queries in all.
    """
    wanted = wanted or VisitFilter()
    rows = visible.visits(act).filter(_wanted(wanted))
    if wanted.technician_id is not None:
        rows = rows.filter(Exists(VisitTechnician.objects.filter(visit=OuterRef("pk"), user_id=wanted.technician_id)))
    return (
        rows.select_related("property__area", "agreement")
        .prefetch_related(
            Prefetch("tasks", VisitTask.objects.select_related("component").order_by("id")),
            Prefetch("technicians", VisitTechnician.objects.select_related("user").order_by("-lead", "id")),
            "offered_days",
        )
        .order_by("local_date", "place_in_day", "best_on", "id")
    )


def past_without_closeout(act: Act) -> QuerySet[Visit]:
    """Agreed or begun visits whose day is past: the office asks what became of them."""
    today = company_today(act)
    wanted = VisitFilter(states=(Visit.State.AGREED, Visit.State.BEGUN))
    return visit_list(act, wanted).filter(local_date__lt=today)


def open_calls(act: Act) -> QuerySet[CallToMake]:
    """Calls nobody has made yet, oldest first, with property, customer and visit."""
    rows = visible.calls_to_make(act).filter(told_at=None)
    return rows.select_related("property", "customer", "visit").order_by("since", "id")


def open_flags(act: Act) -> QuerySet[CloseoutFlag]:
    """Flags nobody has cleared, oldest first, with the closeout, its sender, visit and property."""
    rows = visible.flags(act).filter(cleared_at=None)
    return rows.select_related(
        "received__sender", "received__visit__property", "received__property", "received__applied"
    ).order_by("raised_at", "id")


def waiting_closeouts(act: Act) -> QuerySet[CloseoutReceived]:
    """Closeouts that are not applied: they need the office, or their address is not matched."""
    states = (CloseoutReceived.State.NEEDS_OFFICE, CloseoutReceived.State.UNMATCHED, CloseoutReceived.State.RECEIVED)
    rows = visible.received(act).filter(state__in=states)
    return rows.select_related("sender", "visit", "property").prefetch_related("flags").order_by("id")


def _wanted(wanted: VisitFilter) -> Q:
    chosen = Q()
    if wanted.states:
        chosen &= Q(state__in=wanted.states)
    if wanted.from_date is not None:
        chosen &= Q(local_date__gte=wanted.from_date)
    if wanted.until_date is not None:
        chosen &= Q(local_date__lte=wanted.until_date)
    if wanted.area_id is not None:
        chosen &= Q(property__area_id=wanted.area_id)
    if wanted.property_id is not None:
        chosen &= Q(property_id=wanted.property_id)
    return chosen
