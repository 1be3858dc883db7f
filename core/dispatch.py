"""Rings a task by name after commit. A broker that is down is not an error: a sweep finds what never left."""

import logging

from django.db import transaction

log = logging.getLogger(__name__)


def after_commit(task: str, *args: object, queue: str = "default") -> None:
    """Send `task` to `queue` once the present transaction has committed; broker errors are logged and swallowed."""

    def ring() -> None:
        from celery import current_app
        from kombu.exceptions import OperationalError

        try:
            current_app.send_task(task, args=args, queue=queue, ignore_result=True, retry=False)
        except (OperationalError, OSError) as error:
            log.warning("could not ring %s: %s", task, error)

    transaction.on_commit(ring)
