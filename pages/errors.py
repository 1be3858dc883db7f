"""What a person sees when something does not work, in words that say what to do next."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


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


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Unknown, or not for this person: the two look alike on purpose."""
    return _page(request, 404, "Nothing here", "The address may be mistyped, or the page is not yours to see.")


def server_error(request: HttpRequest) -> HttpResponse:
    """Our fault."""
    return _page(request, 500, "Something broke on our side", "Nothing you typed was accepted. Try again in a minute.")
