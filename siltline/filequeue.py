"""The embedded queue: one folder a queue, one file a message.

Why not the stock transport: it opens the final name and then writes, so a reader may meet half a message; and it
lists the whole folder for every message. Here a message appears complete or not at all, one that cannot be read is
set aside, and a listing is used up before the next is made.

A message counts as taken when its file is renamed into `processed`. What a killed worker held in memory is lost:
every task must be derivable again from a database row.
"""

import logging
import os
import time
import uuid
from collections import deque
from pathlib import Path
from queue import Empty
from typing import Any

from kombu.transport import TRANSPORT_ALIASES, filesystem, virtual
from kombu.utils.json import dumps, loads

PROCESSED = "processed"
UNREADABLE = "unreadable"
LONGEST_WAIT_S = 0.2  # the worker looks at its stop flag only between waits

log = logging.getLogger(__name__)


class Channel(filesystem.Channel):
    # Every queue is reached by its own name: no table of bindings on disk, which two first starts could tear.
    supports_fanout = False
    get_table = virtual.Channel.get_table  # type: ignore[assignment]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._listed: dict[str, deque[str]] = {}

    @property
    def _root(self) -> Path:
        return Path(self.transport_options["folder"])

    def _folder(self, queue: str) -> Path:
        folder = self._root / queue
        folder.mkdir(parents=True, exist_ok=True)
        return folder

    def _put(self, queue: str, payload: Any, **kwargs: Any) -> None:  # type: ignore[override]
        name = f"{time.time_ns():020d}_{uuid.uuid4().hex}"
        part = self._folder(queue) / f"{name}.part"
        part.write_bytes(dumps(payload).encode())
        os.replace(part, part.with_suffix(".msg"))

    def _get(self, queue: str, timeout: float | None = None) -> Any:
        """Oldest message of the queue; raises `queue.Empty` when there is none."""
        waiting = self._listed.get(queue)
        if not waiting:
            waiting = self._listed[queue] = deque(message_names(self._root / queue))
        while waiting:
            taken = self._take(queue, waiting.popleft())
            if taken is None:
                continue
            try:
                return loads(taken.read_bytes().decode())
            except ValueError:
                aside = self._root / UNREADABLE
                aside.mkdir(exist_ok=True)
                os.replace(taken, aside / taken.name)
                log.error("A message of queue %s could not be read; it is kept as %s", queue, aside / taken.name)
        raise Empty

    def _take(self, queue: str, name: str) -> Path | None:
        target = self._root / PROCESSED / f"{queue}.{name}"
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            os.rename(self._root / queue / name, target)
        except FileNotFoundError:
            return None  # another worker was quicker
        # The sweep goes by age since taken; a rename keeps the time of writing.
        os.utime(target)
        return target

    def _size(self, queue: str) -> int:
        return len(message_names(self._root / queue))

    def _purge(self, queue: str) -> int:
        return sum(self._take(queue, name) is not None for name in message_names(self._root / queue))

    def _delete(self, queue: str, *args: Any, **kwargs: Any) -> None:
        self._purge(queue)


class Transport(filesystem.Transport):
    Channel = Channel

    def drain_events(self, connection: Any, timeout: float | None = None, **kwargs: Any) -> None:
        """Deliver one message or raise `TimeoutError`, after 0.2 s at the latest."""
        longest = LONGEST_WAIT_S if timeout is None else min(timeout, LONGEST_WAIT_S)
        super().drain_events(connection, timeout=longest, **kwargs)


def install() -> None:
    """Make `filesystem://` mean this transport in this process."""
    TRANSPORT_ALIASES["filesystem"] = f"{__name__}:Transport"


def message_names(folder: Path) -> list[str]:
    """Names of the complete messages in one queue's folder, oldest first; empty when there is no folder."""
    try:
        return sorted(name for name in os.listdir(folder) if name.endswith(".msg"))
    except FileNotFoundError:
        return []


def backlog(root: Path, queues: list[str]) -> dict[str, int]:
    """Messages that wait, by queue."""
    return {queue: len(message_names(root / queue)) for queue in queues}


def sweep(root: Path, *, before_s: float) -> int:
    """Remove what was taken, set aside or left half written before `before_s` [s since 1970]; returns how many files.

    Messages that still wait are never touched.
    """
    removed = 0
    for path in root.glob("*/*"):
        if path.suffix == ".msg" and path.parent.name not in {PROCESSED, UNREADABLE}:
            continue
        try:
            if path.stat().st_mtime < before_s:
                path.unlink()
                removed += 1
        except FileNotFoundError:
            continue
    return removed
