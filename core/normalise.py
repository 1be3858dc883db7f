"""Text as stored: NFC, no NUL or control characters, bounded; and the folded form that searches compare."""

import re
import unicodedata
from typing import Any

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
_SPACE = re.compile(r"\s+")
_NOT_DIGIT = re.compile(r"\D+")


def text(value: str | None, *, limit: int = 10_000) -> str:
    """NFC, control and direction-override characters removed, outer space trimmed, at most `limit` characters."""
    cleaned = _CONTROL.sub("", unicodedata.normalize("NFC", value or "")).strip()
    return cleaned[:limit]


def line(value: str | None, *, limit: int = 200) -> str:
    """`text` on a single line."""
    return _SPACE.sub(" ", text(value, limit=limit * 2)).strip()[:limit]


def folded(value: str | None) -> str:
    """For comparing: case folded, accents removed, spaces single. "Peña  St" -> "pena st"."""
    decomposed = unicodedata.normalize("NFKD", text(value))
    bare = "".join(c for c in decomposed if not unicodedata.combining(c))
    return _SPACE.sub(" ", bare.casefold()).strip()


def tag_key(value: str | None) -> str:
    """A tag as compared for uniqueness within its property."""
    return unicodedata.normalize("NFKC", line(value, limit=40)).casefold().replace(" ", "")


def digits(value: str | None) -> str:
    """Digits of a phone number, for searching."""
    return _NOT_DIGIT.sub("", value or "")


def search_text(*parts: str | None) -> str:
    """The stored search column: folded parts, and the digits of any that look like a phone number."""
    folds = [folded(part) for part in parts if part]
    numbers = [digits(part) for part in parts if part and len(digits(part)) >= 7]
    return " ".join([*folds, *numbers])[:1000]


_NOT_STORABLE = re.compile("[\x00\ud800-\udfff]")


def storable(value: Any) -> Any:
    """JSON-ready values as both database engines take them: no NUL, no half of a surrogate pair, however deep."""
    if isinstance(value, str):
        return _NOT_STORABLE.sub("", value)
    if isinstance(value, dict):
        return {storable(key): storable(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [storable(item) for item in value]
    return value
