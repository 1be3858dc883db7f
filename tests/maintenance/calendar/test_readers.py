"""Independent readers see the same visits at the same instants: icalendar, recurring_ical_events, vobject."""

import re
import unicodedata
import warnings
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from maintenance.calendar.event import DESCRIPTION_CHARACTERS, CalendarEvent, EventStatus, forbidden_text
from tests.feedcheck.feed import Feed
from tests.feedcheck.lines import split_list, unescape
from tests.feedcheck.readers import as_text, read_occurrences, read_with_icalendar, written
from tests.maintenance.calendar.samples import EASTERN, LISBON, LORD_HOWE, good_events, make_event, make_feed

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # vobject imports modules that Python 3.11 warns about
    import vobject

FIRST, LAST = date(2025, 1, 1), date(2030, 1, 1)

# Both nights of the clock in three zones, and the days beside them. Offsets by hand from the dates of the changes
# (New York: second Sunday of March, first of November; Lisbon: last Sundays of March and October at 01:00 UTC; Lord
# Howe: first Sundays of October and April, half an hour). day, start, end, zone -> UTC start, UTC end
NIGHTS = [
    (date(2026, 3, 7), time(8), time(9), EASTERN, "2026-03-07T13:00", "2026-03-07T14:00"),
    (date(2026, 3, 8), time(1), time(4), EASTERN, "2026-03-08T06:00", "2026-03-08T08:00"),
    (date(2026, 3, 8), time(2, 30), time(4), EASTERN, "2026-03-08T07:00", "2026-03-08T08:00"),
    (date(2026, 3, 9), time(8), time(9), EASTERN, "2026-03-09T12:00", "2026-03-09T13:00"),
    (date(2026, 11, 1), time(0, 30), time(3), EASTERN, "2026-11-01T04:30", "2026-11-01T08:00"),
    (date(2026, 11, 1), time(1, 30), time(3), EASTERN, "2026-11-01T05:30", "2026-11-01T08:00"),
    (date(2026, 11, 2), time(8), time(9), EASTERN, "2026-11-02T13:00", "2026-11-02T14:00"),
    (date(2026, 3, 29), time(0, 30), time(2, 30), LISBON, "2026-03-29T00:30", "2026-03-29T01:30"),
    (date(2026, 10, 25), time(0, 30), time(2, 30), LISBON, "2026-10-24T23:30", "2026-10-25T02:30"),
    (date(2026, 10, 25), time(1, 15), time(1, 45), LISBON, "2026-10-25T00:15", "2026-10-25T00:45"),
    (date(2026, 10, 4), time(1), time(3), LORD_HOWE, "2026-10-03T14:30", "2026-10-03T16:00"),
    (date(2026, 4, 5), time(1, 45), time(3), LORD_HOWE, "2026-04-04T14:45", "2026-04-04T16:30"),
]


def read_with_vobject(body: bytes) -> list[tuple[str, str, str, str]]:
    calendar = vobject.readOne(body.decode())
    return sorted(
        (event.uid.value, as_text(event.dtstart.value), as_text(event.dtend.value), event.summary.value)
        for event in calendar.vevent_list
    )


def all_readers(body: bytes) -> dict[str, list[tuple[str, str, str, str]]]:
    return {
        "icalendar": read_with_icalendar(body),
        "recurring_ical_events": read_occurrences(body, FIRST, LAST),
        "vobject": read_with_vobject(body),
    }


def test_three_readers_see_the_good_feed_alike():
    body = make_feed()
    expected = written(Feed(body))
    assert len(expected) == len(good_events())
    for name, seen in all_readers(body).items():
        assert seen == expected, name


@pytest.mark.parametrize(("day", "start", "end", "tzid", "begins", "ends"), NIGHTS)
def test_three_readers_see_the_same_instants_on_both_nights(day, start, end, tzid, begins, ends):
    event = make_event(local_date=day, local_start=start, local_end=end, tzid=tzid)
    for name, seen in all_readers(make_feed([event])).items():
        assert [(s, e) for _, s, e, _ in seen] == [(f"{begins}:00+00:00", f"{ends}:00+00:00")], name


def test_a_whole_day_ends_the_day_after():
    event = make_event(local_start=None, local_end=None)
    for name, seen in all_readers(make_feed([event])).items():
        assert [(s, e) for _, s, e, _ in seen] == [("2026-03-09", "2026-03-10")], name


