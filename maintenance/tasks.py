"""Doors for the worker: each fetches nothing, decides nothing and calls one service."""

from __future__ import annotations

from celery import shared_task

from core.act import by_system
from maintenance import night, occasions_due, refresh, reminders


@shared_task(name="maintenance.tasks.refresh_property")
def refresh_property(property_id: int) -> int:
    """Compute one property's due windows after something changed there."""
    return refresh.refresh_property(act=by_system("refresh"), property_id=property_id)


@shared_task(name="maintenance.tasks.refresh_stale")
def refresh_stale() -> int:
    """Compute what the register, the rules, the rain or a new day made stale."""
    return refresh.refresh_stale(act=by_system("refresh"))


@shared_task(name="maintenance.tasks.nightly")
def nightly() -> int:
    """A new day's windows, proposals and unanswered offers; returns how many properties were computed."""
    return night.run_night(act=by_system("night")).computed


@shared_task(name="maintenance.tasks.scan_occasions")
def scan_occasions() -> int:
    """Queue what became due to be said: day-before reminders, owner tasks."""
    return occasions_due.scan(act=by_system("occasions"))


@shared_task(name="maintenance.tasks.send_due")
def send_due() -> int:
    """Send what is due to leave."""
    return reminders.send_due(act=by_system("outbox"))
