"""Customers and roles; a tenant change; personal values stay out of the history."""

from datetime import date
from uuid import uuid4

import pytest

from core.models import History
from core.problem import BadInput, Conflict, StaleVersion
from jobs import people
from jobs.models import Customer, Property, PropertyRole
from jobs.read import visible
from tests import factories
from tests.factories import TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast():
    return factories.make_cast()


@pytest.fixture
def office(cast):
    return cast.act("office")


def test_a_customer_stands_in_the_history_by_id_only(office):
    made = people.create_customer(
        act=office, name="Wim Ångström", email="wim@home.invalid", phone="(555) 010-4477", note="rings late"
    )
    changed = people.change_customer(act=office, customer=made, revision=1, phone="555 010 9999", language="es")
    assert changed.phone == "555 010 9999"
    rows = History.objects.filter(object_uid=made.uid).order_by("id")
    assert [row.action for row in rows] == ["create", "change"]
    told = str([row.changes for row in rows])
    for personal in ("Wim", "home.invalid", "4477", "9999", "rings"):
        assert personal not in told
    assert rows[1].changes["language"] == ["en", "es"]
    assert "phone" in rows[1].changes


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"name": ""}, "name is empty"),
        ({"name": "x" * 121}, "name has 121 characters"),
        ({"email": "nobody"}, "email is 'nobody': give an address such as"),
        ({"phone": "5" * 41}, "phone has 41 characters"),
        ({"kind": "firm"}, "kind is 'firm': give one of person, association"),
        ({"language": "xx"}, "language is 'xx': give one of en, es"),
        ({"note": "n" * 4001}, "at most 4000 characters"),
    ],
)
def test_bad_customers_are_refused(office, fields, words):
    with pytest.raises(BadInput) as refused:
        people.create_customer(act=office, **{"name": "Someone", **fields})
    assert words in refused.value.detail


def test_a_stale_customer_is_refused(office, cast):
    people.change_customer(act=office, customer=cast.homeowner, revision=1, note="a")
    with pytest.raises(StaleVersion):
        people.change_customer(act=office, customer=cast.homeowner, revision=1, note="b")


def test_a_customer_sent_twice_is_one(office):
    uid = uuid4()
    first = people.create_customer(act=office, name="Twice", email="t@home.invalid", uid=uid)
    assert people.create_customer(act=office, name="Twice", email="t@home.invalid", uid=uid) == first
    with pytest.raises(Conflict):
        people.create_customer(act=office, name="Thrice", email="t@home.invalid", uid=uid)
    assert Customer.objects.filter(uid=uid).count() == 1


def test_a_tenant_change_ends_one_role_and_begins_another(office, cast):
    gone, coming = factories.CustomerFactory(), factories.CustomerFactory()
    first = people.give_role(
        act=office, property=cast.property, customer=gone, role="tenant", from_date=date(2024, 1, 1)
    )
    with pytest.raises(Conflict, match="is tenant of 7 Cistern Row already"):
        people.give_role(act=office, property=cast.property, customer=gone, role="tenant", from_date=TODAY)
    people.end_role(act=office, role=first, until_date=TODAY)
    people.end_role(act=office, role=first, until_date=TODAY)
    second = people.give_role(act=office, property=cast.property, customer=coming, role="tenant", from_date=TODAY)

    day = visible.today(office)
    held = PropertyRole.objects.filter(visible.in_force(day), property=cast.property, role="tenant")
    assert list(held) == [second]
    assert [row.action for row in History.objects.filter(object_uid=first.uid).order_by("id")] == ["create", "change"]
    assert Property.objects.get(pk=cast.property.pk).revision == 4


def test_a_role_ends_once_and_not_before_it_began(office, cast):
    with pytest.raises(BadInput, match="give a day from 2020-01-01 on"):
        people.end_role(act=office, role=cast.role, until_date=date(2019, 12, 31))
    people.end_role(act=office, role=cast.role, until_date=date(2026, 6, 1))
    with pytest.raises(Conflict, match="ended on 2026-06-01 already"):
        people.end_role(act=office, role=cast.role, until_date=date(2026, 7, 1))


def test_what_a_person_may_decide_can_change(office, cast):
    changed = people.change_role(act=office, role=cast.role, approves_cost=False, gets_messages=False)
    assert (changed.approves_cost, changed.gets_messages, changed.agrees_days) == (False, False, True)
