"""Calendar feeds from the records: who sees what, stable octets, what grows when something changes."""

import itertools
from datetime import date, time, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from icalendar import Calendar

from jobs import hazards
from maintenance import feeds, visits
from maintenance.models import EventFragment, Feed, Visit
from tests.factories import (
    AT,
    TODAY,
    CompanySettingsFactory,
    ComponentFactory,
    CustomerFactory,
    DueWindowFactory,
    HazardFactory,
    OfferedDayFactory,
    PropertyFactory,
    PropertyRoleFactory,
    SystemFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
    make_cast,
)
from tests.feedcheck import check_feed, check_series, explain

pytestmark = pytest.mark.django_db
DAY = TODAY + timedelta(days=8)
LATER = AT + timedelta(days=1)


@pytest.fixture
def cast():
    made = make_cast()
    made.property.gate_code = "4711"
    made.property.save()
    made.homeowner.phone = "555-0142"
    made.homeowner.save()
    return made


@pytest.fixture
def visit(cast):
    """Agreed for next week at 9, with one task and its technician."""
    made = VisitFactory(
        property=cast.property,
        state="agreed",
        local_date=DAY,
        local_start=time(9),
        span_minutes=120,
        agreed_at=AT,
        sequence=2,
        changed_at=AT,
    )
    VisitTaskFactory(visit=made, component=ComponentFactory(system=SystemFactory(property=cast.property), tag="CB-1"))
    VisitTechnicianFactory(visit=made, user=cast.crew)
    HazardFactory(property=cast.property, note="to the pool light")
    return made


def technician_feed(cast, **more) -> Feed:
    return feeds.issue_feed(act=cast.act("office"), kind="technician", user=cast.crew, **more)[0]


def homeowner_feed(cast) -> Feed:
    return feeds.issue_feed(act=cast.act("homeowner"), kind="homeowner", customer=cast.homeowner)[0]


def events(body: bytes) -> list:
    return Calendar.from_ical(body).walk("VEVENT")


def test_technician_feed_names_address_task_and_hazard_and_no_secret(cast, visit):
    body = feeds.feed_bytes(technician_feed(cast), AT)
    assert explain(body, now=AT, forbid=("4711", "555-0142", "home.invalid")) == {}
    (event,) = events(body)
    assert str(event["SUMMARY"]) == "7 Cistern Row: clean CB-1"
    assert "shallow cable, 5 in deep" in str(event["DESCRIPTION"])
    assert str(event["LOCATION"]).startswith("7 Cistern Row, Upper Fernby")
    assert (event["GEO"].latitude, event["GEO"].longitude) == (visit.property.lat, visit.property.lon)
    assert event["DTSTART"].dt.isoformat() == f"{DAY}T09:00:00-04:00"
    assert event["DTEND"].dt - event["DTSTART"].dt == timedelta(hours=2)


def test_homeowner_feed_shows_own_property_alone(cast, visit):
    other = VisitFactory(property=cast.strangers_property, state="agreed", local_date=DAY, sequence=1)
    body = feeds.feed_bytes(homeowner_feed(cast), AT)
    assert check_feed(body, now=AT, forbid=("4711", "Far Meadow", str(other.uid))) == []
    (event,) = events(body)
    assert str(event["UID"]) == str(visit.uid)
    assert "pool light" not in str(event["DESCRIPTION"])


def test_company_feed_shows_every_crew_without_contact_data(cast, visit):
    other = VisitFactory(property=cast.strangers_property, state="agreed", local_date=DAY, sequence=1)
    VisitTechnicianFactory(visit=other, user=cast.other_crew)
    feed, _ = feeds.issue_feed(act=cast.act("office"), kind="company")
    body = feeds.feed_bytes(feed, AT)
    assert check_feed(body, now=AT, forbid=("4711", "555-0142", "home.invalid", "pool light")) == []
    assert {str(e["UID"]) for e in events(body)} == {str(visit.uid), str(other.uid)}
    assert any("Ivo Tannery: 7 Cistern Row" in str(e["SUMMARY"]) for e in events(body))


def test_a_code_typed_into_a_hazard_or_task_does_not_leave(cast, visit):
    HazardFactory(property=cast.property, kind="dog", note="ring 555-0142 first, gate 4711")
    body = feeds.feed_bytes(technician_feed(cast), AT)
    assert b"4711" not in body
    assert b"555-0142" not in body


def test_an_offer_is_one_entry_on_the_day_of_the_answer(cast):
    visit = VisitFactory(property=cast.property, state="offered", answer_by=TODAY + timedelta(days=5), sequence=1)
    for ahead in (9, 11):
        OfferedDayFactory(visit=visit, local_date=TODAY + timedelta(days=ahead))
    body = feeds.feed_bytes(homeowner_feed(cast), AT)
    assert check_feed(body, now=AT) == []
    (event,) = events(body)
    assert event["DTSTART"].dt == TODAY + timedelta(days=5)
    assert str(event["STATUS"]) == "TENTATIVE"
    assert "Wednesday, 13 May" in str(event["DESCRIPTION"])
    assert events(feeds.feed_bytes(technician_feed(cast), AT)) == []


