"""Feeds are the same for every reader: no language, no cookie decides what is in them, so no Vary may say so."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

PATH = "/feeds/"


class PlainFeeds:
    """Outermost but for security: leaves of `Vary` what the feed itself said, and no cookie, no language."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.path.startswith(PATH):
            response.headers["Vary"] = "Accept-Encoding"
            response.headers.pop("Content-Language", None)
            response.cookies.clear()
        return response
