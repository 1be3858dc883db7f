"""The calendar feed over HTTP (RFC 9110): see maintenance/calendar/frame.py for what the answer must be."""

import gzip
import re
from datetime import datetime

from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.utils.http import http_date, parse_etags, parse_http_date_safe
from django.views.decorators.csrf import csrf_exempt

from core import clock
from core.act import by_system
from maintenance import feeds
from pages import rate
from pages.feeds.problems import problem

MOST_FETCHES, WITHIN_S = 120, 600
MOST_GUESSES = 60
_GZIP = re.compile(r"(?:^|,)\s*(?:gzip|\*)\s*(?:;\s*q\s*=\s*(?P<q>[01](?:\.\d{0,3})?))?\s*(?:,|$)", re.IGNORECASE)


@csrf_exempt
def feed(request: HttpRequest, secret: str) -> HttpResponse:
    """GET and HEAD of /feeds/<secret>.ics; anything else is refused before it is looked at."""
    if request.method not in ("GET", "HEAD"):
        return problem(405, "A calendar feed is only read.", Allow="GET, HEAD")
    at = clock.now()
    found = feeds.find_feed(secret, at=at)
    wait = _wait(request, secret, known=found is not None)
    if wait:
        return problem(429, f"Ask again in {wait} seconds.", Retry_After=str(wait))
    if found is None:
        return problem(404, "There is no such calendar.")
    if found.gone:
        return problem(410, "This calendar address was ended. Ask for a new one.")
    act = by_system("feeds", at=at)
    served = feeds.serve(act=act, feed=found.feed, source=feeds.address_of(secret))
    return _answer(request, served, found.feed.kind)


def _wait(request: HttpRequest, secret: str, *, known: bool) -> int:
    if known:
        return rate.wait_seconds("feed", secret, most=MOST_FETCHES, within_s=WITHIN_S)
    return rate.wait_seconds("feed-guess", rate.client(request), most=MOST_GUESSES, within_s=WITHIN_S)


def _answer(request: HttpRequest, served: feeds.Served, kind: str) -> HttpResponse:
    if _not_modified(request, served.etag, served.changed_at):
        response: HttpResponse = HttpResponseNotModified()
    else:
        response = HttpResponse(served.body, content_type="text/calendar; charset=utf-8")
        response["Content-Disposition"] = f'inline; filename="{kind}.ics"'
        if wants_gzip(request.headers.get("Accept-Encoding", "")):
            # Level 1: five times smaller for a few milliseconds. No time stamp: the same octets each time.
            response.content = gzip.compress(served.body, compresslevel=1, mtime=0)
            response["Content-Encoding"] = "gzip"
        response["Content-Length"] = str(len(response.content))
        if request.method == "HEAD":
            response.content = b""
    response["ETag"] = served.etag
    response["Last-Modified"] = http_date(served.changed_at.timestamp())
    response["Cache-Control"] = "private, no-cache"
    response["Vary"] = "Accept-Encoding"
    response["X-Robots-Tag"] = "noindex"
    response["Referrer-Policy"] = "no-referrer"
    return response


def _not_modified(request: HttpRequest, etag: str, changed_at: datetime) -> bool:
    """RFC 9110 13.2.2: If-None-Match alone where it is given, else If-Modified-Since."""
    if given := request.headers.get("If-None-Match", ""):
        known = {tag.removeprefix("W/") for tag in parse_etags(given)}
        return "*" in known or etag.removeprefix("W/") in known
    since = parse_http_date_safe(request.headers.get("If-Modified-Since", ""))
    return since is not None and int(changed_at.timestamp()) <= since


def wants_gzip(accepted: str) -> bool:
    """Whether an Accept-Encoding allows gzip (RFC 9110 12.5.3); the first mention counts.

    >>> wants_gzip("gzip, br"), wants_gzip("gzip;q=0"), wants_gzip(""), wants_gzip("br;q=1.0, *;q=0.1")
    (True, False, False, True)
    """
    found = _GZIP.search(accepted)
    return found is not None and float(found["q"] or 1) > 0
