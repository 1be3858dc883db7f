"""Proposes visits from due windows, one property at a time, and keeps those proposals in step with the windows.

Only visits that are still proposed and made wholly of tasks a rule asked for are touched. What is offered, agreed or
begun stays as it is; so does a proposal in which a person wanted something. Owner tasks never become visits.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

from django.db import transaction
from django.db.models import Prefetch

from core import clock, company
from core.act import Act
from jobs.kinds.words import TASKS
from jobs.models import Property
from maintenance import visits
from maintenance.decide.visit_groups import Group, Wanted, groups
from maintenance.models import DueWindow, Visit, VisitTask
from maintenance.read.id_list import ids_in
from maintenance.visit_change import Step, lock_visit, take_step
from maintenance.visit_cover import decide_cover
from maintenance.visit_tasks import check_tasks

OPEN: Final = ("proposed", "offered", "agreed", "begun")
KEPT_DAYS: Final = 7

Key = tuple[int, str]


@dataclass(slots=True)
class _Yard:
    """One property's due windows, the tasks that stand in visits not to be touched, and our own proposals."""

    property: Property
    windows: dict[Key, DueWindow] = field(default_factory=dict)
    planned: set[Key] = field(default_factory=set)
    proposals: list[Visit] = field(default_factory=list)


def propose_visits(*, act: Act, property_ids: Iterable[int] | None = None) -> list[Visit]:
    """Bring the proposals of these properties (all open ones if None) in step with their due windows.

    Returns the visits that are new or changed. A proposal none of whose tasks is due any more is called off without
    a message: nobody was told of it. Each property is a transaction of its own.
    """
    found = []
    setup = company.at(act.at)
    for yard in _yards(act, property_ids, setup.propose_days):
        found.extend(_propose_at(act, yard, setup.propose_days, setup.setup_minutes))
    return found


def _yards(act: Act, property_ids: Iterable[int] | None, horizon_days: int) -> list[_Yard]:
    """What is needed to plan, in four queries for any number of properties."""
    places = Property.objects.filter(closed_at=None)
    if property_ids is not None:
        places = places.filter(id__in=ids_in(property_ids))
    yards = {prop.pk: _Yard(prop) for prop in places.order_by("id")}
    horizon = clock.local_date(act.at, company.at(act.at).zone) + timedelta(days=horizon_days)
    windows = DueWindow.objects.filter(
        property_id__in=ids_in(yards), who="crew", earliest_on__lte=horizon, component__retired_on=None
    )
    for window in windows.select_related("component__system").order_by("id"):
        yards[window.property_id].windows[window.component_id, window.task] = window
    open_visits = Visit.objects.filter(property_id__in=ids_in(yards), state__in=OPEN).order_by("id")
    for visit in open_visits.prefetch_related(Prefetch("tasks", VisitTask.objects.order_by("id"))):
        yard = yards[visit.property_id]
        if _ours(visit):
            yard.proposals.append(visit)
        else:
            yard.planned |= {(task.component_id, task.task) for task in visit.tasks.all()}
    return list(yards.values())


def _ours(visit: Visit) -> bool:
    tasks = list(visit.tasks.all())
    return (
        visit.state == Visit.State.PROPOSED
        and visit.job_id is None
        and visit.local_date is None
        and bool(tasks)
        and all(task.rule_code for task in tasks)
    )


def _propose_at(act: Act, yard: _Yard, horizon_days: int, setup_minutes: int) -> list[Visit]:
    wanted = [
        Wanted(key, window.earliest_on, window.best_on, window.latest_on)
        for key, window in yard.windows.items()
        if not _planned(key, yard.planned)
    ]
    today = clock.local_date(act.at, yard.property.zone)
    planned = groups(wanted, today=today, horizon_days=horizon_days)
    pairs, unused = _matched(planned, yard.proposals)
    news = []
    for group, visit in pairs:
        tasks = _without_covered([yard.windows[item.key] for item in group.tasks])
        if visit is None or not _fits(visit, group, tasks, today):
            news.append((group, visit, tasks))
    if not news and not unused:
        return []
    changed = []
    with transaction.atomic():
        for idle in unused:
            _drop(act, idle)
        for group, visit, tasks in news:
            if visit is None:
                changed.append(_new(act, yard.property, group, tasks))
            elif _renew(act, visit, group, tasks, setup_minutes):
                changed.append(visit)
    return changed


