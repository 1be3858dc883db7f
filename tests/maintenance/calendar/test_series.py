"""Rows S01 to S05 between two fetches, with the record's own helpers, and one seeded fault a row."""

from datetime import date, timedelta

from maintenance.calendar.event import EventStatus, next_last_modified
from maintenance.calendar.frame import entity_tag
from tests.feedcheck import check_series
from tests.maintenance.calendar.samples import CHANGED, NOW, make_event, make_feed, uid

LATER = CHANGED + timedelta(minutes=5)
OLD = make_feed([make_event(1), make_event(2)])


def series(*events) -> list[str]:
    new = make_feed(list(events))
    return check_series(OLD, new, now=NOW, etags=(entity_tag(OLD), entity_tag(new)))


def test_unchanged_rows_give_unchanged_bytes():
    assert make_feed([make_event(1), make_event(2)]) == OLD
    assert series(make_event(1), make_event(2)) == []


def test_a_moved_visit_with_its_counters_raised_fails_no_row():
    moved = make_event(1, local_date=date(2026, 3, 11), sequence=1, revision=2, last_modified=LATER)
    assert series(moved, make_event(2)) == []


def test_a_called_off_visit_with_its_counters_raised_fails_no_row():
    off = make_event(1, status=EventStatus.CANCELLED, sequence=1, revision=2, last_modified=LATER)
    assert series(off, make_event(2)) == []


def test_s01_a_new_uid_for_the_same_visit_is_caught():
    assert "S01" in series(make_event(1, uid=uid(99)), make_event(2))


def test_s02_a_move_without_a_new_sequence_is_caught():
    moved = make_event(1, local_date=date(2026, 3, 11), revision=2, last_modified=LATER)
    assert series(moved, make_event(2)) == ["S02"]


def test_s02_a_falling_sequence_is_caught():
    old = make_feed([make_event(1, sequence=3)])
    new = make_feed([make_event(1, sequence=2, last_modified=LATER)])
    assert check_series(old, new, now=NOW) == ["S02"]


def test_s03_a_change_without_a_later_last_modified_is_caught():
    assert series(make_event(1, summary="Clean CH-2"), make_event(2)) == ["S03"]


def test_s03_a_falling_last_modified_is_caught():
    assert series(make_event(1, last_modified=CHANGED - timedelta(seconds=1)), make_event(2)) == ["S03"]


def test_s04_a_coming_visit_that_vanishes_is_caught():
    assert series(make_event(2)) == ["S04"]


def test_s04_a_visit_that_was_called_off_first_may_vanish():
    off = make_feed([make_event(1, status=EventStatus.CANCELLED, sequence=1), make_event(2)])
    assert check_series(off, make_feed([make_event(2)]), now=NOW) == []


def test_s05_a_tag_that_stays_while_the_body_changes_is_caught():
    new = make_feed([make_event(1, summary="Clean CH-2", last_modified=LATER), make_event(2)])
    assert check_series(OLD, new, now=NOW, etags=('"a"', 'W/"a"')) == ["S05"]
    assert check_series(OLD, OLD, now=NOW, etags=('"a"', '"b"')) == ["S05"]


def test_last_modified_grows_even_within_one_second():
    first = next_last_modified(None, CHANGED.replace(microsecond=100))
    second = next_last_modified(first, CHANGED.replace(microsecond=900_000))
    assert first == CHANGED
    assert second == CHANGED + timedelta(seconds=1)
    assert next_last_modified(second, LATER) == LATER
