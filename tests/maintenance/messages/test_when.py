"""When a message leaves: calendar days in the property's zone, quiet hours, catch-up after an outage."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from maintenance.messages.when import (
    CATCH_UP,
    OccasionKind,
    Plan,
    QuietHours,
    days_left,
    plan,
    quiet_until,
    remind_at,
)

BERLIN, NEW_YORK, LORD_HOWE = (ZoneInfo(n) for n in ("Europe/Berlin", "America/New_York", "Australia/Lord_Howe"))
NINE = time(9)
NIGHT = QuietHours(time(20), time(8))


def at(*parts: int, zone: ZoneInfo = BERLIN) -> datetime:
    return datetime(*parts, tzinfo=zone)  # type: ignore[misc,arg-type]


def seen(moment: datetime | None, zone: ZoneInfo = BERLIN) -> str:
    assert moment is not None
    assert moment.tzinfo is UTC
    return moment.astimezone(zone).isoformat()


# Days counted by hand on a calendar; changes of the clock: last Sundays of March and October (directive 2000/84/EC),
# second Sunday of March and first of November (public law 109-58 section 110), Lord Howe by the zone database.
@pytest.mark.parametrize(
    ("visit_day", "zone", "days", "clock", "expected"),
    [
        (date(2026, 3, 9), BERLIN, 7, NINE, "2026-03-02T09:00:00+01:00"),
        (date(2026, 4, 1), BERLIN, 7, NINE, "2026-03-25T09:00:00+01:00"),
        (date(2026, 10, 28), BERLIN, 7, NINE, "2026-10-21T09:00:00+02:00"),
        (date(2026, 3, 30), BERLIN, 1, NINE, "2026-03-29T09:00:00+02:00"),
        (date(2026, 10, 26), BERLIN, 1, NINE, "2026-10-25T09:00:00+01:00"),
        (date(2026, 3, 30), BERLIN, 1, time(2, 30), "2026-03-29T03:00:00+02:00"),
        (date(2026, 10, 26), BERLIN, 1, time(2, 30), "2026-10-25T02:30:00+02:00"),
        (date(2026, 3, 3), BERLIN, 7, NINE, "2026-02-24T09:00:00+01:00"),
        (date(2028, 3, 7), BERLIN, 7, NINE, "2028-02-29T09:00:00+01:00"),
        (date(2027, 1, 3), BERLIN, 7, NINE, "2026-12-27T09:00:00+01:00"),
        (date(2026, 10, 7), LORD_HOWE, 7, NINE, "2026-09-30T09:00:00+10:30"),
        (date(2026, 3, 9), NEW_YORK, 1, NINE, "2026-03-08T09:00:00-04:00"),
        (date(2026, 11, 2), NEW_YORK, 1, NINE, "2026-11-01T09:00:00-05:00"),
        (date(2026, 11, 5), NEW_YORK, 7, NINE, "2026-10-29T09:00:00-04:00"),
        (date(2012, 1, 6), ZoneInfo("Pacific/Apia"), 7, NINE, "2011-12-31T00:00:00+14:00"),
    ],
)
def test_days_before_are_calendar_days(visit_day, zone, days, clock, expected):
    assert seen(remind_at(visit_day, zone, days, clock), zone) == expected


def test_hours_on_utc_would_be_wrong_across_a_change():
    # The mistake this module exists to avoid, so that the cases above are known to tell the two apart.
    wrong = at(2026, 4, 1, 9).astimezone(UTC) - timedelta(days=7)
    assert wrong != remind_at(date(2026, 4, 1), BERLIN, 7, NINE)


@given(
    day=st.dates(date(2025, 1, 1), date(2039, 12, 31)),
    days=st.integers(0, 60),
    zone=st.sampled_from([BERLIN, NEW_YORK, LORD_HOWE, ZoneInfo("Asia/Kathmandu"), ZoneInfo("America/Santiago")]),
)
def test_nine_is_nine_on_the_right_day_all_year(day: date, days: int, zone: ZoneInfo):
    local = remind_at(day, zone, days, NINE).astimezone(zone)
    assert local.replace(tzinfo=None) == datetime.combine(day - timedelta(days=days), NINE)


@pytest.mark.parametrize(
    ("moment", "expected"),
    [
        (at(2026, 3, 2, 21, 15), "2026-03-03T08:00:00+01:00"),
        (at(2026, 3, 2, 20, 0), "2026-03-03T08:00:00+01:00"),
        (at(2026, 3, 2, 3, 0), "2026-03-02T08:00:00+01:00"),
        (at(2026, 3, 28, 23, 0), "2026-03-29T08:00:00+02:00"),
        (at(2026, 10, 24, 23, 0), "2026-10-25T08:00:00+01:00"),
        (at(2026, 12, 31, 22, 0), "2027-01-01T08:00:00+01:00"),
    ],
)
def test_quiet_hours_end_at_eight_by_the_clock(moment: datetime, expected: str):
    assert seen(quiet_until(moment, BERLIN, NIGHT)) == expected


@pytest.mark.parametrize("moment", [at(2026, 3, 2, 8, 0), at(2026, 3, 2, 9, 0), at(2026, 3, 2, 19, 59, 59)])
def test_by_day_a_message_may_leave(moment: datetime):
    assert quiet_until(moment, BERLIN, NIGHT) is None


def test_quiet_hours_within_a_day_and_none_at_all():
    noon = QuietHours(time(12), time(14))
    assert seen(quiet_until(at(2026, 3, 2, 13), BERLIN, noon)) == "2026-03-02T14:00:00+01:00"
    assert quiet_until(at(2026, 3, 2, 14), BERLIN, noon) is None
    assert quiet_until(at(2026, 3, 2, 3), BERLIN, QuietHours(time(0), time(0))) is None


def test_quiet_hours_that_end_in_a_repeated_hour_do_not_end_in_the_past():
    ends = QuietHours(time(20), time(2, 30))
    second_pass = datetime(2026, 10, 25, 1, 15, tzinfo=UTC)  # 02:15 for the second time
    assert quiet_until(second_pass, BERLIN, ends) is None
    assert seen(quiet_until(datetime(2026, 10, 25, 0, 15, tzinfo=UTC), BERLIN, ends)) == "2026-10-25T02:30:00+02:00"


@given(moment=st.datetimes(datetime(2025, 1, 1), datetime(2030, 1, 1)), start=st.times(), end=st.times())
def test_the_end_of_quiet_hours_is_ahead_and_not_quiet(moment: datetime, start: time, end: time):
    # A pause between two quiet times that lies wholly inside the spring gap does not happen that day.
    assume(not time(2) <= start < time(3))
    quiet = QuietHours(start.replace(microsecond=0), end.replace(microsecond=0))
    until = quiet_until(moment.replace(tzinfo=UTC), NEW_YORK, quiet)
    if until is not None:
        assert until > moment.replace(tzinfo=UTC)
        assert until - moment.replace(tzinfo=UTC) <= timedelta(hours=25)
        assert quiet_until(until, NEW_YORK, quiet) is None


def test_days_left_by_the_local_calendar():
    late_evening = datetime(2026, 3, 9, 3, 30, tzinfo=UTC)  # 23:30 of the 8th in New York
    assert days_left(late_evening, date(2026, 3, 9), NEW_YORK) == 1
    assert days_left(late_evening, date(2026, 3, 9), BERLIN) == 0
    assert days_left(late_evening, date(2026, 3, 1), BERLIN) == -8


VISIT = at(2026, 3, 9, 8)


def before_visit(kind: OccasionKind, now: datetime, visit: datetime = VISIT, **changes) -> Plan:
    days = 7 if kind is OccasionKind.WEEK_BEFORE else 1
    settings = {
        "due": remind_at(visit.date(), BERLIN, days, NINE),
        "pointless_from": visit,
        "created_at": at(2026, 2, 1, 9),
        "now": now,
        "zone": BERLIN,
        **changes,
    }
    return plan(kind, **settings)


def test_in_time_it_leaves_when_it_is_due():
    found = before_visit(OccasionKind.WEEK_BEFORE, at(2026, 2, 20, 12))
    assert seen(found.send_at) == "2026-03-02T09:00:00+01:00"
    assert (found.is_sent, found.is_late, found.why) == (True, False, "")


def test_the_week_before_is_sent_late_after_a_day_and_dropped_after_three():
    late = before_visit(OccasionKind.WEEK_BEFORE, at(2026, 3, 3, 9))
    assert seen(late.send_at) == "2026-03-03T09:00:00+01:00"
    assert late.is_late
    dropped = before_visit(OccasionKind.WEEK_BEFORE, at(2026, 3, 5, 9))
    assert (dropped.send_at, dropped.not_after, dropped.is_late) == (None, None, False)
    assert "the day before follows" in dropped.why


def test_the_day_before_after_an_outage():
    same_day = before_visit(OccasionKind.DAY_BEFORE, at(2026, 3, 8, 15))
    assert seen(same_day.send_at) == "2026-03-08T15:00:00+01:00"
    assert not same_day.is_late
    # A visit at ten: the server is back at six, quiet hours end at eight, the words must say "today".
    morning = before_visit(OccasionKind.DAY_BEFORE, at(2026, 3, 9, 6), at(2026, 3, 9, 10))
    assert seen(morning.send_at) == "2026-03-09T08:00:00+01:00"
    assert morning.is_late
    assert seen(morning.not_after) == "2026-03-09T10:00:00+01:00"
    # At eight it would be pointless when quiet hours end.
    assert before_visit(OccasionKind.DAY_BEFORE, at(2026, 3, 9, 6)).why == "quiet hours last until it is pointless"
    assert before_visit(OccasionKind.DAY_BEFORE, at(2026, 3, 11, 9)).why.startswith("past")


@pytest.mark.parametrize("kind", [OccasionKind.WEEK_BEFORE, OccasionKind.DAY_BEFORE])
def test_a_visit_made_after_its_reminder_was_due_gets_none(kind: OccasionKind):
    made = at(2026, 3, 8, 9, 5)
    found = before_visit(kind, made, created_at=made)
    assert not found.is_sent
    assert found.why.startswith("made after")


def test_a_visit_made_at_the_very_moment_gets_one():
    due = remind_at(date(2026, 3, 9), BERLIN, 7, NINE)
    assert before_visit(OccasionKind.WEEK_BEFORE, due, created_at=due).is_sent


@pytest.mark.parametrize("kind", [OccasionKind.VISIT_MOVED, OccasionKind.VISIT_CALLED_OFF, OccasionKind.BEFORE_STORM])
def test_what_must_be_told_breaks_quiet_hours_only_when_waiting_is_pointless(kind: OccasionKind):
    evening = at(2026, 3, 8, 21)
    soon = before_visit(kind, evening, at(2026, 3, 9, 7), due=evening)
    assert seen(soon.send_at) == "2026-03-08T21:00:00+01:00"
    later = before_visit(kind, evening, at(2026, 3, 10, 7), due=evening)
    assert seen(later.send_at) == "2026-03-09T08:00:00+01:00"


def test_on_the_way_leaves_at_any_hour_but_not_half_an_hour_late():
    early = at(2026, 3, 9, 6, 30)
    found = before_visit(OccasionKind.ON_THE_WAY, early, at(2026, 3, 9, 9), due=early)
    assert seen(found.send_at) == "2026-03-09T06:30:00+01:00"
    late = before_visit(OccasionKind.ON_THE_WAY, early + timedelta(minutes=31), at(2026, 3, 9, 9), due=early)
    assert not late.is_sent


def test_without_a_pointless_moment_only_lateness_counts():
    due = at(2026, 3, 2, 12)
    common = {"due": due, "pointless_from": None, "created_at": due, "zone": BERLIN}
    limit = CATCH_UP[OccasionKind.VISIT_DONE].max_late
    found = plan(OccasionKind.VISIT_DONE, now=due + limit, **common)
    assert found.is_sent
    assert found.not_after == due + limit
    assert plan(OccasionKind.VISIT_DONE, now=due + limit + timedelta(seconds=1), **common).why


def test_every_kind_of_occasion_states_its_rule():
    assert set(CATCH_UP) == set(OccasionKind)
    assert all(rule.because and rule.max_late > timedelta(0) for rule in CATCH_UP.values())


@given(
    kind=st.sampled_from(list(OccasionKind)),
    lead=st.timedeltas(timedelta(0), timedelta(days=10)),
    delay=st.timedeltas(timedelta(days=-10), timedelta(days=20)),
    hour=st.integers(0, 23),
)
def test_whatever_leaves_leaves_in_time(kind: OccasionKind, lead: timedelta, delay: timedelta, hour: int):
    due = at(2026, 3, 20, hour).astimezone(UTC)
    now, ends = due + delay, due + lead
    found = plan(kind, due=due, pointless_from=ends, created_at=at(2026, 1, 1), now=now, zone=BERLIN)
    if found.send_at is None or found.not_after is None:
        assert found.why
        return
    rule = CATCH_UP[kind]
    assert max(due, now) <= found.send_at < ends
    assert found.send_at <= found.not_after <= max(ends, due + rule.max_late)
    if not (rule.ignores_quiet or rule.must_be_told):
        assert quiet_until(found.send_at, BERLIN) is None
