"""Each list costs the same queries with one record as with three, and how many that is stands here."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.api.routes.people import caller_of
from tests.api.routes.things import thing
from tests.api.routes.wired import Route, every_route
from tests.factories import PropertyFactory, PropertyRoleFactory

LISTS = [route for route in every_route() if not route.names and route.noun and "GET" in route.methods]
ASKED = {"api:search-list": "?q=cistern"}
WHO_AND_ROWS = 2
"""Who asks (the token with its person), and the rows."""
MORE = {
    "api:due-windows-list": 2,  # the day of the company; all that makes windows stale
    "api:jobs-list": 1,  # steps
    "api:rules-list": 1,  # newest versions
    "api:search-list": 1,  # the company's settings: whose roles hold today
    "api:service-agreements-list": 1,  # rules
    "api:visits-list": 3,  # tasks, technicians, days on offer
}
OWN = ("api:tokens-list",)


@pytest.mark.django_db
@pytest.mark.parametrize("route", LISTS, ids=lambda route: route.name)
def test_a_list_costs_the_same_with_one_and_with_three(cast, route: Route):
    office, address = caller_of(cast, "office"), route.address() + ASKED.get(route.name, "")
    thing(route.noun.model, cast.property)
    assert office.get(address).status_code == 200  # notes the first use of the token
    with CaptureQueriesContext(
        connection,
    ) as one:
        first = office.get(address).json()["results"]
    for number in range(2):
        other = PropertyFactory(address=f"{number} Cistern Row")
        PropertyRoleFactory(property=other)
        thing(route.noun.model, other)
    with CaptureQueriesContext(connection) as three:
        rows = office.get(address).json()["results"]
    assert len(three) == len(one), [query["sql"][:120] for query in three]
    assert len(one) == WHO_AND_ROWS + MORE.get(route.name, 0), [query["sql"][:120] for query in one]
    assert len(rows) >= len(first) + 2 or route.name in OWN
