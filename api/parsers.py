"""Reads what was sent: JSON of bounded size and depth, or raw bytes; nothing later ever meets what a database cannot
hold."""

import json
import math
from collections.abc import Iterator, Mapping
from typing import IO, Any

from rest_framework import exceptions, status
from rest_framework.parsers import BaseParser

from core import limits

JSON_BYTES = 1_000_000
DEEPEST = 20
LARGEST = 2**63 - 1


class TooLarge(exceptions.APIException):
    """413: the body is over the limit."""

    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE
    default_detail = "Too large"


class BadValue(exceptions.ValidationError):
    """422: a value no field of any kind takes."""


def read_at_most(stream: IO[bytes], limit: int, context: Mapping[str, Any]) -> bytes:
    """The body. Raises TooLarge, by what the client announces where it says so."""
    stated = context["request"].META.get("CONTENT_LENGTH") or "0"
    if stated.isdecimal() and int(stated[:20]) > limit:
        raise TooLarge(f"The body has {stated[:20]} bytes: send {limit} at most.")
    data = stream.read(limit + 1)
    if len(data) > limit:
        raise TooLarge(f"The body has more than {limit} bytes.")
    return data


class Json(BaseParser):
    """JSON as RFC 8259 has it, in UTF-8: no NaN, no key twice, at most DEEPEST levels, numbers of 64 bits."""

    media_type = "application/json"

    def parse(self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None) -> Any:
        data = read_at_most(stream, JSON_BYTES, parser_context or {})
        try:
            value = json.loads(data.decode("utf-8"), parse_constant=_no_constant, object_pairs_hook=_once)
        except RecursionError:
            raise exceptions.ParseError(f"The JSON is deeper than {DEEPEST} levels.") from None
        except ValueError as error:
            raise exceptions.ParseError(f"The body is no JSON in UTF-8: {str(error)[:120]}.") from None
        found = next(_unfit(value, "", 0), None)
        if found is not None:
            path, words = found
            raise BadValue({path: [f"{path or 'value'} {words}"]})
        return value


class _Raw(BaseParser):
    """The bytes as they came."""

    limit = limits.FILE_BYTES

    def parse(self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None) -> Any:
        return read_at_most(stream, self.limit, parser_context or {})


class RawImage(_Raw):
    """A picture; what it really is, is read from its content."""

    media_type = "image/*"


class RawBytes(_Raw):
    """Bytes whose kind the sender does not say."""

    media_type = "application/octet-stream"


class RawTable(_Raw):
    """A table as text."""

    media_type = "text/csv"


class RawJson(_Raw):
    """JSON whose exact bytes are kept as evidence."""

    media_type = "application/json"
    limit = limits.CLOSEOUT_BYTES


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no JSON number")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name stands twice in one object")
    return found


def _unfit(value: Any, path: str, depth: int) -> Iterator[tuple[str, str]]:
    """Every value that no column could hold, with its path."""
    if depth > DEEPEST:
        raise exceptions.ParseError(f"The JSON is deeper than {DEEPEST} levels.")
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _unfit_text(name, path)
            yield from _unfit(inner, f"{path}.{name[:60]}" if path else name[:60], depth + 1)
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from _unfit(inner, f"{path}[{number}]", depth + 1)
    elif isinstance(value, str):
        yield from _unfit_text(value, path)
    elif isinstance(value, float) and not math.isfinite(value):
        yield path, "is a number too large: give a finite one."
    elif isinstance(value, int) and abs(value) > LARGEST:
        yield path, f"is a number too large: give {LARGEST} at most."


def _unfit_text(text: str, path: str) -> Iterator[tuple[str, str]]:
    if "\x00" in text:
        yield path, "holds a NUL character: leave it out."
    elif not text.isascii() and any("\ud800" <= letter <= "\udfff" for letter in text):
        yield path, "holds half a character (a lone surrogate): send whole characters."
