"""The VEVENT of a record: a pure function of it, with nothing in it that must not leave."""

from dataclasses import FrozenInstanceError
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.calendar.event import (
    DESCRIPTION_CHARACTERS,
    LEFT_OUT,
    EventStatus,
    event_bytes,
    forbidden_text,
    fragment_key,
    without_forbidden,
)
from tests.feedcheck import check_feed
from tests.feedcheck.lines import Component, build_tree, unescape, unfold
from tests.maintenance.calendar.samples import BASE, NOW, make_event, make_feed


def read(body: bytes) -> Component:
    root, wrong = build_tree(unfold(body))
    assert wrong == []
    return root.children[0]


def test_the_same_record_gives_the_same_octets():
    assert event_bytes(make_event()) == event_bytes(make_event())


def test_a_record_cannot_be_changed():
    with pytest.raises(FrozenInstanceError):
        make_event().summary = "other"  # type: ignore[misc]


def test_dtstamp_is_last_modified():
    event = read(event_bytes(make_event()))
    assert event.value("DTSTAMP") == event.value("LAST-MODIFIED") == "20260305T080000Z"


def test_a_timed_visit_is_opaque_and_a_whole_day_is_not():
    timed = read(event_bytes(make_event()))
    assert (timed.value("DTSTART"), timed.value("DTEND"), timed.value("TRANSP")) == (
        "20260309T080000",
        "20260309T093000",
        "OPAQUE",
    )
    whole = read(event_bytes(make_event(local_start=None, local_end=None)))
    assert (whole.value("DTSTART"), whole.value("DTEND"), whole.value("TRANSP")) == (
        "20260309",
        "20260310",
        "TRANSPARENT",
    )


def test_a_called_off_visit_says_so_in_the_readers_language_and_does_not_ring():
    off = make_event(status=EventStatus.CANCELLED, alarm_minutes=30, called_off_prefix="Cancelada: ")
    event = read(event_bytes(off))
    assert event.value("SUMMARY") == "Cancelada: Clean CH-1 and SB-2"
    assert event.value("TRANSP") == "TRANSPARENT"
    assert event.kind("VALARM") == []


def test_an_alarm_only_where_it_is_asked_for():
    assert read(event_bytes(make_event())).kind("VALARM") == []
    alarm = read(event_bytes(make_event(alarm_minutes=90))).kind("VALARM")[0]
    assert (alarm.value("ACTION"), alarm.value("TRIGGER")) == ("DISPLAY", "-PT1H30M")


def test_small_positions_have_no_exponent():
    event = read(event_bytes(make_event(geo=(0.00001, -0.000004))))
    assert event.value("GEO") == "0.000010;-0.000004"


def test_the_page_stands_at_the_end_of_the_description():
    assert unescape(read(event_bytes(make_event())).value("DESCRIPTION")) == f"Two parts.\n{BASE}/visits/1"
    assert unescape(read(event_bytes(make_event(description=" "))).value("DESCRIPTION")) == f"{BASE}/visits/1"


def test_long_texts_are_cut_before_the_address_of_the_page():
    text = unescape(read(event_bytes(make_event(description="word " * 3000))).value("DESCRIPTION"))
    assert text.endswith(f"word…\n{BASE}/visits/1")
    assert len(text) <= DESCRIPTION_CHARACTERS + 1 + len(f"{BASE}/visits/1")


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"uid": ""}, "uid: "),
        ({"uid": "a@example.org"}, "uid: "),
        ({"uid": "a" * 256}, "uid: "),
        ({"sequence": -1}, "sequence: -1 is below 0"),
        ({"revision": -1}, "revision: -1 is below 0"),
        ({"last_modified": datetime(2026, 3, 5, 8)}, "last_modified: .* is not an aware time in UTC"),
        ({"created": datetime(2026, 3, 5, 8, tzinfo=ZoneInfo("America/New_York"))}, "created: .* in UTC"),
        ({"summary": " \n "}, "summary: empty"),
        ({"tzid": "UTC+01:00"}, "tzid: 'UTC\\+01:00'"),
        ({"url": "/visits/1"}, "url: .* is not an absolute"),
        ({"url": "https://example.org/a\r\nATTENDEE:x"}, "url: .* percent-encode"),
        ({"url": "javascript:alert(1)"}, "url: .* is not an absolute"),
        ({"url": "https://example.org/" + "a" * 2000}, "url: 2020 characters, the limit is 2000"),
        ({"local_end": None}, "give both, or neither"),
        ({"local_end": time(8)}, "local_end: 08:00:00 is not later"),
        ({"geo": (91.0, 0.0)}, "geo: .* -90 to 90"),
        ({"geo": (float("nan"), 0.0)}, "geo: "),
        ({"alarm_minutes": 0}, "alarm_minutes: 0 is not 1 to"),
        ({"alarm_minutes": 30_000}, "alarm_minutes: 30000 is not 1 to 20160 minutes"),
    ],
)
def test_a_bad_field_is_refused_by_name(changes: dict, message: str):
    with pytest.raises(ValueError, match=message):
        make_event(**changes)


