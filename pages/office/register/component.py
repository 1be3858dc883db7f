"""One part: its record, why its dates are what they are, readings, what was done, its line of successors, history."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from core.act import Act
from jobs.kinds import registry, words
from jobs.kinds.base import DimensionField
from jobs.kinds.dimensions import fields, read_dimensions
from jobs.models import Component
from jobs.read import history, visible
from maintenance.models import DueWindow
from maintenance.read import due as due_read
from maintenance.read import part_states, silt_now
from maintenance.read import visible as seen
from pages.acting import acting, found
from pages.office.register.history_words import field_words, told
from pages.office.register.part_words import level_words, value_words
from pages.office.register.property import reading_words, window_words
from pages.silt_section import section

READINGS = 60
HISTORY = 8
LINE = 20


@dataclass(frozen=True, slots=True)
class Size:
    """One size of the part: its value in words or "", what is taken where it is unknown, how it is known."""

    field: DimensionField
    value: str
    taken: str
    certainty: str


@acting
def component(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """The page of one part."""
    related = ("property", "system", "sits_in", "part_of", "successor")
    part = found(visible.components(act).select_related(*related), uid=uid)
    prop = part.property
    today = due_read.today_of(act)
    windows = list(due_read.due(act, due_read.DueFilter(weeks=None, property_id=prop.pk)).filter(component=part))
    levels = silt_now.levels(act, windows)
    entries = history.of_object(act, part.uid, size=HISTORY)
    known = Component.objects.filter(kind__in=registry.BY_CODE)
    context = {
        "part": part,
        "property": prop,
        "kind_name": registry.BY_CODE[part.kind].name if part.kind in registry.BY_CODE else part.kind,
        "sizes": _sizes(part),
        "state": next(iter(part_states.of(known.filter(pk=part.pk), prop.zone)), None),
        "windows": [{**window_words(w, today), "inputs": _inputs(w), **_drawn(w, levels, today)} for w in windows],
        "readings": _readings(act, part),
        "done": _done(act, part),
        "before": _line_before(part),
        "parts": part.parts.filter(retired_on=None).order_by("id"),
        "holds": part.holds.filter(retired_on=None).order_by("tag_key", "id"),
        "goes_to": part.goes_to.select_related("to_component"),
        "comes_from": part.comes_from.select_related("from_component"),
        "drains": part.drainage_areas.all(),
        "photos": visible.photos(act).filter(component=part)[:12],
        "entries": told(act, entries.entries, prop.zone),
        "has_more_history": entries.next_before is not None,
    }
    return render(request, "office/register/component.html", context)


def _sizes(part: Component) -> list[Size]:
    kind = registry.BY_CODE.get(part.kind)
    if kind is None:
        return []
    known = read_dimensions(kind, part.dimensions, part.certainty, version=part.kind_version)
    return [
        Size(
            field=item,
            value=value_words(item, known.values[item.name]) if item.name in known.values else "",
            taken=value_words(item, item.assumed) if item.assumed is not None else "",
            certainty=known.certainty.get(item.name, ""),
        )
        for item in fields(kind)
    ]


def _drawn(window: DueWindow, levels: dict[int, silt_now.Level], today: Any) -> dict[str, Any]:
    level = levels.get(window.pk)
    if level is None:
        return {}
    now, limit = level_words(level)
    heavy = (window.best_on - today).days <= 28
    drawing = section(level.fill, level.limit, heavy=heavy, label=f"{now} of silt expected today; {limit}")
    return {"drawing": drawing, "level": now, "limit": limit}


def _inputs(window: DueWindow) -> list[tuple[str, str]]:
    """What the dates were computed from, in words."""
    return [(field_words(name), _said(value)) for name, value in sorted(window.inputs.items())]


def _said(value: Any) -> str:
    if value is None or value == "":
        return "unknown"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.4g}"
    return ", ".join(map(_said, value)) if isinstance(value, list) else str(value).replace("_", " ")


def _readings(act: Act, part: Component) -> list[dict[str, Any]]:
    rows = seen.readings(act).filter(component=part, withdraws=None, withdrawn_by=None)
    return [reading_words(row) for row in rows.order_by("-measured_at", "-id")[:READINGS]]


def _done(act: Act, part: Component) -> list[dict[str, Any]]:
    rows = seen.tasks_done(act).filter(component=part).order_by("-done_on", "-id")[:READINGS]
    return [
        {
            "row": row,
            "task": words.TASKS[row.task].words if row.task in words.TASKS else row.task,
            "outcome": words.OUTCOMES.get(row.outcome, row.outcome),
            "left": f"{row.left_fill:.0%} full" if row.left_fill is not None else "",
        }
        for row in rows
    ]


def _line_before(part: Component) -> list[Component]:
    """The parts that were here before, the latest first. A look-up a generation, at most LINE."""
    line: list[Component] = []
    earlier = part.predecessors.order_by("-retired_on").first()
    while earlier is not None and len(line) < LINE and earlier not in line:
        line.append(earlier)
        earlier = earlier.predecessors.order_by("-retired_on").first()
    return line