def _planned(key: Key, planned: set[Key]) -> bool:
    """The task, or one that counts as it, stands in a visit already."""
    component_id, task = key
    return any((component_id, other) in planned for other in (task, *TASKS[task].also_done_by))


def _without_covered(windows: Sequence[DueWindow]) -> list[DueWindow]:
    """A look at a part that is cleaned on the same visit is no task of its own."""
    keys = {(window.component_id, window.task) for window in windows}
    return [
        window
        for window in windows
        if not _planned((window.component_id, window.task), keys - {(window.component_id, window.task)})
    ]


def _matched(
    planned: Sequence[Group], proposals: Sequence[Visit]
) -> tuple[list[tuple[Group, Visit | None]], list[Visit]]:
    """Each group with the proposal that shares most of its tasks; a proposal sharing none still takes a group."""
    left = list(proposals)
    pairs: list[tuple[Group, Visit | None]] = []
    for group in planned:
        keys = {item.key for item in group.tasks}
        shared = {visit.pk: len(keys & _keys(visit)) for visit in left}
        ordered = sorted(left, key=lambda visit: (-shared[visit.pk], visit.pk))
        pairs.append((group, ordered[0] if ordered else None))
        left = ordered[1:]
    return pairs, left


def _keys(visit: Visit) -> set[Key]:
    return {(task.component_id, task.task) for task in visit.tasks.all()}


def _new(act: Act, prop: Property, group: Group, tasks: Sequence[DueWindow]) -> Visit:
    return visits.propose(
        act=act,
        property=prop,
        tasks=tasks,
        no_sooner_than=group.no_sooner_than,
        best_on=group.best_on,
        no_later_than=group.no_later_than,
    )


def _renew(act: Act, visit: Visit, group: Group, windows: Sequence[DueWindow], setup_minutes: int) -> bool:
    """Give a proposal the tasks and days of its group. False where it was offered or changed meanwhile."""
    if lock_visit(visit.pk).revision != visit.revision:
        return False
    wanted = check_tasks(visit.property, windows)
    rows = {
        (item.component.pk, item.task): {
            "rule_code": item.rule_code,
            "latest_on": item.latest_on,
            "minutes": item.minutes,
            "words": item.words,
        }
        for item in wanted
    }
    present = {(task.component_id, task.task): task for task in visit.tasks.all()}
    VisitTask.objects.filter(pk__in=[task.pk for key, task in present.items() if key not in rows]).delete()
    for (component_id, task), values in rows.items():
        VisitTask.objects.update_or_create(visit=visit, component_id=component_id, task=task, defaults=values)
    covered = decide_cover(
        visit.property_id, [(item.component, item.task, item.rule_code) for item in wanted], group.best_on
    )
    minutes = sum(item.minutes for item in wanted) + setup_minutes
    fields = {
        "no_sooner_than": group.no_sooner_than,
        "best_on": group.best_on,
        "no_later_than": group.no_later_than,
        "minutes": minutes,
        "cover": covered.cover,
        "agreement": covered.agreement,
    }
    take_step(act=act, visit=visit, step=Step("renew", "proposed", fields=fields))
    return True


def _fits(visit: Visit, group: Group, windows: Sequence[DueWindow], today: date) -> bool:
    """The visit says all this already. Its best day stays for a week after it passed: a proposal moves little."""
    present = {(task.component_id, task.task): task for task in visit.tasks.all()}
    if present.keys() != {(window.component_id, window.task) for window in windows}:
        return False
    for window in windows:
        task = present[window.component_id, window.task]
        if (task.rule_code, task.latest_on) != (window.rule_code, window.latest_on):
            return False
        if window.minutes and window.minutes != task.minutes:
            return False
    if (visit.no_sooner_than, visit.no_later_than) != (group.no_sooner_than, group.no_later_than):
        return False
    return visit.best_on is not None and visit.best_on >= today - timedelta(days=KEPT_DAYS)


def _drop(act: Act, visit: Visit) -> None:
    if lock_visit(visit.pk).revision == visit.revision:
        fields = {"called_off_why": "Nothing of it is due any more.", "ended_at": act.at}
        take_step(act=act, visit=visit, step=Step("no_longer_due", "called_off", fields=fields))
