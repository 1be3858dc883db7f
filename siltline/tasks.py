"""Tasks about the queue itself; all others live with the packages they serve."""

import time
from typing import Any

from celery import current_app, shared_task
from django.conf import settings

from siltline import filequeue
from siltline.serve import BACKLOG_SHOWN

KEPT_S = 24 * 3600


@shared_task(name="siltline.tasks.sweep_queue")
def sweep_queue() -> int:
    """Remove files of taken messages older than a day; returns how many."""
    return filequeue.sweep(settings.QUEUE_DIR, before_s=time.time() - KEPT_S)


@shared_task(name="siltline.tasks.watch_queue")
def watch_queue() -> None:
    """Write the backlog into the heartbeat `queue`: empty while no queue holds more than 1,000 messages."""
    from core import clock, health  # here, so that the queue's own tests need no records

    with current_app.connection_for_read() as connection:
        channel: Any = connection.default_channel
        waiting = {queue: channel.queue_declare(queue).message_count for queue in settings.QUEUES}
    long = [f"{count} messages wait in queue {queue}" for queue, count in waiting.items() if count > BACKLOG_SHOWN]
    health.beat("queue", at=clock.now(), detail="; ".join(long))