def test_agree_move_and_call_off_are_one_entry_that_grows(cast, visit):
    """RFC 5545 3.8.7.4 and the S rows: same UID, SEQUENCE and LAST-MODIFIED rise, the end is CANCELLED."""
    feed = technician_feed(cast)
    bodies = [feeds.feed_bytes(feed, AT)]
    act = cast.act("office", at=AT + timedelta(hours=1))
    visits.move(act=act, visit=visit, local_date=DAY + timedelta(days=2), local_start=time(13), span_minutes=60)
    bodies.append(feeds.feed_bytes(feed, AT + timedelta(hours=2)))
    visits.call_off(act=cast.act("office", at=AT + timedelta(hours=3)), visit=visit, why="Rain all week")
    bodies.append(feeds.feed_bytes(feed, AT + timedelta(hours=4)))
    for old, new in itertools.pairwise(bodies):
        assert check_series(old, new) == []
        assert check_feed(new, now=LATER) == []
    last = events(bodies[-1])[0]
    assert str(last["STATUS"]) == "CANCELLED"
    assert str(last["SUMMARY"]).startswith("Called off: ")
    fortnight = AT + timedelta(days=16)
    assert events(feeds.feed_bytes(feed, fortnight)) == []


def test_taking_an_agreed_day_back_shows_the_crew_that_it_is_off(cast, visit):
    feed = technician_feed(cast)
    before = feeds.feed_bytes(feed, AT)
    visits.offer(act=cast.act("office", at=LATER), visit=visit, days=[DAY + timedelta(days=7)])
    after = feeds.feed_bytes(feed, LATER)
    assert check_series(before, after) == []
    assert str(events(after)[0]["STATUS"]) == "CANCELLED"


def test_unchanged_records_give_unchanged_octets_whenever_they_are_asked(cast, visit):
    feed = technician_feed(cast)
    first = feeds.feed_bytes(feed, AT)
    assert feeds.feed_bytes(feed, AT + timedelta(hours=20)) == first
    other = technician_feed(cast)
    other.created_at = feed.created_at
    assert feeds.feed_bytes(other, AT) == first


def test_a_new_hazard_changes_the_entry_and_its_last_modified(cast, visit):
    """One phone reader takes a change only where LAST-MODIFIED grew, whatever of ours it came from."""
    feed = technician_feed(cast)
    before = feeds.feed_bytes(feed, AT)
    hazards.add_hazard(act=cast.act("office", at=LATER), property=cast.property, kind="gas", note="by the meter")
    after = feeds.feed_bytes(feed, LATER)
    assert check_series(before, after) == []
    old, new = events(before)[0], events(after)[0]
    assert "gas line" in str(new["DESCRIPTION"])
    assert new["LAST-MODIFIED"].dt > old["LAST-MODIFIED"].dt
    assert new["SEQUENCE"] == old["SEQUENCE"]


def test_a_register_change_that_says_nothing_new_keeps_the_octets(cast, visit):
    feed = technician_feed(cast)
    before = feeds.feed_bytes(feed, AT)
    cast.property.revision += 1
    cast.property.save()
    assert feeds.feed_bytes(feed, LATER) == before


def test_new_zone_rules_are_a_reason_to_make_the_octets_again(cast, visit, monkeypatch):
    feed = technician_feed(cast)
    feeds.feed_bytes(feed, AT)
    made = EventFragment.objects.get()
    EventFragment.objects.update(body=made.body + b"X")
    monkeypatch.setattr("tzdata.IANA_VERSION", "2099z")
    assert feeds.feed_bytes(feed, AT).count(b"BEGIN:VEVENT") == 1
    again = EventFragment.objects.get()
    assert again.stamp != made.stamp
    assert bytes(again.body) != bytes(made.body) + b"X"


def test_kept_octets_are_served_and_not_made_again(cast, visit, monkeypatch):
    feed = technician_feed(cast)
    first = feeds.feed_bytes(feed, AT)
    monkeypatch.setattr("maintenance.feed_fragments.event_bytes", lambda *a, **k: pytest.fail("made again"))
    assert feeds.feed_bytes(feed, AT) == first


@pytest.mark.parametrize("count", [1, 3])
def test_a_warm_feed_costs_the_same_queries(cast, count, django_assert_num_queries):
    for number in range(count):
        made = VisitFactory(property=cast.property, state="agreed", local_date=DAY + timedelta(days=number))
        VisitTechnicianFactory(visit=made, user=cast.crew)
    feed = technician_feed(cast)
    feeds.feed_bytes(feed, AT)
    # Settings twice, how many there are, the octets, the newest of them.
    with django_assert_num_queries(5):
        feeds.feed_bytes(feed, AT)


