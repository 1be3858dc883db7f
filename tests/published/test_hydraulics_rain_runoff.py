"""Published rain and runoff figures. The source stands beside each check."""

import numpy as np
import pytest

from hydraulics import rain, runoff
from hydraulics.units import convert, from_si, to_si

# NOAA Atlas 14 volume 2 version 3, annual maximum series, one North Carolina place, in/h at 1/2, 1/10, 1/25, 1/100.
INTENSITY_IN_H = {
    5: (5.18, 7.14, 7.92, 8.94),
    10: (4.15, 5.71, 6.31, 7.10),
    15: (3.48, 4.81, 5.33, 5.98),
    30: (2.40, 3.49, 3.95, 4.58),
    60: (1.51, 2.27, 2.63, 3.16),
}


@pytest.fixture(scope="module")
def atlas():
    depths = [[25.4 * i * minutes / 60.0 for i in row] for minutes, row in INTENSITY_IN_H.items()]
    return rain.DepthDurationTable(list(INTENSITY_IN_H), [2, 10, 25, 100], depths, "NOAA Atlas 14 volume 2")


def test_atlas_depths_and_interpolation(atlas):
    # depths of the 10-year column, computed from the published intensities
    depths = np.asarray(atlas.depth([5, 10, 15, 30, 60], 10)) / 25.4
    np.testing.assert_allclose(depths, [0.595, 0.952, 1.202, 1.745, 2.270], atol=6e-4)
    # log-log interpolation at 12 min, 10 years: 5.286 in/h (computed from the same rows)
    assert atlas.intensity(12, 10) / 25.4 == pytest.approx(5.286, abs=1e-3)


def test_rational_method_worked_example():
    # North Carolina erosion-control training slides 12.2020, "Example: Rational Method": C 0.62, 6.96 in/h, 5 acres;
    # printed 21.6 ft3/s; with the exact unit factor 1.00833 it is 21.756, which is what SI gives
    flow = runoff.rational_flow(0.62, 25.4 * 6.96, to_si(5.0, "ac"))
    assert from_si(flow, "cfs") == pytest.approx(21.756, abs=2e-3)
    assert from_si(flow, "cfs") / 1.008333 == pytest.approx(21.6, abs=0.05)


def test_rational_method_on_a_roof():
    # 1 in/h on 1 ft2 is 0.0103896 gpm: 1000 ft2, C 0.9, 7.14 in/h gives 66.76 gpm (arithmetic)
    flow = runoff.rational_flow(0.9, 25.4 * 7.14, to_si(1000.0, "ft2"))
    assert from_si(flow, "gpm") == pytest.approx(66.76, abs=0.005)


def test_kirpich():
    # Kirpich 1940, metric form as printed on a public calculator page: 3000 m at 0.003 gives 86.71 min
    assert runoff.kirpich_minutes(3000.0, 0.003) == pytest.approx(86.71, abs=0.01)
    # Kirpich 1940, US form 0.0078 L^0.77 S^-0.385; numbers computed
    for feet, slope, minutes in ((950, 0.02, 6.90), (500, 0.04, 3.22), (600, 0.06, 3.17)):
        assert runoff.kirpich_minutes(to_si(float(feet), "ft"), slope) == pytest.approx(minutes, abs=0.012)


def test_faa_takes_slope_as_metres_per_metre():
    # FAA AC 150/5320-5 (formula: value from memory), numbers computed; feeding percent as a fraction would give 49.7
    assert runoff.faa_minutes(0.35, to_si(100.0, "ft"), 0.02) == pytest.approx(10.71, abs=0.01)
    assert runoff.faa_minutes(0.9, to_si(60.0, "ft"), 0.01) == pytest.approx(2.79, abs=0.01)


def test_tr55_three_segments():
    # TR-55 worksheet: sheet 2.25 min; shallow paved 3.40 ft/s, 3.79 min; channels 0.30 and 0.45 min; total 6.80 min
    sheet = runoff.sheet_minutes(to_si(300.0, "ft"), 0.035, 0.011, 25.4 * 3.45)
    shallow = runoff.shallow_minutes(to_si(773.0, "ft"), 0.028, paved=True)
    first, second = (
        runoff.channel_minutes(to_si(feet, "ft"), slope, 0.015, to_si(area, "ft2"), to_si(perimeter, "ft"))
        for feet, slope, area, perimeter in ((262.0, 0.057, 80.0, 168.0), (341.0, 0.041, 20.0, 40.0))
    )
    assert float(sheet) == pytest.approx(2.25, abs=0.01)
    assert float(shallow) == pytest.approx(3.79, abs=0.01)
    assert 773.0 / float(shallow) / 60.0 == pytest.approx(3.40, abs=0.005)
    assert float(first) == pytest.approx(0.30, abs=0.01)
    assert float(second) == pytest.approx(0.45, abs=0.01)
    assert runoff.concentration_minutes(sheet, shallow, first, second) == pytest.approx(6.80, abs=0.02)


def test_least_time_of_concentration():
    # five minutes: North Carolina training slides 12.2020
    assert runoff.concentration_minutes(1.0, 2.0) == 5.0


def test_curve_number_example():
    # TR-55 example 2-1: 70 % CN 74 and 30 % CN 61 give 70; 6.0 in of rain gives 2.81 in (value from memory)
    assert round(0.7 * 74 + 0.3 * 61) == 70
    assert runoff.curve_number_runoff_mm(25.4 * 6.0, 70) / 25.4 == pytest.approx(2.81, abs=0.01)


def test_scs_type_ii():
    # SCS TP-149; Chow, Maidment and Mays 1988 table 14.4: 0.380 of the day in the half hour before noon
    half_hour = rain.scs_fraction("II", 12.0) - rain.scs_fraction("II", 11.5)
    assert half_hour == pytest.approx(0.380, abs=1e-9)
    assert rain.scs_fraction("II", [8, 10, 13, 20]).tolist() == pytest.approx([0.120, 0.181, 0.772, 0.952])
    # the quarter hour before noon: 1.224 of the day's rain an hour; 3.4 in gives 4.16 in/h
    storm = rain.scs_storm("II", 25.4 * 3.4, 15.0)
    assert storm.max() * 4.0 / 25.4 == pytest.approx(4.16, abs=0.005)
    assert storm.sum() == pytest.approx(25.4 * 3.4)


def test_scs_type_iii():
    # City of Austin Drainage Criteria Manual table 2-6, 5-minute steps
    published = {1.0: 0.0100, 8 + 5 / 60: 0.1163, 8.5: 0.1284, 9.0: 0.1458, 16 + 10 / 60: 0.8903, 17.0: 0.9095}
    for hour, fraction in published.items():
        assert rain.scs_fraction("III", hour) == pytest.approx(fraction, abs=5e-4)
    # classic tabulation (value from memory), known to differ by up to 0.003
    for hour, fraction in ((8, 0.115), (9, 0.148), (11.5, 0.298), (12, 0.500), (12.5, 0.702)):
        assert rain.scs_fraction("III", hour) == pytest.approx(fraction, abs=3e-3)


def test_unit_factor_of_the_rational_method():
    # 1 in/h on 1 acre = 1.00833 ft3/s (arithmetic)
    flow = runoff.rational_flow(1.0, 25.4, to_si(1.0, "ac"))
    assert from_si(flow, "cfs") == pytest.approx(1.00833, abs=5e-6)
    assert convert(1.0, "cfs", "gpm") == pytest.approx(448.831, abs=1e-3)
