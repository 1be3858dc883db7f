"""Keys of this installation: made once, kept in var/secrets.json (readable by the owner alone), never in a backup."""

import json
import os
import secrets
from base64 import urlsafe_b64encode
from pathlib import Path
from typing import TypedDict


class Secrets(TypedDict):
    secret_key: str
    field_keys: list[str]


def _new() -> Secrets:
    return {
        "secret_key": secrets.token_urlsafe(50),
        "field_keys": [urlsafe_b64encode(secrets.token_bytes(32)).decode()],
    }


def load(folder: Path) -> Secrets:
    """Keys from `folder`/secrets.json; made there on the first call.

    Several processes may start at once: the file is linked into place, so that the first one wins and the
    others read it. Where the folder cannot be written, keys for this process alone are returned.
    """
    path = folder / "secrets.json"
    try:
        return json.loads(path.read_text())
    except FileNotFoundError:
        pass
    fresh = _new()
    part = folder / f".secrets.{os.getpid()}.{secrets.token_hex(4)}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w") as handle:
            json.dump(fresh, handle)
        try:
            os.link(part, path)
        except FileExistsError:
            return json.loads(path.read_text())
        finally:
            part.unlink(missing_ok=True)
    except OSError:
        return fresh
    return fresh
