"""What one person may see of visits and what came of them. Every list and look-up by id starts from one of these."""

from django.db.models import DateField, Exists, OuterRef, Q, QuerySet, Value
from django.db.models.functions import Coalesce

from core.act import Act
from jobs.models import PropertyRole
from jobs.read import visible
from maintenance.models import (
    CallToMake,
    Closeout,
    CloseoutFlag,
    CloseoutReceived,
    Reading,
    ServiceAgreement,
    TaskDone,
    Visit,
)


def visits(act: Act) -> QuerySet[Visit]:
    """Visits at visible properties. A homeowner sees those of the days of their own role, and none only proposed."""
    if act.role != "homeowner":
        return visible.limited(act, Visit.objects.all())
    today = visible.today(act)
    rows = Visit.objects.exclude(state=Visit.State.PROPOSED)
    rows = rows.alias(own_day=Coalesce("local_date", Value(today, output_field=DateField())))
    roles = PropertyRole.objects.filter(
        visible.in_force(today), property=OuterRef("property"), customer_id=act.customer_id or 0
    )
    # The role holds today; a day outside it belongs to whoever lived there then.
    in_time = Q(until_date=None) | Q(until_date__gt=OuterRef("own_day"))
    return rows.filter(Exists(roles.filter(in_time, from_date__lte=OuterRef("own_day"))))


def closeouts(act: Act) -> QuerySet[Closeout]:
    """Applied closeouts of visible visits. What waits or is not matched to an address is in none of them."""
    return Closeout.objects.filter(visit__in=visits(act))


def readings(act: Act) -> QuerySet[Reading]:
    """Readings of parts at visible properties: they belong to the engineering record, of whatever time."""
    return visible.limited(act, Reading.objects.all(), "component__property")


def tasks_done(act: Act) -> QuerySet[TaskDone]:
    """What was done to parts at visible properties, of whatever time."""
    return visible.limited(act, TaskDone.objects.all(), "component__property")


def agreements(act: Act) -> QuerySet[ServiceAgreement]:
    """The office: all. A homeowner: those in their own name. The crew: none, they hold prices."""
    if act.is_office:
        return ServiceAgreement.objects.all()
    if act.role != "homeowner" or act.customer_id is None:
        return ServiceAgreement.objects.none()
    return visible.limited(act, ServiceAgreement.objects.filter(customer_id=act.customer_id))


def calls_to_make(act: Act) -> QuerySet[CallToMake]:
    """Calls to make: the office's alone."""
    return CallToMake.objects.all() if act.is_office else CallToMake.objects.none()


def received(act: Act) -> QuerySet[CloseoutReceived]:
    """Closeouts as received: the office all, the crew what they sent themselves."""
    if act.is_office:
        return CloseoutReceived.objects.all()
    if act.role != "crew" or act.user_id is None:
        return CloseoutReceived.objects.none()
    return CloseoutReceived.objects.filter(sender_id=act.user_id)


def flags(act: Act) -> QuerySet[CloseoutFlag]:
    """Flags on closeouts: the office's alone."""
    return CloseoutFlag.objects.all() if act.is_office else CloseoutFlag.objects.none()
