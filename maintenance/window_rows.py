"""Writes due windows set-based: one statement for up to 5,000 rows, whatever the engine, and only rows that changed.

`bulk_create` and `bulk_update` would send hundreds of statements for the same rows. A row that is there already is
changed in place, so two refreshes of one property at the same time end in one set of rows.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final
from uuid import UUID

from django.db import connection, transaction

from core.act import Act
from maintenance import odd_readings
from maintenance.models import DueWindow, PropertyForecast
from maintenance.read.id_list import ids_in
from maintenance.read.windows import ComputedProperty

MOST_ROWS: Final = 5000
"""Rows of one write transaction."""

_WINDOW_COLUMNS: Final[Mapping[str, str]] = {
    "component_id": "bigint",
    "property_id": "bigint",
    "task": "varchar",
    "who": "varchar",
    "rule_code": "varchar",
    "basis": "varchar",
    "earliest_on": "date",
    "best_on": "date",
    "latest_on": "date",
    "chance_at_best": "double precision",
    "threshold": "double precision",
    "left_fill": "double precision",
    "rate_p10": "double precision",
    "rate_p50": "double precision",
    "rate_p90": "double precision",
    "minutes": "smallint",
    "reason": "jsonb",
    "words": "text",
    "inputs": "jsonb",
}
_FORECAST_COLUMNS: Final[Mapping[str, str]] = {
    "property_id": "bigint",
    "computed_at": "timestamptz",
    "as_of": "date",
    "register_revision": "integer",
    "rules_stamp": "varchar",
    "run": "uuid",
    "first_due_on": "date",
    "failed": "varchar",
}
_FLOATS: Final = tuple(name for name, kind in _WINDOW_COLUMNS.items() if kind == "double precision")


@dataclass(frozen=True, slots=True)
class Written:
    """Rows written or taken away by one refresh; a run without news writes none."""

    properties: int = 0
    windows: int = 0
    vanished: int = 0

    def __add__(self, other: Written) -> Written:
        return Written(self.properties + other.properties, self.windows + other.windows, self.vanished + other.vanished)


def write_computed(*, act: Act, computed: Sequence[ComputedProperty], as_of: date, stamp: str) -> Written:
    """Bring the stored windows of these properties to what was computed, in transactions of up to 5,000 rows.

    A property whose windows were meanwhile computed from a later revision is left alone. A failed property keeps
    its old windows and says why.
    """
    total = Written()
    for group in _groups(computed):
        with transaction.atomic():
            total += _write_group(act, group, as_of, stamp)
    return total


def _groups(computed: Sequence[ComputedProperty]) -> Iterator[list[ComputedProperty]]:
    """Properties in the order of their keys (so that two writers never wait for each other), cut by rows."""
    group: list[ComputedProperty] = []
    rows = 0
    for item in sorted(computed, key=lambda item: item.property_id):
        if group and rows + len(item.windows) > MOST_ROWS:
            yield group
            group, rows = [], 0
        group.append(item)
        rows += len(item.windows) + 1
    if group:
        yield group


def _write_group(act: Act, group: list[ComputedProperty], as_of: date, stamp: str) -> Written:
    newer = _computed_later(act, group, as_of)
    group = [item for item in group if item.property_id not in newer]
    sound = [item for item in group if not item.failed]
    present = {
        _key(row): row
        for row in DueWindow.objects.filter(property_id__in=ids_in(item.property_id for item in sound)).values()
    }
    wanted = {_key(row): row for item in sound for row in item.windows}
    vanished = [row["id"] for key, row in present.items() if key not in wanted]
    changed = [row for key, row in sorted(wanted.items()) if key not in present or not _same(present[key], row)]
    if vanished:
        DueWindow.objects.filter(id__in=ids_in(vanished)).delete()
    if changed:
        _upsert(DueWindow, _WINDOW_COLUMNS, ("component_id", "task", "who"), changed)
    if group:
        # This row is locked from here on: what follows cannot be written twice by two refreshes at once.
        _upsert(PropertyForecast, _FORECAST_COLUMNS, ("property_id",), _forecasts(act, group, as_of, stamp))
    if sound:
        odd_readings.record(act=act, computed=sound)
    return Written(len(group), len(changed), len(vanished))


def _computed_later(act: Act, group: list[ComputedProperty], as_of: date) -> set[int]:
    """Properties whose stored windows come from a later revision or instant than these."""
    revision = {item.property_id: item.revision for item in group}
    stored = PropertyForecast.objects.filter(property_id__in=ids_in(revision), failed="").values_list(
        "property_id", "register_revision", "computed_at", "as_of"
    )
    return {
        key
        for key, its_revision, computed_at, day in stored
        if its_revision > revision[key] or (its_revision == revision[key] and day >= as_of and computed_at > act.at)
    }


def _forecasts(act: Act, group: list[ComputedProperty], as_of: date, stamp: str) -> list[dict[str, Any]]:
    return [
        {
            "property_id": item.property_id,
            "computed_at": act.at,
            "as_of": as_of,
            "register_revision": item.revision,
            "rules_stamp": stamp,
            "run": act.id,
            "first_due_on": min((row["best_on"] for row in item.windows), default=None),
            "failed": item.failed[:300],
        }
        for item in group
    ]


def _key(row: Mapping[str, Any]) -> tuple[int, str, str]:
    return row["component_id"], row["task"], row["who"]


def _same(present: Mapping[str, Any], wanted: Mapping[str, Any]) -> bool:
    return all(_equal(present[name], wanted[name], name in _FLOATS) for name in _WINDOW_COLUMNS)


def _equal(left: Any, right: Any, number: bool) -> bool:
    # Engines read a number's text to within a unit in the last place.
    if number and left is not None and right is not None:
        return math.isclose(left, right, rel_tol=1e-9)
    return bool(left == right)


def _upsert(
    model: type[DueWindow] | type[PropertyForecast],
    columns: Mapping[str, str],
    key: tuple[str, ...],
    rows: Iterable[Mapping[str, Any]],
) -> None:
    table = connection.ops.quote_name(model._meta.db_table)
    quoted = {name: connection.ops.quote_name(name) for name in columns}
    payload = json.dumps([[_plain(row[name], kind) for name, kind in columns.items()] for row in rows])
    if connection.vendor == "sqlite":
        picked = ", ".join(_sqlite_column(place, kind) for place, kind in enumerate(columns.values()))
        source = f"SELECT {picked} FROM json_each(%s) WHERE true"
    else:
        picked = ", ".join(f"(listed.value->>{place})::{kind}" for place, kind in enumerate(columns.values()))
        source = f"SELECT {picked} FROM json_array_elements(%s::json) AS listed(value)"
    new = ", ".join(f"{quoted[name]} = excluded.{quoted[name]}" for name in columns if name not in key)
    statement = (
        f"INSERT INTO {table} ({', '.join(quoted.values())}) {source} "
        f"ON CONFLICT ({', '.join(quoted[name] for name in key)}) DO UPDATE SET {new}"
    )
    with connection.cursor() as cursor:
        cursor.execute(statement, [payload])


def _sqlite_column(place: int, kind: str) -> str:
    picked = f"json_extract(value, '$[{place}]')"
    return f"CAST({picked} AS REAL)" if kind == "double precision" else picked


def _plain(value: Any, kind: str) -> Any:
    """A value as text or number the engine reads back into the column's type."""
    if value is None:
        return None
    if kind == "jsonb":
        return json.dumps(value)
    if kind == "uuid" and isinstance(value, UUID):
        return value.hex if connection.vendor == "sqlite" else str(value)
    if isinstance(value, datetime):
        return str(connection.ops.adapt_datetimefield_value(value))
    if isinstance(value, date):
        return value.isoformat()
    return value
