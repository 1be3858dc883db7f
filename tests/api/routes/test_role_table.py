"""Which role may send what where: every route x method stands in the table or is refused, for everybody."""

import uuid

import pytest

from api.roles import TABLE
from tests.api.routes.people import caller_of
from tests.api.routes.wired import HTTP, every_route

ROUTES = every_route()
ROLE_OF = {"office": "office", "crew": "crew", "other_crew": "crew", "homeowner": "nobody", "nobody": "nobody"}
NO_SUCH = uuid.UUID("00000000-0000-4000-8000-000000000001")


def test_every_route_is_in_the_table_and_no_row_is_left_over():
    assert {route.name for route in ROUTES} == set(TABLE.rows)
    assert len(ROUTES) > 50


def test_no_name_stands_for_two_routes():
    names = [route.name for route in ROUTES]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("route", ROUTES, ids=lambda route: route.name)
def test_the_table_names_only_methods_the_route_answers_and_every_method_is_somebodys(route):
    listed = set().union(*TABLE.rows[route.name].values())
    assert listed == route.methods, f"{route.name} answers {sorted(route.methods)}, the table lists {sorted(listed)}"


@pytest.mark.parametrize("role", ["homeowner", "nobody"])
def test_who_is_not_of_the_company_may_read_the_description_alone(role):
    """Homeowners come by page and link; the API knows people of the company."""
    open_to = {name: methods[role] for name, methods in TABLE.rows.items() if methods.get(role)}
    assert open_to == dict.fromkeys(["api:schema", "api:docs", "api:not-found"], frozenset({"GET"}))


@pytest.mark.django_db
@pytest.mark.parametrize("who", ROLE_OF)
def test_what_is_not_listed_is_refused_and_changes_nothing(cast, who):
    """401 without a token, 403 for another role's method, 405 where the route knows no such method."""
    caller, role = caller_of(cast, who), ROLE_OF[who]
    refused = 0
    for route in ROUTES:
        for method in HTTP:
            if TABLE.allows(role, route.name, method) or TABLE.allows("nobody", route.name, "GET"):
                continue
            answer = caller.send(method, route.address(uid=NO_SUCH))
            expected = {401} if who in ("nobody", "homeowner") else {403}
            if method not in route.methods:
                expected = {405} if role != "nobody" else {401, 405}
            assert answer.status_code in expected, (who, method, route.name, answer.status_code)
            assert answer["Content-Type"] == "application/problem+json", (method, route.name)
            refused += 1
    assert refused > 50


@pytest.mark.django_db
@pytest.mark.parametrize("who", ["office", "crew"])
def test_what_is_listed_is_not_refused_by_role(cast, who):
    """With made-up ids and empty bodies: anything but 401, 403, 405 and a crash."""
    caller = caller_of(cast, who)
    tried = 0
    for route in ROUTES:
        for method in route.methods:
            if not TABLE.allows(who, route.name, method):
                continue
            status = caller.send(method, route.address(uid=NO_SUCH)).status_code
            assert status < 500, (who, method, route.name, status)
            assert status not in (401, 405), (who, method, route.name, status)
            tried += 1
    assert tried > 30
