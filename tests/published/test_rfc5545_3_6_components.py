"""RFC 5545 sections 3.4, 3.6 and 3.7 (stream, calendar, event, zone and alarm components) for what a feed writes.

Source: RFC 5545, Internet Calendaring and Scheduling Core Object Specification, September 2009; RFC 7986 section 5.
"""

from maintenance.calendar.event import EventStatus
from maintenance.calendar.zones import vtimezone
from tests.feedcheck.feed import Feed
from tests.feedcheck.lines import build_tree, unfold
from tests.maintenance.calendar.samples import EASTERN, make_event, make_feed

FEED = Feed(make_feed())


def test_3_4_the_stream_is_one_balanced_vcalendar():
    assert FEED.unbalanced == []
    assert [child.name for child in FEED.root.children] == ["VCALENDAR"]
    assert (FEED.lines[0], FEED.lines[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")


def test_3_6_prodid_and_version_once_each():
    assert len(FEED.calendar.all("PRODID")) == 1
    assert [line.value for line in FEED.calendar.all("VERSION")] == ["2.0"]


def test_3_6_at_least_one_component_even_when_nothing_is_planned():
    empty = Feed(make_feed([], (EASTERN,)))
    assert [child.name for child in empty.calendar.children] == ["VTIMEZONE"]


def test_3_6_1_an_event_has_uid_dtstamp_and_dtstart_once_each():
    for event in FEED.events:
        for name in ("UID", "DTSTAMP", "DTSTART"):
            assert len(event.all(name)) == 1


def test_3_6_1_what_may_occur_once_occurs_at_most_once():
    once = "CLASS CREATED DESCRIPTION GEO LAST-MODIFIED LOCATION ORGANIZER PRIORITY SEQUENCE STATUS SUMMARY TRANSP URL"
    for event in FEED.events:
        assert all(len(event.all(name)) <= 1 for name in once.split())


def test_3_6_1_dtend_and_duration_are_not_both_there():
    assert all(len(event.all("DTEND")) == 1 and not event.all("DURATION") for event in FEED.events)


def test_3_6_1_a_date_start_has_a_date_end():
    dates = [event for event in FEED.events if (s := event.one("DTSTART")) and s.params.get("VALUE") == "DATE"]
    assert dates
    for event in dates:
        end = event.one("DTEND")
        assert end is not None
        assert end.params == {"VALUE": "DATE"}


def test_3_6_5_a_zone_has_tzid_once_and_whole_observances():
    for zone in FEED.zones:
        assert len(zone.all("TZID")) == 1
        assert zone.children
        for block in zone.children:
            assert block.name in ("STANDARD", "DAYLIGHT")
            assert all(len(block.all(name)) == 1 for name in ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO"))


def test_3_6_5_new_york_has_the_rules_since_2007():
    # The section's example of the rules in force since 2007: second Sunday of March, first of November (as recalled;
    # the dates are those of public law 109-58 section 110).
    root, _ = build_tree(unfold(vtimezone(EASTERN)))
    blocks = {block.name: block for block in root.children[0].children}
    daylight, standard = blocks["DAYLIGHT"], blocks["STANDARD"]
    assert dict(part.split("=") for part in daylight.value("RRULE").split(";")) == {
        "FREQ": "YEARLY",
        "BYDAY": "2SU",
        "BYMONTH": "3",
    }
    assert dict(part.split("=") for part in standard.value("RRULE").split(";")) == {
        "FREQ": "YEARLY",
        "BYDAY": "1SU",
        "BYMONTH": "11",
    }
    assert (daylight.value("TZOFFSETFROM"), daylight.value("TZOFFSETTO")) == ("-0500", "-0400")
    assert (standard.value("TZOFFSETFROM"), standard.value("TZOFFSETTO")) == ("-0400", "-0500")
    assert (daylight.value("TZNAME"), standard.value("TZNAME")) == ("EDT", "EST")
    assert daylight.value("DTSTART")[8:] == standard.value("DTSTART")[8:] == "T020000"


def test_3_6_6_a_display_alarm_has_action_trigger_and_description_once_each():
    alarms = [alarm for event in FEED.events for alarm in event.kind("VALARM")]
    assert alarms
    for alarm in alarms:
        assert alarm.value("ACTION") == "DISPLAY"
        assert all(len(alarm.all(name)) == 1 for name in ("ACTION", "TRIGGER", "DESCRIPTION"))


def test_3_7_2_no_method_is_stated():
    assert FEED.calendar.all("METHOD") == []


def test_3_7_1_the_scale_is_gregorian():
    assert FEED.calendar.value("CALSCALE") == "GREGORIAN"


def test_rfc7986_5_name_refresh_colour_source():
    calendar = FEED.calendar
    refresh, source = calendar.one("REFRESH-INTERVAL"), calendar.one("SOURCE")
    assert refresh is not None
    assert source is not None
    assert refresh.params == {"VALUE": "DURATION"}  # 5.7: the value type must be stated
    assert source.params == {"VALUE": "URI"}  # 5.8
    assert calendar.value("COLOR") == "steelblue"  # 5.9: a CSS3 name
    assert calendar.value("NAME") == "Visits – Técnico 7"  # 5.1
    assert calendar.all("UID") == []


def test_3_6_1_no_alarm_and_no_busy_time_for_a_called_off_visit():
    off = Feed(make_feed([make_event(status=EventStatus.CANCELLED, alarm_minutes=5)])).events[0]
    assert off.children == []
    assert off.value("TRANSP") == "TRANSPARENT"
