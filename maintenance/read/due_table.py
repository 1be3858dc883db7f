"""What is due as plain rows, for the command and the start-up table: the stored windows, or computed as of a day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from core.act import Act
from jobs.kinds import registry
from jobs.kinds.words import TASKS
from jobs.models import ComponentVersion, Property
from maintenance.models import DueWindow
from maintenance.read.due import DueFilter, ages, due, today_of
from maintenance.read.forecast_inputs import cutoff_of
from maintenance.read.id_list import ids_in
from maintenance.read.windows import compute, zone_then

ESTIMATE = "An estimate from the inputs listed, for planning maintenance; not a guarantee and not an engineer's design."


@dataclass(frozen=True, slots=True)
class DueLine:
    """One window (`row`: the columns of `DueWindow`) with what to call its property and its part."""

    property_uid: str
    address: str
    component_uid: str
    kind: str
    label: str
    task_words: str
    row: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class DueTable:
    """Lines by best day, then latest day. `failed`: properties whose windows could not be computed, with the reason."""

    as_of: date
    days: int
    lines: tuple[DueLine, ...]
    failed: tuple[tuple[str, str], ...] = ()
    stale: int = 0

    def words(self) -> str:
        """The line below the table: how many, as of when, and what an estimate is."""
        waiting = f" {self.stale} properties are being recomputed." if self.stale else ""
        failed = "".join(f"\nNot computed: {address}: {why}" for address, why in self.failed)
        return f"{len(self.lines)} due within {self.days} days of {self.as_of}.{waiting}{failed}\n{ESTIMATE}"

    def as_json(self) -> dict[str, Any]:
        """Everything as JSON-ready values, dates ISO."""
        return {
            "as_of": self.as_of.isoformat(),
            "days": self.days,
            "windows": [_plain_line(line) for line in self.lines],
            "failed": [{"property": address, "why": why} for address, why in self.failed],
            "stale_properties": self.stale,
            "note": ESTIMATE,
        }


def due_lines(*, act: Act, as_of: date | None, days: int, property_uid: UUID | None = None) -> DueTable:
    """What is due within `days` of `as_of`, overdue included. With `as_of` it is computed from what was known at the
    end of that day and nothing is written; without, the stored windows are read."""
    if as_of is None:
        return _stored(act, days, property_uid)
    wanted = None
    if property_uid is not None:
        wanted = list(Property.objects.filter(uid=property_uid).values_list("id", flat=True))
    computed = compute(as_of=as_of, property_ids=wanted)
    until = as_of + timedelta(days=days)
    rows = [row for item in computed.properties for row in item.windows if row["best_on"] <= until]
    failed = {item.property_id: item.failed for item in computed.properties if item.failed}
    places = _places({row["property_id"] for row in rows} | set(failed))
    parts = _parts_then({row["property_id"] for row in rows}, as_of)
    lines = [_line(row, *places[row["property_id"]], *parts[row["component_id"]]) for row in rows]
    reasons = sorted((places[key][1], why) for key, why in failed.items())
    return DueTable(as_of, days, _in_order(lines), tuple(reasons))


def _stored(act: Act, days: int, property_uid: UUID | None) -> DueTable:
    today = today_of(act)
    rows = due(act, DueFilter(weeks=None)).filter(best_on__lte=today + timedelta(days=days))
    if property_uid is not None:
        rows = rows.filter(property__uid=property_uid)
    lines = [_stored_line(window) for window in rows]
    return DueTable(today, days, _in_order(lines), (), ages(act).stale)


def _stored_line(window: DueWindow) -> DueLine:
    part, place = window.component, window.property
    row = {name: getattr(window, name) for name in _COLUMNS}
    held_by = part.part_of.tag if part.part_of else ""
    return _line(row, str(place.uid), place.address, str(part.uid), part.kind, part.tag, held_by)


_COLUMNS = tuple(field.attname for field in DueWindow._meta.concrete_fields if field.attname != "id")


def _line(
    row: Mapping[str, Any], property_uid: str, address: str, uid: str, kind: str, tag: str, held_by: str
) -> DueLine:
    name = registry.BY_CODE[kind].name
    label = " ".join(part for part in (tag or f"{held_by} {name}".strip(), "" if not tag else name) if part)
    return DueLine(property_uid, address, uid, kind, label, TASKS[row["task"]].words, row)


def _places(keys: Iterable[int]) -> dict[int, tuple[str, str]]:
    rows = Property.objects.filter(id__in=ids_in(keys)).values_list("id", "uid", "address")
    return {key: (str(uid), address) for key, uid, address in rows}


def _parts_then(property_ids: Iterable[int], as_of: date) -> dict[int, tuple[str, str, str, str]]:
    """uid, kind, tag and the holding part's tag of each component, as they were known at the end of `as_of`."""
    versions = ComponentVersion.objects.filter(
        component__property_id__in=ids_in(property_ids), recorded_at__lte=cutoff_of(as_of, zone_then(as_of))
    ).order_by("recorded_at", "id")
    newest = {
        key: (str(uid), data) for key, uid, data in versions.values_list("component_id", "component__uid", "data")
    }
    tags = {uid: data.get("tag") or "" for uid, data in newest.values()}
    return {
        key: (uid, data["kind"], data.get("tag") or "", tags.get(data.get("part_of_uid") or "", ""))
        for key, (uid, data) in newest.items()
    }


def _in_order(lines: Iterable[DueLine]) -> tuple[DueLine, ...]:
    return tuple(sorted(lines, key=lambda n: (n.row["best_on"], n.row["latest_on"], n.address, n.label, n.row["task"])))


def _plain_line(line: DueLine) -> dict[str, Any]:
    row = {name: value.isoformat() if isinstance(value, date) else value for name, value in line.row.items()}
    for key in ("component_id", "property_id"):
        row.pop(key)
    return {
        "property": line.property_uid,
        "address": line.address,
        "component": line.component_uid,
        "kind": line.kind,
        "part": line.label,
        **row,
    }
