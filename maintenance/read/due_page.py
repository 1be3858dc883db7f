"""The office's first page: one page of due windows with what each needs to be told, and what else waits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.core.paginator import Page, Paginator
from django.db.models import Count, Q

from core import health
from core.act import Act
from core.models import Message
from jobs.kinds import registry
from jobs.kinds.words import TASKS
from maintenance.models import DueWindow, Visit, VisitTask
from maintenance.read import visits as visit_lists
from maintenance.read.due import OPEN_STATES, Ages, DueFilter, ages, due, today_of
from maintenance.read.silt_now import Level, levels

ROWS = 40
SOON_DAYS = 28


@dataclass(frozen=True, slots=True)
class DueRow:
    """One window in words. `late_days` past its latest day, 0 where not; `soon`: its best day is near or past."""

    window: DueWindow
    part: str
    task: str
    late_days: int
    soon: bool
    level: Level | None
    visit: Visit | None


@dataclass(frozen=True, slots=True)
class Waiting:
    """What else the office has to look after."""

    calls: int
    reviews: int
    no_closeout: int
    unknown_mail: int
    ages: Ages
    health: health.Report


@dataclass(frozen=True, slots=True)
class DuePage:
    """Counts over the whole list, and the rows of one page of it."""

    today: date
    tasks: int
    properties: int
    late: int
    oldest_computed_at: datetime | None
    rows: tuple[DueRow, ...]
    page: Page


def due_page(act: Act, wanted: DueFilter, number: str | int | None = 1) -> DuePage:
    """One page of the list; the same number of queries whatever its length."""
    today = today_of(act)
    rows = due(act, wanted)
    counts = rows.order_by().aggregate(
        tasks=Count("id"),
        properties=Count("property", distinct=True),
        late=Count("id", filter=Q(latest_on__lt=today)),
    )
    paginator = Paginator(rows, ROWS)
    paginator.count = counts["tasks"]
    page = paginator.get_page(number)
    windows = list(page.object_list)
    return DuePage(
        today=today,
        tasks=counts["tasks"],
        properties=counts["properties"],
        late=counts["late"],
        oldest_computed_at=min((w.property.forecast.computed_at for w in windows if _computed(w)), default=None),
        rows=_rows(act, windows, today),
        page=page,
    )


def waiting(act: Act) -> Waiting:
    """Calls, reviews, past visits without a closeout, windows being recomputed, signs of life."""
    return Waiting(
        calls=visit_lists.open_calls(act).count(),
        reviews=visit_lists.open_flags(act).values("received").distinct().order_by().count(),
        no_closeout=visit_lists.past_without_closeout(act).count(),
        unknown_mail=Message.objects.filter(state=Message.State.UNKNOWN).count(),
        ages=ages(act),
        health=health.report(at=act.at),
    )


def part_words(window: DueWindow) -> str:
    """'CB-1 catch basin' or 'grate of CB-1': what the office calls the part."""
    part = window.component
    kind = registry.get(part.kind).name
    if part.tag:
        return f"{part.tag} {kind}"
    holder = part.part_of or part.sits_in
    return f"{kind} of {holder.tag}" if holder and holder.tag else kind


def _computed(window: DueWindow) -> bool:
    return hasattr(window.property, "forecast")


def _rows(act: Act, windows: Sequence[DueWindow], today: date) -> tuple[DueRow, ...]:
    known = levels(act, windows)
    planned = _planned(windows)
    return tuple(
        DueRow(
            window=window,
            part=part_words(window),
            task=TASKS[window.task].words,
            late_days=max(0, (today - window.latest_on).days),
            soon=(window.best_on - today).days <= SOON_DAYS,
            level=known.get(window.pk),
            visit=planned.get((window.component_id, window.task)),
        )
        for window in windows
    )


def _planned(windows: Sequence[DueWindow]) -> dict[tuple[int, str], Visit]:
    """The open visit each window stands in. One query."""
    rows = VisitTask.objects.filter(
        component__in={w.component_id for w in windows}, visit__state__in=OPEN_STATES
    ).select_related("visit")
    return {(row.component_id, row.task): row.visit for row in rows.order_by("-visit_id")}
