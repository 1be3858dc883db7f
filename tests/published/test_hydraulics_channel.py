"""Published figures of channels that take water in along their length. The source stands beside each check."""

import math

import numpy as np
import pytest

from hydraulics import channel
from hydraulics.units import GRAVITY_M_S2, from_si, to_si

SOURCE = "Novak, Moffat, Nalluri and Narayanan, Hydraulic Structures, eq. 4.25 to 4.29; Chow 1959 chapter 12"


def critical(flow, width):
    return (flow**2 / (GRAVITY_M_S2 * width**2)) ** (1 / 3)


@pytest.mark.parametrize(("flow", "width", "length"), [(0.001, 0.1, 2.0), (0.004, 0.1, 6.0), (0.02, 0.25, 40.0)])
def test_frictionless_level_channel_stands_at_sqrt_3(flow, width, length):
    # see SOURCE: y0 / yc = 3^0.5 = 1.7321 for any width and flow
    depth = channel.upstream_depth(flow, width, length, 0.0)
    assert depth / critical(flow, width) == pytest.approx(math.sqrt(3.0), abs=1e-4)


def test_frictionless_profile_ordinates():
    # see SOURCE: x/L = [(y/yc)(1.5 - 0.5 (y/yc)^2)]^0.5, ordinates computed
    found = channel.profile(0.004, 0.1, 6.0, 0.0)
    ordinates = np.interp(np.array([0, 0.25, 0.5, 0.75, 0.9, 1.0]) * 6.0, found.x_m, found.depth_m)
    published = [1.7321, 1.7108, 1.6418, 1.5000, 1.3374, 1.0000]
    np.testing.assert_allclose(ordinates / critical(0.004, 0.1), published, atol=1.5e-4)
    ratio = found.depth_m / critical(0.004, 0.1)
    x = np.sqrt(np.maximum(ratio * (1.5 - 0.5 * ratio**2), 0.0))
    # near the closed end the surface is flat and x over y is steep: compare where depth tells the place
    told = ratio < 1.72
    np.testing.assert_allclose(x[told], found.x_m[told] / 6.0, atol=1e-4)


@pytest.mark.parametrize(("width", "depth", "gpm"), [(4, 4, 71.6), (4, 6, 131.6), (6, 6, 197.4)])
def test_frictionless_capacity(width, depth, gpm):
    # Q = b g^0.5 (W / 3^0.5)^1.5, computed from SOURCE
    flow = channel.capacity(to_si(float(width), "in"), to_si(float(depth), "in"), 6.0, 0.0)
    assert from_si(flow, "gpm") == pytest.approx(gpm, rel=1e-3)


def test_long_gutters_carry_less():
    # BS EN 12056-3:2000, level gutters, length over depth 50, 100, 150, 200: 1.00, .93, .86, .80 (value from memory):
    # a check of direction only, since that table is for eaves gutters
    carried = channel.capacity(0.1, 0.1, np.array([5.0, 10.0, 15.0, 20.0]), 0.011)
    assert (np.diff(carried) < 0.0).all()
    assert 0.5 < carried[3] / carried[0] < 1.0


def test_two_open_ends_carry_twice_half_the_length():
    # common practice, no source: a level channel open at both ends is two channels of half the length
    both = channel.capacity(0.1, 0.12, 12.0, 0.011, free_ends=2)
    half = channel.capacity(0.1, 0.12, 6.0, 0.011)
    assert both == pytest.approx(2.0 * half, rel=5e-3)
