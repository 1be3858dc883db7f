"""Sending a creation twice makes one thing: the Idempotency-Key becomes the id the client could have made itself.

No answer is stored. The key of one person for one address names one uid; the services make a record once by its uid,
give the same one for the same values and refuse others, whoever sends at the same moment.
"""

import re
from typing import Any
from uuid import UUID, uuid5

from rest_framework import exceptions
from rest_framework.request import Request

from api.auth import act_of

HEADER = "Idempotency-Key"
REPLAYED = "Idempotency-Replayed"
"""Set to "true" on an answer to something that was sent before."""

_NAMESPACE = UUID("5f0c3a53-6d0f-4f7e-9f0d-2f6d6f5c7a11")
_KEY = re.compile(r"[\x21-\x7e]{1,200}")


def uid_stated(request: Request, given: dict[str, Any]) -> UUID | None:
    """The uid a creation is to have: taken out of `given`, or made from the header; None lets the server make one."""
    uid: UUID | None = given.pop("uid", None)
    key = request.headers.get(HEADER)
    if key is None:
        return uid
    if not _KEY.fullmatch(key):
        raise exceptions.ParseError(f"{HEADER} is no key: send 1 to 200 visible ASCII characters.")
    if uid is not None:
        raise exceptions.ParseError(f"Send {HEADER} or uid in the body, not both.")
    return uuid5(_NAMESPACE, f"{act_of(request).who} {request.path} {key}")


def refuse_key(request: Request) -> None:
    """Raise where a key is sent to an address that could not keep its promise."""
    if HEADER in request.headers:
        raise exceptions.ParseError(f"{HEADER} is not taken here: leave it out.")