def test_making_many_costs_no_more_queries_than_making_one(cast):
    counts = []
    for number in (1, 4):
        for _ in range(number):
            made = VisitFactory(property=PropertyFactory(), state="agreed", local_date=DAY)
            VisitTaskFactory(visit=made)
            VisitTechnicianFactory(visit=made, user=cast.crew)
        feed = technician_feed(cast)
        with CaptureQueriesContext(connection) as queries:
            feeds.feed_bytes(feed, AT)
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_own_tasks_of_one_day_are_one_whole_day(cast):
    for tag in ("CH-1", "CH-2"):
        part = ComponentFactory(system=SystemFactory(property=cast.property), kind="channel_run", tag=tag)
        DueWindowFactory(component=part, task="pour_bucket", who="owner", best_on=DAY)
    body = feeds.feed_bytes(homeowner_feed(cast), AT)
    assert check_feed(body, now=AT) == []
    (event,) = events(body)
    assert event["DTSTART"].dt == DAY
    assert str(event["TRANSP"]) == "TRANSPARENT"
    assert "CH-1, CH-2" in str(event["DESCRIPTION"])
    assert "never reach under a grate" in str(event["DESCRIPTION"])


def test_a_homeowner_who_reads_spanish_has_own_fragments(cast, visit):
    spanish = CustomerFactory(language="es")
    PropertyRoleFactory(property=cast.property, customer=spanish)
    feed, _ = feeds.issue_feed(act=cast.act("office"), kind="homeowner", customer=spanish)
    feeds.feed_bytes(feed, AT)
    feeds.feed_bytes(homeowner_feed(cast), AT)
    assert set(EventFragment.objects.values_list("audience", flat=True)) == {"home-es", "home-en"}


def test_an_alarm_is_in_the_feed_that_asked_for_it_alone(cast, visit):
    with_alarm = technician_feed(cast, alarm_minutes=60)
    assert check_feed(feeds.feed_bytes(with_alarm, AT), now=AT) == []
    assert b"TRIGGER:-PT1H" in feeds.feed_bytes(with_alarm, AT)
    assert b"VALARM" not in feeds.feed_bytes(technician_feed(cast), AT)


def test_an_empty_feed_is_a_calendar_still(cast):
    """RFC 5545 3.6: at least one component, so the zone stays."""
    assert check_feed(feeds.feed_bytes(technician_feed(cast), AT), now=AT) == []


def test_beyond_a_thousand_the_nearest_are_kept(cast):
    CompanySettingsFactory(values={"zone": "America/New_York"})
    Visit.objects.bulk_create(
        VisitFactory.build(
            property=cast.property, state="agreed", local_date=TODAY + timedelta(days=1 + n % 399), changed_at=AT
        )
        for n in range(1010)
    )
    feed, _ = feeds.issue_feed(act=cast.act("office"), kind="company")
    shown = events(feeds.feed_bytes(feed, AT))
    assert len(shown) == 1000
    assert max(e["DTSTART"].dt for e in shown) < TODAY + timedelta(days=399)


def test_last_modified_of_the_answer_moves_when_an_entry_leaves_without_a_revision(cast, visit):
    """RFC 9110 8.8.2: what a reader without ETag goes by. Taken off the visit, the crew's feed loses it."""
    feed = technician_feed(cast)
    first = feeds.serve(act=cast.act("office"), feed=feed)
    feed.refresh_from_db()
    again = feeds.serve(act=cast.act("office", at=AT + timedelta(hours=1)), feed=feed)
    assert (again.etag, again.changed_at) == (first.etag, first.changed_at)
    visit.technicians.all().delete()
    third = feeds.serve(act=cast.act("office", at=AT + timedelta(hours=2)), feed=feed)
    assert third.etag != first.etag
    assert third.changed_at > first.changed_at


def test_fetches_are_noted_at_most_once_in_ten_minutes(cast):
    feed = technician_feed(cast)
    for minutes, noted in ((0, 0), (5, 0), (11, 11)):
        feed.refresh_from_db()
        feeds.serve(act=cast.act("office", at=AT + timedelta(minutes=minutes)), feed=feed)
        feed.refresh_from_db()
        assert feed.last_fetched_at == AT + timedelta(minutes=noted)


@pytest.mark.parametrize(
    ("zone", "day", "start"),
    [
        ("America/New_York", date(2026, 11, 1), time(1, 30)),
        ("America/New_York", date(2027, 3, 14), time(2, 30)),
        ("Europe/Berlin", date(2026, 10, 25), time(2, 30)),
        ("Australia/Sydney", date(2026, 10, 4), time(2, 15)),
    ],
)
def test_both_nights_of_the_clock_in_three_zones(cast, zone, day, start):
    """RFC 5545 3.3.5; E10 and E24 of the checker."""
    prop = PropertyFactory(zone=zone)
    made = VisitFactory(property=prop, zone=zone, state="agreed", local_date=day, local_start=start, span_minutes=60)
    VisitTechnicianFactory(visit=made, user=cast.crew)
    assert check_feed(feeds.feed_bytes(technician_feed(cast), AT), now=AT) == []
