"""Lets a technician see a property, and ends that. Visits, the office and declared storms each have their own row."""

from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from core.act import Act
from core.history import record_change
from jobs import field_checks as checks
from jobs.models import PropertyAccess

REASON = {"reason": checks.one_of(PropertyAccess.Reason.values), "until": checks.instant}


def grant(*, act: Act, property_id: int, user_id: int, reason: str, until: datetime | None = None) -> PropertyAccess:
    """Let a user see a property for a reason, open-ended or `until` an instant. Granting again never shortens it."""
    checks.cleaned("grant", REASON, {"reason": reason, "until": until})
    key = {"property_id": property_id, "user_id": user_id, "reason": reason}
    with transaction.atomic():
        try:
            with transaction.atomic():
                made = PropertyAccess.objects.create(**key, since=act.at, until=until)
        except IntegrityError:
            return _prolonged(act, PropertyAccess.objects.select_for_update().get(**key), until)
        _record(act, made, "grant")
    return made


def _prolonged(act: Act, access: PropertyAccess, until: datetime | None) -> PropertyAccess:
    if access.until is None or (until is not None and access.until >= until):
        return access
    access.until = until
    access.save(update_fields=["until"])
    _record(act, access, "grant")
    return access


def withdraw(*, act: Act, property_id: int, user_id: int, reason: str) -> None:
    """End a grant now; other reasons to see the property stand. Doing it twice changes nothing."""
    with transaction.atomic():
        key = {"property_id": property_id, "user_id": user_id, "reason": reason}
        for access in PropertyAccess.objects.select_for_update().filter(**key):
            if access.until is None or access.until > act.at:
                access.until = act.at
                access.save(update_fields=["until"])
                _record(act, access, "withdraw")


def _record(act: Act, access: PropertyAccess, action: str) -> None:
    uid: UUID = access.user.uid
    record_change(
        act=act,
        noun="access",
        uid=uid,
        action=action,
        after={"reason": access.reason, "until": access.until.isoformat() if access.until else None},
        property_uid=access.property.uid,
    )
