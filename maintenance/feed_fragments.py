"""Keeps the event octets of visits: made once a revision, and again when what else they say has changed."""

import re
from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any

import tzdata
from django.conf import settings
from django.db import transaction
from django.db.models import F, FilteredRelation, Max, Prefetch, Q, QuerySet

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
    """The octets of many visits, the zones they name, and the newest LAST-MODIFIED among them (None: no visit)."""

    fragments: list[Fragment]
    zones: frozenset[str]
    changed_at: datetime | None


def fragments_of(*, act: Act, visits: QuerySet[Any], audience: Audience) -> Kept:
    """The octets of these visits (annotated `shown_on`, the local day), made where they are missing or outdated.

    Two queries when all are kept, one more where some are called off; else eight more, however many there are.
    """
    rows = _with_kept(visits, audience)
    found = list(rows.values_list(*_COLUMNS))
    others = _other_than_register()
    outdated = [row[0] for row in found if row[4] != row[2] or row[5] != f"{row[3]}{others}"]
    if outdated:
        with transaction.atomic():
            _make(act, outdated, audience)
        found = list(rows.values_list(*_COLUMNS))
    newest = rows.aggregate(newest=Max("kept__changed_at"))["newest"]
    return Kept(_shown(found), frozenset(row[6] for row in found), newest)


# Times cost more to read than all the rest: they are asked for where they are needed alone.
_COLUMNS = ("pk", "shown_on", "revision", "register", "made_revision", "made_stamp", "zone", "body")


def _with_kept(visits: QuerySet[Any], audience: Audience) -> QuerySet[Any]:
    kept = FilteredRelation("fragments", condition=Q(fragments__audience=audience.key))
    return visits.annotate(
        kept=kept,
        body=F("kept__body"),
        made_revision=F("kept__revision"),
        made_stamp=F("kept__stamp"),
        register=F("property__revision"),
    ).order_by()


def stamp(register_revision: int) -> str:
    """What octets depend on besides the visit: the register there, the zone rules, our address and wording."""
    return f"{register_revision}{_other_than_register()}"


def _other_than_register() -> str:
    address = sha256(settings.PUBLIC_URL.encode()).hexdigest()[:8]
    return f".{tzdata.IANA_VERSION}.{FORMAT}.{WORDING}.{address}"


def _shown(found: list[Any]) -> list[Fragment]:
    """The octets in an order of their own, by key; a visit that went away while they were read is left out."""
    bodies = [(row[0], row[1], bytes(row[7])) for row in found if row[7] is not None]
    off = [pk for pk, _, body in bodies if _OFF in body]
    called_off = dict(Visit.objects.filter(pk__in=off).values_list("pk", "changed_at")) if off else {}
    return [
        Fragment(shown_on, f"{pk:012d}", body, called_off[pk].date() if pk in called_off else None)
        for pk, shown_on, body in bodies
    ]


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
