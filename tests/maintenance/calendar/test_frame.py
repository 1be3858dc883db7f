"""The frame: head, window, limits, tags; and the lines it is made of."""

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.calendar.frame import (
    COLOURS,
    EVENTS_MAX,
    OCTETS_MAX,
    Fragment,
    entity_tag,
    feed_changed_at,
    fit_window,
    is_shown,
    window,
)
from maintenance.calendar.lines import duration_text, escape_text, fold_line, one_line, plain_text
from tests.feedcheck import check_feed
from tests.feedcheck.feed import duration
from tests.feedcheck.lines import physical_lines, unescape, unfold
from tests.maintenance.calendar.samples import CHANGED, EASTERN, NOW, make_event, make_feed

TODAY = date(2026, 3, 6)


def fragment(days: int, uid: str = "", octets: int = 10, called_off: date | None = None) -> Fragment:
    return Fragment(TODAY + timedelta(days=days), uid or f"visit-{days:+05d}", b"x" * octets, called_off)


def test_the_window_is_90_days_back_and_400_ahead():
    assert window(TODAY) == (date(2025, 12, 6), date(2027, 4, 10))
    shown = [f.local_date for f in fit_window([fragment(d) for d in (-91, -90, 0, 400, 401)], TODAY)]
    assert shown == [date(2025, 12, 6), TODAY, date(2027, 4, 10)]


def test_a_called_off_visit_stays_14_days():
    off = date(2026, 3, 1)
    assert is_shown(date(2026, 4, 1), off + timedelta(days=14), off)
    assert not is_shown(date(2026, 4, 1), off + timedelta(days=15), off)
    assert fit_window([fragment(20, called_off=TODAY - timedelta(days=15))], TODAY) == []


def test_at_most_a_thousand_the_nearest_coming_ones_first():
    many = [fragment(d // 4, f"visit-{d:05d}") for d in range(-40, 1200)]
    kept = fit_window(reversed(many), TODAY)
    assert len(kept) == EVENTS_MAX
    assert kept == sorted(kept, key=lambda f: (f.local_date, f.uid))
    assert kept[0].local_date == TODAY
    fewer = fit_window(many[:1000], TODAY)
    assert fewer[0].local_date == TODAY - timedelta(days=10)


def test_at_most_a_million_octets():
    kept = fit_window([fragment(d, octets=10_000) for d in range(200)], TODAY)
    assert [f.local_date for f in kept] == [TODAY + timedelta(days=d) for d in range(98)]
    assert sum(len(f.vevent) for f in kept) < OCTETS_MAX


def test_order_of_the_rows_does_not_matter():
    rows = [fragment(d) for d in (5, -3, 12, 0)]
    assert fit_window(rows, TODAY) == fit_window(rows[::-1], TODAY)


def test_an_empty_feed_keeps_its_zone():
    body = make_feed([], (EASTERN,))
    assert check_feed(body, now=NOW) == []
    assert b"BEGIN:VTIMEZONE" in body


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"name": " "}, "name: empty"),
        ({"colour": "#ff0000"}, "colour: '#ff0000' is not one of"),
        ({"refresh": timedelta(0)}, "duration: 0:00:00 is not a positive"),
        ({"url": "crew"}, "url: 'crew'"),
        ({"source": "webcal://example.org/x.ics"}, "source: 'webcal"),
        ({"last_modified": datetime(2026, 3, 5)}, "last_modified: .* UTC"),
    ],
)
def test_a_bad_setting_is_refused_by_name(changes: dict, message: str):
    with pytest.raises(ValueError, match=message):
        make_feed([], (EASTERN,), **changes)


def test_a_feed_needs_a_zone_and_has_a_limit():
    with pytest.raises(ValueError, match="tzids: empty"):
        make_feed([])
    with pytest.raises(ValueError, match="fragments: 1001 events, the limit is 1000"):
        make_feed([make_event(1)] * 1001)


@pytest.mark.parametrize("colour", COLOURS)
def test_every_colour_is_a_css_name(colour: str):
    assert check_feed(make_feed([], (EASTERN,), colour=colour), now=NOW) == []


def test_a_name_cannot_add_lines():
    body = make_feed([], (EASTERN,), name="Crew\r\nMETHOD:REQUEST; a, b\\c")
    assert check_feed(body, now=NOW) == []
    assert "NAME:Crew METHOD:REQUEST\\; a\\, b\\\\c" in unfold(body)


def test_the_tag_is_weak_and_follows_the_body():
    first, second = make_feed(), make_feed(colour="teal")
    assert re.fullmatch(r'W/"[0-9a-f]{32}"', entity_tag(first))
    assert entity_tag(first) == entity_tag(make_feed())
    assert entity_tag(first) != entity_tag(second)


def test_last_modified_of_the_answer_follows_the_window():
    zone = ZoneInfo(EASTERN)
    midnight = datetime(2026, 3, 6, 5, tzinfo=UTC)  # 00:00 in New York, five hours behind UTC in winter
    assert feed_changed_at(CHANGED, TODAY, zone) == midnight
    assert feed_changed_at(midnight + timedelta(hours=1), TODAY, zone) == midnight + timedelta(hours=1)


@given(st.text())
def test_folding_keeps_every_character_and_75_octets(text: str):
    line = "X-TEXT:" + escape_text(plain_text(text))
    folded = fold_line(line)
    assert folded.endswith(b"\r\n")
    assert all(len(piece) <= 75 for piece in physical_lines(folded))
    assert all(piece.decode() is not None for piece in physical_lines(folded))
    assert unfold(folded) == [line]


@given(st.text())
def test_escaped_text_comes_back(text: str):
    clean = plain_text(text)
    assert unescape(escape_text(clean)) == clean
    assert "\n" not in escape_text(clean)
    assert "\n" not in one_line(text)
    assert plain_text(clean) == clean


@given(st.integers(1, 10_000_000))
def test_durations_read_back(seconds: int):
    assert duration(duration_text(timedelta(seconds=seconds))) == timedelta(seconds=seconds)
