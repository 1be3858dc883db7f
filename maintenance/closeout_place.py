"""Where a closeout was and by whom: the visit locked, its technician, or the reason it waits for the office."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from django.db.models import Q

from core.act import Act
from core.models import User
from jobs import access
from jobs.models import Property, PropertyAccess
from maintenance.closeout_hold import Waits
from maintenance.decide.closeout_meaning import CloseoutBody
from maintenance.models import Closeout, CloseoutReceived, Visit
from maintenance.visit_people import technicians_of

State = CloseoutReceived.State


@dataclass(slots=True)
class Place:
    """The locked visit (None: one is to be made), its property, who did the work, and what is odd about that."""

    visit: Visit | None
    property: Property
    technician: User
    effective: bool
    nobody_assigned: bool


def locked(received_id: int, body: CloseoutBody) -> tuple[CloseoutReceived, Visit | None]:
    """The visit's row first, then the received row, both locked until the transaction ends."""
    visit = None
    if body.visit is not None:
        visit = Visit.objects.select_for_update().filter(uid=body.visit).first()
    return CloseoutReceived.objects.select_for_update().get(pk=received_id), visit


def find_place(received: CloseoutReceived, visit: Visit | None, body: CloseoutBody, *, accepted: bool) -> Place:
    """Where and who. Raises Waits: unknown visit or property, address not matched, sender not on the visit."""
    if visit is None and body.visit is not None:
        raise Waits("unknown", f"No visit {body.visit} is on record.", {"visit": str(body.visit)})
    property = visit.property if visit is not None else _property(received, body)
    if visit is not None and body.property not in (None, property.uid):
        raise Waits("unknown", "The visit named is not at the property named.", {"property": str(body.property)})
    technician = _technician(received, visit, body)
    if visit is None:
        _check_sight(received, property, technician, accepted)
        return Place(None, property, technician, effective=True, nobody_assigned=False)
    on_it = technicians_of(visit)
    if on_it and str(technician.uid) not in on_it and not accepted:
        sides = {"assigned": _names(on_it), "sender": technician.display_name}
        raise Waits("unassigned_sender", f"{technician.display_name} was not on this visit.", sides)
    first = Closeout.objects.filter(visit=visit, technician=technician, effective=True).first()
    if first is not None and not accepted:
        sides = {"first": str(first.uid), "second": str(received.uid)}
        raise Waits("second_closeout", f"{technician.display_name} has closed this visit already.", sides)
    return Place(visit, property, technician, effective=first is None, nobody_assigned=not on_it)


def unplanned_visit(act: Act, received: CloseoutReceived, place: Place, at: datetime) -> Visit:
    """A visit nobody planned, made from its closeout; its uid follows from the closeout's, so it is made once."""
    visit = Visit.objects.create(
        uid=uuid5(received.uid, "visit"),
        property=place.property,
        zone=place.property.zone,
        state=Visit.State.BEGUN,
        begun_at=at,
        created_at=act.at,
        changed_at=act.at.replace(microsecond=0),
    )
    visit.technicians.create(user=place.technician, lead=True)
    return visit


def grant_sight(act: Act, place: Place) -> None:
    """Who was there may see the property."""
    if place.technician.role == User.Role.CREW:
        access.grant(act=act, property_id=place.property.pk, user_id=place.technician.pk, reason="visit")


def _property(received: CloseoutReceived, body: CloseoutBody) -> Property:
    if received.property is not None:
        return received.property
    if body.property is None:
        address = body.address.strip()
        raise Waits("unmatched", f"Work at {address}: say which property that is.", {"address": address})
    found = Property.objects.filter(uid=body.property).first()
    if found is None:
        raise Waits("unknown", f"No property {body.property} is on record.", {"property": str(body.property)})
    return found


def _technician(received: CloseoutReceived, visit: Visit | None, body: CloseoutBody) -> User:
    """The sender; the office may enter a paper closeout for someone, by default for the visit's lead."""
    sender = received.sender
    if sender is None:
        raise Waits("unknown", "The sender's account is gone: say who did the work.")
    if sender.role != User.Role.OFFICE:
        if body.technician not in (None, sender.uid):
            raise Waits("unassigned_sender", "It was sent by one person in another's name.", _two(sender, body))
        return sender
    if body.technician is not None:
        named = User.objects.filter(uid=body.technician).first()
        if named is None:
            raise Waits("unknown", f"No technician {body.technician} is on record.", _two(sender, body))
        return named
    lead = visit.technicians.select_related("user").order_by("-lead", "id").first() if visit else None
    return lead.user if lead else sender


def _check_sight(received: CloseoutReceived, property: Property, technician: User, accepted: bool) -> None:
    """Without a visit, a crew member reports only on properties they may see, or that the office matched."""
    sender = received.sender
    if accepted or received.property_id is not None or sender is None or sender.role == User.Role.OFFICE:
        return
    at = received.received_at
    sees = PropertyAccess.objects.filter(Q(until=None) | Q(until__gt=at), property=property, user=technician)
    if not sees.exists():
        sides = {"property": str(property.uid), "sender": technician.display_name}
        raise Waits("not_theirs", f"{technician.display_name} may not see this property.", sides)


def _names(uids: list[str]) -> list[str]:
    users = User.objects.filter(uid__in=[UUID(uid) for uid in uids]).order_by("pk")
    return [user.display_name for user in users]


def _two(sender: User, body: CloseoutBody) -> dict[str, Any]:
    return {"sender": sender.display_name, "named": str(body.technician)}
