"""Small register files for the tests, and what an import left in the database."""

import csv
import io
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from core.act import Act, by_system
from core.models import History
from jobs.exchange.apply import apply
from jobs.exchange.validate import Checked, check
from jobs.models import (
    Area,
    Component,
    ComponentVersion,
    Connection,
    Customer,
    DrainageArea,
    Hazard,
    Property,
    PropertyRole,
    System,
)
from tests.factories import AT

MODELS = (
    Area,
    Property,
    Customer,
    PropertyRole,
    Hazard,
    System,
    Component,
    ComponentVersion,
    Connection,
    DrainageArea,
    History,
)


def office() -> Act:
    """The server's own act at the tests' time."""
    return by_system("test", at=AT, via="import")


def csv_of(rows: Iterable[Mapping[str, Any]], *, separator: str = ",") -> bytes:
    """Rows as CSV bytes; the header is every name in the order met."""
    made = list(rows)
    header = list(dict.fromkeys(name for row in made for name in row))
    buffer = io.StringIO(newline="")
    writer = csv.DictWriter(buffer, header, delimiter=separator)
    writer.writeheader()
    writer.writerows(made)
    return buffer.getvalue().encode()


def checked(*rows: Mapping[str, Any]) -> Checked:
    """A dry run of these rows."""
    return check(act=office(), data=csv_of(rows))


def applied(*rows: Mapping[str, Any]) -> Checked:
    """These rows applied."""
    return apply(act=office(), data=csv_of(rows))


def told(found: Checked) -> list[tuple[int, str]]:
    """Where the problems are: (row, column)."""
    return [(problem.row, problem.column) for problem in found.problems]


def row_counts() -> dict[str, int]:
    """How many rows each table holds."""
    return {model.__name__: model._default_manager.count() for model in MODELS}


def register_as_kept() -> dict[str, Any]:
    """The whole register without keys and times of making, comparable between two databases."""
    found: dict[str, Any] = {}
    for model in MODELS:
        if model not in (ComponentVersion, History):
            found[model.__name__] = sorted((_plain(record) for record in model._default_manager.all()), key=str)
    versions = ComponentVersion.objects.select_related("component").order_by("id")
    found["versions"] = sorted(((str(item.component.uid), str(item.data)) for item in versions), key=str)
    entries = History.objects.all()
    found["history"] = Counter(
        (item.noun, _uid(item), item.action, str(sorted(item.changes.items())), str(item.property_uid), item.note)
        for item in entries
    )
    return found


UNNAMED = ("connection",)
"""Records that a file does not give a uid to."""


def _uid(item: History) -> str:
    return "" if item.noun in UNNAMED else str(item.object_uid)


def _plain(record: Any) -> dict[str, str]:
    kept = {}
    for field in record._meta.concrete_fields:
        if field.name == "id" or (field.name == "uid" and isinstance(record, Connection)):
            continue
        value = getattr(record, field.name)
        kept[field.name] = str(dict(sorted(value.items())) if isinstance(value, dict) else getattr(value, "uid", value))
    return kept
