"""Replaces a part with all that hangs on it: the register's own, and open tasks and rule overrides of maintenance."""

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction

from core.act import Act
from jobs.models import Component
from jobs.replace_component import replace_component
from maintenance.models import RuleOverride, Visit, VisitTask

OPEN = (Visit.State.PROPOSED, Visit.State.OFFERED, Visit.State.AGREED, Visit.State.BEGUN)


def replace_part(
    *,
    act: Act,
    component: Component,
    on: date,
    reason: str,
    because: str = "",
    dimensions: Mapping[str, Any] | None = None,
    certainty: Mapping[str, str] | None = None,
    name: str = "",
    note: str = "",
    uid: UUID | None = None,
    besides_visit: int | None = None,
) -> Component:
    """Retire a part and put a new one in its place; open tasks and overrides follow. Returns the new part.

    Use this, not jobs.replace_component alone, from every door. `besides_visit`: the visit being closed out, whose
    tasks stay with the part they were done on.
    """
    with transaction.atomic():
        made = replace_component(
            act=act,
            component=component,
            on=on,
            reason=reason,
            because=because,
            dimensions=dimensions,
            certainty=certainty,
            name=name,
            note=note,
            uid=uid,
        )
        tasks = VisitTask.objects.filter(component=component, visit__state__in=OPEN, outcome="")
        if besides_visit is not None:
            tasks = tasks.exclude(visit_id=besides_visit)
        tasks.update(component=made)
        _copy_overrides(act, component, made)
    return made


def _copy_overrides(act: Act, old: Component, new: Component) -> None:
    """The newest override of each rule holds for the new part too; overrides are append-only, so as new rows."""
    newest: dict[int, RuleOverride] = {}
    for row in RuleOverride.objects.filter(component=old).order_by("-recorded_at", "-id"):
        newest.setdefault(row.rule_id, row)
    taken = set(RuleOverride.objects.filter(component=new).values_list("rule_id", flat=True))
    RuleOverride.objects.bulk_create(
        RuleOverride(
            rule_id=row.rule_id,
            property_id=row.property_id,
            component=new,
            recorded_at=act.at,
            recorded_by=act.who,
            recorded_name=act.name[:80],
            off=row.off,
            numbers=row.numbers,
            why=row.why,
        )
        for row in newest.values()
        if not row.ended and row.rule_id not in taken
    )