@pytest.mark.parametrize(
    ("text", "kinds"),
    [
        ("Gate code 4471#", ["access code"]),
        ("lockbox: 0912", ["access code"]),
        ("the code is 4471", ["access code"]),
        ("PIN 123456", ["access code"]),
        ("Código del portón 1234", ["access code"]),
        ("Call 555-201-0142 first", ["telephone number"]),
        ("(555) 201-0142", ["telephone number"]),
        ("+1 555 201 0142", ["telephone number"]),
        ("5552010142", ["telephone number"]),
        ("555-0142", ["telephone number"]),
        ("write to owner@mail.example", ["mail address"]),
        ("gate 4471, tel. 555.201.0142", ["telephone number", "access code"]),
    ],
)
def test_what_must_not_leave_is_named_and_left_out(text: str, kinds: list[str]):
    assert forbidden_text(text) == kinds
    cleaned = without_forbidden(text)
    assert LEFT_OUT in cleaned
    assert forbidden_text(cleaned) == []


@pytest.mark.parametrize(
    "text",
    [
        "1/2 hp effluent pump, about 60 gpm",
        "SB-2: 24 in deep, 12 in clear to the invert",
        "1200 Example Avenue, Exampletown 98765-4321",
        "2026-03-09, 08:00 to 09:30",
        "Open the gate, then 3 steps down",
        "Pipe of 100 ft, code requires 1 % slope",
        "40.123456, -75.000000",
    ],
)
def test_ordinary_notes_are_left_alone(text: str):
    assert forbidden_text(text) == []
    assert without_forbidden(text) == text


def test_the_propertys_own_secrets_are_found_wherever_they_stand():
    assert forbidden_text("Say Heron at the door", ["heron"]) == ["secret of the property"]
    assert without_forbidden("Say Heron at the door; herons nest here", ["heron"]) == (
        f"Say {LEFT_OUT} at the door; herons nest here"
    )
    assert forbidden_text("Nothing here", ["", "  "]) == []


def test_no_private_text_leaves_in_an_event():
    event = make_event(
        summary="Clean, gate code 4471",
        description="Call 555-201-0142, word is heron",
        categories=("Visit", "heron"),
        location="4471 Example Street",
        alarm_minutes=10,
    )
    body = event_bytes(event, secrets=["heron", "4471"])
    text = "\n".join(unfold(body))
    assert "555-201" not in text
    assert "heron" not in text
    assert text.count("4471") == 1  # the house number, which the location keeps
    assert "LOCATION:4471 Example Street" in text


def test_tags_in_notes_are_not_drawn_by_readers():
    feed = make_feed([make_event(description='<img src="x"> fill < 50 %, <b>check</b> & note')])
    assert check_feed(feed, now=NOW) == []
    assert "fill < 50 %" in "\n".join(unfold(feed))


def test_the_key_of_a_fragment_changes_with_revision_and_language():
    keys = {
        fragment_key(make_event(1), "en"),
        fragment_key(make_event(1), "es"),
        fragment_key(make_event(1, revision=2), "en"),
        fragment_key(make_event(2), "en"),
    }
    assert len(keys) == 4


@given(
    day=st.dates(date(2025, 2, 1), date(2030, 12, 31)),
    start=st.integers(0, 24 * 60 - 2),
    length=st.integers(1, 300),
    tzid=st.sampled_from(["America/New_York", "Europe/Lisbon", "Australia/Lord_Howe", "America/Vancouver"]),
)
def test_any_day_and_hour_makes_a_good_feed(day: date, start: int, length: int, tzid: str):
    end = min(start + length, 24 * 60 - 1)
    begins, ends = time(start // 60, start % 60), time(end // 60, end % 60)
    event = make_event(local_date=day, local_start=begins, local_end=ends, tzid=tzid)
    assert check_feed(make_feed([event]), now=NOW.astimezone(UTC) + timedelta(days=1)) == []
