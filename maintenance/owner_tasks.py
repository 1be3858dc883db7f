"""The owner's own small share: marked done by the owner, which moves its next date."""

from datetime import date
from uuid import UUID

from django.db import IntegrityError, transaction

from core.act import Act
from core.history import record_change
from core.problem import Conflict, NotAllowed
from jobs.edits import raise_revision
from jobs.models import Component
from jobs.read import visible
from maintenance.closeout_after import recompute
from maintenance.models import DueWindow, TaskDone
from maintenance.visit_change import local_today

OWNER = "owner"


def mark_done(*, act: Act, component: Component, task: str, uid: UUID, done_on: date | None = None) -> TaskDone:
    """Record that the owner did one of their own tasks, then compute the property's windows again.

    `uid` is made by the page: the same one again is the same deed. Only what is asked of the owner can be marked.
    Raises NotAllowed, Conflict where the task is no longer asked for.
    """
    if act.role != "homeowner" and not act.is_office:
        raise NotAllowed("Only someone at this property, or the office, may mark an owner's task done.")
    if not visible.components(act).filter(pk=component.pk).exists():
        raise NotAllowed("This part is not at one of your properties.")
    done, new = _write_once(act, component, task, uid, done_on)
    if new:
        recompute(act=act, property_id=component.property_id)
    return done


def _write_once(act: Act, component: Component, task: str, uid: UUID, done_on: date | None) -> tuple[TaskDone, bool]:
    before = TaskDone.objects.filter(uid=uid).first()
    if before is None:
        if not DueWindow.objects.filter(component=component, task=task, who=OWNER).exists():
            raise Conflict("This is not asked of you any more: look at the page again.", code="not_asked")
        try:
            with transaction.atomic():
                return _write(act, component, task, uid, done_on), True
        except IntegrityError:
            before = TaskDone.objects.get(uid=uid)
    if (before.component_id, before.task) != (component.pk, task):
        raise Conflict("This was sent before for another task: load the page again.", code="uid_taken")
    return before, False


def _write(act: Act, component: Component, task: str, uid: UUID, done_on: date | None) -> TaskDone:
    done = TaskDone.objects.create(
        uid=uid,
        component=component,
        task=task,
        outcome="done",
        done_on=done_on or local_today(act, component.property.zone),
        recorded_at=act.at,
        by=act.who[:60],
    )
    record_change(
        act=act,
        noun="component",
        uid=component.uid,
        action="owner_task",
        after={"task": task, "done_on": done.done_on.isoformat()},
        property_uid=component.property.uid,
    )
    raise_revision(component.property_id)
    return done
