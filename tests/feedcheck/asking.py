"""How the checker asks: one answer, and ways to fetch it from a Django test client or a live address."""

import gzip
import re
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

_IMF_DATE = re.compile(r"(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun), \d\d [A-Z][a-z]{2} \d{4} \d\d:\d\d:\d\d GMT")
WRITTEN = "BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n"


@dataclass(frozen=True)
class Answer:
    """Status, headers by lower-case name (repeated ones joined by a comma), body as sent."""

    status: int
    headers: dict[str, str]
    body: bytes

    def header(self, name: str) -> str:
        return self.headers.get(name.lower(), "")

    @property
    def content(self) -> bytes:
        """The body with its coding taken off."""
        return gzip.decompress(self.body) if self.header("Content-Encoding") == "gzip" else self.body


Fetch = Callable[[str, str, dict[str, str]], Answer]
"""Method, path, headers -> Answer; it must not follow redirects nor add Accept or Accept-Encoding of its own."""


def django_answer(response: Any) -> Answer:
    """An HttpResponse (or a streaming one) as an Answer."""
    body = b"".join(response.streaming_content) if getattr(response, "streaming", False) else response.content
    headers = {name.lower(): value for name, value in response.headers.items()}
    cookies = [morsel.OutputString() for morsel in response.cookies.values()]
    if cookies:
        headers["set-cookie"] = ", ".join(cookies)
    return Answer(response.status_code, headers, body)


def django_fetch(client: Any) -> Fetch:
    """Asks a ``django.test.Client``; make it with ``enforce_csrf_checks=True`` or H17 proves little."""

    def fetch(method: str, path: str, headers: dict[str, str]) -> Answer:
        body = WRITTEN if method not in ("GET", "HEAD") else ""
        return django_answer(client.generic(method, path, body, "text/calendar", headers=headers))

    return fetch


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *args: Any, **kwargs: Any) -> None:
        return None


def live_fetch(base: str, timeout_s: float = 10) -> Fetch:
    """Asks a server at ``base``, for example ``http://127.0.0.1:8000``."""
    opener = urllib.request.build_opener(_NoRedirect)
    opener.addheaders = []

    def fetch(method: str, path: str, headers: dict[str, str]) -> Answer:
        body = WRITTEN.encode() if method not in ("GET", "HEAD") else None
        kind = {"Content-Type": "text/calendar"} if body else {}
        request = urllib.request.Request(base + path, data=body, headers={**headers, **kind}, method=method)
        try:
            with opener.open(request, timeout=timeout_s) as reply:
                return _live_answer(reply.status, reply.headers, reply.read())
        except urllib.error.HTTPError as error:
            with error:
                return _live_answer(error.code, error.headers, error.read())

    return fetch


def _live_answer(status: int, headers: Any, body: bytes) -> Answer:
    names = {name.lower() for name in headers}
    return Answer(status, {name: ", ".join(headers.get_all(name)) for name in names}, body)


def http_date(value: str) -> datetime | None:
    """An IMF-fixdate (RFC 9110 5.6.7), None if it is not one; a wrong weekday is wrong."""
    if not _IMF_DATE.fullmatch(value):
        return None
    try:
        moment = datetime.strptime(value, "%a, %d %b %Y %H:%M:%S GMT").replace(tzinfo=UTC)
    except ValueError:
        return None
    return moment if moment.strftime("%a, %d %b %Y %H:%M:%S GMT") == value else None


def tokens(value: str) -> set[str]:
    """The directives or field names of a comma list, in lower case, without their arguments."""
    return {part.strip().split("=")[0].strip().lower() for part in value.split(",") if part.strip()}
