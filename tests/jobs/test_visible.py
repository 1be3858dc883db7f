"""Who sees what: office everything, crew by access, homeowner by a role in force, stranger nothing of it."""

from datetime import date, timedelta

import pytest

from core import act as acts
from jobs import access, people
from jobs.models import Property, PropertyAccess
from jobs.read import history, visible
from tests import factories
from tests.factories import AT, TODAY

pytestmark = pytest.mark.django_db

OF_A_PROPERTY = (
    visible.properties,
    visible.systems,
    visible.components,
    visible.connections,
    visible.drainage_areas,
    visible.hazards,
    visible.jobs,
    visible.photos,
)


@pytest.fixture
def cast():
    made = factories.make_cast()
    for place in (made.property, made.strangers_property):
        factories.channel_to_sump(place)
        factories.HazardFactory(property=place)
        factories.JobFactory(property=place)
        factories.PhotoFactory(property=place)
    return made


def places(selector, act):
    rows = selector(act)
    return set(rows) if rows.model is Property else {row.property for row in rows.select_related("property")}


@pytest.mark.parametrize("selector", OF_A_PROPERTY, ids=lambda item: item.__name__)
@pytest.mark.parametrize(
    ("who", "sees"),
    [
        ("office", {"property", "strangers_property"}),
        ("crew", {"property"}),
        ("other_crew", set()),
        ("homeowner", {"property"}),
        ("stranger", {"strangers_property"}),
    ],
)
def test_each_of_the_cast_sees_their_own(cast, selector, who, sees):
    assert places(selector, cast.act(who)) == {getattr(cast, name) for name in sees}


def test_the_server_itself_sees_everything(cast):
    assert places(visible.properties, acts.by_system("sweep", at=AT)) == {cast.property, cast.strangers_property}


def test_nobody_in_particular_sees_nothing(cast):
    for role in ("crew", "homeowner"):
        nobody = acts.Act(who="user:?", role=role, at=AT, via="page")
        assert all(not selector(nobody).exists() for selector in (*OF_A_PROPERTY, visible.customers, visible.roles))
        assert not visible.areas(nobody).exists()


def test_access_ends_at_its_instant(cast):
    grant = PropertyAccess.objects.get(user=cast.crew)
    PropertyAccess.objects.filter(pk=grant.pk).update(until=AT + timedelta(minutes=1))
    assert places(visible.properties, cast.act("crew")) == {cast.property}
    assert places(visible.properties, cast.act("crew", at=AT + timedelta(minutes=1))) == set()


def test_a_grant_given_twice_is_one_and_never_shorter(cast):
    office = cast.act("office")
    key = {"property_id": cast.property.pk, "user_id": cast.other_crew.pk, "reason": "storm"}
    soon, late = AT + timedelta(days=1), AT + timedelta(days=3)
    access.grant(act=office, **key, until=soon)
    access.grant(act=office, **key, until=late)
    assert access.grant(act=office, **key, until=soon).until == late
    assert access.grant(act=office, **key).until is None
    assert PropertyAccess.objects.filter(user=cast.other_crew).count() == 1
    assert places(visible.properties, cast.act("other_crew")) == {cast.property}
    access.withdraw(act=office, **key)
    access.withdraw(act=office, **key)
    assert places(visible.properties, cast.act("other_crew")) == set()
    told = [entry.action for entry in history.of_object(office, cast.other_crew.uid).entries]
    assert told == ["withdraw", "grant", "grant", "grant"]


def test_a_role_that_ended_or_is_yet_to_begin_shows_nothing(cast):
    people.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY)
    assert places(visible.properties, cast.act("homeowner")) == set()
    assert places(visible.properties, cast.act("homeowner", at=AT - timedelta(days=1))) == {cast.property}
    coming = factories.PropertyRoleFactory(property=cast.property, from_date=TODAY + timedelta(days=1))
    assert not visible.properties(acts.by_customer(coming.customer, at=AT)).exists()
    assert visible.properties(acts.by_customer(coming.customer, at=AT + timedelta(days=1))).exists()


def test_the_day_of_a_role_is_the_companys_not_utc(cast):
    # 02:00 UTC on 4 May is 22:00 on 3 May in New York (UTC-4 in summer).
    people.end_role(act=cast.act("office"), role=cast.role, until_date=TODAY)
    assert visible.properties(cast.act("homeowner", at=AT.replace(hour=2))).exists()
    assert not visible.properties(cast.act("homeowner", at=AT.replace(hour=5))).exists()


def test_a_new_owner_sees_the_engineering_record_but_not_the_old_owners_jobs_and_photos(cast):
    office = cast.act("office")
    people.end_role(act=office, role=cast.role, until_date=TODAY)
    buyer = factories.CustomerFactory()
    people.give_role(act=office, property=cast.property, customer=buyer, role="owner", from_date=TODAY)
    later = AT + timedelta(days=2)
    act = acts.by_customer(buyer, at=later)
    factories.PhotoFactory(property=cast.property, taken_at=AT - timedelta(days=1))
    mine = factories.PhotoFactory(property=cast.property, taken_at=AT + timedelta(days=1))
    factories.JobFactory(property=cast.property, created_at=AT - timedelta(days=400), price_cents=900_000)
    assert visible.components(act).filter(property=cast.property).count() == 9
    assert AT - timedelta(days=1) not in set(visible.photos(act).values_list("taken_at", flat=True))
    assert mine in visible.photos(act)
    assert not visible.jobs(act).filter(created_at__lt=AT - timedelta(days=1)).exists()
    assert list(visible.roles(act).values_list("customer", flat=True)) == [buyer.pk]
    assert list(visible.customers(act)) == [buyer]


def test_the_crew_sees_who_lives_there_now_only(cast):
    old = factories.PropertyRoleFactory(
        property=cast.property, role="tenant", from_date=date(2020, 1, 1), until_date=date(2021, 1, 1)
    )
    assert set(visible.customers(cast.act("crew"))) == {cast.homeowner}
    assert old in visible.roles(cast.act("office"))
    assert not visible.customers(cast.act("other_crew")).exists()


def test_an_unmatched_photo_is_the_offices_alone(cast):
    loose = factories.PhotoFactory(property=None)
    assert loose in visible.photos(cast.act("office"))
    for who in ("crew", "other_crew", "homeowner", "stranger"):
        assert loose not in visible.photos(cast.act(who))


def test_a_selector_is_two_queries_at_most(cast, django_assert_num_queries):
    # A homeowner's question also reads the company's zone.
    for who, count in (("office", 1), ("crew", 1), ("homeowner", 2)):
        with django_assert_num_queries(count):
            list(visible.photos(cast.act(who)))
