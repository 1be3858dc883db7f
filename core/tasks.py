"""Doors for the worker: each calls one service."""

from celery import shared_task

from core import clock, files, health


@shared_task(name="core.tasks.heartbeat")
def heartbeat() -> None:
    """The worker lives; since the scheduler sent this, it lives too."""
    at = clock.now()
    health.beat("worker", at=at)
    health.beat("scheduler", at=at)


@shared_task(name="core.tasks.sweep")
def sweep() -> int:
    """Remove stored bytes no row names."""
    return files.sweep(at=clock.now())
