"""A checked register file in words for a screen, and as JSON."""

from typing import Any, Final

from jobs.exchange.compare import NOUNS
from jobs.exchange.validate import Checked

MOST_CHANGES: Final = 1000


def report(checked: Checked, *, applied: bool) -> str:
    """Notes, problems by row and column, changes of existing things, counts; what was or was not written."""
    lines = [f"note: {note}" for note in checked.notes]
    lines += [f"{problem.where}: {problem.message}" for problem in checked.problems]
    more = checked.problem_count - len(checked.problems)
    if more:
        lines.append(f"... and {more:,} more problems.")
    lines += [f"change: {change.words}" for change in checked.changes[:MOST_CHANGES]]
    if len(checked.changes) > MOST_CHANGES:
        lines.append(f"... and {len(checked.changes) - MOST_CHANGES:,} more changes.")
    lines += _counts(checked)
    if checked.problem_count:
        problems = f"{checked.problem_count:,} problem{'s' if checked.problem_count != 1 else ''}"
        lines.append(f"{checked.rows:,} rows read, {problems} in {checked.bad_rows:,} rows.")
    elif applied:
        lines.append(f"{checked.rows:,} rows read and applied.")
    else:
        lines.append(f"{checked.rows:,} rows read, no problem. Dry run: nothing was written; give --apply to write.")
    return "\n".join(lines)


def _counts(checked: Checked) -> list[str]:
    lines = []
    for noun, plural in NOUNS.items():
        count = checked.counts[noun]
        told = [
            f"{number:,} {word}"
            for number, word in (
                (count.add, "to add"),
                (count.change, "to change"),
                (count.remove, "to take back"),
                (count.unchanged, "unchanged"),
            )
            if number
        ]
        if told:
            lines.append(f"{plural}: {', '.join(told)}")
    return lines


def as_json(checked: Checked, *, applied: bool) -> dict[str, Any]:
    """The same for programs; values JSON-ready."""
    return {
        "rows": checked.rows,
        "applied": applied,
        "notes": list(checked.notes),
        "problem_count": checked.problem_count,
        "bad_rows": checked.bad_rows,
        "problems": [problem.as_json() for problem in checked.problems],
        "counts": {noun: vars(count) for noun, count in checked.counts.items()},
        "change_count": len(checked.changes),
        "changes": [
            {
                "row": change.row,
                "noun": change.noun,
                "label": change.label,
                "field": change.field,
                "before": _ready(change.before),
                "after": _ready(change.after),
            }
            for change in checked.changes[:MOST_CHANGES]
        ],
    }


def _ready(value: Any) -> Any:
    return value if value is None or isinstance(value, str | int | float | bool | list | dict) else str(value)
