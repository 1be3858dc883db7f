"""Who goes to a visit, and who may speak for it."""

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from core.act import Act
from core.history import record_change
from core.models import User
from core.problem import BadInput, Conflict, FieldProblem, NotAllowed
from jobs import access
from jobs.models import PropertyRole
from maintenance.decide import visit_moves
from maintenance.decide.visit_moves import WORDS
from maintenance.models import Closeout, OfferedDay, Visit, VisitTechnician
from maintenance.visit_change import Step, local_today, lock_visit, office_only, take_step

MOST_TECHNICIANS = 8


def assign(
    *, act: Act, visit: Visit, users: Sequence[User], place_in_day: int | None = None, revision: int | None = None
) -> Visit:
    """Say who goes, the lead first, and optionally the place in the day's driving order. They may see the property."""
    office_only(act, "say who goes")
    if visit.state in (Visit.State.DONE, Visit.State.CALLED_OFF):
        raise Conflict(f"This visit is {WORDS[visit.state]}: nobody is sent there.", code="move_not_allowed")
    fields = {} if place_in_day is None else {"place_in_day": place_in_day}
    if place_in_day is not None and not 0 <= place_in_day <= 99:
        message = f"place_in_day is {place_in_day}: give 0 to 99."
        raise BadInput(message, fields=(FieldProblem("place_in_day", message, place_in_day),))
    with transaction.atomic():
        row = lock_visit(visit.pk)
        set_technicians(act, row, users)
        step = Step("assign", row.state, fields=fields)
        return take_step(act=act, visit=visit, step=step, revision=revision)


def set_technicians(act: Act, visit: Visit, users: Sequence[User]) -> None:
    """Write who goes onto a locked visit, the lead first; grants them sight of the property. The caller bumps it."""
    if len({user.pk for user in users}) != len(users) or len(users) > MOST_TECHNICIANS:
        message = f"{len(users)} technicians given: name each once, {MOST_TECHNICIANS} at most."
        raise BadInput(message, fields=(FieldProblem("technicians", message, len(users)),))
    for user in users:
        if not user.is_active:
            message = f"{user.display_name} has left: send someone else."
            raise BadInput(message, fields=(FieldProblem("technicians", message, str(user.uid)),))
    before = technicians_of(visit)
    after = [str(user.uid) for user in users]
    if before == after:
        return
    VisitTechnician.objects.filter(visit=visit).delete()
    VisitTechnician.objects.bulk_create(
        VisitTechnician(visit=visit, user=user, lead=number == 0) for number, user in enumerate(users)
    )
    for user in users:
        access.grant(act=act, property_id=visit.property_id, user_id=user.pk, reason="visit")
    _end_sight(act, visit, set(before) - set(after))
    record_change(
        act=act,
        noun="visit",
        uid=visit.uid,
        action="assign",
        before={"technicians": before},
        after={"technicians": after},
        property_uid=visit.property.uid,
    )


def _end_sight(act: Act, visit: Visit, uids: set[str]) -> None:
    """Who is taken off before ever having been there no longer sees the property."""
    for user in User.objects.filter(uid__in=uids).order_by("pk"):
        goes = VisitTechnician.objects.filter(user=user, visit__property_id=visit.property_id).exists()
        was = Closeout.objects.filter(technician=user, visit__property_id=visit.property_id).exists()
        if not goes and not was:
            access.withdraw(act=act, property_id=visit.property_id, user_id=user.pk, reason="visit")


def technicians_of(visit: Visit) -> list[str]:
    """Uids of those who go, the lead first."""
    rows: list[UUID] = list(visit.technicians.order_by("-lead", "id").values_list("user__uid", flat=True))
    return [str(uid) for uid in rows]


def check_crew_may(act: Act, visit: Visit) -> None:
    """Raise NotAllowed unless the office acts, or a technician who is on this visit."""
    if act.is_office:
        return
    if act.role != "crew" or not visit.technicians.filter(user_id=act.user_id or 0).exists():
        raise NotAllowed("Only those on this visit, or the office, may do this.")


def check_homeowner_may(act: Act, visit: Visit, local_date: date | None) -> None:
    """Raise NotAllowed unless the office acts, or a customer there who agrees to days, choosing an offered one."""
    if act.is_office:
        return
    today = local_today(act, visit.property.zone)
    allowed = act.role == "homeowner" and (
        PropertyRole.objects.filter(
            property_id=visit.property_id, customer_id=act.customer_id or 0, agrees_days=True, from_date__lte=today
        )
        .filter(Q(until_date=None) | Q(until_date__gt=today))
        .exists()
    )
    if not allowed:
        raise NotAllowed("Only the office, or someone at this property who agrees to days, may do this.")
    if local_date is None:
        return
    if visit.state != Visit.State.OFFERED:
        raise Conflict(visit_moves.refusal(visit.state, "agreed"), code="move_not_allowed")
    offered = list(OfferedDay.objects.filter(visit=visit).values_list("local_date", flat=True))
    if local_date not in offered:
        days = ", ".join(map(str, offered))
        message = f"{local_date} was not offered: choose one of {days}, or ask for another day."
        raise BadInput(message, fields=(FieldProblem("local_date", message, str(local_date)),))
