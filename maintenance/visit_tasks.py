"""Checks the tasks wanted of a visit, before they are written: right part, right task, never an owner's task."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import OuterRef, Subquery

from core import normalise
from core.problem import BadInput, FieldProblem
from jobs.kinds import registry, words
from jobs.models import Component, Property
from maintenance.models import DueWindow, Rule, RuleVersion

MOST_TASKS = 200
DEFAULT_MINUTES = 15


@dataclass(frozen=True, slots=True)
class TaskWanted:
    """One task on one component for a visit; empty `rule_code`: wanted by a person, not by a rule."""

    component: Component
    task: str
    rule_code: str = ""
    words: str = ""
    latest_on: date | None = None
    minutes: int = 0
    who: str = "crew"


def task_wanted(item: Any) -> TaskWanted:
    """A `TaskWanted`, a due window, or a mapping of the same names as a `TaskWanted`."""
    if isinstance(item, TaskWanted):
        return item
    if isinstance(item, DueWindow):
        return TaskWanted(item.component, item.task, item.rule_code, item.words, item.latest_on, item.minutes, item.who)
    if isinstance(item, Mapping):
        return TaskWanted(**item)
    component, task, *rest = item
    return TaskWanted(component, task, *rest)


def check_tasks(prop: Property, items: Iterable[Any]) -> list[TaskWanted]:
    """The tasks in order, ready to write: minutes filled in from the rules. Raises BadInput naming each bad one."""
    wanted = [task_wanted(item) for item in items]
    if not 1 <= len(wanted) <= MOST_TASKS:
        raise BadInput(f"A visit has {len(wanted)} tasks: give 1 to {MOST_TASKS}.")
    owners, minutes = _rule_facts(wanted)
    problems: list[FieldProblem] = []
    seen: set[tuple[int, str]] = set()
    for number, item in enumerate(wanted):
        message = _problem(prop, item, owners, seen)
        if message:
            problems.append(FieldProblem(f"tasks.{number}", message, item.task))
        seen.add((item.component.pk, item.task))
    if problems:
        raise BadInput(" ".join(p.message for p in problems[:5]), fields=tuple(problems))
    return [_completed(item, minutes) for item in wanted]


def _problem(prop: Property, item: TaskWanted, owners: set[tuple[str, str, str]], seen: set[tuple[int, str]]) -> str:
    component = item.component
    label = str(component)
    kind = registry.get(component.kind)
    if component.property_id != prop.pk:
        return f"{label} is not at this property: take its own property's visit."
    if component.retired_on is not None:
        return f"{label} was taken out on {component.retired_on}: name the part that is there now."
    if item.task not in kind.tasks:
        return f"{item.task[:30]!r} is no task of {kind.a_name}: give one of {', '.join(kind.tasks)}."
    if (component.pk, item.task) in seen:
        return f"{item.task} of {label} is named twice: name it once."
    if item.who == "owner" or (item.rule_code, component.kind, item.task) in owners:
        return f"{item.task} of {label} is the owner's own task: it never becomes a visit."
    return ""


def _rule_facts(
    wanted: Sequence[TaskWanted],
) -> tuple[set[tuple[str, str, str]], dict[tuple[str, str, str], int]]:
    """By (rule code or "", kind, task): which are the owner's, and minutes on site. One query.

    A task without a rule is the owner's where every active rule for that kind and task is.
    """
    newest = RuleVersion.objects.filter(rule=OuterRef("pk")).order_by("-recorded_at", "-id")
    rows = (
        Rule.objects.filter(kind__in={w.component.kind for w in wanted}, task__in={w.task for w in wanted})
        .annotate(
            who=Subquery(newest.values("who")[:1]),
            minutes=Subquery(newest.values("minutes")[:1]),
            active=Subquery(newest.values("active")[:1]),
        )
        .values_list("code", "kind", "task", "who", "minutes", "active")
    )
    owners: set[tuple[str, str, str]] = set()
    crew: set[tuple[str, str, str]] = set()
    minutes: dict[tuple[str, str, str], int] = {}
    for code, kind, task, who, spent, active in rows:
        for key in [(code, kind, task), *([("", kind, task)] if active else [])]:
            (owners if who == "owner" else crew).add(key)
            minutes[key] = max(minutes.get(key, 0), spent or 0)
    return owners - crew, minutes


def _completed(item: TaskWanted, minutes: Mapping[tuple[str, str, str], int]) -> TaskWanted:
    key = (item.rule_code, item.component.kind, item.task)
    spent = item.minutes or minutes.get(key) or minutes.get(("", *key[1:])) or DEFAULT_MINUTES
    text = normalise.line(item.words or words.TASKS[item.task].words, limit=400)
    return TaskWanted(item.component, item.task, item.rule_code[:60], text, item.latest_on, spent)
