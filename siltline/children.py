"""What each part of the server runs: web, one of the workers, or the scheduler."""

import logging
import os
import signal
import socket
import warnings
from contextlib import suppress
from importlib import import_module

from django.conf import settings

from siltline import schedule
from siltline.claims import listening_socket
from siltline.prepare import collect_static


def quiet_signals() -> None:
    """The supervisor decides about Ctrl-C; a terminal that stops background output must not stop the server."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTTOU, signal.SIG_IGN)


def web(listen_descriptor: int | None, gate_descriptor: int | None, collect: bool) -> None:
    """Serve HTTP on the inherited socket, or on SILTLINE_BIND:SILTLINE_PORT, until SIGTERM.

    With a gate, the code is loaded (and the static files collected, if asked) first; requests are taken once the
    gate's other end is closed, which says that the database is there.

    waitress reads a whole body before a thread is given to it, so slow phones hold none.
    """
    import waitress

    def stop(number: int, frame: object) -> None:
        raise SystemExit(0)

    signal.signal(signal.SIGTERM, stop)
    import_module(settings.ROOT_URLCONF)
    if collect:
        collect_static()
    if gate_descriptor is not None:
        os.read(gate_descriptor, 1)
    from siltline.wsgi import application

    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # it warns whenever one request waits for a thread
    if listen_descriptor is None:
        listener = listening_socket(settings.BIND, settings.PORT)
    else:
        listener = socket.socket(fileno=listen_descriptor)
    proxy = {}
    if settings.TRUSTED_PROXY:
        proxy = {
            "trusted_proxy": settings.TRUSTED_PROXY,
            "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto", "x-forwarded-host"},
            "trusted_proxy_count": 1,
        }
    waitress.serve(
        application,
        sockets=[listener],
        threads=8,
        max_request_body_size=settings.MAX_BODY_BYTES,
        channel_timeout=60,
        connection_limit=500,
        asyncore_use_poll=True,
        clear_untrusted_proxy_headers=True,
        ident=None,
        _quiet=True,
        **proxy,
    )


def worker(name: str) -> None:
    """Run the tasks of one worker's queues until SIGTERM."""
    from celery.exceptions import SecurityWarning

    from siltline.celery import app

    # It warns root of messages that carry code; ours are JSON.
    warnings.filterwarnings("ignore", category=SecurityWarning)
    chosen = next(worker for worker in schedule.WORKERS if worker.name == name)
    app.worker_main(
        [
            "--quiet",
            "worker",
            f"--hostname={chosen.name}@%h",
            f"--queues={','.join(chosen.queues)}",
            f"--concurrency={chosen.at_once}",
            f"--pool={settings.CELERY_WORKER_POOL}",
            "--without-gossip",
            "--without-mingle",
            "--without-heartbeat",
            f"--loglevel={settings.LOG_LEVEL}",
        ]
    )


def beat() -> None:
    """Ring the periodic tasks until SIGTERM."""
    from siltline.celery import app

    # A stop signal makes Celery open its schedule file on the spot: the module that reads it must not be half imported.
    for name in ("dbm.gnu", "dbm.ndbm", "dbm.dumb"):
        with suppress(ImportError):
            import_module(name)
    app.start(["--quiet", "beat", "--pidfile=", f"--loglevel={settings.LOG_LEVEL}"])
