"""Ticks the calls the office has made."""

from django.db import transaction

from core import normalise
from core.act import Act
from core.history import record_change
from core.problem import NotAllowed
from maintenance.models import CallToMake


def told(*, act: Act, call: CallToMake, note: str = "") -> CallToMake:
    """Say that this person was rung. Saying it twice changes nothing. Raises NotAllowed."""
    if not act.is_office:
        raise NotAllowed("Only the office ticks calls.")
    with transaction.atomic():
        if CallToMake.objects.filter(pk=call.pk, told_at=None).update(told_at=act.at, told_by=act.who[:60]):
            record_change(
                act=act,
                noun="call",
                uid=call.uid,
                action="told",
                after={"reason": call.reason},
                property_uid=call.property.uid,
                note=normalise.line(note, limit=300),
            )
    call.refresh_from_db()
    return call
