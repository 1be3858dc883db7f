"""The office's first page: what is due and why, what else waits, and whether the server is well."""

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme

from core.act import Act
from jobs.read import visible
from maintenance import propose
from maintenance.read.due import DueFilter
from maintenance.read.due_page import DueRow, due_page, waiting
from pages.acting import acting
from pages.office.desk import signs
from pages.office.desk.due_filter import DueForm
from pages.office.desk.given import uuid_of
from pages.silt_section import Section, section


@dataclass(frozen=True, slots=True)
class Shown:
    """A row with its drawing and the words beside it."""

    row: DueRow
    drawing: Section | None
    level_words: str
    limit_words: str


@acting
def due(request: HttpRequest, act: Act) -> HttpResponse:
    """The list, filtered and paged."""
    form = DueForm(request.GET or None)
    wanted = form.wanted() if form.is_valid() else DueFilter(who="crew")
    found = due_page(act, wanted, request.GET.get("page"))
    waits = waiting(act)
    context = {
        "form": form,
        "found": found,
        "rows": [_shown(row) for row in found.rows],
        "waits": waits,
        "signs": signs.told(waits.health, act.at),
        "span": form.span_words(),
        "query": _without_page(request),
    }
    return render(request, "office/desk/due.html", context)


@acting
def propose_visits(request: HttpRequest, act: Act) -> HttpResponse:
    """Bring the proposals of the chosen properties, or of all, in step with their due windows."""
    chosen: list[int] | None = None
    if "all" not in request.POST:
        uids = {uid for uid in map(uuid_of, request.POST.getlist("property")) if uid is not None}
        chosen = list(visible.properties(act).filter(uid__in=uids).values_list("pk", flat=True))
        if not chosen:
            messages.error(request, "No property is chosen: tick some lines first, or propose for all.")
            return _back(request)
    made = propose.propose_visits(act=act, property_ids=chosen)
    if made:
        some = "1 visit is" if len(made) == 1 else f"{len(made)} visits are"
        messages.success(request, f"{some} proposed or brought up to date.")
    else:
        messages.success(request, "The proposals there are already say all of this: nothing is changed.")
    return _back(request)


def _back(request: HttpRequest) -> HttpResponse:
    target = request.POST.get("next", "")
    if url_has_allowed_host_and_scheme(target, None) and target.startswith("/due/"):
        return redirect(target)
    return redirect("pages:due")


def _without_page(request: HttpRequest) -> str:
    query = request.GET.copy()
    query.pop("page", None)
    return query.urlencode()


def _shown(row: DueRow) -> Shown:
    level = row.level
    if level is None:
        return Shown(row, None, "", "")
    if level.depth_in is not None and level.limit_in is not None:
        now, limit = f"{level.depth_in:.1f} in", f"clean at {level.limit_in:.1f} in".replace(".0 in", " in")
    else:
        now, limit = f"{level.fill:.0%} full", f"clean at {level.limit:.0%}"
    label = f"{now} of silt expected today; {limit}"
    return Shown(row, section(level.fill, level.limit, heavy=row.soon, label=label), now, limit)
