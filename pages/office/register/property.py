"""Everything about one yard on one page, and the history of every change there."""

from collections.abc import Sequence
from datetime import date
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from core import company
from core.act import Act
from jobs.decide import layouts
from jobs.drawing.of_yard import scene_of
from jobs.kinds import registry, words
from jobs.models import Component, Property
from jobs.read import history, visible, yard
from maintenance.models import DueWindow, Reading, Visit
from maintenance.read import due as due_read
from maintenance.read import part_states, ratings, silt_now
from maintenance.read import visible as seen
from maintenance.read import visits as visits_read
from maintenance.read.due_page import part_words
from maintenance.read.stale import is_stale
from pages.acting import acting, found
from pages.office.register.history_words import told
from pages.office.register.part_words import in_the_ground, levels_by_part, part_lines

FIRST_WINDOWS = 10
MOST_WINDOWS = 200
VISITS = 30
READINGS = 12


@acting
def property_page(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """The yard: hazards, drawing, people, systems, what is due and why, visits, readings, photos, jobs."""
    row = found(visible.properties(act).select_related("area", "forecast"), uid=uid)
    there = yard.of(act, row)
    today = due_read.today_of(act)
    windows = list(due_read.due(act, due_read.DueFilter(weeks=None, property_id=row.pk))[:MOST_WINDOWS])
    parts = Component.objects.filter(property=row, retired_on=None, kind__in=registry.BY_CODE)
    states = {state.component.pk: state for state in part_states.of(parts, row.zone)}
    levels = levels_by_part(windows, silt_now.levels(act, windows))
    due = [window_words(window, today) for window in windows]
    context = {
        "property": row,
        "yard": there,
        "ground": in_the_ground(there.systems),
        "systems": [(system, part_lines(system, states, levels, today)) for system in there.systems],
        "scene": scene_of(there),
        "due_first": due[:FIRST_WINDOWS],
        "due_later": due[FIRST_WINDOWS:],
        "next_due": next((item for item in due if item["row"].who == "crew"), None),
        "forecast": getattr(row, "forecast", None),
        "is_stale": is_stale(row, act=act),
        "ratings": ratings.of_property(act, row, units=company.at(act.at).units),
        "readings": _readings(act, row),
        "agreements": list(seen.agreements(act).filter(property=row).order_by("-starts_on")[:5]),
        "today": today,
        "kinds": sorted(registry.ALL, key=lambda kind: kind.name),
        "layouts": layouts.ALL,
        **_visits(act, row),
    }
    return render(request, "office/register/property.html", context)


def _visits(act: Act, row: Property) -> dict[str, Any]:
    """Visits to come, the soonest first, and past ones, the latest first."""
    rows = visits_read.visit_list(act, visits_read.VisitFilter(property_id=row.pk)).order_by("-local_date", "-id")
    visits = list(rows[:VISITS])
    coming = [visit for visit in visits if visit.state in due_read.OPEN_STATES]
    coming.sort(key=lambda visit: (visit.local_date is None, visit.local_date or date.max))
    past = [visit for visit in visits if visit.state not in due_read.OPEN_STATES]
    return {
        "coming": coming,
        "past": past,
        "next_visit": next((visit for visit in coming if visit.local_date), None),
        "last_visit": next((visit for visit in past if visit.state == Visit.State.DONE), None),
    }


def _readings(act: Act, row: Property) -> list[dict[str, Any]]:
    rows = seen.readings(act).filter(component__property=row, withdraws=None, withdrawn_by=None)
    rows = rows.select_related("component__part_of", "component__sits_in")
    return [reading_words(reading) for reading in rows.order_by("-measured_at", "-id")[:READINGS]]


def reading_words(reading: Reading) -> dict[str, Any]:
    """A reading with what was read in words."""
    known = words.READINGS.get(reading.code)
    grade = words.GRADES.get(reading.grade)
    return {
        "row": reading,
        "words": known.words if known else reading.code,
        "grade": grade.words if grade else reading.grade,
        "is_yes_no": known is not None and known.type == "yes_no",
    }


def window_words(window: DueWindow, today: date) -> dict[str, Any]:
    """A due window with part and task in words; `late` past its latest day."""
    task = words.TASKS.get(window.task)
    return {
        "row": window,
        "part": part_words(window),
        "task": task.words if task else window.task,
        "late": window.latest_on < today,
    }


@acting
def property_history(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Every change at one property, newest first."""
    row = found(visible.properties(act), uid=uid)
    page = history.of_property(act, row.uid, before=_before(request))
    return _history(request, act, page, {"property": row, "title": row.address})


@acting
def component_history(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Every change of one part, newest first."""
    part = found(visible.components(act).select_related("property"), uid=uid)
    page = history.of_object(act, part.uid, before=_before(request))
    return _history(request, act, page, {"property": part.property, "part": part, "title": str(part)})


def _history(request: HttpRequest, act: Act, page: history.HistoryPage, about: dict[str, Any]) -> HttpResponse:
    entries: Sequence[Any] = told(act, page.entries, about["property"].zone)
    context = {**about, "entries": entries, "next_before": page.next_before, "is_first": _before(request) is None}
    return render(request, "office/register/history.html", context)


def _before(request: HttpRequest) -> int | None:
    text = request.GET.get("before", "")
    return int(text) if text.isdecimal() and text.isascii() and len(text) < 15 else None
