"""The company: its settings with every version kept, and the way to tokens, feeds, rain and agreements."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core import company as settings_now
from core.act import Act
from core.models import History
from core.problem import Problem
from jobs.read import history
from pages.acting import acting
from pages.office.desk.company_form import CompanyForm, first_values
from pages.office.desk.problems import tell

VERSIONS = 30


@acting
def company(request: HttpRequest, act: Act) -> HttpResponse:
    """The settings, and on POST a new version of them."""
    now = settings_now.at(act.at)
    if request.method != "POST":
        return _page(request, act, CompanyForm(initial=first_values(now)))
    form = CompanyForm(request.POST)
    if not form.is_valid():
        return _page(request, act, form, status=422)
    changed = form.changed(now)
    if not changed:
        messages.success(request, "Nothing differs from the settings in force.")
        return redirect("pages:company")
    try:
        settings_now.change(act=act, **changed)
    except Problem as problem:
        return _page(request, act, tell(form, problem), status=problem.status)
    messages.success(
        request, f"Kept: {', '.join(_label(name) for name in sorted(changed))}. Due windows are worked out anew."
    )
    return redirect("pages:company")


def _page(request: HttpRequest, act: Act, form: CompanyForm, *, status: int = 200) -> HttpResponse:
    rows = history.page(history.entries(act).filter(noun="settings"), before=None, size=VERSIONS)
    context = {"form": form, "parts": form.parts(), "versions": [_told(entry) for entry in rows.entries]}
    return render(request, "office/desk/company.html", context, status=status)


def _told(entry: History) -> dict[str, Any]:
    changes = [f"{_label(name)}: {_words(old)} to {_words(new)}" for name, (old, new) in entry.changes.items()]
    return {"at": entry.at, "by": entry.who_name or entry.who, "changes": changes}


def _words(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return " ".join(f"{one:g}" for one in value) or "none"
    return str(value) if value not in (None, "") else "nothing"


def _label(name: str) -> str:
    field = CompanyForm.base_fields.get(name)
    return str(field.label).lower() if field else name
