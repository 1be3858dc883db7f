"""What one person may see. Office and server: everything; crew: by PropertyAccess; a homeowner: by a role in force.

Every list and every look-up by id starts from one of these; what is hidden is not found.
"""

from datetime import date
from zoneinfo import ZoneInfo

from django.db.models import DateTimeField, Exists, F, OuterRef, Q, QuerySet
from django.db.models.functions import TruncDate

from core import clock, company
from core.act import Act
from jobs.models import (
    Area,
    Component,
    Connection,
    Customer,
    DrainageArea,
    Hazard,
    Job,
    Photo,
    Property,
    PropertyAccess,
    PropertyRole,
    System,
)


def today(act: Act) -> date:
    """The company's calendar day of the act."""
    return clock.local_date(act.at, company.at(act.at).zone)


def in_force(day: date, *, prefix: str = "") -> Q:
    """Roles that hold on `day`: begun, and `until_date` (the first day without it) not reached."""
    begun = Q(**{f"{prefix}from_date__lte": day})
    return begun & (Q(**{f"{prefix}until_date": None}) | Q(**{f"{prefix}until_date__gt": day}))


def _own_roles(act: Act, day: date) -> QuerySet[PropertyRole]:
    return PropertyRole.objects.filter(in_force(day), Q(customer_id=act.customer_id))


def _where_access(act: Act, property_field: str) -> Exists:
    """Rows whose property this technician may see."""
    grants = PropertyAccess.objects.filter(Q(user_id=act.user_id), property=OuterRef(property_field))
    return Exists(grants.filter(Q(until=None) | Q(until__gt=act.at)))


def _in_own_role(act: Act, rows: QuerySet, property_field: str, since: str) -> QuerySet:
    """Rows whose property this homeowner has now; `since` names a time or day that must lie within their own years."""
    zone = company.at(act.at).zone
    roles = _own_roles(act, clock.local_date(act.at, zone)).filter(property=OuterRef(property_field))
    if not since:
        return rows.filter(Exists(roles))
    if isinstance(rows.model._meta.get_field(since), DateTimeField):
        rows = rows.alias(own_day=TruncDate(since, tzinfo=ZoneInfo(zone)))
    else:
        rows = rows.alias(own_day=F(since))
    return rows.filter(Exists(roles.filter(from_date__lte=OuterRef("own_day"))))


def limited(act: Act, rows: QuerySet, property_field: str = "property", *, since: str = "") -> QuerySet:
    """`rows` as far as this person may see the property they belong to.

    `property_field` is the path to the property's key; `since` names the time or day of rows that are personal to the
    people of that time (visits, messages, photos, reports): a homeowner sees them from the beginning of their role on.
    """
    if act.is_office:
        return rows
    if act.role == "crew" and act.user_id is not None:
        return rows.filter(_where_access(act, property_field))
    if act.role == "homeowner" and act.customer_id is not None:
        return _in_own_role(act, rows, property_field, since)
    return rows.none()


def properties(act: Act) -> QuerySet[Property]:
    """Properties this person may see."""
    return limited(act, Property.objects.all(), "pk")


def systems(act: Act) -> QuerySet[System]:
    """Systems at visible properties."""
    return limited(act, System.objects.all())


def components(act: Act) -> QuerySet[Component]:
    """Components at visible properties, retired ones among them."""
    return limited(act, Component.objects.all())


def connections(act: Act) -> QuerySet[Connection]:
    """Connections at visible properties."""
    return limited(act, Connection.objects.all())


def drainage_areas(act: Act) -> QuerySet[DrainageArea]:
    """Drainage areas at visible properties."""
    return limited(act, DrainageArea.objects.all())


def hazards(act: Act) -> QuerySet[Hazard]:
    """Hazards at visible properties, those gone among them."""
    return limited(act, Hazard.objects.all())


def jobs(act: Act) -> QuerySet[Job]:
    """Jobs at visible properties; a homeowner sees those of their own time."""
    return limited(act, Job.objects.all(), since="created_at")


def photos(act: Act) -> QuerySet[Photo]:
    """Photos at visible properties; a homeowner sees those of their own time. Unmatched ones only the office."""
    return limited(act, Photo.objects.all(), since="taken_at")


def areas(act: Act) -> QuerySet[Area]:
    """Areas: of the company's people alone."""
    company_people = act.is_office or (act.role == "crew" and act.user_id is not None)
    return Area.objects.all() if company_people else Area.objects.none()


def roles(act: Act) -> QuerySet[PropertyRole]:
    """Roles: the crew sees those in force at properties it may see; a homeowner only their own."""
    if act.role == "homeowner" and act.customer_id is not None:
        return _own_roles(act, today(act))
    rows = limited(act, PropertyRole.objects.all())
    return rows if act.is_office else rows.filter(in_force(today(act)))


def customers(act: Act) -> QuerySet[Customer]:
    """Customers: the crew sees who has a role in force at a property it may see; a homeowner only themselves."""
    if act.is_office:
        return Customer.objects.all()
    if act.role == "homeowner" and act.customer_id is not None:
        return Customer.objects.filter(pk=act.customer_id)
    return Customer.objects.filter(Exists(roles(act).filter(customer=OuterRef("pk"))))
