"""Signs of life: each long-running part writes a heartbeat; the office page reads them."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction

from core.models import Heartbeat, Message

EXPECTED = {
    "worker": ("Worker", timedelta(minutes=2)),
    "scheduler": ("Scheduler", timedelta(minutes=2)),
    "outbox": ("Mail", timedelta(minutes=5)),
    "scan": ("Reminders", timedelta(minutes=5)),
    "refresh": ("Due windows", timedelta(minutes=5)),
}


@dataclass(frozen=True, slots=True)
class Sign:
    """One part: when it last showed life, and whether that is recent enough."""

    name: str
    words: str
    at: datetime | None
    alive: bool


@dataclass(frozen=True, slots=True)
class Report:
    """The whole: each part, and what waits or went wrong in the outbox."""

    signs: tuple[Sign, ...]
    waiting: int
    oldest_due_at: datetime | None
    unknown: int
    failed: int

    @property
    def well(self) -> bool:
        """Everything alive and no mail overdue."""
        return all(sign.alive for sign in self.signs)


def beat(name: str, *, at: datetime, detail: str = "") -> None:
    """Write a sign of life."""
    changed = Heartbeat.objects.filter(name=name).update(at=at, detail=detail[:200])
    if changed:
        return
    try:
        with transaction.atomic():
            Heartbeat.objects.create(name=name, at=at, detail=detail[:200])
    except IntegrityError:
        Heartbeat.objects.filter(name=name).update(at=at, detail=detail[:200])


def report(*, at: datetime) -> Report:
    """Signs of life and the state of the outbox, in four queries."""
    beats = dict(Heartbeat.objects.values_list("name", "at"))
    signs = tuple(
        Sign(name, words, beats.get(name), name in beats and at - beats[name] < limit)
        for name, (words, limit) in EXPECTED.items()
    )
    due = Message.objects.filter(state__in=["pending", "claimed"], next_attempt_at__lte=at)
    return Report(
        signs=signs,
        waiting=due.count(),
        oldest_due_at=due.order_by("next_attempt_at").values_list("next_attempt_at", flat=True).first(),
        unknown=Message.objects.filter(state="unknown").count(),
        failed=Message.objects.filter(state="failed", closed_at__gte=at - timedelta(days=7)).count(),
    )
