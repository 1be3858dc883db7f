"""Sign in and out; the first page sends each role to its own."""

from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from pages.gate import role_of

FIRST_PAGE = {
    "office": "pages:due",
    "crew": "pages:crew_day",
    "homeowner": "pages:home_drains",
    "nobody": "pages:sign_in",
}


class SignIn(LoginView):
    """User name and password; locked out after repeated failures (django-axes)."""

    template_name = "sign_in.html"
    redirect_authenticated_user = True


class SignOut(LogoutView):
    """By POST only."""


def home(request: HttpRequest) -> HttpResponse:
    """Send each role to its first page."""
    return redirect(FIRST_PAGE[role_of(request)])
