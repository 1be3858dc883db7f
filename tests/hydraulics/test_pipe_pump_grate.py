"""Pipes, grates, pumps and lines: sweeps over the stated ranges, limits, clear errors."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from hydraulics import grate, monotone_cubic, pipe, pump
from hydraulics.pump import DischargeLine, PumpCurve, PumpsTogether, duty_point, flow_at_levels
from hydraulics.units import from_si, to_si
from tests.hydraulics.yards import HALF_HORSE, feet, inches

SWEEP = settings(max_examples=60, deadline=None, derandomize=True)


@pytest.mark.parametrize("module", [grate, pipe, pump])
def test_doctests_hold(module):
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0


@SWEEP
@given(
    diameter=st.floats(0.05, 0.4),
    slope=st.floats(0.001, 0.2),
    n=st.floats(0.009, 0.025),
    fill=st.floats(0.0, 0.95),
)
def test_full_flow_is_monotonic(diameter, slope, n, fill):
    base = pipe.full_flow(diameter, slope, n, fill * diameter)
    assert math.isfinite(base)
    assert base > 0.0
    assert pipe.full_flow(diameter, 1.1 * slope, n, fill * diameter) > base
    assert pipe.full_flow(diameter, slope, 1.1 * n, fill * diameter) < base
    assert pipe.full_flow(1.1 * diameter, slope, n, fill * diameter) > base
    assert pipe.full_flow(diameter, slope, n, (fill + 0.04) * diameter) < base


def test_silt_to_the_top_stops_the_pipe():
    assert pipe.full_flow(0.1, 0.01, 0.012, 0.1) == 0.0
    assert pipe.full_flow(0.1, 0.01, 0.012, 0.3) == 0.0
    half = pipe.full_flow(0.1, 0.01, 0.012, 0.05)
    # half a circle with a flat bed: A = pi D2/8, P = pi D/2 + D (geometry)
    area, perimeter = math.pi * 0.01 / 8, math.pi * 0.05 + 0.1
    assert half == pytest.approx(area * (area / perimeter) ** (2 / 3) * 0.1 / 0.012, rel=1e-12)


@SWEEP
@given(share=st.floats(0.02, 0.999), fill=st.floats(0.0, 0.6))
def test_normal_depth_gives_the_flow_back(share, fill):
    flow = share * pipe.full_flow(0.1, 0.01, 0.012, fill * 0.1)
    depth = pipe.normal_depth(flow, 0.1, 0.01, 0.012, fill * 0.1)
    assert pipe.partly_full(0.1, depth, 0.01, 0.012, fill * 0.1).flow_m3s == pytest.approx(flow, rel=1e-9)
    assert depth < 0.1


@SWEEP
@given(depth=st.floats(0.001, 0.5), perimeter=st.floats(0.1, 10), area=st.floats(0.001, 1), clogged=st.floats(0.0, 1.0))
def test_grate_is_monotonic(depth, perimeter, area, clogged):
    base = grate.intake(depth, perimeter, area, clogged)
    assert base >= 0.0
    assert grate.intake(1.1 * depth, perimeter, area, clogged) >= base
    assert grate.intake(depth, 1.1 * perimeter, 1.1 * area, clogged) >= base
    assert grate.intake(depth, perimeter, area, min(1.0, clogged + 0.05)) <= base
    clean = grate.intake(depth, perimeter, area)
    assert base == pytest.approx((1.0 - clogged) * clean, rel=1e-12, abs=1e-15)


def test_cubic_is_the_known_shape_preserving_one():
    # reference: scipy.interpolate.PchipInterpolator
    rng = np.random.default_rng(4)
    for _ in range(20):
        x = np.cumsum(rng.uniform(0.2, 1.0, 7))
        y = np.cumsum(rng.normal(size=7))
        at = np.linspace(x[0], x[-1], 200)
        found = monotone_cubic.evaluate(x, y, monotone_cubic.slopes(x, y), at)
        np.testing.assert_allclose(found, PchipInterpolator(x, y)(at), atol=1e-12)


def test_curve_goes_through_its_points():
    for points in (
        [(0.0, 8.0), (0.002, 6.0), (0.004, 1.0)],
        [(0.0005, 8.0), (0.002, 6.0), (0.004, 1.0)],
        [(0.0, 8.0), (0.001, 7.5), (0.002, 6.0), (0.003, 4.0), (0.004, 1.0)],
    ):
        curve = PumpCurve(points)
        for flow, head in points:
            assert curve.head(flow) == pytest.approx(head, rel=1e-9)
            assert curve.flow(head) == pytest.approx(flow, rel=1e-6, abs=1e-9)
        heads = curve.head(np.linspace(0, points[-1][0], 100))
        assert (np.diff(heads) <= 0.0).all()


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([(0.0, 8.0), (0.002, 6.0)], "at least 3"),
        ([(0.0, 8.0), (0.002, 9.0), (0.004, 1.0)], "falling heads"),
        ([(0.0, 8.0), (0.0, 6.0), (0.004, 1.0)], "rising flows"),
        ([(0.0, 8.0), (0.002, -1.0), (0.004, -2.0)], "pump head is -1"),
    ],
)
def test_bad_curves_are_refused(points, words):
    with pytest.raises(ValueError, match=words):
        PumpCurve(points)


def test_pump_too_weak_says_no_flow():
    point = duty_point(HALF_HORSE, DischargeLine(feet(30), feet(50), inches(1.61)))
    assert point.status == "no flow"
    assert point.flow_m3s == 0.0
    assert not point.flows
    assert point.shutoff_head_m == pytest.approx(feet(28))
    assert point.static_lift_m == pytest.approx(feet(30))
    assert str(point).startswith("no flow: shut-off head 8.53 m, lift 9.14 m")


def test_line_asking_less_than_the_curve_ends_with():
    curve = PumpCurve([(0.0, 8.0), (0.001, 7.5), (0.002, 6.0), (0.003, 4.0)])
    point = duty_point(curve, DischargeLine(1.0, 0.0, 0.05))
    assert point.status == "beyond the curve"
    assert point.flow_m3s == pytest.approx(0.003)


def test_two_pumps_on_one_line():
    line = DischargeLine(feet(8), feet(100), inches(1.61), 150.0, 3.0)
    one = duty_point(HALF_HORSE, line)
    both = duty_point(PumpsTogether((HALF_HORSE, HALF_HORSE)), line)
    assert one.flow_m3s < both.flow_m3s < 2.0 * one.flow_m3s
    # each pump gives half at the common head (flows added at equal head)
    assert HALF_HORSE.head(both.flow_m3s / 2) == pytest.approx(both.head_m, rel=1e-6)
    assert line.head(both.flow_m3s) == pytest.approx(both.head_m, rel=1e-6)
    # a pump too weak for the common head adds nothing
    weak = PumpCurve([(0.0, 2.0), (0.001, 1.5), (0.002, 0.5)])
    assert duty_point(PumpsTogether((HALF_HORSE, weak)), line).flow_m3s == pytest.approx(one.flow_m3s, rel=1e-9)


@SWEEP
@given(
    lift=st.floats(0, 8),
    length=st.floats(1, 150),
    bore=st.floats(0.03, 0.08),
    c=st.floats(100, 150),
    k=st.floats(0, 20),
)
def test_duty_flow_is_monotonic(lift, length, bore, c, k):
    base = duty_point(HALF_HORSE, DischargeLine(lift, length, bore, c, k))
    assert base.flow_m3s > 0.0
    assert HALF_HORSE.head(base.flow_m3s) == pytest.approx(base.head_m, rel=1e-6)
    for worse in (
        DischargeLine(lift + 0.2, length, bore, c, k),
        DischargeLine(lift, 1.1 * length, bore, c, k),
        DischargeLine(lift, length, 0.95 * bore, c, k),
        DischargeLine(lift, length, bore, 0.95 * c, k),
        DischargeLine(lift, length, bore, c, k + 1.0),
    ):
        assert duty_point(HALF_HORSE, worse).flow_m3s < base.flow_m3s


def test_flow_rises_with_the_level():
    line = DischargeLine(feet(8), feet(60), inches(1.61))
    flows = flow_at_levels(HALF_HORSE, line, np.linspace(0, 1, 11))
    assert (np.diff(flows) > 0.0).all()
    at_half = duty_point(HALF_HORSE, DischargeLine(feet(8) - 0.5, feet(60), inches(1.61)))
    assert flows[5] == pytest.approx(at_half.flow_m3s, rel=1e-9)


def test_half_horse_pump_of_sixty_gpm_gives_less_through_a_long_small_line():
    # common practice, no source: a 1/2 hp pump moves about 60 gpm at low head, much less through 30 m of 1-1/2 in
    low_head = duty_point(HALF_HORSE, DischargeLine(feet(5), feet(2), inches(1.61)))
    assert 50.0 < from_si(low_head.flow_m3s, "gpm") < 66.0
    long_line = duty_point(HALF_HORSE, DischargeLine(feet(5), 30.0, inches(1.61), 150.0, 4.0))
    assert long_line.flow_m3s < 0.7 * low_head.flow_m3s
    assert to_si(20.0, "gpm") < long_line.flow_m3s


def test_line_limits_name_the_value():
    with pytest.raises(ValueError, match="static lift is -1 m"):
        DischargeLine(-1.0, 10.0, 0.05)
    with pytest.raises(ValueError, match=r"bore is 1\.61 m"):
        DischargeLine(1.0, 10.0, 1.61)
