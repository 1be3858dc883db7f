"""Proposes a visit whose id the client has made: sent twice, it is one visit."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from core.act import Act
from core.problem import Conflict
from jobs.models import Property
from maintenance import visits
from maintenance.models import Visit
from maintenance.visit_tasks import task_wanted


def propose_once(*, act: Act, property: Property, tasks: Sequence[Any], uid: UUID | None = None, **more: Any) -> Visit:
    """As visits.propose; the same uid for the same property and tasks again gives the visit there is.

    Raises what visits.propose raises, and Conflict where the uid belongs to another visit.
    """
    if uid is None:
        return visits.propose(act=act, property=property, tasks=tasks, **more)
    before = Visit.objects.filter(uid=uid).first()
    if before is None:
        try:
            with transaction.atomic():
                return visits.propose(act=act, property=property, tasks=tasks, uid=uid, **more)
        except IntegrityError:
            # Sent twice at the same moment: the other one is there now.
            before = Visit.objects.get(uid=uid)
    wanted = {(item.component.pk, item.task) for item in map(task_wanted, tasks)}
    if before.property_id != property.pk or set(before.tasks.values_list("component_id", "task")) != wanted:
        raise Conflict(f"The id {uid} was used before for another visit.", code="uid_taken")
    return before
