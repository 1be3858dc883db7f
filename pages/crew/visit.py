"""One visit on the crew's page: hazards, access, the gate code when asked for, the work, begin."""

from datetime import date
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from core.act import Act
from jobs.kinds import words
from maintenance import gate_code, visits
from maintenance.models import Visit
from maintenance.read import told, visible
from maintenance.read.route_sheet import stop
from pages.acting import acting, found
from pages.crew.day import place_link


@acting
def visit(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """The visit, without its gate code."""
    return _page(request, act, uid)


@acting
def show_gate_code(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """The same page with the gate code on it; the look is in the history."""
    row: Visit = found(visible.visits(act).select_related("property"), uid=uid)
    return _page(request, act, uid, gate_code=gate_code.show_gate_code(act=act, visit=row), shown=True)


@acting
def begin(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """The crew is there."""
    row: Visit = found(visible.visits(act).select_related("property"), uid=uid)
    if row.state != Visit.State.BEGUN:  # pressed twice
        visits.begin(act=act, visit=row)
        messages.success(request, _("Begun. Close the visit when you leave."))
    return redirect("pages:crew_visit", uid=uid)


def _page(request: HttpRequest, act: Act, uid: UUID, **more: object) -> HttpResponse:
    seen = stop(act, uid)
    if seen is None:
        raise Http404
    context = {
        "stop": seen,
        "place": place_link(seen),
        "has_day": seen.local_date != date.min,
        "has_code": bool(seen.gate_code),
        "mine": told.goes_there(act, uid),
        "told": told.of_visit(uid),
        "lids": _(words.LIDS_BACK),
        **more,
    }
    return render(request, "crew/visit.html", context)
