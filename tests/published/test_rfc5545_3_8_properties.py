"""RFC 5545 section 3.8 (properties of a component) for what a feed writes.

Source: RFC 5545, Internet Calendaring and Scheduling Core Object Specification, September 2009; RFC 7986 section 5.3.
"""

from datetime import UTC, date, datetime, timedelta
from uuid import UUID

import pytest

from maintenance.calendar.event import EventStatus, next_last_modified
from tests.feedcheck import check_series
from tests.feedcheck.feed import Feed, duration, moment_of, utc_time
from tests.maintenance.calendar.samples import CHANGED, NOW, make_event, make_feed

FEED = Feed(make_feed())


def only(**changes: object):
    return Feed(make_feed([make_event(**changes)])).events[0]


def test_3_8_1_6_geo_is_latitude_then_longitude_to_six_places():
    # 3.8.1.6: GEO:37.386013;-122.082932 is its example.
    assert only(geo=(37.386013, -122.082932)).value("GEO") == "37.386013;-122.082932"


@pytest.mark.parametrize("status", list(EventStatus))
def test_3_8_1_11_status_is_one_of_three(status: EventStatus):
    assert only(status=status).value("STATUS") in ("TENTATIVE", "CONFIRMED", "CANCELLED")


def test_3_8_1_12_summary_is_one_line_of_text():
    assert only(summary="Clean\r\nCH-1").value("SUMMARY") == "Clean CH-1"


def test_3_8_2_2_dtend_is_later_than_dtstart_and_of_its_type():
    for event in FEED.events:
        start, end = event.one("DTSTART"), event.one("DTEND")
        assert start is not None
        assert end is not None
        begins, ends = moment_of(start), moment_of(end)
        assert type(begins) is type(ends)
        assert (start.params.get("VALUE"), "TZID" in start.params) == (end.params.get("VALUE"), "TZID" in end.params)
        instants = [m.astimezone(UTC) if isinstance(m, datetime) else m for m in (begins, ends)]
        assert instants[0] < instants[1]  # type: ignore[operator]


def test_3_8_2_2_the_end_of_a_whole_day_is_the_next_day():
    event = only(local_start=None, local_end=None, local_date=date(2026, 12, 31))
    assert (event.value("DTSTART"), event.value("DTEND")) == ("20261231", "20270101")


def test_3_8_2_7_transp_is_one_of_two():
    assert {event.value("TRANSP") for event in FEED.events} == {"OPAQUE", "TRANSPARENT"}


def test_3_8_4_7_uids_are_unique_opaque_and_kept_over_a_move():
    uids = [event.value("UID") for event in FEED.events]
    assert len(set(uids)) == len(uids)
    assert all(str(UUID(uid)) == uid for uid in uids)  # RFC 7986 5.3 recommends a UUID and no host name
    moved = only(local_date=date(2026, 5, 1), sequence=1, revision=2)
    assert moved.value("UID") == only().value("UID")


def test_3_8_6_3_the_trigger_lies_before_the_start():
    trigger = only(alarm_minutes=90).kind("VALARM")[0].one("TRIGGER")
    assert trigger is not None
    assert trigger.params == {}
    assert duration(trigger.value) == timedelta(minutes=-90)


def test_3_8_7_1_to_3_created_dtstamp_and_last_modified_are_utc():
    for event in FEED.events:
        assert all(utc_time(event.one(name)) for name in ("CREATED", "DTSTAMP", "LAST-MODIFIED"))


def test_3_8_7_2_without_method_dtstamp_is_the_last_revision():
    for event in FEED.events:
        assert event.value("DTSTAMP") == event.value("LAST-MODIFIED")


def test_3_8_7_3_last_modified_is_of_the_last_change():
    later = next_last_modified(CHANGED, CHANGED + timedelta(minutes=3))
    assert utc_time(only(last_modified=later).one("LAST-MODIFIED")) == CHANGED + timedelta(minutes=3)


def test_3_8_7_4_sequence_begins_at_zero_and_rises_with_a_move():
    assert only().value("SEQUENCE") == "0"
    first = make_event()
    moved = make_event(local_date=date(2026, 3, 20), sequence=1, last_modified=CHANGED + timedelta(seconds=1))
    assert check_series(make_feed([first]), make_feed([moved]), now=NOW) == []
