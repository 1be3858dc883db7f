"""`manage.py serve`: web, workers and scheduler as one program."""

import os
import socket
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import IO

from django.conf import settings

from siltline import claims, filequeue, schedule
from siltline.supervise import TICK_S, Parts, Say, StopAsked, watch

WEB, WORKER, BEAT = "web", "worker", "beat"
KINDS = (WEB, WORKER, BEAT)
BACKLOG_SHOWN = 1000
BACKLOG_LOOK_S = 30.0
MANAGE = Path(settings.BASE_DIR) / "manage.py"


def serve(
    kinds: tuple[str, ...],
    *,
    web_processes: int,
    say: Say,
    prepare: Callable[[], None] | None,
    announce: Callable[[], None],
) -> int:
    """Run the named parts until Ctrl-C or SIGTERM; returns the exit code.

    `prepare` runs while the web part loads its code and collects the static files, before it takes requests;
    `announce` once it takes them.
    Raises `claims.CannotServe` when another server has the data folder or the port.
    """
    stop = StopAsked()
    stop.listen()
    with ExitStack() as held:
        url = local_url()
        label = "serve" if kinds == KINDS else f"serve-{'-'.join(kinds)}"
        about = f"process {os.getpid()}, {url if WEB in kinds else label}"
        lifeline = held.enter_context(_pipe(held))
        kept = [lifeline.fileno()]
        if settings.EMBEDDED or BEAT in kinds:  # on a company server only the scheduler must be alone
            lock = held.enter_context(claims.folder_lock(settings.VAR_DIR / f"{label}.lock", about=about))
            kept.append(lock.fileno())
        parts = Parts(descriptors=kept, env=dict(os.environ), say=say)
        held.callback(parts.stop)
        try:
            if WEB in kinds:
                listener = held.enter_context(claims.listening_socket(settings.BIND, settings.PORT))
                with ExitStack() as gate_held:
                    gate = held.enter_context(_pipe(gate_held))
                    more = ["--collect-static"] if prepare else []
                    _start_web(parts, web_processes, lifeline, listener, gate, more)
                    with stop.at_once():
                        if prepare:
                            prepare()
                with stop.at_once():
                    announce()
            _start_others(parts, kinds, lifeline)
        except KeyboardInterrupt:
            say("stopping")
        code = watch(parts, stop, _each_tick(say, url if WEB in kinds else None))
    say("stopped")
    return code


def _pipe(writer_in: ExitStack) -> IO[bytes]:
    """Read end of a new pipe; its write end lives as long as `writer_in`."""
    read_end, write_end = os.pipe()
    writer_in.callback(os.close, write_end)
    return os.fdopen(read_end, "rb", buffering=0)


def _start_web(
    parts: Parts, processes: int, lifeline: IO[bytes], listener: socket.socket, gate: IO[bytes], more: list[str]
) -> None:
    words = ["--listen-fd", str(listener.fileno()), "--gate-fd", str(gate.fileno()), *more]
    for number in range(1, processes + 1):
        name = WEB if processes == 1 else f"{WEB}-{number}"
        parts.start(name, _child(WEB, lifeline, *words), descriptors=[listener.fileno(), gate.fileno()])


def _start_others(parts: Parts, kinds: tuple[str, ...], lifeline: IO[bytes]) -> None:
    if WORKER in kinds:
        for worker in schedule.WORKERS:
            parts.start(worker.name, _child(worker.name, lifeline))
    if BEAT in kinds:
        parts.start(BEAT, _child(BEAT, lifeline))


def local_url() -> str:
    """Where this machine reaches the server."""
    host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(settings.BIND, settings.BIND)
    return f"http://[{host}]:{settings.PORT}" if ":" in host else f"http://{host}:{settings.PORT}"


def _child(name: str, lifeline: IO[bytes], *more: str) -> list[str]:
    return [sys.executable, str(MANAGE), "child", name, "--lifeline-fd", str(lifeline.fileno()), *more]


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


def answers(url: str, *, timeout_s: float) -> bool:
    """Whether anything but a server error comes back from `url`/."""
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        opener.open(f"{url}/", timeout=timeout_s).close()
    except urllib.error.HTTPError as error:
        return error.code < 500
    except OSError:
        return False
    return True


def _first_answer(url: str) -> threading.Event:
    """Set once `url` answers."""
    answered = threading.Event()

    def ask() -> None:
        for _ in range(60):
            if answers(url, timeout_s=10):
                answered.set()
                return
            time.sleep(1)  # the web part died and is being started again, or its database is away

    threading.Thread(target=ask, name="first answer", daemon=True).start()
    return answered
