"""Tasks about the queue itself; all others live with the packages they serve."""

import time

from celery import shared_task
from django.conf import settings

from siltline import filequeue

KEPT_S = 24 * 3600


@shared_task(name="siltline.tasks.sweep_queue")
def sweep_queue() -> int:
    """Remove files of taken messages older than a day; returns how many."""
    return filequeue.sweep(settings.QUEUE_DIR, before_s=time.time() - KEPT_S)
