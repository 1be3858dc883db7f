"""`manage.py setup`: brings the database and the collected static files up to the code, and does nothing twice."""

import fcntl
import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

SETUP_LOCK = 7_304_211  # any number of ours


def prepare() -> Iterator[str]:
    """Do what is wanting; one line of text for each thing done."""
    yield from prepare_database()
    if collect_static():
        yield "static files collected"


def prepare_database() -> Iterator[str]:
    """Bring the database up to the code; one line of text for each thing done."""
    settings.VAR_DIR.mkdir(parents=True, exist_ok=True)
    settings.VAR_DIR.chmod(0o700)
    with _one_at_a_time():
        if use_write_ahead_log():
            yield "database keeps a write-ahead log"
        applied = migrate()
        if applied:
            yield f"database ready ({applied} migrations applied)"


@contextmanager
def _one_at_a_time() -> Iterator[None]:
    """Two set-ups of one folder, or of one database by several machines, wait for each other."""
    with _alone("setup.lock"):
        if connection.vendor != "postgresql":
            yield
            return
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_lock(%s)", [SETUP_LOCK])
            try:
                yield
            finally:
                cursor.execute("SELECT pg_advisory_unlock(%s)", [SETUP_LOCK])


@contextmanager
def _alone(lock: str) -> Iterator[None]:
    with (settings.VAR_DIR / lock).open("w") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def use_write_ahead_log() -> bool:
    """Switch SQLite to WAL for good; true when it was not.

    Done here and never at each connection: processes that switch at the same time lock each other out. This process
    alone also waits for the disk less often: what it does can be done again after a power failure.
    """
    if connection.vendor != "sqlite":
        return False
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA synchronous=NORMAL")
        if cursor.execute("PRAGMA journal_mode").fetchone()[0] == "wal":
            return False
        return cursor.execute("PRAGMA journal_mode=WAL").fetchone()[0] == "wal"


def migrate() -> int:
    """Apply the migrations that wait; returns how many."""
    executor = MigrationExecutor(connection)
    waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if waiting:
        call_command("migrate", verbosity=0, interactive=False)
    return len(waiting)


def collect_static() -> bool:
    """Collect when a source file was added, removed or changed; true when done."""
    stamp = Path(settings.STATIC_ROOT) / ".collected"
    with _alone("static.lock"):
        digest = _static_digest()
        if stamp.exists() and stamp.read_text() == digest:
            return False
        stamp.unlink(missing_ok=True)
        call_command("collectstatic", verbosity=0, interactive=False)
        stamp.parent.mkdir(parents=True, exist_ok=True)
        stamp.write_text(digest)
    return True


def _static_digest() -> str:
    """Digest over the name, size and time of every source file and over the release."""
    digest = hashlib.sha256(settings.BUILD_VERSION.encode())
    for finder in get_finders():
        for name, storage in finder.list([]):
            about = Path(storage.path(name)).stat()
            digest.update(f"{name}\0{about.st_size}\0{about.st_mtime_ns}\n".encode())
    return digest.hexdigest()
