"""Overrides of a rule at one property or part: chosen, recorded, taken back."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core.act import Act
from core.problem import Problem
from jobs.read import search
from jobs.read import visible as register
from maintenance import rules as service
from maintenance.models import Rule, RuleOverride
from maintenance.read import rule_page as read
from pages.acting import acting, found
from pages.office.desk.problems import tell
from pages.office.desk.rule_form import OverrideForm, field_names, numbers_of


@acting
def where(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """At which property: search and choose."""
    rule = found(Rule.objects.all(), uid=uid)
    text = request.GET.get("q", "").strip()
    context = {"rule": rule, "text": text, "places": search.find(act, text, limit=20) if text else []}
    return render(request, "office/desk/override_where.html", context)


@acting
def add(request: HttpRequest, act: Act, uid: UUID, place: UUID) -> HttpResponse:
    """Other numbers at this property or one part of it, or off there."""
    rule = found(Rule.objects.all(), uid=uid)
    prop = found(register.properties(act), uid=place)
    newest = rule.versions.first()
    if newest is None:
        raise Http404
    form = OverrideForm(request.POST or None, property=prop, kind=rule.kind, basis=newest.basis)
    if form.is_bound and form.is_valid():
        given = form.cleaned_data
        try:
            service.override_rule(
                act=act,
                rule=rule,
                property=prop,
                component=given["component"],
                off=given["off"],
                numbers=numbers_of(given),
                why=given["why"],
            )
        except Problem as problem:
            tell(form, problem, **field_names(newest.basis))
        else:
            messages.success(request, f"Kept for {prop.address}. Its due windows follow.")
            return redirect("pages:rule", uid=uid)
    context = {"rule": rule, "property": prop, "form": form, "seen": read.one(act, str(rule.uid))}
    return render(request, "office/desk/override.html", context, status=422 if form.errors else 200)


@acting
def end(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Take an override back; asked once more before."""
    row: RuleOverride = found(RuleOverride.objects.select_related("rule", "property", "component"), uid=uid)
    if "sure" not in request.POST:
        context = {
            "title": f"Take the override at {row.property.address} back?",
            "detail": "From now on the rule's own numbers hold there again. What was stays in the record.",
            "button": "Take it back",
            "back": "pages:rules",
        }
        return render(request, "office/desk/sure.html", context)
    service.end_override(act=act, override=row, why=request.POST.get("why", ""))
    messages.success(request, f"The rule's own numbers hold at {row.property.address} again.")
    return redirect("pages:rule", uid=row.rule.uid)
