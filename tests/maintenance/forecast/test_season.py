"""Silting time: years, leap years, gaps, wet years, changes of gauge, and the inverse."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.forecast.days import add_months, day_number
from maintenance.forecast.season import Climate, Curve, Season, climate_of, gauge_record

EVEN = climate_of([50.0] * 12)
WET_WINTER = climate_of([120, 110, 100, 60, 40, 30, 20, 20, 40, 70, 110, 130], leaf_months=(10, 11))
LOAD = (0.6, 0.3, 0.1)


def _ord(*day: int) -> float:
    return day_number(date(*day))


@pytest.mark.parametrize("year", [2023, 2024, 1900, 2000, 2100])
def test_every_calendar_year_of_climate_is_one_mean_year(year):
    curve = Curve(Season(WET_WINTER), LOAD)
    assert curve.exposure(_ord(year, 1, 1), _ord(year + 1, 1, 1)) == pytest.approx(1, abs=1e-12)


def test_constant_load_runs_with_the_days():
    curve = Curve(Season(WET_WINTER), (0.0, 0.0, 1.0))
    assert curve.exposure(_ord(2023, 1, 1), _ord(2023, 1, 1) + 73) == pytest.approx(73 / 365, abs=1e-12)
    assert curve.exposure(_ord(2024, 1, 1), _ord(2024, 1, 1) + 61) == pytest.approx(61 / 366, abs=1e-12)


def test_leaf_fall_falls_in_its_months():
    curve = Curve(Season(EVEN.__class__(EVEN.rain_mm, WET_WINTER.leaf)), (0.0, 0.9, 0.1))
    autumn = curve.exposure(_ord(2023, 10, 1), _ord(2023, 12, 1))
    # nine tenths fall in October and November, plus 61 of 365 days of the constant tenth
    assert autumn == pytest.approx(0.9 + 0.1 * 61 / 365, abs=1e-12)


def test_february_of_a_leap_year_holds_the_same_rain():
    curve = Curve(Season(WET_WINTER), (0.9, 0.0, 0.1))
    common = curve.exposure(_ord(2023, 2, 1), _ord(2023, 3, 1)) - 0.1 * 28 / 365
    leap = curve.exposure(_ord(2024, 2, 1), _ord(2024, 3, 1)) - 0.1 * 29 / 366
    assert common == pytest.approx(leap, abs=1e-12)
    assert common == pytest.approx(0.9 * 110 / sum(WET_WINTER.rain_mm), abs=1e-12)


def _record(rain, first=date(2024, 1, 1), name="yard", **more):
    days = np.arange(len(rain)) + first.toordinal()
    return gauge_record(name, days, np.asarray(rain, dtype=float), **more)


def test_observed_rain_is_divided_by_the_climates_mean_year():
    wet = _record(np.full(366, 1200 / 366))  # twice the climate's 600 mm
    curve = Curve(Season(EVEN, (wet,)), (0.8, 0.0, 0.2))
    assert curve.exposure(_ord(2024, 1, 1), _ord(2025, 1, 1)) == pytest.approx(0.8 * 2 + 0.2, abs=1e-12)
    assert curve.exposure(_ord(2025, 1, 1), _ord(2026, 1, 1)) == pytest.approx(1, abs=1e-12)
    assert curve.observed_until == date(2025, 1, 1)


def test_a_dry_spell_hardly_counts_and_a_gap_takes_the_climate():
    rain = np.zeros(366)
    rain[100:130] = np.nan
    curve = Curve(Season(EVEN, (_record(rain),)), (0.8, 0.0, 0.2))
    start = _ord(2024, 1, 1)
    assert curve.exposure(start, start + 100) == pytest.approx(0.2 * 100 / 366, abs=1e-12)
    climate = Curve(Season(EVEN), (0.8, 0.0, 0.2))
    assert curve.exposure(start + 100, start + 130) == pytest.approx(
        float(climate.exposure(start + 100, start + 130)), abs=1e-12
    )
    assert curve.gap_days(start, start + 366) == pytest.approx(30)
    assert curve.gap_days(start + 110, start + 120.5) == pytest.approx(10.5)


def test_change_of_gauge_is_no_jump_when_each_has_its_own_mean():
    hill = _record(np.full(200, 4.0), name="hill", yearly_mean_mm=1464.0)
    valley = _record(np.full(366, 2.0), name="valley", yearly_mean_mm=732.0, used_from=date(2024, 6, 1))
    curve = Curve(Season(EVEN, (hill, valley)), (0.8, 0.0, 0.2))
    days = _ord(2024, 1, 1) + np.arange(360)
    assert np.diff(curve.exposure(days[0], days)) == pytest.approx(np.full(359, 1 / 366), abs=1e-12)


def test_the_new_gauges_gaps_are_not_filled_by_the_old_gauge():
    old = _record(np.full(366, 9.0), name="old")
    rain = np.zeros(366)
    rain[200:210] = np.nan
    new = _record(rain, name="new", used_from=date(2024, 6, 1))
    curve = Curve(Season(EVEN, (old, new)), LOAD)
    assert curve.gap_days(_ord(2024, 1, 1), _ord(2025, 1, 1)) == pytest.approx(10)


def test_rain_added_later_does_not_change_what_lies_before_it():
    rain = np.random.default_rng(3).gamma(0.3, 8, 300)
    short = Curve(Season(WET_WINTER, (_record(rain[:200]),)), LOAD)
    longer = Curve(Season(WET_WINTER, (_record(rain),)), LOAD)
    days = _ord(2024, 1, 1) + np.arange(0, 200, 7.0)
    assert np.array_equal(short.exposure(days[0], days), longer.exposure(days[0], days))


@given(start=st.floats(737_000, 742_000), years=st.floats(0, 40), seed=st.integers(0, 20), gap=st.integers(0, 200))
def test_inverse_finds_the_day_again(start, years, seed, gap):
    rain = np.random.default_rng(seed).gamma(0.3, 8, 900)
    rain[gap : gap + 40] = np.nan
    curve = Curve(Season(WET_WINTER, (_record(rain, date(2022, 1, 1)),)), LOAD)
    day = curve.day_reached(start, years)
    assert curve.exposure(start, day) == pytest.approx(years, abs=1e-11)
    assert day >= start - 1e-6


def test_vectorised_over_intervals_as_one_by_one():
    curve = Curve(Season(WET_WINTER, (_record(np.full(400, 3.0)),)), LOAD)
    begin = np.linspace(738_000, 739_500, 50)
    end = begin + np.linspace(1, 3000, 50)
    together = curve.exposure(begin, end)
    assert together.tolist() == [float(curve.exposure(a, b)) for a, b in zip(begin, end, strict=True)]


def test_bad_input_is_named():
    with pytest.raises(ValueError, match="twelve monthly values"):
        Climate((1.0,) * 11, (1.0,) * 12)
    with pytest.raises(ValueError, match="month is 13"):
        climate_of([1.0] * 12, leaf_months=(13,))
    with pytest.raises(ValueError, match=r"constant at least 0\.05"):
        Curve(Season(EVEN), (0.7, 0.26, 0.04))
    with pytest.raises(ValueError, match="given twice"):
        gauge_record("g", np.array([5, 5]), np.array([1.0, 1.0]))
    with pytest.raises(ValueError, match="below 0 mm"):
        gauge_record("g", np.array([5, 6]), np.array([1.0, -1.0]))
    dry = Season(climate_of([0.0] * 12), (gauge_record("g", np.array([5]), np.array([1.0])),))
    with pytest.raises(ValueError, match="mean above 0"):
        Curve(dry, LOAD)


def test_leaf_fall_over_the_new_year():
    assert climate_of([1.0] * 12, leaf_months=(12, 1)).leaf_fall == (2, 1)
    assert climate_of([1.0] * 12, leaf_months=(10, 11, 12)).leaf_fall == (1, 1)
    assert climate_of([1.0] * 12, leaf_months=()).leaf_fall is None
    assert climate_of([1.0] * 12).anchor("freeze", 2026) is None


def test_months_are_calendar_months():
    assert add_months(date(2025, 11, 30), 3) == date(2026, 2, 28)
    assert add_months(date(2026, 1, 31), 1.5) == date(2026, 3, 15)
    assert add_months(date(2026, 1, 15), -2) == date(2025, 11, 15)
