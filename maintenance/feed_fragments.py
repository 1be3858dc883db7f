"""Keeps the event octets of visits: made once a revision, and again when what else they say has changed."""

import re
from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, date, datetime
from hashlib import sha256
from typing import Any

import tzdata
from django.conf import settings
from django.db import transaction
from django.db.models import F, FilteredRelation, Prefetch, Q, QuerySet

from core.act import Act
from jobs.models import Hazard, PropertyRole
from maintenance.calendar.event import FORMAT, event_bytes, next_last_modified
from maintenance.calendar.frame import Fragment
from maintenance.feed_events import Audience, visit_event
from maintenance.models import EventFragment, Visit, VisitTask, VisitTechnician

WORDING = 1  # raise it when what feed_events says of an unchanged visit changes
_OFF = b"\r\nSTATUS:CANCELLED\r\n"
_TIMES = re.compile(rb"^(?:DTSTAMP|LAST-MODIFIED):[^\r]*\r\n", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Kept:
    """A visit's octets with what decides whether and where they are shown."""

    fragment: Fragment
    zone: str
    changed_at: datetime


def fragments_of(*, act: Act, visits: QuerySet[Any], audience: Audience) -> list[Kept]:
    """The octets of these visits (annotated `shown_on`, the local day), made where they are missing or outdated.

    One query when all are kept; else eight more, however many there are.
    """
    found = _read(visits, audience)
    outdated = [row["pk"] for row in found if not _is_fresh(row)]
    if outdated:
        with transaction.atomic():
            _make(act, outdated, audience)
        found = _read(visits, audience)
    return [_kept(row) for row in found if row["body"] is not None]


def _read(visits: QuerySet[Any], audience: Audience) -> list[Any]:
    kept = FilteredRelation("fragments", condition=Q(fragments__audience=audience.key))
    rows = visits.annotate(
        kept=kept,
        body=F("kept__body"),
        made_revision=F("kept__revision"),
        made_stamp=F("kept__stamp"),
        made_at=F("kept__changed_at"),
        register=F("property__revision"),
    )
    return list(
        rows.values(
            "pk",
            "uid",
            "revision",
            "zone",
            "shown_on",
            "changed_at",
            "register",
            "body",
            "made_revision",
            "made_stamp",
            "made_at",
        )
    )


def stamp(register_revision: int) -> str:
    """What octets depend on besides the visit: the register there, the zone rules, our address and wording."""
    address = sha256(settings.PUBLIC_URL.encode()).hexdigest()[:8]
    return f"{register_revision}.{tzdata.IANA_VERSION}.{FORMAT}.{WORDING}.{address}"


def _is_fresh(row: dict) -> bool:
    return row["made_revision"] == row["revision"] and row["made_stamp"] == stamp(row["register"])


def _kept(row: dict) -> Kept:
    body = bytes(row["body"])
    called_off_on: date | None = None
    if _OFF in body:
        called_off_on = row["changed_at"].date()
    return Kept(Fragment(row["shown_on"], str(row["uid"]), body, called_off_on), row["zone"], row["made_at"])


def _make(act: Act, visit_ids: Collection[int], audience: Audience) -> None:
    """Write the octets of these visits. LAST-MODIFIED grows where they say something else than before."""
    rows = EventFragment.objects.select_for_update().filter(visit_id__in=visit_ids, audience=audience.key)
    before = {row.visit_id: row for row in rows}
    made = [_fragment(visit, audience, before.get(visit.pk), act.at) for visit in _whole(visit_ids)]
    EventFragment.objects.bulk_create(
        made,
        batch_size=500,
        update_conflicts=True,
        unique_fields=["visit", "audience"],
        update_fields=["revision", "stamp", "changed_at", "body"],
    )


def _whole(visit_ids: Collection[int]) -> QuerySet[Visit]:
    return (
        Visit.objects.filter(pk__in=visit_ids)
        .select_related("property")
        .prefetch_related(
            Prefetch("property__hazards", Hazard.objects.filter(gone_at=None).order_by("id"), to_attr="present"),
            Prefetch("property__roles", PropertyRole.objects.select_related("customer")),
            Prefetch("tasks", VisitTask.objects.select_related("component").order_by("id")),
            Prefetch("technicians", VisitTechnician.objects.select_related("user").order_by("-lead", "id")),
            "offered_days",
        )
    )


def _fragment(visit: Visit, audience: Audience, before: EventFragment | None, at: datetime) -> EventFragment:
    changed_at = visit.changed_at.astimezone(UTC).replace(microsecond=0)
    body = _octets(visit, audience, changed_at)
    if before is not None and before.changed_at is not None:
        old = bytes(before.body)
        if _TIMES.sub(b"", old) == _TIMES.sub(b"", body):
            changed_at, body = before.changed_at, old
        else:
            # What a reader saw before must lie behind, also where the register changed and not the visit.
            register_only = before.revision == visit.revision or changed_at <= before.changed_at
            changed_at = next_last_modified(before.changed_at, at if register_only else changed_at)
            body = _octets(visit, audience, changed_at)
    return EventFragment(
        visit=visit,
        audience=audience.key,
        revision=visit.revision,
        stamp=stamp(visit.property.revision),
        changed_at=changed_at,
        body=body,
    )


def _octets(visit: Visit, audience: Audience, changed_at: datetime) -> bytes:
    secrets = [visit.property.gate_code, *(role.customer.phone for role in visit.property.roles.all())]
    return event_bytes(visit_event(visit, audience, changed_at), [text for text in secrets if text])
