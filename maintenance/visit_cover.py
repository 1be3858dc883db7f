"""Works out what covers a visit on a day: the agreement in force, the warranty of the system, or nobody but the payer.

Reads only; visits and closeouts write the result.
"""

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from jobs.models import Component
from maintenance.agreements import in_force
from maintenance.decide import cover
from maintenance.decide.cover import TaskFacts
from maintenance.models import ServiceAgreement, Visit


class Covered(NamedTuple):
    """What rules say of a visit's cost, and the agreement in force on that day (None: none is)."""

    cover: cover.Cover
    agreement: ServiceAgreement | None


def decide_cover(property_id: int, tasks: Sequence[tuple[Component, str, str]], on: date) -> Covered:
    """Cover of `tasks` (component, task code, rule code) at a property on a date. Two queries and the systems'."""
    agreement = in_force(property_id, on)
    listed = set(agreement.rules.values_list("code", flat=True)) if agreement else set()
    facts = [
        TaskFacts(task, bool(rule) and rule in listed, _under_warranty(component, on))
        for component, task, rule in tasks
    ]
    return Covered(cover.decide(facts), agreement)


def cover_after(visit: Visit, on: date) -> dict[str, object]:
    """Columns to write where the day becomes `on`: cover follows the rules unless a person had set it otherwise."""
    rows = visit.tasks.select_related("component__system").order_by("id")
    tasks = [(row.component, row.task, row.rule_code) for row in rows]
    reference = visit.local_date or visit.best_on or visit.created_at.date()
    now = decide_cover(visit.property_id, tasks, on)
    by_rule_before = decide_cover(visit.property_id, tasks, reference).cover if reference != on else now.cover
    columns: dict[str, object] = {"agreement": now.agreement}
    if visit.cover == by_rule_before:
        columns["cover"] = now.cover
    return columns


def _under_warranty(component: Component, on: date) -> bool:
    until = component.system.warranty_until if component.system else None
    return until is not None and until >= on
