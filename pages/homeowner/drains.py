"""A homeowner's property: their drains, what comes next and why, their own tasks, what was done."""

from uuid import UUID, uuid4

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from core import company
from core.act import Act
from core.problem import BadInput
from jobs.kinds import words
from jobs.models import Component, Property
from jobs.read import visible as register
from maintenance import owner_tasks, told_us
from maintenance.read import home
from pages.acting import found
from pages.homeowner.asking import homeowner_page

VISITS_A_PAGE = 20
COMING_SHOWN = 6


@homeowner_page
def drains(request: HttpRequest, act: Act) -> HttpResponse:
    """The one property, or a choice among several."""
    rows = list(register.properties(act).order_by("address", "id")[:100])
    if len(rows) == 1:
        return redirect("pages:home_property", uid=rows[0].uid)
    return render(request, "homeowner/choose.html", {"properties": rows})


@homeowner_page
def one(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Everything of one property."""
    prop: Property = found(register.properties(act), uid=uid)
    return _page(request, act, prop)


@homeowner_page
def visits(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """All past visits of their own time, newest first."""
    prop: Property = found(register.properties(act), uid=uid)
    page = Paginator(home.past_visits(act, prop), VISITS_A_PAGE).get_page(request.GET.get("page"))
    keys = [visit.pk for visit in page.object_list]
    seen = home.seen(act, home.past_visits(act, prop).filter(pk__in=keys))
    return render(request, "homeowner/visits.html", {"property": prop, "page": page, "seen": seen})


@homeowner_page
def task_done(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """One of their own tasks is done (`uid`: the component)."""
    part: Component = found(register.components(act).select_related("property"), uid=uid)
    task = request.POST.get("task", "")
    owner_tasks.mark_done(act=act, component=part, task=task, uid=form_uid(request))
    messages.success(request, _("Noted. Thank you: the next date has moved."))
    return redirect("pages:home_property", uid=part.property.uid)


@homeowner_page
def tell(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Their words to the office."""
    prop: Property = found(register.properties(act), uid=uid)
    note = request.POST.get("note", "")
    try:
        told_us.tell_us(act=act, property=prop, note=note, uid=form_uid(request))
    except BadInput as problem:
        return _page(request, act, prop, status=422, note=note, note_problem=problem.detail)
    messages.success(request, _("Thank you. The office reads it and comes back to you."))
    return redirect("pages:home_property", uid=prop.uid)


def form_uid(request: HttpRequest) -> UUID:
    """The id the page made for this form, so that a second press changes nothing."""
    try:
        return UUID(request.POST.get("uid", ""))
    except ValueError:
        raise BadInput("The form came in incomplete: load the page again.") from None


def _page(request: HttpRequest, act: Act, prop: Property, *, status: int = 200, **more: object) -> HttpResponse:
    shown = home.home(act, prop)
    context = {
        "home": shown,
        "coming_first": shown.coming[:COMING_SHOWN],
        "coming_rest": shown.coming[COMING_SHOWN:],
        "own_due": [(task, uuid4()) for task in shown.own if task.now],
        "own_later": [task for task in shown.own if not task.now],
        "company": company.at(act.at),
        "several": register.properties(act).count() > 1,
        "owner_safety": _(words.OWNER_SAFETY),
        "form_uid": uuid4(),
        **more,
    }
    return render(request, "homeowner/drains.html", context, status=status)
