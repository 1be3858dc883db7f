"""One visit as its homeowner sees it: choose one of the offered days, ask for another, or read what was done."""

from datetime import date
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from core import company
from core.act import Act
from core.problem import BadInput
from maintenance import visits
from maintenance.models import Visit
from maintenance.read import home, visible
from pages.acting import found
from pages.homeowner.asking import homeowner_page


@homeowner_page
def visit(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """The visit; a form to answer while its day is open."""
    return _page(request, act, uid)


@homeowner_page
def agree(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """One of the offered days suits."""
    row: Visit = found(visible.visits(act).select_related("property"), uid=uid)
    try:
        day = date.fromisoformat(request.POST.get("day", ""))
    except ValueError:
        return _page(request, act, uid, status=422, day_problem=_("Choose one of the days."))
    if row.state == Visit.State.AGREED and row.local_date == day:
        return redirect("pages:home_visit", uid=uid)  # pressed twice
    visits.agree(act=act, visit=row, local_date=day)
    messages.success(request, _("Thank you. The day is agreed."))
    return redirect("pages:home_visit", uid=uid)


@homeowner_page
def another_day(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """None of the days suits: the office rings."""
    row: Visit = found(visible.visits(act).select_related("property"), uid=uid)
    note = request.POST.get("note", "")
    try:
        visits.ask_another_day(act=act, visit=row, note=note)
    except BadInput as problem:
        return _page(request, act, uid, status=422, note=note, note_problem=problem.detail)
    messages.success(request, _("Thank you. The office will call you about another day."))
    return redirect("pages:home_visit", uid=uid)


def _page(request: HttpRequest, act: Act, uid: UUID, *, status: int = 200, **more: object) -> HttpResponse:
    found(visible.visits(act), uid=uid)
    (seen,) = home.seen(act, visible.visits(act).filter(uid=uid))
    context = {"seen": seen, "visit": seen.visit, "company": company.at(act.at), **more}
    return render(request, "homeowner/visit.html", context, status=status)
