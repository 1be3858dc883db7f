"""Offers nobody answered, and wishes for another day: both become calls to make."""

from datetime import timedelta

from django.db import transaction
from django.db.models import F, Q

from core import clock, normalise
from core.act import Act
from core.history import record_change
from core.problem import BadInput, Conflict, FieldProblem
from jobs.models import Customer, PropertyRole
from maintenance.decide.visit_moves import WORDS
from maintenance.models import CallToMake, Visit
from maintenance.visit_people import check_homeowner_may

BATCH = 500


def unanswered(*, act: Act) -> int:
    """Make one call of each offer left unanswered for the company's days, counted from the offer. Returns new calls.

    Repeatable: an offer becomes one call however often this runs; a later offer of the same visit may become another.
    """
    told = Q(calls_to_make__reason=CallToMake.Reason.NO_ANSWER, calls_to_make__since__gt=F("offered_at"))
    already = Visit.objects.filter(told, state=Visit.State.OFFERED).values("pk")
    offers = (
        Visit.objects.filter(
            state=Visit.State.OFFERED,
            offered_at__isnull=False,
            answer_by__lte=act.at.date() + timedelta(days=1),
        )
        .exclude(pk__in=already)
        .select_related("property")
        .order_by("answer_by", "id")[:BATCH]
    )
    return sum(_make_call(act, visit) for visit in offers if _ran_out(act, visit))


def answered(act: Act, visit: Visit) -> int:
    """Tick the calls an answer has made needless. Returns how many."""
    return CallToMake.objects.filter(
        visit=visit,
        reason__in=(CallToMake.Reason.NO_ANSWER, CallToMake.Reason.ANOTHER_DAY),
        told_at=None,
    ).update(told_at=act.at, told_by=act.who)


def ask_another_day(*, act: Act, visit: Visit, note: str = "") -> CallToMake:
    """The homeowner wants another day than those offered or agreed: the office rings. Once per state of the visit."""
    check_homeowner_may(act, visit, None)
    if visit.state not in (Visit.State.OFFERED, Visit.State.AGREED):
        raise Conflict(f"This visit is {WORDS[visit.state]}: another day cannot be asked for.", code="move_not_allowed")
    text = normalise.line(note, limit=400)
    if len(note) > 400:
        message = f"The note has {len(note)} characters: give 400 at most."
        raise BadInput(message, fields=(FieldProblem("note", message, len(note)),))
    with transaction.atomic():
        call, created = CallToMake.objects.get_or_create(
            key=f"another_day:{visit.uid}:{visit.sequence}",
            defaults={
                "property_id": visit.property_id,
                "customer": Customer.objects.filter(pk=act.customer_id or 0).first(),
                "visit": visit,
                "reason": CallToMake.Reason.ANOTHER_DAY,
                "note": text,
                "since": act.at,
            },
        )
        if created:
            record_change(
                act=act,
                noun="visit",
                uid=visit.uid,
                action="another_day",
                after={"note": text},
                property_uid=visit.property.uid,
            )
    return call


def _ran_out(act: Act, visit: Visit) -> bool:
    if visit.offered_at is None or visit.answer_by is None:
        return False
    days = visit.answer_by - clock.local_date(visit.offered_at, visit.property.zone)
    return act.at >= visit.offered_at + days


def _make_call(act: Act, visit: Visit) -> bool:
    today = clock.local_date(act.at, visit.property.zone)
    role = (
        PropertyRole.objects.filter(property_id=visit.property_id, agrees_days=True, from_date__lte=today)
        .filter(Q(until_date=None) | Q(until_date__gt=today))
        .order_by("id")
        .first()
    )
    with transaction.atomic():
        _, created = CallToMake.objects.get_or_create(
            key=f"no_answer:{visit.uid}:{visit.sequence}",
            defaults={
                "property_id": visit.property_id,
                "customer_id": role.customer_id if role else None,
                "visit": visit,
                "reason": CallToMake.Reason.NO_ANSWER,
                "note": f"Offered, to be answered by {visit.answer_by}.",
                "since": act.at,
            },
        )
    return created
