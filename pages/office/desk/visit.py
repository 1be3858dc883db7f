"""One visit on the desk: what it is, and the moves it allows, each a form of its own."""

from collections.abc import Callable
from datetime import date, time, timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core.act import Act
from core.models import Message, User
from core.problem import BadInput, FieldProblem, Problem
from jobs.kinds import words
from jobs.read import history
from maintenance import visits
from maintenance.decide import visit_moves
from maintenance.models import Visit
from maintenance.read import due as due_read
from maintenance.read import visible
from maintenance.read import visits as visits_read
from maintenance.read.day_book import part_words
from pages.acting import acting, found
from pages.paging import page_of

OPEN = ("proposed", "offered", "agreed", "begun")


@acting
def visit_list(request: HttpRequest, act: Act) -> HttpResponse:
    """Visits by state; those not finished without a choice."""
    state = request.GET.get("state", "")
    states = (state,) if state in Visit.State.values else OPEN
    page = page_of(request, visits_read.visit_list(act, visits_read.VisitFilter(states=states)))
    context = {
        "page": page,
        "state": state,
        "states": Visit.State.choices,
        "without_closeout": visits_read.past_without_closeout(act)[:20],
        "today": due_read.today_of(act),
    }
    return render(request, "office/desk/visits.html", context)


