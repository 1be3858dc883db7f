"""Closeouts that wait for the office or want a look, each with its open flags, both sides and what can be done."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet

from core.act import Act
from jobs.kinds import words
from maintenance.decide.closeout_flags import ACTIONS, FLAGS
from maintenance.models import CloseoutFlag, CloseoutReceived
from maintenance.read import visible

WAITING = (CloseoutReceived.State.NEEDS_OFFICE, CloseoutReceived.State.UNMATCHED, CloseoutReceived.State.RECEIVED)
_NAMES = {"visit_uid": "visit", "done_on": "done on", "left_fill": "silt left behind", "photo_uids": "photos"}


@dataclass(frozen=True, slots=True)
class Side:
    """One side of what a flag compares: its heading and its facts."""

    words: str
    facts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class FlagSeen:
    """A flag in words. `actions`: (code, words) of what a person can do; `match` takes a property."""

    flag: CloseoutFlag
    title: str
    sides: tuple[Side, ...]
    actions: tuple[tuple[str, str], ...]
    matches: bool


@dataclass(frozen=True, slots=True)
class Review:
    """A closeout with its open flags. `typed`: the address written on the phone where no property was chosen."""

    received: CloseoutReceived
    flags: tuple[FlagSeen, ...]
    typed: str
    waits: bool


def reviews(act: Act) -> QuerySet[CloseoutReceived]:
    """Closeouts with an open flag, or not applied yet; oldest first. Slice it to page it; the bytes come along."""
    open_flags = CloseoutFlag.objects.filter(received=OuterRef("pk"), cleared_at=None)
    rows = visible.received(act) if act.is_office else CloseoutReceived.objects.none()
    return (
        rows.filter(Q(Exists(open_flags)) | Q(state__in=WAITING))
        .select_related("sender", "visit__property", "property")
        .prefetch_related(Prefetch("flags", CloseoutFlag.objects.filter(cleared_at=None).order_by("raised_at", "id")))
        .order_by("received_at", "id")
    )


def told(rows: Iterable[CloseoutReceived]) -> list[Review]:
    """A page of closeouts in words; no query."""
    return [
        Review(row, tuple(_flag(flag) for flag in row.flags.all()), _typed(row), row.state in WAITING) for row in rows
    ]


def _flag(flag: CloseoutFlag) -> FlagSeen:
    kind = FLAGS[flag.code]
    actions = tuple((code, ACTIONS[code]) for code in kind.actions if code != "match")
    return FlagSeen(flag, kind.title, tuple(_sides(flag.sides)), actions, "match" in kind.actions)


def _sides(sides: Mapping[str, Any]) -> Iterable[Side]:
    loose = tuple((_name(key), _words(value)) for key, value in sides.items() if not isinstance(value, Mapping))
    if loose:
        yield Side("", loose)
    for key, value in sides.items():
        if isinstance(value, Mapping):
            yield Side(_name(key), tuple((_name(name), _words(one)) for name, one in value.items()))


def _name(key: str) -> str:
    return _NAMES.get(key, key.replace("_", " "))


def _words(value: Any) -> str:
    if value is None or value == "" or value == []:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(_words(one) for one in value)
    if isinstance(value, Mapping):
        return "; ".join(f"{_name(name)} {_words(one)}" for name, one in value.items())
    return words.OUTCOMES.get(value, value) if isinstance(value, str) else str(value)


def _typed(row: CloseoutReceived) -> str:
    try:
        body = json.loads(bytes(row.body))
    except ValueError:
        return ""
    text = body.get("address", "") if isinstance(body, dict) else ""
    return text[:200] if isinstance(text, str) else ""
