"""Wall time to instant, the form it is written in, and VTIMEZONE against the zone database."""

from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from importlib import resources
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.calendar.zones import (
    FIRST_DAY,
    LAST_DAY,
    UnknownZone,
    find_zone,
    has_yearly_rule,
    is_repeated,
    local_instant,
    span_form,
    vtimezone,
)
from tests.feedcheck.lines import build_tree, unfold
from tests.feedcheck.zones import offset_at, onsets

NEW_YORK, LORD_HOWE, LISBON = "America/New_York", "Australia/Lord_Howe", "Europe/Lisbon"
ZONE_NAMES = (resources.files("tzdata") / "zones").read_text().split()
COMMON = (NEW_YORK, "America/Chicago", "America/Denver", "America/Phoenix", "America/Los_Angeles")
CHANGING = ("America/Vancouver", "Asia/Jerusalem", "Africa/Cairo", "America/Santiago", "Africa/Casablanca")


def local(day: date, at: time, tzid: str) -> str:
    zone = ZoneInfo(tzid)
    return local_instant(day, at, zone).astimezone(zone).isoformat()


# Dates of the changes: public law 109-58 section 110 (second Sunday of March, first of November, 02:00) for New York;
# the European Union's directive 2000/84/EC (last Sundays, 01:00 UTC) for Lisbon; the zone database for the other two.
@pytest.mark.parametrize(
    ("day", "at", "tzid", "expected"),
    [
        (date(2026, 3, 8), time(1, 59), NEW_YORK, "2026-03-08T01:59:00-05:00"),
        (date(2026, 3, 8), time(2, 0), NEW_YORK, "2026-03-08T03:00:00-04:00"),
        (date(2026, 3, 8), time(2, 30), NEW_YORK, "2026-03-08T03:00:00-04:00"),
        (date(2026, 3, 8), time(3, 0), NEW_YORK, "2026-03-08T03:00:00-04:00"),
        (date(2026, 11, 1), time(1, 30), NEW_YORK, "2026-11-01T01:30:00-04:00"),
        (date(2026, 11, 1), time(2, 0), NEW_YORK, "2026-11-01T02:00:00-05:00"),
        (date(2026, 3, 29), time(1, 30), LISBON, "2026-03-29T02:00:00+01:00"),
        (date(2026, 10, 25), time(1, 30), LISBON, "2026-10-25T01:30:00+01:00"),
        (date(2026, 10, 4), time(2, 15), LORD_HOWE, "2026-10-04T02:30:00+11:00"),
        (date(2026, 4, 5), time(1, 45), LORD_HOWE, "2026-04-05T01:45:00+11:00"),
        (date(2011, 12, 30), time(9), "Pacific/Apia", "2011-12-31T00:00:00+14:00"),
    ],
)
def test_gap_and_repeat(day: date, at: time, tzid: str, expected: str):
    assert local(day, at, tzid) == expected


@given(
    day=st.dates(date(2025, 1, 1), date(2039, 12, 31)),
    at=st.times(),
    tzid=st.sampled_from([NEW_YORK, LORD_HOWE, LISBON, "Asia/Kathmandu", "America/Santiago", "Africa/Cairo"]),
)
def test_every_instant_is_the_first_at_or_after_its_wall_time(day: date, at: time, tzid: str):
    zone = ZoneInfo(tzid)
    instant = local_instant(day, at, zone)
    wall = datetime.combine(day, at)
    seen = instant.astimezone(zone).replace(tzinfo=None, fold=0)
    assert instant.tzinfo is UTC
    assert seen >= wall
    # Just before it the clock showed less: it is the first such instant, in a gap too.
    earlier = (instant - timedelta(seconds=1)).astimezone(zone).replace(tzinfo=None, fold=0)
    assert earlier < wall or wall.microsecond


