"""Doors for the worker: each fetches nothing, decides nothing and calls one service."""

from __future__ import annotations

from celery import shared_task

from core.act import by_system
from maintenance import closeout, night, occasions_due, refresh, refresh_run, reminders, visit_zones


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
    """Begin the night's run: what the yards teach, a new day's windows, proposals; returns its properties."""
    return night.begin_night(act=by_system("night")).properties


@shared_task(name="maintenance.tasks.refresh_step")
def refresh_step() -> bool:
    """Take one piece of the refresh under way and do it."""
    return refresh_run.step(act=by_system("refresh"))


@shared_task(name="maintenance.tasks.keep_refreshing")
def keep_refreshing() -> int:
    """Ring again for a refresh whose bells or workers were lost; returns the pieces that wait."""
    return refresh_run.keep_going(act=by_system("refresh"))


@shared_task(name="maintenance.tasks.scan_occasions")
def scan_occasions() -> int:
    """Queue what became due to be said: day-before reminders, owner tasks."""
    return occasions_due.scan(act=by_system("occasions"))


@shared_task(name="maintenance.tasks.send_due")
def send_due() -> int:
    """Send what is due to leave."""
    return reminders.send_due(act=by_system("outbox"))


@shared_task(name="maintenance.tasks.apply_waiting")
def apply_waiting() -> int:
    """Apply closeouts that were received and never applied."""
    return closeout.apply_waiting(act=by_system("closeouts"))


@shared_task(name="maintenance.tasks.recompute_starts")
def recompute_starts() -> int:
    """Bring the instants of coming visits in line with the zone data in use."""
    return visit_zones.recompute_starts(act=by_system("zones"))
