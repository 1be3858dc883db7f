"""Channels beside the dynamic wave of package swmm-toolkit (EPA SWMM 5)."""

import pytest

from benchmarks.hydraulics_swmm import channel_model, last_upstream_depth
from hydraulics.channel import upstream_depth


@pytest.mark.parametrize(
    ("above", "width", "length", "n", "slope"),
    [(0.004, 0.10, 6.0, 0.011, 0.0), (0.004, 0.10, 10.0, 0.011, 0.002), (0.010, 0.15, 20.0, 0.011, 0.0)],
)
@pytest.mark.parametrize("pieces", [10, 20])
def test_upstream_inflow_agrees_with_the_dynamic_wave(above, width, length, n, slope, pieces):
    # no lateral inflow: both solve the same equation; tolerance 1 % for the pieces of the engine
    engine = last_upstream_depth(channel_model(0.0, above, width, length, n, slope, pieces))
    assert upstream_depth(0.0, width, length, n, slope, above) == pytest.approx(engine, rel=0.01)


@pytest.mark.parametrize(
    ("lateral", "width", "length", "n"),
    [
        (0.0030, 0.10, 12.0, 0.011),
        (0.0040, 0.10, 15.0, 0.013),
        (0.0100, 0.15, 20.0, 0.011),
        (0.0060, 0.15, 12.0, 0.013),
    ],
)
def test_lateral_inflow_comes_out_lower_in_the_dynamic_wave(lateral, width, length, n):
    # the engine turns its inertia term with continuity as if nothing came in along the way, so the momentum the
    # lateral inflow has to be given (2 q Q / g A^2) is missing: not a reference here, and on the unsafe side
    engine = last_upstream_depth(channel_model(lateral, 0.0, width, length, n, 0.0, 40))
    ratio = engine / upstream_depth(lateral, width, length, n)
    assert 0.75 < ratio < 0.90
