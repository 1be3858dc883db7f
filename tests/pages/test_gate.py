"""Every page for every role: what the table does not name is refused, and a route that is missing from it fails."""

import pytest
from django.test import Client
from django.urls import get_resolver, reverse

from pages.roles import TABLE

SAMPLES = {
    "uid": "00000000-0000-4000-8000-000000000001",
    "secret": "slh_000000000000_AAAA",
    "value": "nonsense",
    "day": "2026-05-04",
    "place": "00000000-0000-4000-8000-000000000002",
    "number": 1,
    "step": "offer",
    "file_format": "csv",
    "name": "hydraulics",
}
METHODS = ("GET", "POST")
OPENED = ("pages:home_", "pages:crew", "pages:photo", "pages:visit_link", "pages:stop", "pages:feed")


def page_routes() -> list[str]:
    """Names of all routes of `pages`, without arguments' values."""
    space, resolver = get_resolver().namespace_dict["pages"]
    return sorted(f"pages:{name}" for name in resolver.reverse_dict if isinstance(name, str)) if space == "" else []


def address(route: str) -> str:
    """An address of the route, with made-up arguments."""
    resolver = get_resolver().namespace_dict["pages"][1]
    (_, params), *_rest = resolver.reverse_dict.getlist(route.partition(":")[2])[0][0]
    from datetime import date

    values = {name: date(2026, 5, 4) if name == "day" else SAMPLES[name] for name in params}
    return reverse(route, kwargs=values)


def test_every_route_is_in_the_table_and_no_row_is_left_over():
    assert set(page_routes()) == set(TABLE.rows)
    assert len(page_routes()) > 25


@pytest.mark.django_db
@pytest.mark.parametrize("who", ["office", "crew", "homeowner", "nobody"])
def test_what_is_not_listed_is_refused(browser_of, who):
    """403 or the way to sign in for another role's page; 405 where only the method is wrong; nothing is changed."""
    client: Client = browser_of(who)
    refused = 0
    for route in page_routes():
        for method in METHODS:
            if TABLE.allows(who, route, method) or TABLE.allows("nobody", route, method):
                continue
            response = client.generic(method, address(route))
            expected = 405 if TABLE.methods(who, route) else (302 if who == "nobody" else 403)
            assert response.status_code == expected, (who, route, method)
            if expected == 302:
                homeowners = not (TABLE.methods("office", route) or TABLE.methods("crew", route))
                way_in = "/home/new-link/" if homeowners else "/sign-in/?next="
                assert response["Location"].startswith(way_in), route
            refused += 1
    assert refused > 15


@pytest.mark.django_db
@pytest.mark.parametrize("who", ["office", "crew", "homeowner"])
def test_what_is_listed_opens_or_finds_nothing(browser_of, who):
    """With made-up ids: 200, a redirect within, 404 or 405, never a crash and never a refusal by role."""
    for route in page_routes():
        if not TABLE.allows(who, route, "GET") or route in ("pages:home_leave", "pages:sign_out"):
            continue
        if route.startswith(
            ("pages:home_", "pages:crew", "pages:photo", "pages:visit_link", "pages:stop", "pages:feed")
        ):
            assert browser_of(who).get(address(route)).status_code in (200, 302, 404, 410), route
