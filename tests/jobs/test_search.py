"""Search by name, address, tag or phone: accents, several words, phone numbers in any form, only what one may see."""

from datetime import date

import pytest

from jobs import people, register
from jobs.read import search
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast():
    made = factories.make_cast()
    office = made.act("office")
    garden = register.create_property(act=office, address="14 Peña Street", city="Łódź Falls", postcode="00123")
    owner = people.create_customer(act=office, name="Zoë Brückner-Ní Dhálaigh", phone="+1 (555) 010-4477")
    people.give_role(act=office, property=garden, customer=owner, role="owner", from_date=date(2024, 1, 1))
    factories.channel_to_sump(garden, number=7)
    register.create_property(act=office, address="15 Pena Terrace", city="Upper Fernby")
    return made


def found(cast, text, who="office"):
    return [item.address for item in search.find(cast.act(who), text)]


@pytest.mark.parametrize(
    "text",
    [
        "peña street",
        "PENA str",
        "pen\u0303a 14",
        "street 00123",
        "zoe",
        "bruckner",
        "Brückner 14 pena",
        "ni dhalaigh",
        "ch-7",
        "CH 7 peña",
        "5550104477",
        "555-010-4477",
        "(555) 010 4477",
        "+1 555 010 4477",
        "1 555.010.4477",
        "010-4477",
        "zoe 555-010-4477",
        "4477 zoe",
    ],
)
def test_it_is_found_however_it_is_typed(cast, text):
    assert found(cast, text) == ["14 Peña Street"]


def test_every_word_must_match_at_the_same_property(cast):
    assert found(cast, "pena") == ["14 Peña Street", "15 Pena Terrace"]
    assert found(cast, "pena terrace") == ["15 Pena Terrace"]
    assert found(cast, "zoe terrace") == []
    assert found(cast, "quill cistern") == ["7 Cistern Row"]


@pytest.mark.parametrize("text", ["", "   ", "\x00", "%", "_", "no such word", "'; drop table"])
def test_nothing_is_found_for_nothing(cast, text):
    assert found(cast, text) == []


def test_only_visible_properties_are_found(cast):
    assert found(cast, "row", "crew") == ["7 Cistern Row"]
    assert found(cast, "far meadow", "crew") == []
    assert found(cast, "pena", "other_crew") == []
    assert found(cast, "far meadow", "stranger") == ["90 Far Meadow"]


def test_someone_who_left_no_longer_leads_to_the_property(cast):
    assert found(cast, "quill") == ["7 Cistern Row"]
    people.end_role(act=cast.act("office"), role=cast.role, until_date=date(2026, 1, 1))
    assert found(cast, "quill") == []


def test_a_changed_address_is_found_by_its_new_words_only(cast):
    register.change_property(act=cast.act("office"), property=cast.property, revision=1, address="7 Ford Row")
    assert found(cast, "ford") == ["7 Ford Row"]
    assert found(cast, "cistern") == []


def test_a_retired_tag_is_not_found(cast):
    basin = factories.ComponentFactory(system__property=cast.property, tag="QX-1", retired_on=date(2026, 1, 1))
    assert basin.tag == "QX-1"
    assert found(cast, "qx-1") == []


def test_the_list_is_limited_and_its_queries_do_not_grow(cast, django_assert_num_queries):
    for number in range(7):
        factories.PropertyFactory(address=f"{number} Long Lane")
    with django_assert_num_queries(2):
        assert len(search.find(cast.act("office"), "long lane", limit=5)) == 5
