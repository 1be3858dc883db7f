"""Route sheet, week and lists: right order, right people, and the same number of queries at 1 and 3."""

from datetime import time, timedelta

import pytest

from core.act import by_customer, by_user
from jobs.models import PropertyAccess
from maintenance.decide import miles
from maintenance.read import visible
from maintenance.read import visits as lists
from maintenance.read.route_sheet import route_sheet
from maintenance.read.week import week
from tests.factories import (
    AT,
    TODAY,
    CallToMakeFactory,
    CloseoutFactory,
    CloseoutFlagFactory,
    CloseoutReceivedFactory,
    CompanySettingsFactory,
    ComponentFactory,
    CustomerFactory,
    HazardFactory,
    OfferedDayFactory,
    OfficeFactory,
    PropertyAccessFactory,
    PropertyFactory,
    PropertyRoleFactory,
    ServiceAgreementFactory,
    SystemFactory,
    UserFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def crew():
    return UserFactory()


@pytest.fixture
def office():
    return by_user(OfficeFactory(), via="page", at=AT)


def stop(crew, number=1, **more):
    """A visit of today with two tasks, two hazards and something found before."""
    prop = PropertyFactory(address=f"{number} Weir Lane", access_note="side gate", gate_code="4711")
    PropertyAccessFactory(property=prop, user=crew)
    system = SystemFactory(property=prop)
    HazardFactory(property=prop, kind="cable")
    HazardFactory(property=prop, kind="dog", gone_at=AT)
    visit = VisitFactory(**{"property": prop, "state": "agreed", "local_date": TODAY, "place_in_day": number, **more})
    for kind, task, tag in (("catch_basin", "clean", "CB-1"), ("pump", "replace", "PU-1")):
        component = ComponentFactory(system=system, kind=kind, tag=tag)
        VisitTaskFactory(visit=visit, component=component, task=task, words=f"{task} it")
    VisitTechnicianFactory(visit=visit, user=crew)
    for days, found in ((400, "found clean"), (30, "found half full")):
        old = VisitFactory(property=prop, state="done", local_date=TODAY - timedelta(days=days))
        CloseoutFactory(visit=old, left_at=AT - timedelta(days=days), summary={"lines": [found]}, note="mind the step")
    return visit


def test_a_route_sheet_says_what_must_be_known(crew):
    second, first = stop(crew, 2, local_start=time(8)), stop(crew, 1, local_start=time(13))
    unplaced = stop(crew, 9, place_in_day=0)
    stop(UserFactory(), 3)
    stop(crew, 4, local_date=TODAY + timedelta(days=1))
    stop(crew, 5, state="called_off")
    sheet = route_sheet(by_user(crew, via="page", at=AT), crew, TODAY)
    assert [s.visit_uid for s in sheet] == [first.uid, second.uid, unplaced.uid]
    assert [s.number for s in sheet] == [1, 2, 3]
    one = sheet[0]
    assert (one.address, one.access_note, one.gate_code) == ("1 Weir Lane", "side gate", "4711")
    assert [h.kind_words for h in one.hazards] == ["shallow cable"]  # the dog is gone
    assert [(t.tag, t.kind_words, t.words) for t in one.tasks] == [
        ("CB-1", "catch basin", "clean it"),
        ("PU-1", "pump", "replace it"),
    ]
    assert one.last_visit.lines == ("found half full",)
    assert one.last_visit.note == "mind the step"
    assert "new part: pump PU-1" in one.bring
    assert "scoop and bucket" in one.bring
    assert one.people == (crew.display_name,)


def test_a_route_sheet_shows_only_what_one_may_see(crew):
    visit = stop(crew)
    assert len(route_sheet(by_user(crew, via="page", at=AT), crew, TODAY)) == 1
    PropertyAccess.objects.filter(property=visit.property).update(until=AT)
    assert route_sheet(by_user(crew, via="page", at=AT), crew, TODAY) == ()
    assert route_sheet(by_customer(CustomerFactory(), at=AT), crew, TODAY) == ()


@pytest.mark.parametrize("count", [1, 3])
def test_queries_of_the_route_sheet(crew, count, django_assert_num_queries):
    for number in range(1, count + 1):
        stop(crew, number)
    act = by_user(crew, via="page", at=AT)
    with django_assert_num_queries(5):
        assert len(route_sheet(act, crew, TODAY)) == count


@pytest.mark.parametrize("count", [1, 3])
def test_queries_of_the_week(crew, office, count, django_assert_num_queries):
    for number in range(1, count + 1):
        stop(crew, number)
    with django_assert_num_queries(5):
        book = week(office, TODAY)
    assert sum(len(c.lines) for day in book.days for c in day.technicians) == count


@pytest.mark.parametrize("count", [1, 3])
def test_queries_of_the_lists(crew, office, count, django_assert_num_queries):
    for number in range(1, count + 1):
        visit = stop(crew, number)
        OfferedDayFactory(visit=visit)
        CallToMakeFactory(property=visit.property, visit=visit, customer=CustomerFactory())
        CloseoutFlagFactory(received=CloseoutReceivedFactory(state="needs_office", visit=visit))
    with django_assert_num_queries(4):
        rows = lists.visit_list(office, lists.VisitFilter(states=("agreed",)))
        for visit in rows:
            assert visit.property.area.name
            assert [t.component.tag for t in visit.tasks.all()] == ["CB-1", "PU-1"]
            assert [p.user for p in visit.technicians.all()] == [crew]
            assert len(visit.offered_days.all()) == 1
    assert len(rows) == count
    with django_assert_num_queries(1):
        assert [c.property.address for c in lists.open_calls(office)] == [f"{n} Weir Lane" for n in range(1, count + 1)]
    with django_assert_num_queries(1):
        assert all(f.received.sender and f.received.visit.property for f in lists.open_flags(office))
    with django_assert_num_queries(2):
        assert [len(r.flags.all()) for r in lists.waiting_closeouts(office)] == [1] * count


def test_the_week_is_a_day_book(crew, office):
    CompanySettingsFactory(recorded_at=AT - timedelta(days=1), values={"yard_lat": 40.0, "yard_lon": -75.0})
    for number in (2, 1):
        visit = stop(crew, number, local_date=TODAY + timedelta(days=2))
        visit.property.lat, visit.property.lon = 40.0 + number / 10, -75.0
        visit.property.save()
    alone = VisitFactory(property=PropertyFactory(), state="agreed", local_date=TODAY + timedelta(days=6))
    VisitFactory(state="offered", local_date=TODAY)
    book = week(office, TODAY + timedelta(days=3))
    assert book.start == TODAY  # a Monday
    assert [d.day for d in book.days] == [TODAY + timedelta(days=n) for n in range(7)]
    wednesday = next(c for c in book.days[2].technicians if c.user_uid == crew.uid)
    assert [(line.number, line.address) for line in wednesday.lines] == [(1, "1 Weir Lane"), (2, "2 Weir Lane")]
    assert wednesday.minutes == 80
    # One degree of latitude is 69.1 miles: 0.2 degrees out and back, roads 1.3 times longer.
    assert wednesday.miles == pytest.approx(0.4 * 69.1 * miles.CIRCUITY, rel=1e-3)
    assert [line.visit_uid for line in book.days[6].nobody.lines] == [alone.uid]
    assert book.minutes == 80


def test_miles_are_unknown_where_a_position_is(crew, office):
    visit = stop(crew)
    visit.property.lat = None
    visit.property.save()
    book = week(office, TODAY)
    assert book.miles is None


def test_great_circles():
    # A minute of arc on the equator is a nautical mile of about 1.1508 statute miles; 60 of them are a degree.
    assert miles.straight_miles((0, 0), (0, 1)) == pytest.approx(60 * 1.1508, rel=2e-3)
    assert miles.straight_miles((40, -75), (40, -75)) == 0


def test_filters(crew, office):
    early, late = stop(crew, 1), stop(crew, 2, local_date=TODAY + timedelta(days=9))
    other = UserFactory()

    def found(**wanted):
        return set(lists.visit_list(office, lists.VisitFilter(states=("agreed",), **wanted)))

    assert found() == {early, late}
    assert found(from_date=TODAY + timedelta(days=1)) == {late}
    assert found(until_date=TODAY) == {early}
    assert found(technician_id=crew.pk) == {early, late}
    assert found(technician_id=other.pk) == set()
    assert found(property_id=late.property_id) == {late}
    tomorrow = by_user(OfficeFactory(), via="page", at=AT + timedelta(days=1))
    assert set(lists.past_without_closeout(tomorrow)) == {early}


def test_who_sees_which_visits(crew, office):
    visit = stop(crew)
    proposed = VisitFactory(property=visit.property)
    offered = VisitFactory(property=visit.property, state="offered")
    elsewhere = VisitFactory(state="agreed", local_date=TODAY)
    owner, buyer = CustomerFactory(), CustomerFactory()
    PropertyRoleFactory(
        property=visit.property, customer=owner, from_date=TODAY - timedelta(days=60), until_date=TODAY + timedelta(5)
    )
    PropertyRoleFactory(property=visit.property, customer=buyer, from_date=TODAY + timedelta(5), until_date=None)
    everything = set(visible.visits(office))
    assert {visit, proposed, offered, elsewhere} <= everything
    assert elsewhere not in set(visible.visits(by_user(crew, via="page", at=AT)))
    assert set(visible.visits(by_user(UserFactory(), via="page", at=AT))) == set()
    mine = set(visible.visits(by_customer(owner, at=AT)))
    assert {visit, offered} <= mine
    assert proposed not in mine
    assert all(v.local_date is None or v.local_date >= TODAY - timedelta(days=60) for v in mine)
    assert len(mine) == 3  # and the one of 30 days ago, but not the one of 400
    assert set(visible.visits(by_customer(buyer, at=AT))) == set()
    assert set(visible.visits(by_customer(buyer, at=AT + timedelta(days=6)))) == {offered}
    assert set(visible.visits(by_customer(owner, at=AT + timedelta(days=6)))) == set()


def test_what_is_the_offices_alone(crew, office):
    visit = stop(crew)
    owner = CustomerFactory()
    PropertyRoleFactory(property=visit.property, customer=owner)
    CallToMakeFactory(property=visit.property)
    mine = CloseoutReceivedFactory(sender=crew)
    CloseoutFlagFactory(received=mine)
    agreement = ServiceAgreementFactory(property=visit.property, customer=owner)
    for act in (by_user(crew, via="page", at=AT), by_customer(owner, at=AT)):
        assert not visible.calls_to_make(act).exists()
        assert not visible.flags(act).exists()
    assert list(visible.received(by_user(crew, via="page", at=AT))) == [mine]
    assert not visible.received(by_customer(owner, at=AT)).exists()
    assert list(visible.agreements(by_customer(owner, at=AT))) == [agreement]
    assert not visible.agreements(by_user(crew, via="page", at=AT)).exists()
    assert visible.agreements(office).count() == 1
