"""The office reads a yard on one page; lists cost the same for one and for three; nobody else comes in."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from core.act import by_system
from maintenance import rating, refresh, rules
from tests.factories import (
    AT,
    HazardFactory,
    PropertyFactory,
    ReadingFactory,
    channel_to_sump,
    french_drain_to_outfall,
    half_known,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def office(browser_of):
    return browser_of("office")


def page(client, route, *args, **query):
    answer = client.get(reverse(f"pages:{route}", args=args), query)
    assert answer.status_code == 200, answer.content[:400]
    return answer.content.decode()


def queries(client, route, *args) -> int:
    page(client, route, *args)
    with CaptureQueriesContext(connection) as found:
        page(client, route, *args)
    return len(found)


def test_search_by_address_tag_name_and_phone(office, cast):
    channel_to_sump(cast.property)
    for text in ("cistern", "CH-1", cast.homeowner.name, cast.homeowner.phone):
        shown = page(office, "properties", q=text)
        assert cast.property.address in shown, text
    assert "Nothing found" in page(office, "properties", q="no such street")


def test_an_empty_company_is_told_what_to_do(office):
    from jobs.models import Property

    Property.objects.all().delete()
    assert "Add one, or import" in page(office, "properties")


def test_the_whole_yard_is_on_one_page(office, cast):
    act = by_system("test", at=AT)
    rules.install_library(act=act)
    system = channel_to_sump(cast.property)
    HazardFactory(property=cast.property, note="lamp cable")
    ReadingFactory(component=system.components.get(kind="channel_run"))
    refresh.refresh_all(act=act)
    shown = page(office, "property", cast.property.uid)
    for words in ("lamp cable", cast.homeowner.name, "CH-1", "What is due, and why", "Storm rating", "not a guarantee"):
        assert words in shown, words
    assert "style=" not in shown


def test_a_half_known_yard_says_what_is_missing(office):
    system = half_known()
    rating.rate_properties(act=by_system("test", at=AT), property_ids=[system.property_id])
    shown = page(office, "property", system.property.uid)
    assert "not rated: needs" in shown
    assert "Not drawn, no position" in shown or "Nothing to draw yet" in shown


def test_one_part_with_its_readings_and_its_why(office, cast):
    act = by_system("test", at=AT)
    rules.install_library(act=act)
    system = channel_to_sump(cast.property)
    channel = system.components.get(kind="channel_run")
    refresh.refresh_all(act=act)
    shown = page(office, "component", channel.uid)
    assert "When and why" in shown
    assert "no later than" in shown
    assert "measured" in shown or "assumed" in shown


def test_query_counts_do_not_grow(office, cast):
    channel_to_sump(cast.property)
    one = queries(office, "property", cast.property.uid)
    channel_to_sump(cast.property, number=2)
    french_drain_to_outfall(cast.property, number=3)
    assert queries(office, "property", cast.property.uid) == one
    listed = queries(office, "properties")
    PropertyFactory.create_batch(3)
    assert queries(office, "properties") == listed


@pytest.mark.parametrize("route", ["property", "property_history"])
def test_only_the_office_comes_in(browser_of, cast, route):
    address = reverse(f"pages:{route}", args=[cast.property.uid])
    assert browser_of("crew").get(address).status_code == 403
    assert browser_of("office").get(reverse("pages:property", args=[cast.homeowner.uid])).status_code == 404


def test_numbers_link_to_how_they_were_computed(office):
    for name, words in (("index", "CapacityFill"), ("hydraulics", "Manning"), ("forecast", "Weibull")):
        assert words in page(office, "methods", name)
    assert office.get("/methods/elsewhere/").status_code == 404
