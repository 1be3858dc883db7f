"""Service agreements: the list, a new one, a change, an end with its reason."""

from datetime import date
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core.act import Act
from core.problem import Problem
from jobs.read import visible as register
from maintenance import agreements as service
from maintenance.models import ServiceAgreement
from maintenance.read import visible
from maintenance.read.due import today_of
from pages.acting import acting, found
from pages.office.desk.agreement_form import AgreementForm, EndForm, first_values
from pages.office.desk.problems import tell
from pages.paging import page_of

SHOW = (("", "in force or to come"), ("ended", "ended"), ("all", "all"))


@acting
def agreements(request: HttpRequest, act: Act) -> HttpResponse:
    """Those in force or to come, those that end first on top."""
    show, today = request.GET.get("show", ""), today_of(act)
    rows = visible.agreements(act).select_related("property", "customer").prefetch_related("rules")
    if show == "ended":
        rows = rows.filter(ends_on__lt=today)
    elif show != "all":
        rows = rows.filter(ends_on__gte=today)
    page = page_of(request, rows.order_by("ends_on", "property__address", "id"))
    return render(request, "office/desk/agreements.html", {"page": page, "show": show, "shows": SHOW, "today": today})


@acting
def add(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """A new agreement at a property."""
    prop = found(register.properties(act), uid=uid)
    today = today_of(act)
    first = {"starts_on": today, "ends_on": today.replace(day=1, month=1, year=today.year + 1), "price": "0.00"}
    form = AgreementForm(request.POST or None, property=prop, today=today, initial=first)
    if form.is_bound and form.is_valid():
        try:
            row = service.create_agreement(act=act, property=prop, **form.values())
        except Problem as problem:
            tell(form, problem, price_cents="price")
        else:
            messages.success(request, f"The agreement at {prop.address} is recorded.")
            return redirect("pages:agreement", uid=row.uid)
    return _form(request, form, {"property": prop})


@acting
def agreement(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """One agreement: change it, end it."""
    row = _one(act, uid)
    form = AgreementForm(
        request.POST or None, property=row.property, today=today_of(act), agreement=row, initial=first_values(row)
    )
    if form.is_bound and form.is_valid():
        try:
            service.change_agreement(act=act, agreement=row, revision=_revision(request, row), **form.values())
        except Problem as problem:
            tell(form, problem, price_cents="price")
        else:
            messages.success(request, "The agreement is changed.")
            return redirect("pages:agreement", uid=uid)
    return _form(request, form, _about(row, act))


@acting
def end(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """End an agreement on a day, with the reason; ticked that one is sure."""
    row = _one(act, uid)
    ending = EndForm(request.POST)
    if ending.is_valid():
        try:
            service.cancel_agreement(
                act=act, agreement=row, on=ending.cleaned_data["on"], why=ending.cleaned_data["why"]
            )
        except Problem as problem:
            tell(ending, problem, ends_on="on")
        else:
            messages.success(request, f"The agreement at {row.property.address} ends on {row.ends_on:%-d %B %Y}.")
            return redirect("pages:agreements")
    form = AgreementForm(None, property=row.property, today=today_of(act), agreement=row, initial=first_values(row))
    return _form(request, form, {**_about(row, act), "ending": ending})


def _one(act: Act, uid: UUID) -> ServiceAgreement:
    return found(visible.agreements(act).select_related("property", "customer"), uid=uid)


def _revision(request: HttpRequest, row: ServiceAgreement) -> int:
    text = request.POST.get("revision", "")
    return int(text) if text.isdecimal() and text.isascii() and len(text) < 10 else row.revision


def _about(row: ServiceAgreement, act: Act) -> dict[str, Any]:
    today: date = today_of(act)
    return {
        "agreement": row,
        "property": row.property,
        "runs": row.ends_on >= today,
        "ending": EndForm(initial={"on": today}),
    }


def _form(request: HttpRequest, form: AgreementForm, more: dict[str, Any]) -> HttpResponse:
    wrong = form.errors or (more.get("ending") and more["ending"].errors)
    return render(request, "office/desk/agreement.html", {"form": form, **more}, status=422 if wrong else 200)