def test_only_the_hour_set_back_is_repeated():
    zone = ZoneInfo(NEW_YORK)
    day = date(2026, 11, 1)
    minutes = [m for m in range(24 * 60) if is_repeated(day, time(m // 60, m % 60), zone)]
    assert minutes == list(range(60, 120))
    assert not any(is_repeated(date(2026, 3, 8), time(m // 60, m % 60), zone) for m in range(24 * 60))


def test_a_visit_in_the_repeated_hour_is_written_in_utc_at_both_ends():
    start, end = span_form(date(2026, 11, 1), time(0, 30), time(1, 30), NEW_YORK)
    assert (start.tzinfo, end.tzinfo) == (UTC, UTC)
    assert (start.isoformat(), end.isoformat()) == ("2026-11-01T04:30:00+00:00", "2026-11-01T05:30:00+00:00")


def test_a_visit_inside_the_gap_keeps_its_length_after_it():
    start, end = span_form(date(2026, 3, 8), time(2, 10), time(2, 40), NEW_YORK)
    assert start.isoformat() == "2026-03-08T03:00:00-04:00"
    assert end.isoformat() == "2026-03-08T03:30:00-04:00"


def test_an_ordinary_visit_is_written_in_its_zone():
    start, end = span_form(date(2026, 7, 1), time(8), time(9, 30), NEW_YORK)
    assert str(start.tzinfo) == str(end.tzinfo) == NEW_YORK
    assert (start.hour, end.hour, end.minute) == (8, 9, 30)


@given(
    day=st.dates(date(2025, 1, 1), date(2030, 12, 31)),
    start=st.integers(0, 24 * 60 - 2),
    length=st.integers(1, 600),
    tzid=st.sampled_from([NEW_YORK, LORD_HOWE, LISBON, *CHANGING]),
)
def test_a_span_never_lies_in_gap_or_repeat_and_never_ends_before_it_begins(day, start, length, tzid):
    end = min(start + length, 24 * 60 - 1)
    begins, ends = span_form(day, time(start // 60, start % 60), time(end // 60, end % 60), tzid)
    assert begins.astimezone(UTC) < ends.astimezone(UTC)
    assert (begins.tzinfo is UTC) == (ends.tzinfo is UTC)
    for written in (begins, ends):
        if written.tzinfo is UTC:
            continue
        again = written.astimezone(UTC).astimezone(written.tzinfo)
        assert again.replace(tzinfo=None) == written.replace(tzinfo=None)
        assert written.replace(fold=0).utcoffset() == written.replace(fold=1).utcoffset()


def test_an_end_that_is_not_later_is_refused():
    with pytest.raises(ValueError, match="local_end: 08:00:00 is not later than local_start 08:00:00"):
        span_form(date(2026, 7, 1), time(8), time(8), NEW_YORK)


@pytest.mark.parametrize(
    "tzid", ["", "Nowhere/Here", "../../etc/passwd", "America", "/etc/localtime", "a\x00b", "EST5EST4X"]
)
def test_an_unknown_zone_is_refused_by_name(tzid: str):
    with pytest.raises(UnknownZone, match="tzid: "):
        find_zone(tzid)


@pytest.mark.parametrize("tzid", CHANGING)
def test_zones_without_one_yearly_rule_are_written_in_utc(tzid: str):
    assert not has_yearly_rule(tzid)
    start, end = span_form(date(2026, 7, 1), time(8), time(9), tzid)
    assert (start.tzinfo, end.tzinfo) == (UTC, UTC)
    assert b"RDATE" in vtimezone(tzid)


@cache
def all_zone_names() -> list[str]:
    """The names of the database, one for each different zone file (the others are other names of the same zone)."""
    folder = resources.files("tzdata") / "zoneinfo"
    by_file = {(folder.joinpath(*name.split("/"))).read_bytes(): name for name in ZONE_NAMES}
    return sorted({*by_file.values(), *COMMON, *CHANGING})


def vtimezone_is_true(tzid: str, step: timedelta) -> bool:
    """The component, read and evaluated by the checker's own code, against zoneinfo over the years it is made for."""
    root, wrong = build_tree(unfold(vtimezone(tzid)))
    component = root.children[0]
    first, last = (datetime(d.year, d.month, d.day, tzinfo=UTC) + timedelta(days=1) for d in (FIRST_DAY, LAST_DAY))
    changes = onsets(component, last)
    moments = [at for at, _ in changes if first <= at < last - timedelta(days=2)]
    moments += [at - timedelta(seconds=1) for at in moments]
    moments += [first + n * step for n in range((last - first) // step - 2)]
    zone = ZoneInfo(tzid)
    return not wrong and all(offset_at(changes, m) == m.astimezone(zone).utcoffset() for m in moments)


@pytest.mark.parametrize("tzid", [NEW_YORK, LORD_HOWE, LISBON, "Europe/Dublin", "Asia/Kathmandu", "UTC", *CHANGING])
def test_a_vtimezone_gives_the_true_offset_every_six_hours(tzid: str):
    assert vtimezone_is_true(tzid, timedelta(hours=6))


def test_every_zone_of_the_database_has_a_true_vtimezone():
    # Once a week and around each change.
    assert len(all_zone_names()) > 300
    wrong = [tzid for tzid in all_zone_names() if not vtimezone_is_true(tzid, timedelta(days=7))]
    assert wrong == []


def test_most_zones_have_one_yearly_rule():
    simple = [tzid for tzid in all_zone_names() if has_yearly_rule(tzid)]
    assert len(simple) > 0.9 * len(all_zone_names())
    assert set(COMMON) <= set(simple)
