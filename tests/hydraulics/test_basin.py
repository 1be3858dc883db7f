"""Pumped basins: hand calculations, independence of the step, water balance, leaks, two pumps, worst phase."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics import basin, basin_pumps, search
from hydraulics.basin import BasinPump, LevelFlow, route, route_worst_phase
from tests.hydraulics.yards import round_area

SWEEP = settings(max_examples=40, deadline=None, derandomize=True)
AREA = round_area(18)
FLOW = 0.003
RISING = LevelFlow([0.05, 0.2, 0.4, 0.6], [0.9 * FLOW, 0.95 * FLOW, FLOW, 1.06 * FLOW])


def pump(on=0.3, off=0.1, flow=FLOW, **more):
    return BasinPump(on, off, flow, **more)


def imbalance(found):
    pumped = np.sum(found.pumped_m3, axis=-1)
    return np.max(np.abs(found.inflow_m3 - pumped - found.spilled_m3 - found.stored_m3) / found.inflow_m3)


def test_doctests_hold():
    assert doctest.testmod(basin).failed == 0
    assert doctest.testmod(search).failed == 0


def test_cycling_by_hand():
    # constant inflow at half the pump's flow: V/(q/2) to fill, V/(q/2) to empty, so T = 4 V / q (EI 11C201 section 7)
    volume = AREA * 0.2
    period = 4.0 * volume / FLOW
    assert basin.cycle_seconds(volume, FLOW / 2, FLOW) == pytest.approx(period)
    found = route(np.full(10, FLOW / 2), 20.5 * period / 10, AREA, 0.6, [pump()], 0.1)
    # from off it fills half a period, then starts once a period
    assert found.starts[0] == 20
    assert found.run_s[0] == pytest.approx(20 * period / 2, rel=1e-9)
    assert found.peak_level_m == pytest.approx(0.3)
    assert basin.most_starts_per_hour(volume, FLOW) == pytest.approx(3600.0 / period)


def test_level_approaches_the_balance_of_a_rising_flow_table():
    # A dh/dt = q - (a + b h): h = h_eq + (h0 - h_eq) e^(-b t / A) (closed form of a linear reservoir)
    table = LevelFlow([0.0, 1.0], [0.0, 0.006])
    found = route(np.full(1, 0.0024), 60.0, AREA, 1.0, [pump(0.3, 0.05, table)], 0.3)
    expected = 0.4 + (0.3 - 0.4) * math.exp(-0.006 * 60.0 / AREA)
    assert found.end_level_m == pytest.approx(expected, rel=1e-12)
    assert imbalance(found) < 1e-12


def test_spill_by_hand():
    found = route(np.full(4, 0.005), 100.0, AREA, 0.5, [pump()], 0.3)
    filled = (0.5 - 0.3) * AREA / 0.002
    assert found.first_spill_s == pytest.approx(filled)
    assert found.spilled_m3 == pytest.approx(0.002 * (400.0 - filled))
    assert found.peak_level_m == 0.5
    assert found.starts[0] == 1


@pytest.mark.parametrize("flow", [FLOW, RISING])
def test_starts_and_volumes_do_not_depend_on_the_step(flow):
    storm = np.array([0.2, 0.5, 0.9, 1.2, 1.4, 0.8, 0.3, 0.1, 0.0, 0.05, 0.6, 0.4]) * FLOW
    whole = route(storm, 300.0, AREA, 0.6, [pump(flow=flow)], 0.12)
    for parts in (2, 5, 30, 100):
        # series=True keeps equal steps apart, so that every step is really taken
        found = route(np.repeat(storm, parts), 300.0 / parts, AREA, 0.6, [pump(flow=flow)], 0.12, series=True)
        assert found.starts[0] == whole.starts[0] > 10
        assert found.pumped_m3[0] == pytest.approx(whole.pumped_m3[0], rel=1e-9)
        assert found.spilled_m3 == pytest.approx(whole.spilled_m3, rel=1e-9, abs=1e-12)
        assert found.peak_level_m == pytest.approx(whole.peak_level_m, rel=1e-12)
        assert found.levels_m.shape == (12 * parts,)
        assert found.levels_m[-1] == found.end_level_m


def test_failed_pump_and_time_to_spill():
    inflow = np.full(30, 0.002)
    found = route(inflow, 60.0, AREA, 0.6, [pump(failed=True)], 0.3)
    assert found.starts[0] == 0
    assert found.pumped_m3[0] == 0.0
    assert found.first_spill_s == pytest.approx(0.3 * AREA / 0.002)
    assert basin.seconds_to_spill(inflow, 60.0, AREA, 0.6, 0.3) == pytest.approx(found.first_spill_s)
    assert basin.seconds_to_spill(inflow * 1e-3, 60.0, AREA, 0.6, 0.3) == math.inf
    assert basin.seconds_to_spill(inflow, 60.0, AREA, 0.6, 0.6) == 0.0


def test_least_time_to_spill_looks_at_every_moment():
    inflow = np.concatenate([np.full(10, 1e-4), np.full(5, 0.004), np.full(10, 1e-4)])
    least = basin.least_seconds_to_spill(inflow, 60.0, AREA, 0.6, 0.3)
    by_search = min(basin.seconds_to_spill(inflow[i:], 60.0, AREA, 0.6, 0.3) for i in range(25))
    assert least == pytest.approx(by_search)
    assert least == pytest.approx(0.3 * AREA / 0.004)


def test_leaking_check_valve_adds_starts_by_hand():
    # the returned volume takes room in the basin: a cycle moves V - leak, so T = (V - leak)/Q + V/(q - Q)
    volume, leak, inflow = AREA * 0.2, 0.25 * AREA * 0.2, 0.001
    period = (volume - leak) / inflow + volume / (FLOW - inflow)
    tight = route(np.full(10, inflow), 3600.0, AREA, 0.6, [pump()], 0.1)
    found = route(np.full(10, inflow), 3600.0, AREA, 0.6, [pump(leak_m3=leak)], 0.1)
    assert found.starts[0] == pytest.approx(36_000.0 / period, abs=1.01)
    assert found.starts[0] > tight.starts[0]
    assert found.returned_m3[0] == pytest.approx(leak * found.starts[0], rel=0.02)
    assert imbalance(found) < 1e-9
    assert not found.short_cycling[0]


def test_short_cycling_is_reported_and_bounded():
    volume = AREA * 0.2
    found = route(np.full(10, 1e-4), 360.0, AREA, 0.6, [pump(leak_m3=2.0 * volume)], 0.1)
    assert found.short_cycling[0]
    # it never stands still: a start every V/(q - Q)
    assert found.starts[0] <= 3600.0 / (volume / (FLOW - 1e-4)) + 1
    assert imbalance(found) < 1e-9
    assert found.peak_level_m == pytest.approx(0.3)


def test_lead_and_lag():
    lead, lag = pump(0.3, 0.1), pump(0.4, 0.15)
    calm = route(np.full(20, 0.002), 300.0, AREA, 0.6, [lead, lag], 0.1)
    assert calm.starts[0] > 5
    assert calm.starts[1] == 0
    storm = route(np.full(20, 0.005), 300.0, AREA, 0.6, [lead, lag], 0.1)
    assert storm.starts[1] > 5
    assert storm.spilled_m3 == 0.0
    assert imbalance(storm) < 1e-9
    # the lag pump takes over where the lead has failed
    alone = route(np.full(20, 0.002), 300.0, AREA, 0.6, [pump(0.3, 0.1, failed=True), lag], 0.1)
    assert alone.starts[0] == 0
    assert alone.starts[1] > 5
    assert alone.peak_level_m == pytest.approx(0.4)


def test_no_pump_at_all():
    found = route(np.full(3, 1e-4), 100.0, AREA, 0.6, [])
    assert found.starts.shape == (0,)
    assert found.stored_m3 == pytest.approx(0.03)


def test_many_basins_equal_one_by_one():
    rng = np.random.default_rng(8)
    count = 25
    inflow = rng.uniform(0, 1.3 * FLOW, (count, 24))
    area, depth = rng.uniform(0.1, 0.5, count), rng.uniform(0.5, 0.9, count)
    on = rng.uniform(0.3, 0.45, count)
    start = rng.uniform(0.0, 0.3, count)
    flows = FLOW * rng.uniform(0.8, 1.2, (count, 1)) * np.array([0.9, 1.0, 1.1])
    levels = np.array([0.05, 0.3, 0.6])
    together = route(inflow, 300.0, area, depth, [BasinPump(on, 0.1, LevelFlow(levels, flows))], start, series=True)
    assert together.starts.shape == (count, 1)
    assert together.levels_m.shape == (count, 24)
    assert imbalance(together) < 1e-9
    for i in range(count):
        one_pump = BasinPump(on[i], 0.1, LevelFlow(levels, flows[i]))
        alone = route(inflow[i], 300.0, area[i], depth[i], [one_pump], start[i], series=True)
        assert alone.starts[0] == together.starts[i, 0]
        assert alone.pumped_m3[0] == pytest.approx(together.pumped_m3[i, 0], rel=1e-9)
        assert alone.peak_level_m == pytest.approx(together.peak_level_m[i], rel=1e-12)
        np.testing.assert_allclose(alone.levels_m, together.levels_m[i], rtol=1e-9, atol=1e-12)


@SWEEP
@given(
    shares=st.lists(st.floats(0.0, 1.6), min_size=3, max_size=20),
    band=st.floats(0.0254, 0.25),
    area=st.floats(0.1, 1.0),
    start=st.floats(0.0, 0.5),
    leak=st.floats(0.0, 0.1),
)
def test_water_balance_closes(shares, band, area, start, leak):
    inflow = np.array([*shares, 1.0]) * FLOW
    found = route(inflow, 300.0, area, 0.6, [pump(0.05 + band, 0.05, RISING, leak_m3=leak)], start)
    assert imbalance(found) < 1e-9
    assert 0.0 <= found.end_level_m <= found.peak_level_m <= 0.6
    assert found.run_s[0] <= 300.0 * inflow.size * (1 + 1e-12)
    assert found.spilled_m3 >= 0.0


@SWEEP
@given(
    shares=st.lists(st.floats(0.0, 2.0), min_size=3, max_size=20),
    start=st.floats(0.0, 0.3),
    lag_on=st.floats(0.32, 0.5),
)
def test_real_cycling_never_stands_higher_than_the_worst_phase(shares, start, lag_on):
    inflow = np.array(shares) * FLOW
    pumps = [pump(0.3, 0.1, RISING), pump(lag_on, 0.12, LevelFlow([0.0, 1.0], [0.4 * FLOW, 0.5 * FLOW]))]
    worst = route_worst_phase(inflow, 300.0, AREA, 20.0, pumps)
    real = route(inflow, 300.0, AREA, 20.0, pumps, start)
    assert real.peak_level_m <= worst + 1e-9
    assert route_worst_phase(1.02 * inflow, 300.0, AREA, 20.0, pumps) >= worst


def test_worst_phase_by_hand():
    # inflow above a constant pump flow for 600 s: the level rises from pump-on by (Q - q) t / A
    inflow = np.array([0.5, 1.4, 1.4, 0.5]) * FLOW
    assert route_worst_phase(inflow, 300.0, AREA, 0.6, [pump()]) == pytest.approx(0.3 + 0.4 * FLOW * 600.0 / AREA)
    # a lag pump holds the level at its own float while the two together would empty it
    held = route_worst_phase(inflow, 300.0, AREA, 0.6, [pump(), pump(0.4, 0.1)])
    assert held == pytest.approx(0.4)
    many = route_worst_phase(np.array([[1.0], [1.1]]) * inflow, 300.0, AREA, 0.6, [pump()])
    assert many.shape == (2,)


def test_errors_name_value_and_limit():
    with pytest.raises(ValueError, match=r"pump-on is 0\.02 m above pump-off.*at least 0\.0254"):
        BasinPump(0.12, 0.10, FLOW)
    with pytest.raises(ValueError, match="inflow is nan"):
        route(np.array([math.nan]), 300.0, AREA, 0.6, [pump()])
    with pytest.raises(ValueError, match="above the rim"):
        route(np.array([0.0]), 300.0, AREA, 0.6, [pump()], 0.7)
    with pytest.raises(ValueError, match="below the rim"):
        route(np.array([0.0]), 300.0, AREA, 0.25, [pump()])
    with pytest.raises(ValueError, match="has no pump"):
        route_worst_phase(np.array([0.0]), 300.0, AREA, 0.25, [])
    with pytest.raises(ValueError, match="must rise"):
        basin_pumps.LevelFlow([0.2, 0.1], [1e-3, 2e-3])


def test_cycle_times_at_the_edges():
    assert basin.cycle_seconds(0.05, 0.0, FLOW) == math.inf
    assert basin.cycle_seconds(0.05, 2 * FLOW, FLOW) == math.inf
    cycles = basin.cycle_seconds(0.05, np.linspace(0.01, 0.99, 99) * FLOW, FLOW)
    assert cycles.min() == pytest.approx(4 * 0.05 / FLOW)
    assert cycles.argmin() == 49
    # 18 in basin, 8 in of float range, 40 gpm: 0.881 min, 68 starts an hour (EI 11C201 formula, computed)
    assert basin.most_starts_per_hour(AREA * 0.2032, 40 * 6.30901964e-5) == pytest.approx(68.1, abs=0.1)
