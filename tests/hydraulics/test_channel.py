"""Channel runs: two forms of the equation, control inside, capacity, limits and sweeps."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from hydraulics import channel
from hydraulics.units import GRAVITY_M_S2

SWEEP = settings(max_examples=20, deadline=None, derandomize=True)


def test_doctests_hold():
    found = doctest.testmod(channel)
    assert found.attempted > 0
    assert found.failed == 0


def depth_form_upstream(lateral, width, length, n, slope=0.0, above=0.0):
    """Upstream depth by dy/dx = (S0 - Sf - 2qQ/gA2) / (1 - Q2 b/gA3), an independent calculation.

    Chow 1959 eq. 12-10 (value from memory). The first part is integrated as dx/dy, which is regular at critical depth.
    """
    per_metre = lateral / length

    def parts(x, y):
        flow, area = above + per_metre * x, width * y
        radius = area / (width + 2 * y)
        friction = (n * flow / (area * radius ** (2 / 3))) ** 2
        top = slope - friction - 2 * per_metre * flow / (GRAVITY_M_S2 * area**2)
        return top, 1 - flow**2 * width / (GRAVITY_M_S2 * area**3)

    critical = ((lateral + above) ** 2 / (GRAVITY_M_S2 * width**2)) ** (1 / 3)

    def dx_dy(y, x):
        top, bottom = parts(x[0], y)
        return [bottom / top]

    def dy_dx(x, y):
        top, bottom = parts(x, y[0])
        return [top / bottom]

    off = 1.05 * critical
    first = solve_ivp(dx_dy, (critical, off), [length], rtol=1e-12, atol=1e-14, method="DOP853")
    rest = solve_ivp(dy_dx, (first.y[0, -1], 0.0), [off], rtol=1e-11, atol=1e-13, method="DOP853")
    return rest.y[0, -1]


@pytest.mark.parametrize(
    ("lateral", "width", "length", "n", "slope", "above"),
    [
        (0.004, 0.10, 6.0, 0.011, 0.0, 0.0),
        (0.004, 0.10, 6.0, 0.011, 0.0, 0.002),
        (0.010, 0.15, 30.0, 0.011, 0.0, 0.0),
        (0.0005, 0.10, 20.0, 0.013, 0.0, 0.0),
        (0.004, 0.10, 10.0, 0.011, 0.002, 0.0),
        (0.004, 0.10, 10.0, 0.011, 0.005, 0.0),
        (0.002, 0.10, 10.0, 0.011, 0.010, 0.001),
        (0.0, 0.10, 10.0, 0.011, 0.0, 0.004),
    ],
)
def test_momentum_form_agrees_with_depth_form(lateral, width, length, n, slope, above):
    found = channel.upstream_depth(lateral, width, length, n, slope, above)
    assert found == pytest.approx(depth_form_upstream(lateral, width, length, n, slope, above), rel=1e-6)


def test_control_moves_inside_where_the_slope_outruns_the_inflow():
    length, slope = 30.0, 0.018
    found = channel.profile(0.004, 0.1, length, 0.011, slope)
    assert found.control_m is not None
    assert 0.0 < found.control_m < length
    # at the control S0 = Sf + 2 yc / x at critical depth
    x = found.control_m
    flow = 0.004 * x / length
    depth = (flow**2 / (GRAVITY_M_S2 * 0.1**2)) ** (1 / 3)
    radius = 0.1 * depth / (0.1 + 2 * depth)
    friction = (0.011 * flow / (0.1 * depth * radius ** (2 / 3))) ** 2
    assert slope == pytest.approx(friction + 2 * depth / x, rel=1e-9)
    above, below = found.x_m < 0.8 * x, found.x_m > 1.2 * x
    assert (found.depth_m[above] > found.critical_depth_m[above]).all()
    assert (found.depth_m[below] < found.critical_depth_m[below]).all()


def test_steep_reach_agrees_with_the_depth_form_downstream():
    # supercritical reach, depth form integrated downstream from a point well below the control
    width, length, n, slope, lateral = 0.1, 30.0, 0.011, 0.018, 0.004
    found = channel.profile(lateral, width, length, n, slope)
    start = float(found.x_m[np.searchsorted(found.x_m, 2.0 * found.control_m)])

    def dy_dx(x, y):
        flow, area = lateral * x / length, width * y[0]
        radius = area / (width + 2 * y[0])
        friction = (n * flow / (area * radius ** (2 / 3))) ** 2
        top = slope - friction - 2 * lateral / length * flow / (GRAVITY_M_S2 * area**2)
        return [top / (1 - flow**2 * width / (GRAVITY_M_S2 * area**3))]

    first = float(found.depth_m[np.searchsorted(found.x_m, start)])
    rest = solve_ivp(dy_dx, (start, length), [first], rtol=1e-10, atol=1e-13, method="DOP853")
    assert found.depth_m[-1] == pytest.approx(rest.y[0, -1], rel=1e-6)


def test_deepest_place_may_lie_inside():
    found = channel.profile(0.004, 0.1, 15.0, 0.011, 0.015)
    assert 0.0 < found.deepest_x_m < 15.0
    assert found.deepest_m > found.upstream_depth_m


@pytest.mark.parametrize("slope", [0.0, 0.003, 0.01, 0.04])
def test_at_capacity_the_deepest_place_is_at_the_rim(slope):
    flow = channel.capacity(0.12, 0.1, 12.0, 0.012, slope, freeboard_m=0.01, silt_m=0.02)
    assert channel.profile(flow, 0.12, 12.0, 0.012, slope).deepest_m == pytest.approx(0.07, rel=5e-5)


def test_floor_falling_under_a_level_rim():
    even = channel.capacity(0.1, 0.1, 10.0, 0.011, 0.01)
    falling = channel.capacity(0.1, 0.1, 10.0, 0.011, 0.01, depth_end_m=0.2)
    assert falling > even
    found = channel.profile(falling, 0.1, 10.0, 0.011, 0.01)
    assert np.max(found.depth_m - (0.1 + 0.01 * found.x_m)) == pytest.approx(0.0, abs=1e-5)


def test_upstream_inflow_takes_room():
    free = channel.capacity(0.1, 0.1, 6.0, 0.011)
    shared = channel.capacity(0.1, 0.1, 6.0, 0.011, upstream_inflow_m3s=0.002)
    assert 0.0 < shared < free - 0.001
    assert channel.capacity(0.1, 0.1, 6.0, 0.011, upstream_inflow_m3s=0.5) == 0.0
    assert channel.capacity(0.1, 0.1, 6.0, 0.011, silt_m=0.1) == 0.0


def test_errors_name_value_and_limit():
    with pytest.raises(ValueError, match="must be level"):
        channel.capacity(0.1, 0.1, 6.0, 0.011, 0.01, free_ends=2)
    with pytest.raises(ValueError, match="no upstream end"):
        channel.capacity(0.1, 0.1, 6.0, 0.011, free_ends=2, upstream_inflow_m3s=0.001)
    with pytest.raises(ValueError, match="1 or 2"):
        channel.capacity(0.1, 0.1, 6.0, 0.011, free_ends=3)
    with pytest.raises(ValueError, match="channel width is -1 m"):
        channel.capacity(-1.0, 0.1, 6.0, 0.011)
    with pytest.raises(ValueError, match="lateral flow is nan"):
        channel.upstream_depth(math.nan, 0.1, 6.0, 0.011)


def test_arrays_equal_single_calls():
    widths, slopes = np.array([0.1, 0.15, 0.2]), np.array([0.0, 0.01, 0.05])
    together = channel.capacity(widths, 0.1, 8.0, 0.012, slopes)
    alone = [channel.capacity(w, 0.1, 8.0, 0.012, s) for w, s in zip(widths, slopes, strict=True)]
    np.testing.assert_allclose(together, alone, rtol=1e-9)
    depths = channel.upstream_depth(0.002, widths[:, None], 8.0, 0.012, slopes)
    assert depths.shape == (3, 3)


def test_piped_end():
    # orifice with the outlet drowned: 0.60 A (2 g h)^0.5, h to its middle (Fair, Geyer and Okun 2010 p. 493)
    flow = channel.outlet_flow(0.1, 0.3)
    assert flow == pytest.approx(0.60 * math.pi / 4 * 0.01 * math.sqrt(2 * GRAVITY_M_S2 * 0.25), rel=1e-12)
    assert channel.outlet_flow(0.1, 0.3, silt_m=0.05) < flow
    assert channel.outlet_flow(0.1, 0.3, silt_m=0.2) == 0.0
    assert channel.outlet_flow(0.1, 0.0) == 0.0


dims = {
    "width": st.floats(0.05, 0.4),
    "depth": st.floats(0.03, 0.4),
    "length": st.floats(1.0, 30.0),
    "n": st.floats(0.009, 0.02),
    "slope": st.sampled_from([0.0, 0.0, 0.002, 0.005, 0.01, 0.03, 0.1]),
}


@SWEEP
@given(**dims)
def test_capacity_is_finite_and_monotonic(width, depth, length, n, slope):
    more = 1.0 + 1e-4
    #                 base  deeper wider  rougher silted longer
    widths = np.array([1.0, 1.0, 1.05, 1.0, 1.0, 1.0]) * width
    depths = np.array([1.0, 1.05, 1.0, 1.0, 1.0, 1.0]) * depth
    roughness = np.array([1.0, 1.0, 1.0, 1.05, 1.0, 1.0]) * n
    silt = np.array([0.0, 0.0, 0.0, 0.0, 0.1, 0.0]) * depth
    lengths = np.array([1.0, 1.0, 1.0, 1.0, 1.0, 1.05]) * length
    flows = channel.capacity(widths, depths, lengths, roughness, slope, silt)
    assert np.isfinite(flows).all()
    assert (flows > 0.0).all()
    base, deeper, wider, rougher, silted, longer = flows
    assert deeper * more >= base
    assert wider * more >= base
    assert rougher <= base * more
    assert silted <= base * more
    if slope == 0.0:
        assert longer <= base * more
        # never above the frictionless channel
        assert base <= width * math.sqrt(GRAVITY_M_S2) * (depth / math.sqrt(3)) ** 1.5 * more


@SWEEP
@given(flow=st.floats(1e-4, 0.02), **{k: v for k, v in dims.items() if k not in ("depth", "slope")})
def test_upstream_depth_grows_with_flow_friction_and_length(flow, width, length, n):
    one = np.ones(4)
    flows = flow * np.array([1, 1.05, 1, 1])
    lengths = length * np.array([1, 1, 1.05, 1])
    roughness = n * np.array([1, 1, 1, 1.05])
    depths = channel.upstream_depth(flows, width * one, lengths, roughness)
    assert np.isfinite(depths).all()
    assert (depths[1:] >= depths[0]).all()
    critical = (flow**2 / (GRAVITY_M_S2 * width**2)) ** (1 / 3)
    assert depths[0] >= math.sqrt(3.0) * critical * (1 - 1e-6)
