"""A body arrives whole or not at all: its SHA-256 is stated and compared."""

import hashlib
import re
from typing import Any

from rest_framework import exceptions
from rest_framework.request import Request

from core.problem import BadInput

HEADER = "X-Sha256"


def stated_digest(request: Request) -> str:
    """The digest the sender states. Raises ParseError where it is missing or no digest."""
    given = request.headers.get(HEADER, "").strip()
    if not re.fullmatch(r"[0-9a-fA-F]{64}", given):
        raise exceptions.ParseError(f"Send {HEADER} with the SHA-256 of the body: 64 hexadecimal digits.")
    return given.lower()


def check_digest(request: Request) -> bytes:
    """The body, if it is what the sender says it sent. Raises BadInput."""
    stated, body = stated_digest(request), _body(request)
    if hashlib.sha256(body).hexdigest() != stated:
        raise BadInput("The digest is not that of the bytes received: send it again.", code="digest")
    return body


def _body(request: Request) -> bytes:
    data: Any = request.data
    return data if isinstance(data, bytes) else b""
