"""Which limit holds for a part: practice, basin ceiling, clear depth, its own capacity."""

import pytest

from maintenance.forecast.records import SiltNumbers
from maintenance.forecast.thresholds import fill_of, is_over, practice_limit, threshold_of


def test_a_parts_own_capacity_lowers_its_limit():
    found = threshold_of("channel_run", SiltNumbers(1 / 3), 6.0, 0.2)
    assert (found.fill, found.reason.code) == (0.2, "limit_capacity")
    roomy = threshold_of("channel_run", SiltNumbers(1 / 3), 6.0, 0.8)
    assert (roomy.fill, roomy.reason.code) == (1 / 3, "limit_practice")


def test_an_undersized_part_keeps_the_practice_limit_and_is_reported():
    found = threshold_of("gravity_pipe", SiltNumbers(1 / 3), 4.0, 0.1)
    assert (found.fill, found.reason.code) == (1 / 3, "limit_no_margin")
    assert threshold_of("gravity_pipe", SiltNumbers(1 / 3), 4.0, 1 / 8).fill == 1 / 8


def test_a_catch_basins_capacity_does_not_fall_with_its_fill():
    assert threshold_of("catch_basin", SiltNumbers(0.5), 12.0, 0.2).fill == 0.5
    assert threshold_of("sump_basin", SiltNumbers(0.5), 6.0, 0.2).fill == 0.5


def test_basins_take_at_most_half_unless_the_company_says_otherwise():
    found = practice_limit("catch_basin", SiltNumbers(0.6), 24.0)
    assert (found.fill, found.reason.code) == (0.5, "limit_basin")
    assert practice_limit("catch_basin", SiltNumbers(0.6), 24.0, 0.6).fill == 0.6
    assert practice_limit("sump_basin", SiltNumbers(0.6), 24.0).fill == 0.6


def test_clear_depth_is_asked_only_where_there_is_room():
    shallow = practice_limit("catch_basin", SiltNumbers(0.6, 6.0), 11.9, 0.6)
    assert (shallow.fill, shallow.reason.code) == (0.6, "limit_practice")
    unknown = practice_limit("catch_basin", SiltNumbers(0.6, 6.0), None, 0.6)
    assert unknown.fill == 0.6
    deep = practice_limit("catch_basin", SiltNumbers(0.6, 6.0), 13.0, 0.6)
    assert deep.fill == pytest.approx(7 / 13)
    assert deep.reason.code == "limit_clear"


def test_never_below_an_eighth():
    assert practice_limit("gravity_pipe", SiltNumbers(0.05), 4.0).fill == 1 / 8


def test_bad_depths_are_named():
    with pytest.raises(ValueError, match="above 0 in"):
        fill_of(1, 0)
    with pytest.raises(ValueError, match="0 in or more"):
        fill_of(-1, 12)


def test_at_the_limit_is_over_the_limit():
    assert is_over(fill_of(7.2, 12), 0.6)
    assert not is_over(fill_of(7.1, 12), 0.6)
