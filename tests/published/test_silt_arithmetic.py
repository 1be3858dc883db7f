"""Published figures on silt: volumes, trapping, seasons."""

import math
from datetime import date

import numpy as np
import pytest

from maintenance.forecast.days import day_number
from maintenance.forecast.likelihood import RateGroups, RateReadings
from maintenance.forecast.priors import CANOPIES, rule_of_thumb
from maintenance.forecast.season import Curve, Season, climate_of
from maintenance.forecast.silting import TRAPPING_LIMIT, day_at_chance, exposure_at_chance, fill_quantile, posterior
from maintenance.forecast.thresholds import fill_of

NONE = RateReadings(*(np.zeros(0, dtype=int),) * 2, *(np.zeros(0),) * 5)


def _certain(rate):
    """A part whose rate [fill a year] is known beyond doubt."""
    one = np.ones(1)
    return posterior(RateGroups(np.log(rate) * one, 1e-9 * one, 0.25 * one, np.inf * one), NONE)


def test_a_foot_square_box_with_a_six_inch_sump_is_half_full_after_ten_months():
    """Arithmetic: 12 x 12 x 6 in = 0.5 ft3; half is 0.25 ft3; at 0.30 ft3 a year that takes 10.0 months."""
    sump_ft3 = 12 * 12 * 6 / 1728
    assert sump_ft3 == 0.5
    rate = 0.30 / sump_ft3
    years = exposure_at_chance(_certain(rate), np.zeros(1), np.full(1, 0.5), 0.5)[0]
    assert years * 12 == pytest.approx(10.0, abs=1e-6)
    even = Curve(Season(climate_of([50.0] * 12)), (0.0, 0.0, 1.0))
    start = np.full(1, day_number(date(2025, 1, 1)))
    day = day_at_chance(_certain(rate), even, start, np.zeros(1), np.full(1, 0.5), 0.5)[0]
    # ten twelfths of 365 days are 304.17 days; 1 November is day 304
    assert day - day_number(date(2025, 11, 1)) == pytest.approx(365 * 10 / 12 - 304, abs=1e-4)


def test_cubic_feet_of_an_ideal_basin():
    """Lager et al. 1977, EPA-600/2-77-051: diameter 4D, sump 4D; D 4 in gives 1.862 ft3 (multiples from memory)."""
    volume = math.pi / 4 * 16**2 * 16 / 1728
    assert volume == pytest.approx(1.862, abs=1e-3)
    # at 0.30 ft3 a year (as above) half of it lasts 3.10 years
    years = exposure_at_chance(_certain(0.30 / volume), np.zeros(1), np.full(1, 0.5), 0.5)[0]
    assert years == pytest.approx(0.5 * 1.862 / 0.30, abs=2e-3)


def test_trapping_ends_at_sixty_percent():
    """Pitt & Bissonnette 1984 as quoted in EPA's menu of best practices: about 60 % (value from memory);
    Wei et al., J. Environmental Management 282 (2021) 111911: effluent under 25 mg/l only while under 60 % full."""
    assert TRAPPING_LIMIT == 0.6
    level = fill_quantile(_certain(0.5), np.zeros(1), np.array([10.0]), 0.5, TRAPPING_LIMIT)
    assert level[0] == 0.6


def test_depth_is_taken_against_the_depth_that_holds_silt():
    """Snohomish County Drainage Manual 2010, vol. V: 60 % of a 12 in sump is 7.2 in and leaves 4.8 in clear."""
    assert fill_of(7.2, 12.0) == pytest.approx(0.6)
    assert pytest.approx(4.8) == 12.0 - 0.6 * 12.0


def test_more_than_half_of_the_organic_load_comes_in_fall_under_trees():
    """Selbig, USGS 2016 (Madison, Wisconsin): 56 % of the year's phosphorus in fall without leaf pick-up, 16 % with it.

    Direction only: under heavy trees over half of the silting time lies in October to December, under open sky not.
    """
    climate = climate_of([80.0] * 12)
    fall = {}
    for canopy in CANOPIES:
        curve = Curve(Season(climate), rule_of_thumb("catch_basin", canopy).load)
        fall[canopy] = float(curve.exposure(day_number(date(2025, 10, 1)), day_number(date(2026, 1, 1))))
    assert fall["heavy"] > 0.5 > fall["some"] > fall["open"] > 0.25


def test_rates_respond_to_rain_and_to_trees():
    """Rietveld et al., Urban Water Journal 17(6) 2020, 549-559: vegetation and rainfall volume drive accumulation."""
    rates = [rule_of_thumb("catch_basin", canopy).mu for canopy in CANOPIES]
    assert rates == sorted(rates)
    assert all(rule_of_thumb("catch_basin", canopy).load[0] >= 0.4 for canopy in CANOPIES)
