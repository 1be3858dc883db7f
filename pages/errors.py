"""What a person sees when something does not work, in words that say what to do next."""

from collections.abc import Iterable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from core.problem import Problem


def _page(request: HttpRequest, status: int, title: str, detail: str) -> HttpResponse:
    return render(request, "error.html", {"title": title, "detail": detail, "status": status}, status=status)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form was too old or came from elsewhere."""
    return _page(
        request,
        403,
        "This form has expired",
        "Nothing was saved. Go back, load the page again and send the form once more.",
    )


def not_allowed(request: HttpRequest) -> HttpResponse:
    """Signed in, but this page belongs to another role."""
    return _page(request, 403, "Not for your role", "Ask the office if you need this page.")


def wrong_method(request: HttpRequest, methods: Iterable[str]) -> HttpResponse:
    """The page is this person's, but not to be asked in this way (RFC 9110 15.5.6)."""
    response = _page(request, 405, "Not in this way", "Go back, load the page again and use the buttons on it.")
    response["Allow"] = ", ".join(sorted({*methods, *({"HEAD"} if "GET" in methods else ())}))
    return response


def cannot(request: HttpRequest, problem: Problem) -> HttpResponse:
    """A service refused, with words that say what to do."""
    return _page(request, problem.status, problem.title, problem.detail)


def too_many(request: HttpRequest, wait_s: int) -> HttpResponse:
    """Asked too often."""
    minutes = max(1, round(wait_s / 60))
    response = _page(request, 429, "Too many tries", f"Wait {minutes} min and try again, or call the company.")
    response["Retry-After"] = str(wait_s)
    return response


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Unknown, or not for this person: the two look alike on purpose."""
    return _page(request, 404, "Nothing here", "The address may be mistyped, or the page is not yours to see.")


def server_error(request: HttpRequest) -> HttpResponse:
    """Our fault."""
    return _page(request, 500, "Something broke on our side", "Nothing you typed was accepted. Try again in a minute.")
