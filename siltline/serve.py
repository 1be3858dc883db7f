"""`manage.py serve`: web, workers and scheduler as one program."""

import os
import sys
import threading
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path

from django.conf import settings

from siltline import claims, filequeue, schedule
from siltline.supervise import TICK_S, Parts, Say, StopAsked, watch

WEB, WORKER, BEAT = "web", "worker", "beat"
KINDS = (WEB, WORKER, BEAT)
BACKLOG_SHOWN = 1000
BACKLOG_LOOK_S = 30.0
MANAGE = Path(settings.BASE_DIR) / "manage.py"


def serve(kinds: tuple[str, ...], *, web_processes: int, say: Say, announce: Callable[[], None]) -> int:
    """Run the named parts until Ctrl-C or SIGTERM; returns the exit code.

    `announce` is called once, beside the web part's start. Raises `claims.CannotServe` when another server has the
    data folder or the port.
    """
    stop = StopAsked()
    stop.listen()
    url = local_url()
    label = "serve.lock" if kinds == KINDS else f"serve-{'-'.join(kinds)}.lock"
    lock = claims.folder_lock(
        settings.VAR_DIR / label, about=f"process {os.getpid()}, {url if WEB in kinds else label}"
    )
    listener = claims.listening_socket(settings.BIND, settings.PORT) if WEB in kinds else None
    lifeline, held = os.pipe()
    kept = [lifeline, lock.fileno()] + ([listener.fileno()] if listener else [])
    parts = Parts(descriptors=kept, env=dict(os.environ), say=say)
    try:
        if listener:
            for number in range(1, web_processes + 1):
                name = WEB if web_processes == 1 else f"{WEB}-{number}"
                parts.start(name, _child(WEB, lifeline, "--listen-fd", str(listener.fileno())))
            announce()
        if not stop and WORKER in kinds:
            for worker in schedule.WORKERS:
                parts.start(worker.name, _child(worker.name, lifeline))
        if not stop and BEAT in kinds:
            parts.start(BEAT, _child(BEAT, lifeline))
        code = watch(parts, stop, _each_tick(say, url if listener else None))
    finally:
        parts.stop()
        os.close(held)
        os.close(lifeline)
        if listener:
            listener.close()
        lock.close()
    say("stopped")
    return code


def local_url() -> str:
    """Where this machine reaches the server."""
    host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(settings.BIND, settings.BIND)
    return f"http://[{host}]:{settings.PORT}" if ":" in host else f"http://{host}:{settings.PORT}"


def _child(name: str, lifeline: int, *more: str) -> list[str]:
    return [sys.executable, str(MANAGE), "child", name, "--lifeline-fd", str(lifeline), *more]


def _each_tick(say: Say, url: str | None) -> Callable[[], None]:
    """Says once that the server answers, and now and then that messages pile up."""
    answered = _first_answer(url) if url else None
    ticks = 0
    shown: set[str] = set()

    def each_tick() -> None:
        nonlocal answered, ticks
        if answered is not None and answered.is_set():
            answered = None
            say(f"Siltline answers at {url}/ until Ctrl-C")
        ticks += 1
        if settings.EMBEDDED and ticks % int(BACKLOG_LOOK_S / TICK_S) == 0:
            for queue, waiting in filequeue.backlog(settings.QUEUE_DIR, settings.QUEUES).items():
                if waiting <= BACKLOG_SHOWN:
                    shown.discard(queue)
                elif queue not in shown:
                    shown.add(queue)
                    say(f"{waiting} messages wait in queue {queue}")

    return each_tick


def _first_answer(url: str) -> threading.Event:
    """Set when `url` has answered for the first time, with whatever status."""
    answered = threading.Event()
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))

    def ask() -> None:
        for _ in range(20):
            try:
                opener.open(f"{url}/", timeout=30).close()
            except urllib.error.HTTPError:
                break
            except OSError:
                continue  # the web part died and is being started again
            break
        else:
            return
        answered.set()

    threading.Thread(target=ask, name="first answer", daemon=True).start()
    return answered
