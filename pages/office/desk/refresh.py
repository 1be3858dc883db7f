"""The refresh of the whole register: how far it is, and its ways to begin, stop and go on."""

from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from core.act import Act
from core.problem import BadInput
from maintenance import refresh_run as service
from maintenance.models import RefreshRun
from maintenance.read import refresh_runs as read
from pages.acting import acting, found
from pages.paging import page_of

SIZE = 20


@dataclass(frozen=True, slots=True)
class Line:
    """One run as it is shown."""

    run: RefreshRun
    by: str
    state: str
    took: str
    learned: str


@acting
def refresh(request: HttpRequest, act: Act) -> HttpResponse:
    """The run under way and those before it; POST begins one."""
    if request.method == "POST":
        service.begin(act=act)
        messages.success(request, _("Begun: the workers take it from here."))
        return redirect("pages:refresh")
    page = page_of(request, read.runs(act), size=SIZE)
    present = next((row for row in page.rows if row.open), None)
    newest = page.rows[0] if page.rows else None
    context = {
        "page": page,
        "present": _line(present, act) if present else None,
        "lines": [_line(row, act) for row in page.rows if not row.open],
        "failed": read.failed(newest) if newest else [],
    }
    return render(request, "office/desk/refresh.html", context)


@acting
def turn(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Stop a run, or let it go on."""
    run = found(read.runs(act), uid=uid)
    if "stop" in request.POST:
        service.stop(act=act, run=run)
        messages.success(request, _("Stopped. What is in hand is finished, what is done stays done."))
    elif "resume" in request.POST:
        service.resume(act=act, run=run)
        messages.success(request, _("It goes on where it stopped."))
    else:
        raise BadInput(_("Say whether to stop it or let it go on."))
    return redirect("pages:refresh")


def _line(run: RefreshRun, act: Act) -> Line:
    return Line(run, _by(run), _state(run), _took(read.took(run, act.at)), _learned(run))


def _by(run: RefreshRun) -> str:
    return _("the server") if run.started_by.startswith("system:") else run.started_by_name


def _state(run: RefreshRun) -> str:
    if run.state == RefreshRun.State.DONE:
        return _("done")
    if run.state == RefreshRun.State.RUNNING:
        return _("under way")
    return _("stopped") if run.open else _("stopped and not finished")


def _took(span: timedelta) -> str:
    seconds = int(span.total_seconds())
    if seconds < 120:
        return ngettext("%(count)s second", "%(count)s seconds", seconds) % {"count": seconds}
    minutes = seconds // 60
    return ngettext("%(count)s minute", "%(count)s minutes", minutes) % {"count": minutes}


def _learned(run: RefreshRun) -> str:
    groups, own = run.result.get("groups"), run.result.get("groups_learned")
    if groups is None:
        return ""
    return _("%(own)s of %(groups)s groups speak for themselves") % {"own": own, "groups": groups}
