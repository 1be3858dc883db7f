"""What runs when, and which worker takes which queue.

Periodic tasks have queues and workers of their own: behind a backlog of long tasks they would starve.
"""

from dataclasses import dataclass

from celery.schedules import crontab, schedule

# Small hours of the Americas; missed ones run at the next start.
NIGHT = crontab(minute="10", hour="9")


@dataclass(frozen=True)
class Entry:
    """One row of the timetable: `every` is seconds or a crontab in UTC; a call not taken in `expires_s` is dropped."""

    name: str
    task: str
    every: float | crontab
    queue: str
    expires_s: int = 50


TIMETABLE = (
    Entry("heartbeat", "core.tasks.heartbeat", 15, "pulse"),
    Entry("backlog", "siltline.tasks.watch_queue", 60, "pulse"),
    Entry("outbox", "maintenance.tasks.send_due", 20, "mail"),
    Entry("occasions", "maintenance.tasks.scan_occasions", 60, "pulse"),
    Entry("waiting closeouts", "maintenance.tasks.apply_waiting", 60, "pulse"),
    Entry("stale windows", "maintenance.tasks.refresh_stale", 60, "pulse"),
    Entry("refresh under way", "maintenance.tasks.keep_refreshing", 60, "pulse"),
    Entry("night", "maintenance.tasks.nightly", NIGHT, "default", 6 * 3600),
    Entry("starts of visits", "maintenance.tasks.recompute_starts", NIGHT, "default", 6 * 3600),
    Entry("old rows and files", "core.tasks.sweep", NIGHT, "default", 6 * 3600),
    Entry("taken messages", "siltline.tasks.sweep_queue", NIGHT, "default", 6 * 3600),
)


@dataclass(frozen=True)
class Worker:
    """One worker process: the queues it takes and how many tasks it runs at a time."""

    name: str
    queues: tuple[str, ...]
    at_once: int


WORKERS = (
    Worker("worker-pulse", ("pulse",), 2),
    Worker("worker-mail", ("mail",), 2),
    Worker("worker", ("default", "planning"), 2),
)


def beat_schedule() -> dict[str, dict[str, object]]:
    """The timetable in Celery's own form."""
    return {
        entry.name: {
            "task": entry.task,
            "schedule": entry.every if isinstance(entry.every, crontab) else schedule(entry.every),
            "options": {"queue": entry.queue, "expires": entry.expires_s},
        }
        for entry in TIMETABLE
    }


def routes() -> dict[str, dict[str, str]]:
    """Queue of each periodic task, also when something else rings it."""
    return {entry.task: {"queue": entry.queue} for entry in TIMETABLE}
