"""`manage.py due [--as-of DATE] [--days N] [--property UID] [--json]`: which component needs what and when, and why."""

from __future__ import annotations

import json
from argparse import ArgumentParser, ArgumentTypeError
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, Final
from uuid import UUID

from django.core.management.base import BaseCommand

from core.act import by_system
from maintenance.read.due_table import DueLine, due_lines

COLUMNS: Final = ("best", "latest", "property", "part", "task", "who", "min", "rule")


class Command(BaseCommand):
    help = "List what is due. With --as-of, computed from what was known at the end of that day; nothing is written."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--as-of", type=_day, help="YYYY-MM-DD; without it the stored windows are shown")
        parser.add_argument("--days", type=_count, default=60, help="best day within so many days (60)")
        parser.add_argument("--property", type=_uid, help="uid of one property")
        parser.add_argument("--json", action="store_true", help="everything, as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        table = due_lines(
            act=by_system("due", via="command"),
            as_of=options["as_of"],
            days=options["days"],
            property_uid=options["property"],
        )
        if options["json"]:
            self.stdout.write(json.dumps(table.as_json(), indent=1))
            return
        for line in as_table(table.lines):
            self.stdout.write(line)
        self.stdout.write(table.words())


def as_table(lines: Sequence[DueLine]) -> list[str]:
    """Aligned columns, the reason on a line of its own below each row."""
    rows = [_cells(line) for line in lines]
    widths = {name: max(len(name), *(len(row[name]) for row in rows)) if rows else len(name) for name in COLUMNS}
    shown = ["  ".join(name.ljust(widths[name]) for name in COLUMNS).rstrip()]
    for row, line in zip(rows, lines, strict=True):
        shown.append("  ".join(row[name].ljust(widths[name]) for name in COLUMNS).rstrip())
        shown.append(f"    {line.row['words']}")
    return shown


def _cells(line: DueLine) -> Mapping[str, str]:
    row = line.row
    return {
        "best": row["best_on"].isoformat(),
        "latest": row["latest_on"].isoformat(),
        "property": line.address,
        "part": line.label,
        "task": line.task_words,
        "who": row["who"],
        "min": str(row["minutes"]),
        "rule": row["rule_code"],
    }


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ArgumentTypeError(f"{text!r} is no date: give YYYY-MM-DD") from error


def _count(text: str) -> int:
    if not text.isdigit() or not 0 <= int(text) <= 3650:
        raise ArgumentTypeError(f"{text!r} is no number of days: give 0 to 3650")
    return int(text)


def _uid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError as error:
        raise ArgumentTypeError(f"{text!r} is no uid") from error
