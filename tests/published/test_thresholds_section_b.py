"""Published cleaning thresholds and intervals against what the forecast and the rule library do with them."""

from dataclasses import replace
from datetime import date

import pytest

from maintenance.decide.rule_library import forecast_rule, load_library
from maintenance.forecast.records import CalendarNumbers, SiltNumbers
from maintenance.forecast.thresholds import ROOM_FOR_CLEAR_IN, fill_of, is_over, practice_limit
from tests.maintenance.forecast.kit import basin, measured, rule, windows

LIBRARY = {one.code: forecast_rule(one) for one in load_library()}


def test_half_the_sump_is_due_and_a_tenth_of_an_inch_less_is_not():
    """Rhode Island 250-RICR-150-10-8.30, effective 2018: clean at sediment of half the sump or more; yearly anyway."""
    assert is_over(fill_of(6.0, 12.0), 0.5)
    assert not is_over(fill_of(5.9, 12.0), 0.5)


def test_under_half_after_eleven_months_is_due_at_twelve():
    """Rhode Island 250-RICR-150-10-8.30, effective 2018: yearly whatever the depth."""
    installed, seen = date(2025, 1, 10), date(2025, 12, 10)
    yearly = rule("yearly", CalendarNumbers(12), firmness="firm")
    slow = rule("silt", SiltNumbers(0.5))
    found = windows([yearly, slow], [basin(installed_on=installed, consequence="lawn")], [measured(1, seen, 5.9)])
    calendar_only = windows([yearly], [basin(installed_on=installed)], [measured(1, seen, 5.9)])
    assert calendar_only[0].latest == date(2026, 1, 10)
    assert found[0].latest <= date(2026, 1, 10)
    at_half = windows([slow], [basin(installed_on=installed, consequence="lawn")], [measured(1, seen, 6.0)])
    assert at_half[0].latest <= seen


def test_the_library_cleans_catch_basins_yearly_at_half():
    """Rhode Island 250-RICR-150-10-8.30, effective 2018."""
    assert LIBRARY["catch_basin_yearly"].numbers.every_months == 12
    assert LIBRARY["catch_basin_half"].numbers.limit_fill == 0.5


@pytest.mark.parametrize(("sump_in", "depth_in"), [(12.0, 6.0), (20.0, 12.0), (15.0, 9.0), (14.0, 8.0)])
def test_sixty_percent_or_six_inches_clear_whichever_comes_first(sump_in, depth_in):
    """Snohomish County Drainage Manual 2010, vol. V: over 60 % full, or under 6 in clear to the lowest pipe invert.

    Sump 12 in: 60 % would be 7.2 in and leave 4.8 in, so the 6 in rule bites at 6.0 in. Sump 20 in: 12 in (60 %).
    """
    limit = practice_limit("catch_basin", SiltNumbers(0.6, 6.0), sump_in, basin_limit_fill=0.6)
    assert limit.fill * sump_in == pytest.approx(depth_in)


def test_the_six_inch_rule_needs_twelve_inches_below_the_invert():
    """Residential boxes are shallow: asked only from 12 in (common practice, no source)."""
    assert ROOM_FOR_CLEAR_IN == 12.0
    assert practice_limit("catch_basin", SiltNumbers(0.6, 6.0), 8.0, 0.6).fill == 0.6
    assert LIBRARY["catch_basin_six_clear"].numbers == SiltNumbers(0.6, 6.0)


def test_a_pipe_is_due_at_a_third_of_its_height():
    """Snohomish County Drainage Manual 2010, vol. V: pipe blocked over 1/3 of its height; 4 in pipe: 1.34 in is due."""
    limit = practice_limit("gravity_pipe", LIBRARY["gravity_pipe_third"].numbers, 4.0).fill
    assert limit == pytest.approx(1 / 3, abs=1e-4)
    assert is_over(fill_of(1.34, 4.0), limit)
    assert not is_over(fill_of(1.32, 4.0), limit)


def test_forty_percent_of_half_a_cubic_foot():
    """California Stormwater BMP Handbook SC-74: clean before the sump is 40 % full (value from memory)."""
    limit = practice_limit("catch_basin", LIBRARY["catch_basin_forty"].numbers, 6.0).fill
    assert limit * 0.5 == pytest.approx(0.20)


def test_a_third_of_the_way_to_the_outlet():
    """Erie County (NY) standard operating procedure for catch basins: cleaning at 1/3."""
    assert LIBRARY["catch_basin_third"].numbers.limit_fill == pytest.approx(1 / 3, abs=1e-4)


def test_residential_basins_are_looked_at_half_yearly_and_once_more_in_fall():
    """Urban Storm Drainage Criteria Manual vol. 3, fact sheet S-12: semi-annual in residential areas, extra in fall."""
    assert LIBRARY["catch_basin_half_yearly_look"].numbers.every_months == 6
    assert LIBRARY["catch_basin_after_leaf_fall"].numbers.anchor == "leaf_fall"


def test_no_basin_is_ever_planned_over_half_full():
    """EPA Region 1, MA MS4 General Permit 2016, 2.3.7.a: no sump more than 50 % full (value from memory)."""
    for code, one in LIBRARY.items():
        if one.kind == "catch_basin" and isinstance(one.numbers, SiltNumbers):
            assert practice_limit("catch_basin", one.numbers, 12.0).fill <= 0.5, code


def test_a_french_drain_at_half_its_trap():
    """Tahoe Regional Planning Agency BMP Handbook, Table 4.3-6: remove sediment when capacity is down 50 %."""
    assert LIBRARY["french_drain_half"].numbers.limit_fill == 0.5


def test_fill_counts_to_the_lowest_outlet_invert_not_the_whole_basin():
    """EPA Region 1, MA MS4 General Permit 2016, 2.3.7.a: from the interior bottom to the invert of the deepest outlet
    (value from memory). 24 in box, lowest outlet invert 12 in above its bottom, 6 in of silt: half full, not a quarter.
    """
    assert fill_of(6.0, 12.0) == 0.5
    rules = [rule("silt", SiltNumbers(0.5))]
    rows = [measured(1, date(2026, 2, 1), 6.0)]
    to_invert, whole = basin(silt_height_in=12.0), basin(silt_height_in=24.0)
    assert "found_over" in [r.code for r in windows(rules, [to_invert], rows)[0].reasons]
    assert "found_over" not in [r.code for r in windows(rules, [whole], rows)[0].reasons]


def test_pumps_are_tested_yearly_and_before_the_wet_season():
    """At least yearly, before the wet season (common practice, no source: consumer and insurer pages only)."""
    assert LIBRARY["pump_yearly_test"].numbers.every_months == 12
    season = LIBRARY["pump_before_wet_season"].numbers
    assert (season.anchor, season.opens_days, season.closes_days) == ("wet_season", -84, 0)


def test_a_louder_published_limit_never_wins_over_a_stricter_one():
    """60 % (Snohomish 2010) beside 50 % (250-RICR-150-10-8.30): the stricter one sets the day."""
    half, sixty = rule("half", SiltNumbers(0.5)), rule("sixty", SiltNumbers(0.6))
    deep = replace(basin(), silt_height_in=24.0)
    assert windows([half, sixty], [deep])[0].latest == windows([half], [deep])[0].latest
