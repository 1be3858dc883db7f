"""The week as a day book: days down, a column a technician, numbered lines in driving order, miles and hours summed."""

from dataclasses import dataclass
from datetime import date, time, timedelta
from uuid import UUID

from django.db.models import Prefetch

from core import company
from core.act import Act
from core.models import User
from maintenance.decide.miles import drive_miles
from maintenance.models import Visit, VisitTechnician
from maintenance.read import visible
from maintenance.read.route_sheet import driving_order

IN_BOOK = (Visit.State.AGREED, Visit.State.BEGUN, Visit.State.DONE)


@dataclass(frozen=True, slots=True)
class Line:
    """One visit in the book."""

    number: int
    visit_uid: UUID
    property_uid: UUID
    address: str
    state: str
    local_start: time | None
    span_minutes: int | None
    minutes: int
    cover: str
    tasks: int
    lead: bool


@dataclass(frozen=True, slots=True)
class TechnicianDay:
    """One technician's day. `miles` from the yard and back, None where a position is not known; minutes on site."""

    user_uid: UUID | None
    name: str
    lines: tuple[Line, ...]
    minutes: int
    miles: float | None


@dataclass(frozen=True, slots=True)
class BookDay:
    """One day: a column for each technician in the same order every day, then what nobody is on."""

    day: date
    technicians: tuple[TechnicianDay, ...]
    nobody: TechnicianDay


@dataclass(frozen=True, slots=True)
class Week:
    """Seven days from Monday, with what each technician and all together have."""

    start: date
    days: tuple[BookDay, ...]
    names: tuple[tuple[UUID, str], ...]
    minutes: int
    miles: float | None


def week(act: Act, start: date) -> Week:
    """The week that holds `start`, as far as the asking person may see it. Four queries and the settings."""
    monday = start - timedelta(days=start.weekday())
    rows = (
        visible.visits(act)
        .filter(local_date__gte=monday, local_date__lt=monday + timedelta(days=7), state__in=IN_BOOK)
        .select_related("property")
        .prefetch_related(
            "tasks",
            Prefetch("technicians", VisitTechnician.objects.select_related("user").order_by("-lead", "id")),
        )
    )
    visits = sorted(rows, key=driving_order)
    users = {place.user.pk: place.user for visit in visits for place in visit.technicians.all()}
    if act.is_office:
        for user in User.objects.filter(role=User.Role.CREW, is_active=True):
            users.setdefault(user.pk, user)
    columns = sorted(users.values(), key=lambda u: (u.display_name.casefold(), u.pk))
    yard = _yard(act)
    days = tuple(_day(monday + timedelta(days=n), visits, columns, yard) for n in range(7))
    drives = [column.miles for day in days for column in day.technicians]
    known = [miles for miles in drives if miles is not None]
    return Week(
        start=monday,
        days=days,
        names=tuple((user.uid, user.display_name) for user in columns),
        minutes=sum(column.minutes for day in days for column in day.technicians),
        miles=sum(known) if len(known) == len(drives) else None,
    )


def _yard(act: Act) -> tuple[float, float] | None:
    settings = company.at(act.at)
    if settings.yard_lat is None or settings.yard_lon is None:
        return None
    return settings.yard_lat, settings.yard_lon


def _day(day: date, visits: list[Visit], columns: list[User], yard: tuple[float, float] | None) -> BookDay:
    today = [visit for visit in visits if visit.local_date == day]
    filled = []
    for user in columns:
        own = [(v, place.lead) for v in today for place in v.technicians.all() if place.user_id == user.pk]
        filled.append(_column(user.uid, user.display_name, own, yard))
    alone = [(visit, False) for visit in today if not visit.technicians.all()]
    return BookDay(day, tuple(filled), _column(None, "", alone, None))


def _column(
    uid: UUID | None, name: str, visits: list[tuple[Visit, bool]], yard: tuple[float, float] | None
) -> TechnicianDay:
    lines = tuple(_line(number, visit, lead) for number, (visit, lead) in enumerate(visits, start=1))
    stops = [_position(visit) for visit, _ in visits]
    route = [yard, *stops, yard] if visits else []
    return TechnicianDay(uid, name, lines, sum(visit.minutes for visit, _ in visits), drive_miles(route))


def _position(visit: Visit) -> tuple[float, float] | None:
    lat, lon = visit.property.lat, visit.property.lon
    return None if lat is None or lon is None else (lat, lon)


def _line(number: int, visit: Visit, lead: bool) -> Line:
    return Line(
        number=number,
        visit_uid=visit.uid,
        property_uid=visit.property.uid,
        address=visit.property.address,
        state=visit.state,
        local_start=visit.local_start,
        span_minutes=visit.span_minutes,
        minutes=visit.minutes,
        cover=visit.cover,
        tasks=len(visit.tasks.all()),
        lead=lead,
    )
