"""Messages as the office reads them: filtered and paged in the database, with who and where they were about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet

from core.act import Act
from core.models import Message
from jobs.models import Customer, Property
from maintenance.decide.occasions import OCCASIONS

WAITING = (Message.State.PENDING, Message.State.CLAIMED, Message.State.SENDING)
GROUPS: dict[str, tuple[str, ...]] = {
    "waiting": WAITING,
    "sent": (Message.State.SENT,),
    "failed": (Message.State.FAILED,),
    "unknown": (Message.State.UNKNOWN,),
    "skipped": (Message.State.SKIPPED,),
}


@dataclass(frozen=True, slots=True)
class MessageSeen:
    """One message with the person and property it is about; None where they are not there any more."""

    message: Message
    occasion: str
    customer: Customer | None
    property: Property | None


def messages(act: Act, *, group: str = "", kind: str = "", text: str = "") -> QuerySet[Message]:
    """The outbox, newest first: the office's alone. `text` is looked for in address and subject."""
    rows = Message.objects.all() if act.is_office else Message.objects.none()
    if group in GROUPS:
        rows = rows.filter(state__in=GROUPS[group])
    if kind:
        rows = rows.filter(kind=kind)
    if text:
        rows = rows.filter(Q(to_address__icontains=text) | Q(subject__icontains=text))
    return rows.defer("text", "html", "headers").order_by("-id")


def seen(rows: Sequence[Message]) -> list[MessageSeen]:
    """A page of messages with their people and properties. Two queries."""
    people = _by_uid(Customer.objects.filter(uid__in={row.holder_uid for row in rows if row.holder_uid}))
    places = _by_uid(Property.objects.filter(uid__in={row.property_uid for row in rows if row.property_uid}))
    return [
        MessageSeen(row, occasion_words(row.kind), people.get(row.holder_uid), places.get(row.property_uid))
        for row in rows
    ]


def occasion_words(kind: str) -> str:
    """'the day before the visit' for the kind of a message."""
    occasion = OCCASIONS.get(kind)
    return occasion.words if occasion else kind.replace("_", " ")


def _by_uid(rows: QuerySet[Any]) -> dict[UUID | None, Any]:
    return {row.uid: row for row in rows}