@acting
def visit(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Everything about one visit."""
    return _page(request, act, uid)


def _page(request: HttpRequest, act: Act, uid: UUID, *, problem: Problem | None = None, at: str = "") -> HttpResponse:
    """The visit; `problem`: why the step `at` was not taken."""
    row = found(visits_read.visit_list(act), uid=uid)
    tasks = [
        {
            "row": task,
            "part": part_words(task),
            "words": words.TASKS[task.task].words if task.task in words.TASKS else task.task,
            "outcome": words.OUTCOMES.get(task.outcome, task.outcome),
        }
        for task in row.tasks.select_related("component__part_of", "component__sits_in").order_by("id")
    ]
    today = due_read.today_of(act)
    context = {
        "visit": row,
        "tasks": tasks,
        "may": set(visit_moves.MOVES[row.state]),
        "people": User.objects.filter(role=User.Role.CREW, is_active=True).order_by("first_name", "id"),
        "going": {place.user_id for place in row.technicians.all()},
        "offers": _days_to_offer(row, today),
        "closeouts": row.closeouts.select_related("technician", "received").prefetch_related("received__flags"),
        "messages_sent": Message.objects.filter(visit_uid=row.uid).order_by("-id")[:30],
        "history": history.of_object(act, row.uid, size=20),
        "covers": Visit.Cover.choices,
        "today": today,
        "problem": problem,
        "at": at,
        "why": request.POST.get("why", ""),
    }
    return render(request, "office/desk/visit.html", context, status=problem.status if problem else 200)


def _days_to_offer(row: Visit, today: date) -> list[date]:
    """Five working days to choose from, from three days ahead or the earliest useful day."""
    day = max(today + timedelta(days=3), row.no_sooner_than or today)
    days: list[date] = []
    while len(days) < 5:
        if day.weekday() < 5:
            days.append(day)
        day += timedelta(days=1)
    return days


def _date(request: HttpRequest, name: str = "local_date") -> date:
    text = request.POST.get(name, "")
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise _bad(name, f"The day is {text[:20]!r}: give a date such as 2026-05-04.") from error


def _bad(field: str, message: str) -> BadInput:
    return BadInput(message, fields=(FieldProblem(field, message),))


def _start(request: HttpRequest) -> time | None:
    text = request.POST.get("local_start", "")
    if not text:
        return None
    try:
        return time.fromisoformat(text)
    except ValueError as error:
        raise _bad("local_start", f"The time is {text[:20]!r}: give hours and minutes such as 09:30.") from error


def _span(request: HttpRequest) -> int | None:
    text = request.POST.get("span_minutes", "")
    if not text:
        return None
    if not (text.isdecimal() and text.isascii() and len(text) < 5):
        raise _bad("span_minutes", f"The arrival span is {text[:20]!r}: give whole minutes, 15 to 720.")
    return int(text)


def _revision(request: HttpRequest) -> int | None:
    text = request.POST.get("revision", "")
    return int(text) if text.isdecimal() and text.isascii() and len(text) < 10 else None


def _chosen(request: HttpRequest) -> list[User]:
    wanted = request.POST.getlist("technician")
    people = [u for u in User.objects.filter(role=User.Role.CREW, is_active=True) if str(u.uid) in wanted]
    return sorted(people, key=lambda u: wanted.index(str(u.uid)))


def _offer(request: HttpRequest, act: Act, row: Visit) -> str:
    days = []
    for text in filter(None, request.POST.getlist("days")):  # another day may stay empty
        try:
            days.append(date.fromisoformat(text))
        except ValueError as error:
            raise _bad("days", f"The day is {text[:20]!r}: give a date such as 2026-05-04.") from error
    visits.offer(act=act, visit=row, days=days, revision=_revision(request))
    return "The days are offered; the homeowner is told."


def _agree(request: HttpRequest, act: Act, row: Visit) -> str:
    settle = visits.give_notice if request.POST.get("notice") else visits.agree
    settle(
        act=act,
        visit=row,
        local_date=_date(request),
        local_start=_start(request),
        span_minutes=_span(request),
        technicians=_chosen(request) or None,
        revision=_revision(request),
    )
    return "The day is settled."


def _move(request: HttpRequest, act: Act, row: Visit) -> str:
    visits.move(
        act=act,
        visit=row,
        local_date=_date(request),
        local_start=_start(request),
        span_minutes=_span(request),
        revision=_revision(request),
    )
    return "The visit has moved; the homeowner is told."


def _call_off(request: HttpRequest, act: Act, row: Visit) -> str:
    if request.POST.get("sure") != "1":
        raise _bad("sure", "Tick that you are sure: the homeowner is told that nobody comes.")
    visits.call_off(act=act, visit=row, why=request.POST.get("why", ""), revision=_revision(request))
    return "The visit is called off."


def _assign(request: HttpRequest, act: Act, row: Visit) -> str:
    visits.assign(act=act, visit=row, users=_chosen(request), revision=_revision(request))
    return "Who goes is settled."


def _take_back(request: HttpRequest, act: Act, row: Visit) -> str:
    visits.take_back(act=act, visit=row, revision=_revision(request))
    return "The offer is taken back; the visit is only proposed again."


def _begin(request: HttpRequest, act: Act, row: Visit) -> str:
    visits.begin(act=act, visit=row, revision=_revision(request))
    return "Begun."


def _not_begun(request: HttpRequest, act: Act, row: Visit) -> str:
    visits.not_begun(act=act, visit=row, revision=_revision(request))
    return "Not begun after all."


def _cover(request: HttpRequest, act: Act, row: Visit) -> str:
    visits.set_cover(
        act=act, visit=row, cover=request.POST.get("cover", ""), why=request.POST.get("why", ""),
        revision=_revision(request),
    )  # fmt: skip
    return "Who pays is settled."


STEPS: dict[str, Callable[[HttpRequest, Act, Visit], str]] = {
    "offer": _offer,
    "agree": _agree,
    "move": _move,
    "begin": _begin,
    "not-begun": _not_begun,
    "call-off": _call_off,
    "assign": _assign,
    "take-back": _take_back,
    "cover": _cover,
}


@acting
def step(request: HttpRequest, act: Act, uid: UUID, step: str) -> HttpResponse:
    """Take one step of a visit; what is not possible says why."""
    row = found(visible.visits(act), uid=uid)
    if step not in STEPS:
        raise BadInput(f"There is no step {step[:20]!r}.")
    try:
        messages.success(request, STEPS[step](request, act, row))
    except Problem as problem:
        return _page(request, act, uid, problem=problem, at=step)
    return redirect("pages:visit", uid=uid)
