"""RFC 5545 section 3.3 (value types) for what a feed writes, with the sections' own examples.

Source: RFC 5545, Internet Calendaring and Scheduling Core Object Specification, September 2009.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from maintenance.calendar.lines import duration_text, escape_text
from maintenance.calendar.zones import is_repeated, local_instant, span_form, vtimezone
from tests.feedcheck.feed import Feed, date_time, duration
from tests.feedcheck.lines import split_list, unescape
from tests.feedcheck.zones import offset_at, onsets, utc_offset
from tests.maintenance.calendar.samples import EASTERN, make_event, make_feed

NEW_YORK = ZoneInfo(EASTERN)


def test_3_3_4_a_date_is_eight_digits():
    event = Feed(make_feed([make_event(local_start=None, local_end=None)])).events[0]
    start = event.one("DTSTART")
    assert start is not None
    assert (start.params, start.value) == ({"VALUE": "DATE"}, "20260309")


def test_3_3_5_form_3_the_sections_new_york_example():
    # 3.3.5: TZID=America/New_York:19970714T133000 is 1:30 P.M. in New York on July 14, 1997; UTC is four hours ahead.
    assert local_instant(date(1997, 7, 14), time(13, 30), NEW_YORK) == datetime(1997, 7, 14, 17, 30, tzinfo=UTC)


def test_3_3_5_a_repeated_time_means_the_first_occurrence():
    # 3.3.5: 20071104T013000 in New York is November 4, 2007 at 1:30 A.M. EDT (UTC-04:00).
    first = datetime(2007, 11, 4, 5, 30, tzinfo=UTC)
    assert local_instant(date(2007, 11, 4), time(1, 30), NEW_YORK) == first
    assert is_repeated(date(2007, 11, 4), time(1, 30), NEW_YORK)


def test_3_3_5_a_time_inside_the_gap_is_never_written():
    # 3.3.5 reads 20070311T023000 as 3:30 A.M. EDT; readers differ, so it is not written: 3:00, when the gap ends.
    start, _ = span_form(date(2007, 3, 11), time(2, 30), time(4), EASTERN)
    assert (start.hour, start.minute) == (3, 0)


def test_3_3_5_form_2_utc_ends_in_z_and_agrees_with_the_first_occurrence():
    event = make_event(local_date=date(2026, 11, 1), local_start=time(1, 30), local_end=time(3))
    assert Feed(make_feed([event])).events[0].value("DTSTART") == "20261101T053000Z"


def test_3_3_5_seconds_60_and_a_missing_t_are_not_date_times():
    assert date_time("19970714T133060") is None
    assert date_time("19970714133000") is None


def test_3_3_6_the_sections_own_durations():
    # 3.3.6: 15 days, 5 hours and 20 seconds is P15DT5H0M20S; 7 weeks is P7W (a feed may say it in days).
    assert duration_text(timedelta(days=15, hours=5, seconds=20)) == "P15DT5H0M20S"
    assert duration("P7W") == duration(duration_text(timedelta(weeks=7)))


def test_3_3_11_the_sections_own_text():
    text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    written = "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared."
    assert escape_text(text) == written
    assert unescape(written) == text


def test_3_3_11_backslash_comma_and_semicolon_are_escaped_and_a_colon_is_not():
    event = Feed(make_feed([make_event(summary="a\\b, c; d: e")])).events[0]
    assert event.value("SUMMARY") == "a\\\\b\\, c\\; d: e"


def test_3_3_11_a_comma_inside_one_of_several_values_is_escaped():
    event = Feed(make_feed([make_event(categories=("Silt, sand", "Visit"))])).events[0]
    assert event.value("CATEGORIES") == "Silt\\, sand,Visit"
    assert split_list(event.value("CATEGORIES")) == ["Silt, sand", "Visit"]


def test_3_3_13_addresses_are_not_escaped():
    event = Feed(make_feed([make_event(url="https://calendar.example.org/v/1?a=1;b=2,3")])).events[0]
    assert event.value("URL") == "https://calendar.example.org/v/1?a=1;b=2,3"


def test_3_3_14_offsets_have_sign_and_four_digits_and_zero_is_positive():
    # 3.3.14: -0500 and +0100 are its examples, and -0000 is not allowed.
    assert utc_offset("-0500") == timedelta(hours=-5)
    assert utc_offset("+0100") == timedelta(hours=1)
    assert utc_offset("-0000") is None
    for tzid in (EASTERN, "Europe/Lisbon", "UTC", "Asia/Kathmandu", "America/St_Johns"):
        lines = vtimezone(tzid).decode().split("\r\n")
        offsets = [line.split(":")[1] for line in lines if line.startswith("TZOFFSET")]
        assert offsets
        assert all(utc_offset(offset) is not None for offset in offsets)


def test_3_3_5_new_york_in_2007_through_the_written_vtimezone():
    # The dates of 3.3.5's examples, read through the component a feed carries.
    zone = Feed(make_feed([make_event()])).zones[0]
    changes = onsets(zone, datetime(2027, 1, 1, tzinfo=UTC))
    assert offset_at(changes, datetime(2007, 11, 4, 5, 30, tzinfo=UTC)) == timedelta(hours=-4)
    assert offset_at(changes, datetime(2007, 11, 4, 6, 0, tzinfo=UTC)) == timedelta(hours=-5)
    assert offset_at(changes, datetime(2007, 3, 11, 6, 59, 59, tzinfo=UTC)) == timedelta(hours=-5)
    assert offset_at(changes, datetime(2007, 3, 11, 7, 0, tzinfo=UTC)) == timedelta(hours=-4)
