"""How far a refresh of the whole register is, and those before it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from core.act import Act
from maintenance.models import RefreshPiece, RefreshRun


def runs(act: Act) -> QuerySet[RefreshRun]:
    """Newest first, with the properties gone through and computed and the pieces that failed: the office's alone.

    One query, however many pieces they have.
    """
    if not act.is_office:
        return RefreshRun.objects.none()
    done = Q(pieces__done_at__isnull=False)
    return RefreshRun.objects.annotate(
        gone_through=Coalesce(Sum("pieces__properties", filter=done), 0),
        computed=Coalesce(Sum("pieces__computed", filter=done), 0),
        failed_pieces=Count("pieces", filter=done & ~Q(pieces__failed="")),
        left=Count("pieces", filter=Q(pieces__done_at=None)),
        in_hand=Count("pieces", filter=Q(pieces__done_at=None, pieces__lease_until__gt=act.at)),
    ).order_by("-id")


@dataclass(frozen=True, slots=True)
class Failed:
    """A piece given up after three tries: its properties keep their old windows until the sweep comes to them."""

    first_id: int
    last_id: int
    properties: int
    why: str


def failed(run: RefreshRun) -> list[Failed]:
    """At most fifty of a run's failed pieces. One query."""
    rows = RefreshPiece.objects.filter(run=run).exclude(failed="").order_by("number")[:50]
    return [Failed(row.first_id, row.last_id, row.properties, row.failed) for row in rows]


def took(run: RefreshRun, now: datetime) -> timedelta:
    """How long it has been open."""
    return max((run.finished_at or now) - run.started_at, timedelta())
