"""Reads one cell: a number, a day, a choice, tags. Nothing is guessed; what cannot be read says what to give.

A plain dimension is measured, one with ~ before it is assumed, an empty one is unknown.
"""

import difflib
import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from enum import Enum
from typing import Any, Final, Protocol
from uuid import UUID

from jobs.field_checks import shown

Raw = str | int | float | bool | date | datetime
"""A cell as the file holds it: CSV has text alone."""


class Cleared(Enum):
    """`UNKNOWN`: the cell says that the value is not known, whatever the register holds. An empty cell says nothing."""

    UNKNOWN = "unknown"


class CellError(ValueError):
    """A cell that cannot be taken; the text names what is expected."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A cell the spreadsheet itself marks: a formula or an error."""

    words: str
    shown: str


@dataclass(frozen=True, slots=True)
class Cell:
    """A value read; `assumed` where it carried a ~."""

    value: Any
    assumed: bool = False


@dataclass(frozen=True, slots=True)
class Ref:
    """A part named by its tag, or by its uid."""

    text: str
    assumed: bool = False
    uid: UUID | None = None


class Shape(Protocol):
    """What a cell must be: a `Column` or a kind's `DimensionField`."""

    @property
    def name(self) -> str: ...
    @property
    def type(self) -> str: ...
    @property
    def choices(self) -> Mapping[str, str]: ...
    def expects(self) -> str: ...


_NUMBER: Final = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")
_GUARDED: Final = re.compile(r"'+[=+\-@]")
_ISO_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}")
_YES: Final = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}


def unguarded(text: str) -> str:
    """Text without the apostrophe that keeps a spreadsheet from running it: "'=1" -> "=1"."""
    return text[1:] if _GUARDED.match(text) else text


def read_cell(shape: Shape, raw: Raw | Fault, *, may_be_assumed: bool = False) -> Cell:
    """The value of a cell that is not empty. Raises CellError."""
    if isinstance(raw, Fault):
        raise CellError(f"{shape.name} holds {raw.words}.")
    assumed = False
    if isinstance(raw, str):
        raw = unguarded(raw.strip())
        if raw.casefold() == Cleared.UNKNOWN.value and shape.type not in ("text", "uid"):
            return Cell(Cleared.UNKNOWN)
        if may_be_assumed and raw.startswith("~"):
            assumed, raw = True, raw[1:].strip()
    try:
        return Cell(_READERS[shape.type](raw, shape), assumed)
    except CellError:
        raise
    except (ValueError, OverflowError):
        raise CellError(f"{shape.name} is {shown(raw)!r}: give {shape.expects()}.") from None


def one_line_end(text: str) -> str:
    """Text whose lines end with a line feed, whatever a browser or a spreadsheet ended them with."""
    return text.replace("\r\n", "\n").replace("\r", "\n")


def as_text(raw: Raw, shape: Shape) -> str:
    """Text; a number typed into a text column is that number's digits."""
    if isinstance(raw, str):
        return one_line_end(raw)
    if isinstance(raw, bool):
        return "yes" if raw else "no"
    if isinstance(raw, date):
        raise CellError(
            f"{shape.name} is {shown(raw)!r}: the spreadsheet made a date of it; format the column as text, "
            "then type it again."
        )
    return str(int(raw)) if isinstance(raw, float) and raw.is_integer() else repr(raw)


def _number(raw: Raw, shape: Shape) -> float:
    if isinstance(raw, str):
        if not _NUMBER.fullmatch(raw):
            point = " with a point, not a comma" if re.fullmatch(r"[+-]?\d+,\d+", raw) else ""
            raise CellError(f"{shape.name} is {shown(raw)!r}: give {shape.expects()}{point}.")
        raw = float(raw)
    if isinstance(raw, bool | date) or not math.isfinite(raw):
        raise ValueError
    return float(raw)


def _whole(raw: Raw, shape: Shape) -> int:
    value = _number(raw, shape)
    if not value.is_integer():
        raise ValueError
    return int(value)


def _choice(raw: Raw, shape: Shape) -> str:
    given = as_text(raw, shape)
    folded = re.sub(r"[\s\-]+", "_", given.casefold())
    for code, words in shape.choices.items():
        if folded in (code.casefold(), re.sub(r"[\s\-]+", "_", words.casefold())):
            return code
    every = {re.sub(r"[\s\-]+", "_", words.casefold()): code for code, words in shape.choices.items()}
    every |= {code.casefold(): code for code in shape.choices}
    close = difflib.get_close_matches(folded[:80], list(every), n=1)
    hint = f"did you mean {every[close[0]]}? " if close else ""
    raise CellError(f"{shape.name} is {shown(given)!r}: {hint}Give {shape.expects()}.".replace(": Give", ": give"))


