"""What a visit came to, in plain words for the homeowner. Pure. Nothing of the crew's own notes stands in it."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from jobs.kinds import registry, words
from maintenance.calendar.event import without_forbidden

OUTCOME_WORDS = {
    "done": "done",
    "found_fine": "we looked and nothing was needed",
    "not_looked_at": "not looked at this time",
    "could_not": "could not be done",
    "declined": "left out at your wish",
}


@dataclass(frozen=True, slots=True)
class TaskTold:
    """One task as told: `found_fill` and `left_fill` 0 clean to 1 full, None unknown."""

    kind: str
    tag: str
    task: str
    outcome: str
    reason: str = ""
    found_fill: float | None = None
    left_fill: float | None = None


@dataclass(frozen=True, slots=True)
class PartTold:
    """One replaced part as told."""

    kind: str
    tag: str
    reason: str


def fill_words(fill: float) -> str:
    """How full of silt, as people say it.

    >>> fill_words(0.1), fill_words(0.5), fill_words(1.2)
    ('nearly clean', 'about half full', 'full')
    """
    for limit, text in ((0.01, "clean"), (1 / 8, "nearly clean"), (3 / 8, "about a quarter full")):
        if fill < limit:
            return text
    for limit, text in ((5 / 8, "about half full"), (7 / 8, "about three quarters full")):
        if fill < limit:
            return text
    return "full"


def summarise(
    *,
    on: date,
    tasks: Sequence[TaskTold],
    parts: Sequence[PartTold],
    hazards: int,
    lids_fastened: bool,
    nobody_home: bool,
    follow_up: bool,
) -> dict[str, Any]:
    """{"day", "tasks", "parts", "lids_fastened", "nobody_home", "follow_up", "lines"}; `lines` are for reading."""
    lines = [_task_line(task) for task in tasks]
    lines += [f"We replaced {_part_words(part.kind, part.tag)}: {without_forbidden(part.reason)}." for part in parts]
    if hazards:
        lines.append(
            "We noted something in the ground or on site to be careful of."
            if hazards == 1
            else f"We noted {hazards} things in the ground or on site to be careful of."
        )
    lines.append(
        "Lids and grates are back in place and fastened."
        if lids_fastened
        else "A lid or grate could not be fastened: please keep everyone away from it. The office will call."
    )
    if follow_up:
        lines.append("There is more to do another time; the office will call.")
    return {
        "day": on.isoformat(),
        "tasks": [asdict(task) for task in tasks],
        "parts": [asdict(part) for part in parts],
        "lids_fastened": lids_fastened,
        "nobody_home": nobody_home,
        "follow_up": follow_up,
        "lines": lines,
    }


def _task_line(task: TaskTold) -> str:
    what = words.TASKS[task.task].plain_words
    line = f"{what[0].upper()}{what[1:]}, {_part_words(task.kind, task.tag)}: {OUTCOME_WORDS[task.outcome]}"
    if task.outcome == "could_not" and task.reason in words.COULD_NOT_REASONS:
        line += f" ({words.COULD_NOT_REASONS[task.reason].partition(':')[0]})"
    if task.found_fill is not None and task.outcome in ("done", "found_fine"):
        line += f"; we found it {fill_words(task.found_fill)}"
    if task.left_fill is not None and task.left_fill >= 0.01 and task.outcome == "done":
        line += f" and left it {fill_words(task.left_fill)}"
    return line + "."


def _part_words(kind: str, tag: str) -> str:
    plain = registry.get(kind).plain_words
    return f"{plain} ({tag})" if tag else plain
