"""A Celery application on the file queue and nothing else: what the queue tests run as a worker process."""

import os
import time
from pathlib import Path

from celery import Celery

from siltline import filequeue


def build(folder: Path) -> Celery:
    """An application whose queue is in `folder`/queue; without tasks it can still send them by name."""
    filequeue.install()
    app = Celery("tiny", set_as_current=False, fixups=[])
    app.conf.update(
        broker_url="filesystem://localhost",
        broker_transport_options={"folder": str(folder / "queue"), "polling_interval": 0.1},
        broker_connection_retry_on_startup=True,
        task_default_queue="default",
        task_queues={name: {} for name in ("pulse", "mail", "default", "planning")},
        task_create_missing_queues=False,
        task_ignore_result=True,
        worker_enable_remote_control=False,
        worker_prefetch_multiplier=8,
    )
    return app


if "TINY_FOLDER" in os.environ:  # the worker process
    FOLDER = Path(os.environ["TINY_FOLDER"])
    app = build(FOLDER)

    @app.task(name="note")
    def note(name: str) -> None:
        (FOLDER / "done").mkdir(exist_ok=True)
        with (FOLDER / "done" / name).open("a") as handle:
            handle.write("once\n")

    @app.task(name="wait")
    def wait(seconds: float) -> None:
        time.sleep(seconds)
