"""The history as people read it: nouns and fields in words, ids by their present names, before and after."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from uuid import UUID
from zoneinfo import ZoneInfo

from core.act import Act
from core.models import History
from jobs.read.names import names

_UID: Final = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_UNITS: Final = {"in": "in", "ft": "ft", "ft2": "ft2", "hp": "hp", "gpm": "gpm", "min": "min", "percent": "%"}
DONE: Final = {
    "create": "recorded",
    "change": "changed",
    "remove": "taken away",
    "retire": "taken out",
    "load": "loaded",
    "propose": "proposed",
    "end": "ended",
    "apply": "applied",
    "receive": "received",
}
NOUNS: Final = {"property_role": "role of a person", "drainage_area": "drainage area", "component": "part"}
VIA: Final = {"page": "on a page", "api": "over the API", "import": "by an import", "command": "by a command"}


@dataclass(frozen=True, slots=True)
class Line:
    """One field: what it was and what it is, "" where there was nothing."""

    field: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Told:
    """One entry: `at` in the property's zone, who and how, what happened to what, the fields that differ."""

    at: datetime
    who: str
    via: str
    what: str
    name: str
    lines: tuple[Line, ...]
    note: str


def told(act: Act, entries: Iterable[History], zone: str) -> tuple[Told, ...]:
    """The entries in words, in their order. Five queries, however many there are."""
    rows = list(entries)
    uids = {row.object_uid for row in rows} | {UUID(text) for row in rows for text in _uids(row.changes)}
    known = names(act, uids)
    return tuple(_one(row, known, ZoneInfo(zone)) for row in rows)


def _one(row: History, known: Mapping[UUID, str], zone: ZoneInfo) -> Told:
    noun = NOUNS.get(row.noun, row.noun.replace("_", " "))
    return Told(
        at=row.at.astimezone(zone),
        who=row.who_name or row.who,
        via=VIA.get(row.via, row.via),
        what=f"{noun} {DONE.get(row.action, row.action.replace('_', ' '))}",
        name=known.get(row.object_uid, ""),
        lines=tuple(_lines(row.changes, known)),
        note=row.note,
    )


def _lines(changes: Mapping[str, Any], known: Mapping[UUID, str]) -> Iterator[Line]:
    for field, (before, after) in changes.items():
        if isinstance(before, dict | None) and isinstance(after, dict | None) and (before or after):
            was, now = before or {}, after or {}
            what = "how known: " if field == "certainty" else ""
            for name in dict.fromkeys([*was, *now]):
                if was.get(name) != now.get(name):
                    yield Line(what + field_words(name), _said(was.get(name), known), _said(now.get(name), known))
        else:
            yield Line(field_words(field), _said(before, known), _said(after, known))


def field_words(name: str) -> str:
    """'inside width, in' for inside_width_in.

    >>> field_words("inside_width_in"), field_words("note"), field_words("sits_in")
    ('inside width, in', 'note', 'sits in')
    """
    stem, _, unit = name.rpartition("_")
    if unit in _UNITS and stem not in ("", "sits"):
        return f"{stem.replace('_', ' ')}, {_UNITS[unit]}"
    return name.replace("_", " ")


def _said(value: Any, known: Mapping[UUID, str]) -> str:
    if value is None or value == "" or value == [] or value == {}:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        return "; ".join(_item(item, known) for item in value)
    if isinstance(value, dict):
        return ", ".join(f"{field_words(name)} {_said(item, known)}" for name, item in value.items())
    text = str(value)
    return known.get(UUID(text), "something taken away since") if _UID.fullmatch(text) else text


def _item(value: Any, known: Mapping[UUID, str]) -> str:
    # A point of a course is two numbers.
    return " ".join(_said(part, known) or "0" for part in value) if isinstance(value, list) else _said(value, known)


def _uids(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        if _UID.fullmatch(value):
            yield value
    elif isinstance(value, list | dict):
        for item in value.values() if isinstance(value, dict) else value:
            yield from _uids(item)
