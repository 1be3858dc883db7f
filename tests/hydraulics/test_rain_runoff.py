"""Rain tables, storms and runoff: definitions, limits, sweeps."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics import limits, rain, runoff, scs_storm
from tests.hydraulics.yards import RAIN

SWEEP = settings(max_examples=50, deadline=None, derandomize=True)


@pytest.mark.parametrize("module", [rain, runoff, scs_storm, limits])
def test_doctests_hold(module):
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0


def test_every_central_span_holds_its_table_depth():
    # definition of the alternating block storm: Chow, Maidment and Mays 1988 section 14.4
    storm = rain.alternating_block(RAIN, 10.0)
    order = rain.block_order(288)
    assert storm.size == 288
    for blocks in (1, 2, 3, 6, 7, 12, 24, 72, 143, 144, 287, 288):
        span = storm[order < blocks]
        places = np.flatnonzero(order < blocks)
        assert places.size == blocks
        assert places[-1] - places[0] == blocks - 1
        assert span.sum() == pytest.approx(RAIN.depth(5.0 * blocks, 10.0), rel=1e-12)


def test_blocks_are_placed_by_duration_not_by_size():
    # increments rise again behind a knot of a log-log table: sorted by size the spans would not hold
    depths = np.asarray(RAIN.depth(5.0 * np.arange(1, 289), 10.0))
    increments = np.diff(depths, prepend=0.0)
    assert (np.diff(increments) > 0.0).any()


def test_many_storms_at_once():
    storms = rain.alternating_block(RAIN, np.array([2.0, 10.0, 50.0]))
    assert storms.shape == (3, 288)
    np.testing.assert_allclose(storms[1], rain.alternating_block(RAIN, 10.0))
    np.testing.assert_allclose(storms.sum(axis=1), RAIN.depth(1440.0, np.array([2.0, 10.0, 50.0])))


def test_table_is_exact_at_knots_and_never_extrapolated():
    assert RAIN.depth(5, 10) == pytest.approx(0.60 * 25.4)
    assert RAIN.depth(1440, 10) == pytest.approx(5.5 * 25.4)
    with pytest.raises(ValueError, match=r"duration is 4 min .*not extrapolated"):
        RAIN.depth(4, 10)
    with pytest.raises(ValueError, match="return period is 500 years"):
        RAIN.intensity(10, 500)


@pytest.mark.parametrize(
    ("durations", "returns", "depths", "words"),
    [
        ([5, 10], [2, 10], [[10, 20]], "one row for each"),
        ([10, 5], [2], [[10], [20]], "durations must rise"),
        ([5, 10], [10, 2], [[10, 8], [20, 18]], "return periods must rise"),
        ([5, 10], [2, 10], [[10, 20], [15, 19]], "10-year storm must rise"),
        ([5, 10], [2, 10], [[10, 9], [15, 19]], "5 min must rise"),
        ([5, 10], [2], [[10], [math.nan]], "rain depth is nan"),
        ([5, 10], [1], [[10], [11]], "return period is 1 years"),
    ],
)
def test_bad_tables_are_refused_with_the_reason(durations, returns, depths, words):
    with pytest.raises(ValueError, match=words):
        rain.DepthDurationTable(durations, returns, depths, "invented")


def test_table_needs_a_source():
    with pytest.raises(ValueError, match="source"):
        rain.DepthDurationTable([5, 10], [2], [[10], [12]], " ")


@SWEEP
@given(minutes=st.floats(5, 1440), more=st.floats(1.001, 3), years=st.floats(2, 50))
def test_depth_rises_with_duration_and_return_period(minutes, more, years):
    base = RAIN.depth(minutes, years)
    assert RAIN.depth(min(minutes * more, 1440.0), years) >= base
    assert RAIN.depth(minutes, min(years * more, 100.0)) >= base


def test_runoff_series_keeps_the_water_and_peaks_at_the_rational_flow():
    storm = rain.alternating_block(RAIN, 10.0)
    for minutes in (5.0, 10.0, 15.0, 30.0):
        series = runoff.averaged_rain(storm, 5.0, minutes)
        assert series.sum() * 5.0 / 60.0 == pytest.approx(storm.sum(), rel=1e-12)
        assert series.max() == pytest.approx(RAIN.intensity(minutes, 10.0), rel=1e-12)
    # between whole blocks the series stays at or under the table's intensity and close to it
    series = runoff.averaged_rain(storm, 5.0, 7.0)
    assert series.sum() * 5.0 / 60.0 == pytest.approx(storm.sum(), rel=1e-12)
    assert 0.93 * RAIN.intensity(7.0, 10.0) < series.max() <= RAIN.intensity(7.0, 10.0)


@SWEEP
@given(c=st.floats(0, 1), intensity=st.floats(0, 500), area=st.floats(0, 1e4))
def test_rational_flow_is_a_plain_product(c, intensity, area):
    assert runoff.rational_flow(c, intensity, area) == pytest.approx(c * intensity * area / 3.6e6, rel=1e-14)


def test_runoff_limits_name_the_value():
    with pytest.raises(ValueError, match=r"runoff coefficient is 1\.2"):
        runoff.rational_flow(1.2, 100, 10)
    with pytest.raises(ValueError, match="slope is 2"):
        runoff.faa_minutes(0.35, 30.0, 2.0)
    with pytest.raises(ValueError, match="not known"):
        rain.scs_fraction("IV", 3)


def test_scs_shapes_rise_to_one():
    hours = np.linspace(0, 24, 289)
    for kind in ("II", "III"):
        fraction = rain.scs_fraction(kind, hours)
        assert fraction[0] == 0.0
        assert fraction[-1] == 1.0
        assert (np.diff(fraction) > 0.0).all()
