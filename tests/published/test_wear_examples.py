"""Published examples of lives, failure-finding and age replacement."""

import numpy as np
import pytest

from maintenance.forecast import wear
from maintenance.forecast.drawdown import Basin, Run, flow_of
from maintenance.forecast.pump_load import PumpedBasin, hourly_rain, load_from_hours

BEARINGS = [
    *(17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.48, 51.84, 51.96, 54.12, 55.56, 67.80),
    *(68.64, 68.64, 68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40),
]

# Hours of 70 generator fans: 12 failed, the others still ran (Nelson 1982; Meeker & Escobar; values from memory, their
# count and sum checked below against the published exponential mean).
FANS_FAILED = [450, 1150, 1150, 1600, 2070, 2070, 2080, 3100, 3450, 4600, 6100, 8750]
FANS_RUNNING = [
    *(460, 1560, 1660, *(1850,) * 5, *(2030,) * 3, 2200, *(3000,) * 4, 3200, *(3750,) * 2, *(4150,) * 4),
    *(*(4300,) * 4, *(4850,) * 4, *(5000,) * 3, *(6100,) * 3, 6300, *(6450,) * 2, 6700, 7450, *(7800,) * 2),
    *(*(8100,) * 2, 8200, *(8500,) * 3, *(8750,) * 2, 9400, 9900, *(10100,) * 3, 11500),
]


def test_ball_bearings():
    """Lieblein & Zelen, J. Research NBS 57(5) 1956, RP 2719 (values as in Lawless): shape 2.102, scale 81.88."""
    fit = wear.fit_weibull(BEARINGS, [True] * 23)
    assert fit.shape == pytest.approx(2.102, rel=1e-3)
    assert fit.scale == pytest.approx(81.88, rel=1e-3)


def test_generator_fans_with_right_censoring():
    """Nelson 1982; Meeker & Escobar: exponential mean 28,703 h; Weibull shape 1.058, scale 26,297 h."""
    ages = np.array([*FANS_FAILED, *FANS_RUNNING], dtype=float)
    failed = np.arange(len(ages)) < 12
    assert len(ages) == 70
    assert ages.sum() / 12 == pytest.approx(28_703, rel=1e-4)
    fit = wear.fit_weibull(ages, failed)
    assert fit.shape == pytest.approx(1.058, rel=1e-3)
    assert fit.scale == pytest.approx(26_297, rel=1e-3)
    assert (fit.failures, fit.survivors) == (12, 58)


def test_failure_finding_of_twenty_detectors():
    """RCM, A Practical Guide, pp. 44-45 (as Moubray RCM II, SAE JA1012): 20 x 4 years, 8 failed, availability 99 %."""
    mean_life = 20 * 4 / 8
    assert mean_life == 10
    assert wear.failure_finding_interval(mean_life, 0.01) == pytest.approx(0.2)
    assert pytest.approx(73) == 0.2 * 365
    # The exact interval for random failures differs from the linear rule by about U.
    assert wear.test_interval(1.0, mean_life, 0.0, 0.01) == pytest.approx(0.2, rel=0.01)


def test_failure_finding_with_a_protected_function():
    """RCM, A Practical Guide, p. 44: 2 x 10 x 5 / 1000 = 0.1 year."""
    assert wear.failure_finding_with_demand(10, 5, 1000) == pytest.approx(0.1, abs=1e-15)


def test_a_float_switch_of_ten_years_at_98_percent():
    """The same rule: 2 x 0.02 x 10 years = 4.8 months (mean life assumed)."""
    assert wear.failure_finding_interval(10, 0.02) * 12 == pytest.approx(4.8)


def test_the_linear_rule_holds_to_about_a_tenth_of_the_mean_life():
    """Horton, Living with Failure-Finding, 2011: below 5 %, at most 10 % of the mean life."""
    for share, error in ((0.05, 0.02), (0.10, 0.035)):
        exact = wear.test_interval(1.0, 1.0, 0.0, share / 2)
        assert exact == pytest.approx(share, rel=error)


def test_age_replacement_optimum():
    """Barlow & Hunter 1960, shape 2.5, scale 1000, planned 1, failure 5: 493.0; never replacing costs 0.0056353."""
    age = wear.replacement_age(2.5, 1000, 1, 5)
    assert age == pytest.approx(493.0, rel=1e-3)
    assert wear.cost_rate(age, 2.5, 1000, 1, 5) == pytest.approx(0.0034620, rel=1e-3)
    assert 5 / wear.mean_life(2.5, 1000) == pytest.approx(0.0056353, rel=1e-4)
    assert wear.mean_life(2.5, 1000) == pytest.approx(887.264, rel=1e-6)


