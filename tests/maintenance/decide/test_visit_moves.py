"""The table of moves, walked whole, and what a change does to times and counters."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import product

import pytest

from maintenance.decide import visit_moves as moves
from maintenance.decide.visit_moves import Day, When

# The customer's table, written out a second time: what is not here is not allowed.
ALLOWED = {
    ("proposed", "offered"),
    ("proposed", "agreed"),
    ("proposed", "called_off"),
    ("offered", "proposed"),
    ("offered", "agreed"),
    ("offered", "called_off"),
    ("agreed", "offered"),
    ("agreed", "agreed"),
    ("agreed", "begun"),
    ("agreed", "called_off"),
    ("begun", "agreed"),
    ("begun", "done"),
}
STATES = ("proposed", "offered", "agreed", "begun", "done", "called_off")
NEW_YORK = "America/New_York"


@pytest.mark.parametrize(("before", "after"), list(product(STATES, STATES)))
def test_every_move(before, after):
    assert moves.may(before, after) == ((before, after) in ALLOWED)


def test_a_refusal_says_what_is_possible():
    assert moves.refusal("proposed", "begun") == (
        "This visit is proposed: it cannot become begun any more. It can become offered or agreed or called off."
    )


def at(day, clock, zone=NEW_YORK):
    return moves.starts_at(When(day, clock, None, zone))


def test_starts_at_follows_the_propertys_own_clock():
    assert at(date(2026, 1, 15), time(8)) == datetime(2026, 1, 15, 13, tzinfo=UTC)  # EST is UTC-5
    assert at(date(2026, 7, 15), time(8)) == datetime(2026, 7, 15, 12, tzinfo=UTC)  # EDT is UTC-4
    assert at(date(2026, 7, 15), time(8), "America/Phoenix") == datetime(2026, 7, 15, 15, tzinfo=UTC)  # no summer time


def test_a_skipped_time_is_the_first_instant_after_the_gap():
    # US summer time began on 8 March 2026 at 02:00 (15 U.S.C. 260a: second Sunday of March).
    assert at(date(2026, 3, 8), time(2, 30)) == datetime(2026, 3, 8, 7, tzinfo=UTC)


def test_a_repeated_time_is_the_first_of_the_two():
    # It ended on 1 November 2026 at 02:00 (first Sunday of November): 01:30 came twice, first at UTC-4.
    assert at(date(2026, 11, 1), time(1, 30)) == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)


def test_a_day_without_a_time_has_no_instant():
    assert at(date(2026, 5, 4), None) is None
    assert at(None, time(8)) is None


def test_sequence_counts_date_time_and_state_only():
    when = When(date(2026, 5, 4), time(8), 60, NEW_YORK)
    same = ("agreed", when)
    assert moves.next_sequence(3, same, same) == 3
    for other in (
        ("begun", when),
        ("agreed", When(date(2026, 5, 5), time(8), 60, NEW_YORK)),
        ("agreed", When(date(2026, 5, 4), time(9), 60, NEW_YORK)),
        ("agreed", When(date(2026, 5, 4), time(8), 90, NEW_YORK)),
    ):
        assert moves.next_sequence(3, same, other) == 4


def test_changed_at_grows_by_whole_seconds_even_when_the_clock_does_not():
    before = datetime(2026, 5, 4, 13, 0, 0, 900_000, tzinfo=UTC)
    first = moves.next_changed_at(before, before)
    second = moves.next_changed_at(first, before - timedelta(hours=1))
    assert (first, second) == (
        datetime(2026, 5, 4, 13, 0, 1, tzinfo=UTC),
        datetime(2026, 5, 4, 13, 0, 2, tzinfo=UTC),
    )


@pytest.mark.parametrize(
    ("day", "said"),
    [
        (Day(date(2026, 5, 3)), "past"),
        (Day(date(2029, 1, 1)), "too far"),
        (Day(date(2026, 5, 5), time(8), 10), "15 to 720 min"),
        (Day(date(2026, 5, 5), None, 60), "no local_start"),
        (Day(date(2026, 5, 5), time(22), 180), "past midnight"),
        (Day(date(2026, 5, 4), time(8), 120), ""),
        (Day(date(2026, 5, 4)), ""),
    ],
)
def test_days(day, said):
    found = moves.day_problems(day, today=date(2026, 5, 4))
    assert (said in found[0][1]) if said else not found


def test_what_is_odd_about_a_closeout():
    day = date(2026, 5, 4)
    codes = {
        state: [code for code, _ in moves.closeout_finds(state, local_date=day, worked_on=day)] for state in STATES
    }
    assert codes == {
        "proposed": ["visit_not_agreed"],
        "offered": ["visit_not_agreed"],
        "agreed": [],
        "begun": [],
        "done": [],
        "called_off": ["visit_called_off"],
    }
    assert moves.closeout_finds("agreed", local_date=day, worked_on=date(2026, 5, 5))[0][0] == "visit_moved"
