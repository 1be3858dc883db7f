"""Nobody overwrites what they have not seen: ETag of the revision, If-Match on every change of a thing that has one."""

import re
from typing import Any

from rest_framework import exceptions, status
from rest_framework.request import Request

from core.problem import StaleVersion

_TAG = re.compile(r'(W/)?"([\x21\x23-\x7e]*)"')


class Needed(exceptions.APIException):
    """428: say which version you change (RFC 6585)."""

    status_code = status.HTTP_428_PRECONDITION_REQUIRED
    default_detail = "Say which version you change"


class Stale(StaleVersion):
    """412 that shows both: what was sent, and what is there now."""

    def __init__(self, detail: str, *, yours: Any, present: Any) -> None:
        super().__init__(detail, code="staleversion")
        self.more = {"yours": yours, "present": present}


def etag(revision: int) -> str:
    """The entity tag of a revision."""
    return f'"{revision}"'


def revision_stated(request: Request, present: int, *, needed: bool) -> int | None:
    """The revision named by If-Match: the present one if it is among those named, else one that is not.

    None where the header is missing and not `needed`. Raises Needed, or ParseError where the header is no list of tags.
    A weak tag never matches (RFC 9110 13.1.1).
    """
    given = request.headers.get("If-Match", "").strip()
    if not given:
        if needed:
            raise Needed(f"Send If-Match with the ETag you were given; it is {etag(present)} now.")
        return None
    if given == "*":
        return present
    parts = [part.strip() for part in given.split(",")]
    found = [_TAG.fullmatch(part) for part in parts]
    if not all(found):
        raise exceptions.ParseError('If-Match is no list of entity tags: send one such as "3".')
    strong = {match[2] for match in found if match and not match[1]}
    return present if str(present) in strong else -1
