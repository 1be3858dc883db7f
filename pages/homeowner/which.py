"""The address of a visit as calendars know it: sends each role to its own page of that visit."""

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse

from pages.gate import role_of

PAGE = {"office": "pages:visit", "crew": "pages:crew_visit", "homeowner": "pages:home_visit"}


def which(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Nobody signed in: a page that says how to get in. It says the same for every visit, known or not."""
    role = role_of(request)
    if role not in PAGE:
        return render(request, "homeowner/which.html", {})
    try:
        return redirect(reverse(PAGE[role], kwargs={"uid": uid}))
    except NoReverseMatch:
        return redirect("pages:home")
