"""Rules: the list by part, one rule with its versions, changes, off and on, a new one."""

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core.act import Act
from core.problem import BadInput, Problem
from jobs.kinds import registry
from maintenance import rules as service
from maintenance.models import Rule
from maintenance.read import rule_page as read
from pages.acting import acting, found
from pages.office.desk.problems import tell
from pages.office.desk.rule_form import NewRuleForm, RuleForm, field_names, first_values
from pages.paging import page_of


class RuleFilterForm(forms.Form):
    """Part, and whether it counts."""

    kind = forms.ChoiceField(choices=[("", "any"), *registry.CHOICES], required=False, label="Part")
    active = forms.ChoiceField(
        choices=[("", "all"), ("on", "counting"), ("off", "switched off")], required=False, label="Show"
    )


@acting
def rules(request: HttpRequest, act: Act) -> HttpResponse:
    """Every rule by the part it is for."""
    form = RuleFilterForm(request.GET or None)
    given = form.cleaned_data if form.is_valid() else {"kind": "", "active": ""}
    active = {"on": True, "off": False}.get(given["active"])
    kinds = read.by_kind(act, kind=given["kind"], active=active)
    return render(request, "office/desk/rules.html", {"form": form, "kinds": kinds})


@acting
def rule(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """One rule; POST makes a new version of it."""
    row = found(Rule.objects.all(), uid=uid)
    newest = row.versions.first()
    if newest is None:
        raise Http404
    form = RuleForm(request.POST or None, basis=newest.basis, initial=first_values(newest))
    if form.is_bound and form.is_valid():
        try:
            version = service.change_rule(act=act, rule=row, version_id=_version(request), **form.values())
        except Problem as problem:
            tell(form, problem, **field_names(newest.basis))
        else:
            same = version.pk == newest.pk
            messages.success(request, "Nothing differs." if same else "A new version holds. Due windows follow.")
            return redirect("pages:rule", uid=uid)
    page = page_of(request, read.overrides(row))
    context = {
        "rule": row,
        "newest": newest,
        "seen": read.one(act, str(row.uid)),
        "versions": read.versions(row.pk),
        "page": page,
        "overrides": [(one, read.number_words(newest.basis, one.numbers)) for one in page.rows],
        "form": form,
    }
    return render(request, "office/desk/rule.html", context, status=422 if form.errors else 200)


@acting
def switch(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Off or on for the whole company, with a why."""
    row = found(Rule.objects.all(), uid=uid)
    why = request.POST.get("why", "").strip()
    if not why:
        raise BadInput("Say why: it is kept beside the version with your name and the day.")
    on = request.POST.get("to") == "on"
    (service.switch_on if on else service.switch_off)(act=act, rule=row, why=why)
    messages.success(request, "The rule counts again." if on else "The rule is off: it asks for nothing any more.")
    return redirect("pages:rule", uid=uid)


@acting
def add(request: HttpRequest, act: Act) -> HttpResponse:
    """A rule of the company's own: first what it is for, then what it says."""
    start = NewRuleForm(request.GET or None)
    if not start.is_bound or not start.is_valid():
        return render(request, "office/desk/rule_add.html", {"start": start})
    basis = start.cleaned_data["basis"]
    form = RuleForm(request.POST or None, basis=basis, initial={"minutes": 15, "standing": "firm"})
    if form.is_bound and form.is_valid():
        try:
            version = service.add_rule(act=act, **start.cleaned_data, **form.values())
        except Problem as problem:
            tell(form, problem, **field_names(basis))
        else:
            messages.success(request, "The rule counts from now on. Due windows follow.")
            return redirect("pages:rule", uid=version.rule.uid)
    context: dict[str, Any] = {"start": start, "form": form, "chosen": start.cleaned_data}
    return render(request, "office/desk/rule_add.html", context, status=422 if form.errors else 200)


def _version(request: HttpRequest) -> int | None:
    text = request.POST.get("version", "")
    return int(text) if text.isdecimal() and text.isascii() and len(text) < 15 else None
