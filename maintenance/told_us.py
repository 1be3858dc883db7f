"""What a homeowner writes to us: a call for the office to make, once however often the button is pressed."""

from uuid import UUID

from django.db import transaction

from core import normalise
from core.act import Act
from core.history import record_change
from core.problem import BadInput, FieldProblem, NotAllowed
from jobs.models import Property
from jobs.read import visible
from maintenance.models import CallToMake, Visit

CHARACTERS = 400


def tell_us(*, act: Act, property: Property, note: str, uid: UUID, visit: Visit | None = None) -> CallToMake:
    """Keep a homeowner's words as a call for the office; `uid` is made by the page. Raises NotAllowed, BadInput."""
    if act.role != "homeowner" or not visible.properties(act).filter(pk=property.pk).exists():
        raise NotAllowed("Only someone at this property may write about it here.")
    words = normalise.line(note, limit=CHARACTERS)
    if not words or len(note) > CHARACTERS:
        message = f"The text has {len(note)} characters: give 1 to {CHARACTERS}."
        raise BadInput(message, fields=(FieldProblem("note", message, len(note)),))
    with transaction.atomic():
        call, new = CallToMake.objects.get_or_create(
            key=f"told_us:{uid}",
            defaults={
                "property": property,
                "customer_id": act.customer_id,
                "visit": visit if visit is not None and visit.property_id == property.pk else None,
                "reason": CallToMake.Reason.TOLD_US,
                "note": words,
                "since": act.at,
            },
        )
        if new:
            record_change(act=act, noun="property", uid=property.uid, action="told_us", property_uid=property.uid)
    return call
