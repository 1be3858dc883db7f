"""The feed over HTTP: every H row against Django's client and against a live server, and what is refused."""

import gzip
import io
import json
import logging
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client

from core import clock
from core.log_secrets import HideSecrets
from maintenance import feeds
from pages.feeds import ics
from tests.factories import AT, TODAY, VisitFactory, VisitTechnicianFactory
from tests.feedcheck import check_feed, check_http, django_fetch, live_fetch
from tests.feedcheck.asking import django_answer

WRONG = "/feeds/slf_000000000000_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAA.ics"
BASE = "http://127.0.0.1:8000"


def path_of(secret: str) -> str:
    return f"/feeds/{secret}.ics"


@pytest.fixture
def addresses(cast):
    """(path of a live feed with a visit in it, path of a revoked one)."""
    visit = VisitFactory(property=cast.property, state="agreed", local_date=TODAY + timedelta(days=7), sequence=1)
    VisitTechnicianFactory(visit=visit, user=cast.crew)
    _, live = feeds.issue_feed(act=cast.act("office"), kind="technician", user=cast.crew)
    old, gone = feeds.issue_feed(act=cast.act("office"), kind="technician", user=cast.crew)
    feeds.revoke_feed(act=cast.act("office"), feed=old)
    return path_of(live), path_of(gone)


def test_every_row_through_djangos_client(addresses):
    live, gone = addresses
    fetch = django_fetch(Client(enforce_csrf_checks=True))
    assert check_http(fetch, live, WRONG, revoked_path=gone, base=BASE, now=AT) == []


@pytest.mark.serial
@pytest.mark.django_db(transaction=True)
def test_every_row_through_a_live_server(live_server, cast, monkeypatch):
    """The same over a socket: what a server adds or takes away is seen only here."""
    monkeypatch.setattr(clock, "now", lambda: datetime.now(UTC))
    act = cast.act("office", at=clock.now())
    _, live = feeds.issue_feed(act=act, kind="company")
    old, gone = feeds.issue_feed(act=act, kind="company")
    feeds.revoke_feed(act=act, feed=old)
    fetch = live_fetch(live_server.url)
    found = check_http(fetch, path_of(live), WRONG, revoked_path=path_of(gone), base=live_server.url)
    assert found == []


@pytest.mark.parametrize("kind", ["technician", "company", "homeowner"])
def test_each_kind_of_feed_is_good_as_answered(cast, yard, kind):
    more = {"technician": {"user": cast.crew}, "homeowner": {"customer": cast.homeowner}}.get(kind, {})
    _, secret = feeds.issue_feed(act=cast.act("office"), kind=kind, **more)
    response = Client().get(path_of(secret))
    assert check_feed(django_answer(response), now=AT, forbid=("home.invalid", "555-01")) == []
    assert response["Vary"] == "Accept-Encoding"
    assert not response.cookies
    assert response.content.count(b"BEGIN:VEVENT") >= 2


def test_a_signed_in_browser_gets_no_cookie_either(addresses, browser_of):
    response = browser_of("office").get(addresses[0], headers={"Accept-Language": "es", "Cookie": "x=1"})
    assert response.status_code == 200
    assert not response.cookies
    assert response["Vary"] == "Accept-Encoding"
    assert "Content-Language" not in response


@pytest.mark.parametrize("method", ["PUT", "POST", "DELETE", "PATCH", "PROPFIND", "OPTIONS", "REPORT"])
def test_other_methods_are_refused_before_the_secret_is_looked_at(addresses, method, django_assert_num_queries):
    with django_assert_num_queries(0):
        response = Client(enforce_csrf_checks=True).generic(method, addresses[0], b"x", "text/calendar")
    assert response.status_code == 405
    assert response["Allow"] == "GET, HEAD"
    assert json.loads(response.content)["status"] == 405


def test_a_method_nobody_knows_is_no_crash(addresses):
    response = Client().generic("BREW", addresses[0])
    assert response.status_code == 405
    assert "GET" in response["Allow"]


def test_revoked_is_gone_and_says_so(addresses):
    response = Client().get(addresses[1])
    assert (response.status_code, response["Content-Type"]) == (410, "application/problem+json")


def test_a_reader_without_etag_goes_by_last_modified(addresses, cast, monkeypatch):
    client = Client()
    first = client.get(addresses[0])
    later = AT + timedelta(hours=1)
    monkeypatch.setattr(clock, "now", lambda: later)
    since = {"If-Modified-Since": first["Last-Modified"]}
    assert client.get(addresses[0], headers=since).status_code == 304
    VisitTechnicianFactory(
        visit=VisitFactory(property=cast.property, state="agreed", local_date=TODAY + timedelta(days=8)),
        user=cast.crew,
    )
    again = client.get(addresses[0], headers=since)
    assert again.status_code == 200
    assert again["Last-Modified"] > first["Last-Modified"]


def test_head_costs_the_same_and_brings_no_body(addresses):
    client = Client()
    full, head = client.get(addresses[0]), client.head(addresses[0])
    assert head.content == b""
    assert head["Content-Length"] == full["Content-Length"]


@pytest.mark.parametrize(
    ("accepted", "packed"),
    [
        ("gzip", True),
        ("GZIP;q=0.5", True),
        ("br, gzip", True),
        ("*", True),
        ("gzip;q=0", False),
        ("gzip; q=0.000", False),
        ("br", False),
        ("xgzip", False),
        ("", False),
    ],
)
def test_gzip_where_it_is_accepted(addresses, accepted, packed):
    """RFC 9110 12.5.3."""
    response = Client().get(addresses[0], headers={"Accept-Encoding": accepted})
    assert (response.get("Content-Encoding") == "gzip") == packed
    body = gzip.decompress(response.content) if packed else response.content
    assert body.startswith(b"BEGIN:VCALENDAR\r\n")


def test_too_often_is_told_to_wait(addresses, monkeypatch):
    """RFC 9110 10.2.3 and RFC 6585 4."""
    monkeypatch.setattr(ics, "MOST_FETCHES", 2)
    client = Client()
    assert [client.get(addresses[0]).status_code for _ in range(3)] == [200, 200, 429]
    refused = client.get(addresses[0])
    assert 1 <= int(refused["Retry-After"]) <= ics.WITHIN_S
    assert json.loads(refused.content)["status"] == 429
    monkeypatch.setattr(ics, "MOST_GUESSES", 2)
    assert [client.get(WRONG).status_code for _ in range(3)] == [404, 404, 429]


def test_the_address_is_in_its_own_calendar(addresses):
    body = Client().get(addresses[0]).content.replace(b"\r\n ", b"")
    assert f"SOURCE;VALUE=URI:{BASE}{addresses[0]}".encode() in body


def test_no_secret_is_in_a_log_line(addresses):
    """A reader that tries PUT with a good address is refused, and Django writes that down with the path."""
    logger = logging.getLogger("django.request")
    written = io.StringIO()
    handler = logging.StreamHandler(written)
    for one in logging.getLogger().handlers:
        if isinstance(one, logging.StreamHandler) and any(isinstance(f, HideSecrets) for f in one.filters):
            handler.filters = list(one.filters)
    logger.addHandler(handler)
    try:
        Client().put(addresses[0])
        Client().get(addresses[1])
        Client().get("/stop/abc:def/")
    finally:
        logger.removeHandler(handler)
    assert written.getvalue().count("/feeds/slf_") == 2
    for path in addresses:
        assert path.split("_")[2].removesuffix(".ics") not in written.getvalue()
    assert "abc:def" not in written.getvalue()
