"""The gate before every page: default is no. The API has its own gate (api.auth.RoleAllows)."""

from collections.abc import Callable

from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from pages import errors, home_session
from pages.roles import TABLE


def role_of(request: HttpRequest) -> str:
    """office, crew, homeowner (a session opened by a link) or nobody."""
    if request.user.is_authenticated:
        return request.user.role
    return "homeowner" if home_session.customer_of(request) is not None else "nobody"


def _only_homeowners(route: str) -> bool:
    """Whoever may open it has no password, so that the way in is a new link by mail."""
    return bool(TABLE.methods("homeowner", route)) and not TABLE.methods("office", route)


class PageGate:
    """Middleware: asks the role table for every route of `pages`."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view, args, kwargs) -> HttpResponse | None:
        match = request.resolver_match
        if match is None or match.app_names[:1] != ["pages"]:
            return None
        if TABLE.allows("nobody", match.view_name, request.method or "GET"):
            return None
        role = role_of(request)
        if TABLE.allows(role, match.view_name, request.method or "GET"):
            return None
        if methods := TABLE.methods(role, match.view_name):
            return errors.wrong_method(request, methods)
        if role == "nobody" and _only_homeowners(match.view_name):
            return redirect("pages:home_new_link")
        if role == "nobody":
            return redirect_to_login(request.get_full_path(), reverse("pages:sign_in"))
        return errors.not_allowed(request)
