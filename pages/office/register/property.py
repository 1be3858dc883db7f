"""Everything about one yard on one page; its history; one component's record."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from core import company
from core.act import Act
from jobs.decide import layouts
from jobs.drawing.of_yard import scene_of
from jobs.kinds import registry, words
from jobs.kinds.dimensions import fields
from jobs.models import Component
from jobs.read import history, visible, yard
from maintenance.models import DueWindow
from maintenance.read import due as due_read
from maintenance.read import part_states, ratings
from maintenance.read import visible as seen
from maintenance.read import visits as visits_read
from maintenance.read.stale import is_stale
from pages.acting import acting, found


@acting
def property_page(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """The yard: drawing, people, hazards, systems, what is due and why, visits, photos, jobs."""
    row = found(visible.properties(act).select_related("area", "forecast"), uid=uid)
    there = yard.of(act, row)
    windows = list(due_read.due(act, due_read.DueFilter(weeks=None, property_id=row.pk))[:200])
    visits = visits_read.visit_list(act, visits_read.VisitFilter(property_id=row.pk)).order_by("-local_date", "-id")
    visits_there = list(visits[:30])
    today = due_read.today_of(act)
    context = {
        "property": row,
        "yard": there,
        "scene": scene_of(there),
        "windows": [_window(w, today) for w in windows],
        "next_window": next((w for w in windows if w.who == "crew"), None),
        "forecast": getattr(row, "forecast", None),
        "is_stale": is_stale(row, act=act),
        "states": part_states.of(Component.objects.filter(property=row, retired_on=None), row.zone),
        "ratings": ratings.of_property(act, row, units=company.at(act.at).units),
        "visits": visits_there,
        "last_visit": next((v for v in visits_there if v.state == "done"), None),
        "agreements": list(seen.agreements(act).filter(property=row).order_by("-starts_on")[:5]),
        "today": today,
        "kinds": sorted(registry.ALL, key=lambda kind: kind.name),
        "layouts": layouts.ALL,
    }
    return render(request, "office/register/property.html", context)


def _window(window: DueWindow, today: Any) -> dict[str, Any]:
    task = words.TASKS.get(window.task)
    return {"row": window, "task": task.words if task else window.task, "late": window.latest_on < today}


@acting
def property_history(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Every change at one property, newest first."""
    row = found(visible.properties(act), uid=uid)
    before = request.GET.get("before", "")
    page = history.of_property(
        act, row.uid, before=int(before) if before.isdecimal() and before.isascii() and len(before) < 15 else None
    )
    return render(request, "office/register/history.html", {"property": row, "page": page})


@acting
def component(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """One part: its record, readings, what was done, why this date, its line of successors, history."""
    part = found(
        visible.components(act).select_related("property", "system", "sits_in", "part_of", "successor"), uid=uid
    )
    kind = registry.BY_CODE.get(part.kind)
    context = {
        "part": part,
        "property": part.property,
        "kind": kind,
        "dimensions": _dimensions(part),
        "windows": [
            _window(w, due_read.today_of(act)) for w in DueWindow.objects.filter(component=part).order_by("best_on")
        ],
        "readings": [
            {"row": r, "words": words.READINGS[r.code].words if r.code in words.READINGS else r.code}
            for r in seen.readings(act).filter(component=part, withdrawn_by=None).order_by("-measured_at", "-id")[:60]
        ],
        "done": [
            {
                "row": d,
                "task": words.TASKS[d.task].words if d.task in words.TASKS else d.task,
                "outcome": words.OUTCOMES.get(d.outcome, d.outcome),
            }
            for d in seen.tasks_done(act).filter(component=part).order_by("-done_on", "-id")[:60]
        ],
        "predecessors": part.predecessors.order_by("-retired_on"),
        "parts": part.parts.filter(retired_on=None).order_by("id"),
        "history": history.of_object(act, part.uid, size=30),
    }
    return render(request, "office/register/component.html", context)


def _dimensions(part: Component) -> list[dict[str, Any]]:
    kind = registry.BY_CODE.get(part.kind)
    if kind is None:
        return []
    found = []
    for item in fields(kind):
        value = part.dimensions.get(item.name)
        shown = item.choices.get(value, value) if item.choices and isinstance(value, str) else value
        if item.type == "curve" and value:
            shown = ", ".join(f"{p['flow_gpm']:g} gpm at {p['head_ft']:g} ft" for p in value)
        elif item.type == "yes_no" and value is not None:
            shown = "yes" if value else "no"
        found.append({"field": item, "value": shown, "certainty": part.certainty.get(item.name, "")})
    return found
