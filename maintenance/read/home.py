"""What a homeowner sees of their property: parts and their state, next dates and why, own tasks, visits."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from django.db.models import F, Prefetch, QuerySet
from django.utils.translation import gettext as _

from core.act import Act
from jobs.kinds import registry, words
from jobs.models import Component, Photo, Property, System
from jobs.read import visible as register
from maintenance.models import Closeout, DueWindow, OfferedDay, Visit, VisitTask
from maintenance.read import due, part_states, rules, visible
from maintenance.read.part_states import PartState

AHEAD = ("offered", "agreed", "begun")
PAST_SHOWN = 3
PHOTOS_SHOWN = 12
SOON = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class SystemThere:
    """A system in plain words with its parts; `system` is None for parts of no system."""

    system: System | None
    parts: tuple[PartState, ...]


@dataclass(frozen=True, slots=True)
class ComingTask:
    """Something due: what, at which part, no sooner than / best / no later than, and why.

    `asks`: the rule's own words for a homeowner. `now`: an own task that may be marked done.
    """

    component_uid: UUID
    task: str
    what: str
    part: str
    earliest_on: date
    best_on: date
    latest_on: date
    late: bool
    planned: bool
    now: bool
    asks: str
    why: str


@dataclass(frozen=True, slots=True)
class VisitSeen:
    """A visit as a homeowner sees it: what was or will be done, what was found (lines), the photos."""

    visit: Visit
    tasks: tuple[str, ...]
    offered: tuple[OfferedDay, ...]
    lines: tuple[str, ...]
    photos: tuple[Photo, ...]
    another_day_asked: bool


@dataclass(frozen=True, slots=True)
class Home:
    """Everything of one property on one page. `recomputing`: the dates come from an older state of the record."""

    property: Property
    systems: tuple[SystemThere, ...]
    coming: tuple[ComingTask, ...]
    own: tuple[ComingTask, ...]
    ahead: tuple[VisitSeen, ...]
    past: tuple[VisitSeen, ...]
    past_count: int
    recomputing: bool


def home(act: Act, property: Property) -> Home:
    """The page of a property this person may see (take it from jobs.read.visible), in a constant number of queries."""
    today = due.today_of(act)
    windows = list(due.due(act, due.DueFilter(weeks=None, property_id=property.pk)))
    asked = {rule.code: rule.words_homeowner for rule in rules.in_force(act.at)}
    tasks = [_coming(window, today, asked) for window in windows]
    past = past_visits(act, property)
    return Home(
        property=property,
        systems=systems(act, property),
        coming=tuple(t for t, w in zip(tasks, windows, strict=True) if w.who != "owner"),
        own=tuple(t for t, w in zip(tasks, windows, strict=True) if w.who == "owner"),
        ahead=_seen(act, list(_whole(visits_ahead(act, property)))),
        past=_seen(act, list(_whole(past)[:PAST_SHOWN])),
        past_count=past.count(),
        recomputing=any(getattr(w, "stale", False) for w in windows),
    )


def systems(act: Act, property: Property) -> tuple[SystemThere, ...]:
    """Systems with the states of their parts, always of the whole record. Parts taken out are left out."""
    rows = register.components(act).filter(property=property, retired_on=None).select_related("system", "part_of")
    found: dict[int | None, list[PartState]] = {}
    for state in part_states.of(rows.order_by("system_id", "tag_key", "id"), property.zone):
        found.setdefault(state.component.system_id, []).append(state)
    return tuple(
        SystemThere(parts[0].component.system, tuple(_in_water_order(parts)))
        for key, parts in sorted(found.items(), key=lambda item: (item[0] is None, item[0] or 0))
    )


def visits_ahead(act: Act, property: Property) -> QuerySet[Visit]:
    """Offered, agreed and begun visits: first those whose day is still open, then the next day first."""
    return (
        visible.visits(act)
        .filter(property=property, state__in=AHEAD)
        .order_by(F("local_date").asc(nulls_first=True), "id")
    )


def past_visits(act: Act, property: Property) -> QuerySet[Visit]:
    """Done visits of their own time and role, newest first."""
    return visible.visits(act).filter(property=property, state=Visit.State.DONE).order_by("-local_date", "-id")


def seen(act: Act, visits: QuerySet[Visit]) -> tuple[VisitSeen, ...]:
    """A page of visits with what was found; at most five queries."""
    return _seen(act, list(_whole(visits)))


def _in_water_order(parts: Sequence[PartState]) -> list[PartState]:
    order = {kind.code: number for number, kind in enumerate(registry.ALL)}
    return sorted(parts, key=lambda p: (order.get(p.component.kind, 99), p.component.tag_key, p.component.pk))


def _part_label(component: Component) -> str:
    plain = _(registry.get(component.kind).plain_words)
    tag = component.tag or (component.part_of.tag if component.part_of else "")
    return f"{plain} ({tag})" if tag else plain


def _coming(window: DueWindow, today: date, asked: dict[str, str]) -> ComingTask:
    return ComingTask(
        component_uid=window.component.uid,
        task=window.task,
        what=_(words.TASKS[window.task].plain_words),
        part=_part_label(window.component),
        earliest_on=window.earliest_on,
        best_on=window.best_on,
        latest_on=window.latest_on,
        late=window.latest_on < today,
        planned=bool(getattr(window, "planned", False)),
        now=window.earliest_on <= today or window.best_on <= today + SOON,
        asks=_asked_words(asked.get(window.rule_code, "")),
        why=window.words,
    )


def _asked_words(told: str) -> str:
    """The rule's words; the safety words that end an owner's rule stand above the list, once for all."""
    bare = told.removesuffix(words.OWNER_SAFETY).strip()
    return _(bare) if bare else ""


def _whole(visits: QuerySet[Visit]) -> QuerySet[Visit]:
    tasks = VisitTask.objects.select_related("component__part_of").order_by("id")
    return visits.select_related("property").prefetch_related(
        Prefetch("tasks", tasks),
        "offered_days",
        Prefetch("closeouts", Closeout.objects.filter(effective=True).order_by("id")),
        "calls_to_make",
    )


def _seen(act: Act, visits: list[Visit]) -> tuple[VisitSeen, ...]:
    closeouts = {c.uid: visit.pk for visit in visits for c in visit.closeouts.all()}
    photos: dict[int, list[Photo]] = {}
    rows = register.photos(act).filter(closeout_uid__in=closeouts).exclude(shown=None).order_by("taken_at", "id")
    for photo in rows[: PHOTOS_SHOWN * max(1, len(visits))] if closeouts else ():
        if photo.closeout_uid is not None:
            photos.setdefault(closeouts[photo.closeout_uid], []).append(photo)
    return tuple(_one(visit, tuple(photos.get(visit.pk, ())[:PHOTOS_SHOWN])) for visit in visits)


def _one(visit: Visit, photos: tuple[Photo, ...]) -> VisitSeen:
    lines = [str(line) for closeout in visit.closeouts.all() for line in closeout.summary.get("lines", ())]
    tasks = [f"{_(words.TASKS[t.task].plain_words)}: {_part_label(t.component)}" for t in visit.tasks.all()]
    return VisitSeen(
        visit=visit,
        tasks=tuple(tasks),
        offered=tuple(visit.offered_days.all()),
        lines=tuple(dict.fromkeys(lines)),
        photos=photos,
        another_day_asked=any(c.reason == "another_day" and c.told_at is None for c in visit.calls_to_make.all()),
    )
