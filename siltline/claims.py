"""What only one running server can have: its data folder and its port."""

import contextlib
import errno
import fcntl
import os
import socket
import time
from pathlib import Path
from typing import TextIO

ENDING_S = 10.0  # the parts of a killed server hold its folder until their lifelines have ended them


class CannotServe(Exception):
    """Why this server cannot start and what to do about it, in words."""


def folder_lock(path: Path, *, about: str) -> TextIO:
    """Lock `path` and write `about` into it: "process 4711, http://127.0.0.1:8000".

    Returns the open file; the lock lasts until every process that inherited it has ended. Raises `CannotServe`,
    naming who holds it, after waiting for the last parts of a server that was killed.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle = path.open("a+")
    end = time.monotonic() + ENDING_S
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            break
        except BlockingIOError:
            handle.seek(0)
            holder = handle.read().strip()
            if _is_alive(holder) or time.monotonic() > end:
                handle.close()
                raise CannotServe(
                    f"Siltline already runs on the data in {path.parent}: {holder or 'an unknown process'}. "
                    f"Stop it there with Ctrl-C, or give this one a folder of its own: SILTLINE_VAR=/some/folder"
                ) from None
            time.sleep(0.1)
    handle.seek(0)
    handle.truncate()
    handle.write(about + "\n")
    handle.flush()
    return handle


def _is_alive(holder: str) -> bool:
    """Whether the process that wrote the lock's text still lives; one that has not written yet counts as alive."""
    words = holder.replace(",", " ").split()
    if len(words) < 2 or not words[1].isdigit():
        return True
    with contextlib.suppress(PermissionError):
        try:
            os.kill(int(words[1]), 0)
        except ProcessLookupError:
            return False
    return True


def listening_socket(address: str, port: int) -> socket.socket:
    """A socket that listens on `address`:`port`, or `CannotServe` with the reason."""
    try:
        family, kind, protocol, _, where = socket.getaddrinfo(address, port, type=socket.SOCK_STREAM)[0]
    except socket.gaierror as error:
        raise CannotServe(f"SILTLINE_BIND={address} is not an address of this machine: {error.strerror}") from error
    listener = socket.socket(family, kind, protocol)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind(where)
        listener.listen(1024)
    except OSError as error:
        listener.close()
        raise CannotServe(_why_not_bound(error, address, port)) from error
    listener.setblocking(False)
    return listener


def _why_not_bound(error: OSError, address: str, port: int) -> str:
    other = port + 1 if port < 65535 else 8000
    if error.errno == errno.EADDRINUSE:
        return (
            f"Port {port} on {address} is taken by another program. Stop it, or choose another: SILTLINE_PORT={other}"
        )
    if error.errno == errno.EACCES:
        return f"Port {port} may not be used by this user. Choose one of 1024 or more: SILTLINE_PORT=8000"
    if error.errno == errno.EADDRNOTAVAIL:
        return f"SILTLINE_BIND={address} is not an address of this machine. Use 127.0.0.1, or 0.0.0.0 for all."
    return f"Cannot listen on {address}:{port}: {error.strerror}"