@pytest.mark.parametrize(
    ("shape", "ratio", "age", "rate"),
    [(2, 5, 0.51066, 4.08524), (2, 10, 0.33645, 6.05612), (3, 5, 0.50261, 3.03140), (3, 10, 0.38246, 3.94935)],
)
def test_scaled_age_replacement(shape, ratio, age, rate):
    """Barlow & Hunter 1960 model, scale 1 (computed from it)."""
    found = wear.replacement_age(shape, 1.0, 1.0, ratio)
    assert found == pytest.approx(age, rel=1e-3)
    assert wear.cost_rate(found, shape, 1.0, 1.0, ratio) == pytest.approx(rate, rel=1e-3)


@pytest.mark.parametrize("shape", [0.5, 0.8, 1.0])
def test_no_wear_means_run_to_failure(shape):
    """Barlow & Hunter 1960: no finite optimum for shape 1 or less; for shape 1 the rate falls towards cost / mean."""
    assert wear.replacement_age(shape, 10, 100, 2000) is None
    if shape == 1.0:
        assert wear.cost_rate(1e4, 1.0, 10, 100, 2000) == pytest.approx(200, rel=1e-9)


@pytest.mark.parametrize(("shape", "scale"), [(2, 12.011), (2.5, 11.579), (3, 11.299), (3.5, 11.104)])
def test_scale_of_a_ten_year_median(shape, scale):
    """ASHRAE Handbook, HVAC Applications, service-life table: sump and well pump, median 10 years; eta = 10/ln2^(1/b).

    Hiller, ASHRAE Journal, August 2000, warns that most of these lives are opinion surveys: shown as assumptions.
    """
    assert wear.scale_of_median(10, shape) == pytest.approx(scale, abs=1e-3)
    assert wear.survival(10, shape, wear.scale_of_median(10, shape)) == pytest.approx(0.5, abs=1e-12)


def test_pump_rate_from_a_drawdown():
    """Operator-training arithmetic page ("Time for math 33", August 2019): 146.8 gpm and 134.64 gpm.

    10 ft pit, 6 in down in 2 min; 15 x 12 ft, 3 ft in 30 min (with 7.48 gal/ft3; 231 in3 a gallon gives 7.4805).
    """
    pit = Basin(np.pi / 4 * 120**2)
    assert flow_of(pit, Run(6, 120)) == pytest.approx(146.8, rel=1e-3)
    assert flow_of(Basin(180 * 144), Run(36, 1800)) == pytest.approx(134.64, rel=1e-3)


@pytest.mark.parametrize(("diameter_in", "gallons"), [(18, 1.1016), (24, 1.9584), (30, 3.060)])
def test_gallons_per_inch_of_a_round_basin(diameter_in, gallons):
    """Univ. of Illinois Extension: about 1 gal an inch in an 18 in pit, 2 in a 24 in pit; exact values computed."""
    per_inch = flow_of(Basin(np.pi / 4 * diameter_in**2), Run(1, 60))
    assert per_inch == pytest.approx(gallons, abs=5e-4)


def test_starts_of_a_small_basin_at_worst():
    """Army EI 11C201 / UFC 3-240-04A (1997) sec. 7, V = t q / 4: 18 in basin, 8 in range, 40 gpm: 68 starts an hour."""
    active_gal = flow_of(Basin(np.pi / 4 * 18**2), Run(8, 60))
    assert active_gal == pytest.approx(8.81, abs=0.01)
    m3_per_gal = 231 * 0.0254**3
    # The worst inflow is half of what the pump moves; one hour of it over 1,000 m2.
    inflow_m3 = 40 * 60 / 2 * m3_per_gal
    basin = PumpedBasin(runoff_area_m2=1000.0, duty_m3_h=40 * 60 * m3_per_gal, active_m3=active_gal * m3_per_gal)
    load = load_from_hours(hourly_rain(np.array([0]), np.array([inflow_m3])), basin)
    assert load.starts == pytest.approx(68, abs=0.2)
    assert load.run_hours == pytest.approx(0.5)
