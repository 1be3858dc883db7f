"""Pumped basins beside package swmm-toolkit (EPA SWMM 5), least surface 1e-4 m2, steps of 0.1 s."""

import math

import numpy as np
import pytest

from benchmarks.hydraulics_swmm import BasinModel, run_basin
from hydraulics.basin import BasinPump, LevelFlow, route
from hydraulics.units import to_si

STORM = np.array([0.2, 0.5, 0.9, 1.2, 1.4, 0.8, 0.3, 0.1, 0.0, 0.05, 0.6, 0.4])


@pytest.mark.parametrize(
    ("diameter_in", "on_in", "off_in", "gpm", "times"),
    [(18, 12, 4, 45, 1.0), (18, 10, 6, 60, 0.6), (24, 14, 6, 55, 1.0), (30, 15, 5, 80, 0.4)],
)
def test_starts_and_volumes_agree(diameter_in, on_in, off_in, gpm, times):
    area = math.pi / 4 * to_si(float(diameter_in), "in") ** 2
    on, off, flow = to_si(float(on_in), "in"), to_si(float(off_in), "in"), to_si(float(gpm), "gpm")
    table = [(0.0, 0.9 * flow), (0.2, 0.95 * flow), (0.4, flow), (0.6, 1.08 * flow)]
    inflow = np.repeat(STORM, 2) * times * flow
    engine = run_basin(BasinModel(area, 0.6, on, off, table, off).text(inflow.tolist(), 300.0, 0.1))
    levels, flows = zip(*table, strict=True)
    found = route(inflow, 300.0, area, 0.6, [BasinPump(on, off, LevelFlow(levels, flows))], off)
    assert engine.starts > 20
    assert abs(found.starts[0] - engine.starts) <= max(1, 0.02 * engine.starts)
    band = area * (on - off) + 0.002
    assert found.pumped_m3[0] == pytest.approx(engine.pumped_m3, abs=band)
    assert found.spilled_m3 == pytest.approx(engine.spilled_m3, abs=band)
    balance = found.inflow_m3 - found.pumped_m3[0] - found.spilled_m3 - found.stored_m3
    assert abs(balance) <= 1e-9 * found.inflow_m3


def test_spills_like_the_engine():
    area, flow = 0.2, 0.002
    inflow = np.full(12, 0.005)
    engine = run_basin(BasinModel(area, 0.6, 0.3, 0.1, [(0.0, flow), (1.0, flow)]).text(inflow.tolist(), 300.0, 0.1))
    found = route(inflow, 300.0, area, 0.6, [BasinPump(0.3, 0.1, flow)])
    assert found.starts[0] == engine.starts == 1
    assert found.spilled_m3 == pytest.approx(engine.spilled_m3, abs=0.2 * 0.2 + 0.002)
    assert found.spilled_m3 > 8.0
    assert found.peak_level_m == pytest.approx(engine.peak_level_m, abs=1e-3)
