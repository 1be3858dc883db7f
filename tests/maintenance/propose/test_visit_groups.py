"""Tasks gathered into visits: every task once, every day inside what its tasks allow."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from maintenance.decide.visit_groups import Wanted, groups

TODAY = date(2026, 5, 4)  # a Monday


def wanted(number: int, earliest: int, best: int, latest: int) -> Wanted:
    day = [TODAY + timedelta(days=n) for n in (earliest, best, latest)]
    return Wanted((number, "clean"), *day)


def keys(group) -> list[int]:
    return [item.key[0] for item in group.tasks]


def test_windows_that_overlap_make_one_visit() -> None:
    (group,) = groups([wanted(1, 0, 10, 20), wanted(2, 5, 15, 30), wanted(3, 12, 22, 40)], today=TODAY, horizon_days=60)
    assert sorted(keys(group)) == [1, 2, 3]
    assert (group.no_sooner_than, group.no_later_than) == (TODAY + timedelta(days=12), TODAY + timedelta(days=20))
    assert group.best_on == TODAY + timedelta(days=15)


def test_windows_that_do_not_overlap_make_two() -> None:
    first, second = groups([wanted(2, 30, 35, 40), wanted(1, 0, 10, 20)], today=TODAY, horizon_days=60)
    assert (keys(first), keys(second)) == ([1], [2])


def test_nothing_beyond_the_horizon_opens_a_visit_but_it_may_join_one() -> None:
    assert groups([wanted(1, 10, 61, 90)], today=TODAY, horizon_days=60) == ()
    (group,) = groups([wanted(1, 10, 61, 90), wanted(2, 5, 16, 20)], today=TODAY, horizon_days=60)
    assert sorted(keys(group)) == [1, 2]
    assert (group.best_on, group.no_later_than) == (TODAY + timedelta(days=16), TODAY + timedelta(days=20))


def test_overdue_tasks_go_on_the_next_day_and_say_since_when() -> None:
    (group,) = groups([wanted(1, -40, -20, -6), wanted(2, -3, 30, 44)], today=TODAY, horizon_days=60)
    assert sorted(keys(group)) == [1, 2]
    assert group.best_on == TODAY + timedelta(days=1)
    assert group.no_later_than == TODAY - timedelta(days=6)


def test_a_weekend_is_left_for_the_friday_before_or_the_monday_after() -> None:
    saturday = wanted(1, 0, 12, 30)
    assert groups([saturday], today=TODAY, horizon_days=60)[0].best_on == TODAY + timedelta(days=11)
    only_from_saturday = wanted(1, 12, 12, 30)
    assert groups([only_from_saturday], today=TODAY, horizon_days=60)[0].best_on == TODAY + timedelta(days=14)


windows = st.builds(
    lambda n, start, best, end: wanted(n, start, start + best, start + best + end),
    st.integers(0, 10_000),
    st.integers(-200, 120),
    st.integers(0, 60),
    st.integers(0, 60),
)


@given(st.lists(windows, max_size=12, unique_by=lambda item: item.key), st.integers(7, 90))
def test_every_task_within_the_horizon_is_in_exactly_one_visit(items: list[Wanted], horizon: int) -> None:
    found = groups(items, today=TODAY, horizon_days=horizon)
    placed = [item for group in found for item in group.tasks]
    assert len(placed) == len(set(placed))
    assert {item for item in items if item.best <= TODAY + timedelta(days=horizon)} <= set(placed)
    for group in found:
        assert group.best_on > TODAY
        assert group.no_sooner_than <= group.no_later_than
        assert group.no_sooner_than <= group.best_on
        assert group.best_on.weekday() < 5
        on_time = group.no_later_than >= group.best_on
        weekdays = [
            day
            for n in range((group.no_later_than - TODAY).days + 1)
            if (day := TODAY + timedelta(days=n)) > TODAY and day >= group.no_sooner_than and day.weekday() < 5
        ]
        assert on_time or not weekdays
