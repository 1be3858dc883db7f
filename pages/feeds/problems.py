"""Problem documents (RFC 9457) for readers of calendars, which are programs."""

import json

from django.http import HttpResponse

TITLES = {404: "Not Found", 405: "Method Not Allowed", 410: "Gone", 429: "Too Many Requests"}


def problem(status: int, detail: str, **headers: str) -> HttpResponse:
    """A problem document; header names are given with underscores."""
    body = {"type": "about:blank", "title": TITLES[status], "status": status, "detail": detail}
    response = HttpResponse(json.dumps(body), status=status, content_type="application/problem+json")
    response["Cache-Control"] = "private, no-store"
    for name, value in headers.items():
        response[name.replace("_", "-")] = value
    return response