# Letters of several scripts, right to left too, emoji with joiners, what must be escaped, long runs, line ends.
ALPHABET = st.one_of(
    st.sampled_from([*",;:\\\"'\n\r\t=^|%", "\\n", "\\N", "\\,", "\r\n", "👩\u200d🔧", "🛠️", "é", "e\u0301"]),
    st.sampled_from(list("אבגدرمעשבتש\u200f\u202b\u202c漢字ß½№")),
    st.characters(codec="utf-8", exclude_categories=("Cs",)),
    st.sampled_from(["silt ", "x" * 80, "ñ" * 40, "漢" * 30]),
)
TEXTS = st.lists(ALPHABET, max_size=40).map("".join)


@given(summary=TEXTS.map(lambda t: "S" + t), description=TEXTS, location=TEXTS, category=TEXTS)
def test_texts_come_back_from_independent_readers(summary: str, description: str, location: str, category: str):
    event = make_event(summary=summary, description=description, location=location, categories=(category, "Visit"))
    body = make_feed([event])
    written_event = Feed(body).events[0]
    expected = {name: unescape(written_event.value(name)) for name in ("SUMMARY", "DESCRIPTION", "LOCATION")}
    categories = split_list(written_event.value("CATEGORIES"))
    assert expected["SUMMARY"].startswith("S")

    seen = vobject.readOne(body.decode()).vevent
    assert seen.summary.value == expected["SUMMARY"]
    assert seen.description.value == expected["DESCRIPTION"]
    assert (seen.location.value if hasattr(seen, "location") else "") == expected["LOCATION"]
    assert seen.categories.value == categories
    assert read_with_icalendar(body)[0][3] == expected["SUMMARY"]


def typed(text: str) -> str:
    """What is left of a typed text by the rules stated, said another way than the code says it."""
    lines = re.sub("\r\n|[\r\x0b\x0c\x85\u2028\u2029]", "\n", text)
    return unicodedata.normalize("NFC", re.sub("[\x00-\x08\x0e-\x1f\x7f-\x9f]", "", lines)).strip()


@given(st.lists(ALPHABET, max_size=20).map("".join))
def test_what_was_typed_comes_back_whole(text: str):
    # Forbidden texts, tags and over-long notes have tests of their own.
    assume(not forbidden_text(text) and "<" not in text and len(text) <= DESCRIPTION_CHARACTERS)
    event = make_event(description=text)
    seen = vobject.readOne(make_feed([event]).decode()).vevent
    assert seen.description.value == "\n".join(part for part in (typed(text), event.url) if part)


EVENTS = st.builds(
    make_event,
    number=st.integers(1, 10_000),
    local_date=st.dates(date(2025, 2, 1), date(2029, 12, 1)),
    tzid=st.sampled_from([EASTERN, LISBON, LORD_HOWE]),
    status=st.sampled_from(list(EventStatus)),
    local_start=st.times(time(0), time(12)).map(lambda t: t.replace(second=0, microsecond=0)),
    local_end=st.times(time(12, 30), time(23)).map(lambda t: t.replace(second=0, microsecond=0)),
)


@given(st.lists(EVENTS, max_size=5, unique_by=lambda event: event.uid))
def test_instants_come_back_from_independent_readers(events: list[CalendarEvent]):
    def instant(event: CalendarEvent, clock: time | None) -> datetime:
        assert clock is not None
        return datetime.combine(event.local_date, clock, tzinfo=ZoneInfo(event.tzid)).astimezone(UTC)

    seen = {uid: (start, end) for uid, start, end, _ in read_occurrences(make_feed(events, (EASTERN,)), FIRST, LAST)}
    assert set(seen) == {event.uid for event in events}
    for event in events:
        ends = instant(event, event.local_end)
        assert seen[event.uid][1] == ends.isoformat()
        zone = ZoneInfo(event.tzid)
        begins = instant(event, event.local_start)
        if begins.astimezone(zone).replace(tzinfo=None).time() == event.local_start:
            assert seen[event.uid][0] == begins.isoformat()
        else:  # in the gap: later than a reading with the offset after it, and at most an hour
            assert timedelta(0) <= begins - datetime.fromisoformat(seen[event.uid][0]) < timedelta(hours=1)
