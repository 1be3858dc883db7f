"""Files kept under their SHA-256: bytes safe on disk first, then the row, then the answer."""

import os
import secrets
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.db import IntegrityError, transaction

from core import limits
from core.models import StoredFile
from core.problem import BadInput

ORPHAN_AGE = timedelta(hours=24)


def path_of(digest: str) -> Path:
    """Where the bytes with this digest lie."""
    return Path(settings.MEDIA_ROOT) / digest[:2] / digest[2:4] / digest


def store(data: bytes, *, media_type: str, at: datetime) -> StoredFile:
    """Keep `data` for good and return its row; the same bytes are kept once.

    Temporary file, fsync, rename, fsync of the folder, then the row. Raises BadInput over limits.FILE_BYTES.
    """
    if len(data) > limits.FILE_BYTES:
        raise BadInput(f"The file has {len(data)} bytes; the limit is {limits.FILE_BYTES} bytes.")
    digest = sha256(data).hexdigest()
    _write(path_of(digest), data)
    found = StoredFile.objects.filter(sha256=digest).first()
    if found is not None:
        return found
    try:
        with transaction.atomic():
            return StoredFile.objects.create(
                sha256=digest, size_bytes=len(data), media_type=media_type[:60], created_at=at
            )
    except IntegrityError:
        return StoredFile.objects.get(sha256=digest)


def _write(target: Path, data: bytes) -> None:
    if target.exists() and target.stat().st_size == len(data):
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(f".{target.name}.{os.getpid()}.{secrets.token_hex(4)}.part")
    with part.open("wb") as handle:
        handle.write(data)
        handle.flush()
        os.fsync(handle.fileno())
    part.replace(target)
    folder = os.open(target.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def read(stored: StoredFile) -> bytes:
    """The bytes; FileNotFoundError if the disk lost them, ValueError if they no longer match their digest."""
    data = path_of(stored.sha256).read_bytes()
    if sha256(data).hexdigest() != stored.sha256:
        raise ValueError(f"stored file {stored.sha256[:12]} does not match its digest")
    return data


def sweep(*, at: datetime) -> int:
    """Remove files on disk older than 24 h that no row names; returns how many."""
    removed = 0
    root = Path(settings.MEDIA_ROOT)
    limit = (at - ORPHAN_AGE).timestamp()
    for path in root.glob("??/??/*"):
        if path.stat().st_mtime > limit:
            continue
        if path.name.startswith(".") or not StoredFile.objects.filter(sha256=path.name).exists():
            path.unlink(missing_ok=True)
            removed += 1
    return removed