def _yes_no(raw: Raw, shape: Shape) -> bool:
    if isinstance(raw, bool):
        return raw
    if isinstance(raw, str) and raw.casefold() in _YES:
        return _YES[raw.casefold()]
    raise ValueError


def _day(raw: Raw, shape: Shape) -> date:
    if isinstance(raw, datetime):
        if raw.time() != time(0):
            raise ValueError
        return raw.date()
    if isinstance(raw, date):
        return raw
    if isinstance(raw, str) and _ISO_DAY.fullmatch(raw):
        return date.fromisoformat(raw)
    raise ValueError


def _instant(raw: Raw, shape: Shape) -> datetime:
    if isinstance(raw, datetime):
        return raw if raw.tzinfo else raw.replace(tzinfo=UTC)
    if isinstance(raw, date) or (isinstance(raw, str) and _ISO_DAY.fullmatch(raw)):
        # A bare day is noon UTC of it, which is the same day in most zones.
        return datetime.combine(_day(raw, shape), time(12), tzinfo=UTC)
    if not isinstance(raw, str):
        raise ValueError
    value = datetime.fromisoformat(raw)
    if value.tzinfo is None:
        raise ValueError
    return value.astimezone(UTC)


def _uid(raw: Raw, shape: Shape) -> UUID:
    if not isinstance(raw, str):
        raise ValueError
    return UUID(raw)


def _points(raw: Raw, shape: Shape) -> list[list[float]]:
    if not isinstance(raw, str):
        raise ValueError
    course = []
    for point in filter(None, (part.strip() for part in raw.split(";"))):
        x, y = point.split()
        course.append([_number(x, shape), _number(y, shape)])
    return course


def _curve(raw: Raw, shape: Shape) -> list[dict[str, float]]:
    if not isinstance(raw, str):
        raise ValueError
    curve = []
    for point in filter(None, (part.strip() for part in raw.split(";"))):
        flow, head = point.split("@")
        curve.append({"flow_gpm": _number(flow.strip(), shape), "head_ft": _number(head.strip(), shape)})
    return curve


def _json(raw: Raw, shape: Shape) -> dict[str, Any]:
    value = json.loads(raw) if isinstance(raw, str) else None
    if not isinstance(value, dict):
        raise ValueError
    return value


def _refs(raw: Raw, shape: Shape) -> list[Ref]:
    refs = parse_refs(as_text(raw, shape))
    if not refs:
        raise ValueError
    return refs


def _ref(raw: Raw, shape: Shape) -> Ref:
    refs = _refs(raw, shape)
    if len(refs) != 1:
        raise CellError(f"{shape.name} is {shown(raw)!r}: give {shape.expects()}.")
    return refs[0]


_TOKEN: Final = re.compile(r'\s*(~?)\s*(?:"((?:[^"]|"")*)"|([^;"]*))\s*(?:;|$)')


def parse_refs(text: str) -> list[Ref]:
    """'CB-1; ~"A;B"' -> tags CB-1 and, assumed, A;B. Raises ValueError for a stray quotation mark."""
    refs, at = [], 0
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            raise ValueError(text)
        quoted, plain = match.group(2), (match.group(3) or "").strip()
        name = quoted.replace('""', '"') if quoted is not None else plain
        if name:
            refs.append(Ref(name, bool(match.group(1)), _uid_or_none(name) if quoted is None else None))
        at = match.end()
    return refs


def _uid_or_none(text: str) -> UUID | None:
    # A tag is never as long as a uid, so that the two cannot be taken for each other.
    try:
        return UUID(text) if len(text) == 36 else None
    except ValueError:
        return None


_READERS: Final[dict[str, Callable[[Raw, Shape], Any]]] = {
    "text": as_text,
    "number": _number,
    "whole": _whole,
    "choice": _choice,
    "yes_no": _yes_no,
    "day": _day,
    "instant": _instant,
    "uid": _uid,
    "points": _points,
    "curve": _curve,
    "json": _json,
    "tag": _ref,
    "tags": _refs,
}
