"""Writes the history. Services call it inside their transaction; nothing ever updates or deletes a row."""

from typing import Any
from uuid import UUID

from django.db import connections

from core.act import Act
from core.models.history import History

MASKED = frozenset({"gate_code", "password", "digest"})


def differences(before: dict[str, Any], after: dict[str, Any]) -> dict[str, list[Any]]:
    """{field: [before, after]} for the fields that differ; secrets are masked."""
    changed = {}
    for name in sorted({*before, *after}):
        old, new = before.get(name), after.get(name)
        if old != new:
            changed[name] = ["changed", "changed"] if name in MASKED else [old, new]
    return changed


def record_change(
    *,
    act: Act,
    noun: str,
    uid: UUID | str,
    action: str,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    property_uid: UUID | None = None,
    note: str = "",
) -> History | None:
    """Append one entry; values must be JSON-ready. A "change" without any difference writes nothing."""
    changes = differences(before or {}, after or {})
    if action == "change" and not changes:
        return None
    return History.objects.create(
        act_id=act.id,
        at=act.at,
        who=act.who,
        who_name=act.name[:80],
        via=act.via,
        noun=noun,
        object_uid=uid,
        property_uid=property_uid,
        action=action,
        changes=changes,
        note=note[:300],
    )


_SQLITE = (
    "CREATE TRIGGER IF NOT EXISTS history_no_update BEFORE UPDATE ON core_history "
    "BEGIN SELECT RAISE(ABORT, 'history is append-only'); END",
    "CREATE TRIGGER IF NOT EXISTS history_no_delete BEFORE DELETE ON core_history "
    "BEGIN SELECT RAISE(ABORT, 'history is append-only'); END",
)
_POSTGRES = (
    "CREATE OR REPLACE FUNCTION history_append_only() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN RAISE EXCEPTION 'history is append-only'; END $$",
    "DROP TRIGGER IF EXISTS history_no_change ON core_history",
    "CREATE TRIGGER history_no_change BEFORE UPDATE OR DELETE ON core_history "
    "FOR EACH ROW EXECUTE FUNCTION history_append_only()",
)


def install_guard(alias: str = "default") -> None:
    """Create the triggers that refuse UPDATE and DELETE on the history. Repeatable."""
    connection = connections[alias]
    statements = _SQLITE if connection.vendor == "sqlite" else _POSTGRES
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def remove_guard(alias: str = "default") -> None:
    """Drop the triggers: for reversing the migration and for test databases that are emptied between tests."""
    connection = connections[alias]
    names = ("history_no_update", "history_no_delete") if connection.vendor == "sqlite" else ("history_no_change",)
    with connection.cursor() as cursor:
        for name in names:
            suffix = "" if connection.vendor == "sqlite" else " ON core_history"
            cursor.execute(f"DROP TRIGGER IF EXISTS {name}{suffix}")
