"""Invented drainage systems for the benches, the same on every run."""

import math

import numpy as np

from hydraulics.network import (
    CatchBasin,
    ChannelRun,
    CheckValve,
    CleanOut,
    Connection,
    DischargePipe,
    DrainageArea,
    Grate,
    GravityPipe,
    Outfall,
    Pump,
    SumpBasin,
    System,
)
from hydraulics.pump import PumpCurve
from hydraulics.rain import DepthDurationTable
from hydraulics.units import to_si

DEPTHS_IN = np.array([0.60, 0.95, 1.20, 1.75, 2.27, 2.8, 3.1, 3.8, 4.6, 5.5])
RAIN = DepthDurationTable(
    [5, 10, 15, 30, 60, 120, 180, 360, 720, 1440],
    [2, 5, 10, 25, 50, 100],
    25.4 * DEPTHS_IN[:, None] * np.array([0.70, 0.86, 1.0, 1.18, 1.32, 1.45]),
    "invented for the bench",
)


def _pump_curve(rng: np.random.Generator) -> PumpCurve:
    head, flow = rng.uniform(22, 32), rng.uniform(55, 75)
    points = ((0.0, head), (0.6 * flow, 0.65 * head), (flow, 0.15 * head))
    return PumpCurve([(to_si(q, "gpm"), to_si(h, "ft")) for q, h in points])


def _pumped(rng: np.random.Generator) -> System:
    """Channel run, pipe, leader, pumped sump and its line: nine components."""
    components = (
        ChannelRun("CH-1", to_si(4.0, "in"), to_si(rng.uniform(4, 6), "in"), to_si(rng.uniform(10, 50), "ft"), 0.011,
                   grate=Grate(to_si(60.0, "ft"), to_si(3.0, "ft2"))),
        GravityPipe("GP-1", to_si(4.0, "in"), rng.uniform(0.008, 0.02), 0.012),
        GravityPipe("DS-1", to_si(4.0, "in"), 0.01, 0.012, kind="downspout leader"),
        CleanOut("CO-1"),
        SumpBasin("SB-1", math.pi / 4 * to_si(rng.choice([18.0, 24.0]), "in") ** 2, to_si(24.0, "in"),
                  to_si(12.0, "in"), to_si(6.0, "in"), to_si(18.0, "in")),
        Pump("PU-1", "SB-1", _pump_curve(rng)),
        CheckValve("CV-1"),
        DischargePipe("DL-1", to_si(rng.uniform(30, 120), "ft"), to_si(1.61, "in"), to_si(rng.uniform(4, 9), "ft")),
        Outfall("OF-1", tailwater_m=to_si(4.0, "in")),
    )  # fmt: skip
    pairs = (("CH-1", "GP-1"), ("GP-1", "CO-1"), ("CO-1", "SB-1"), ("DS-1", "SB-1"),
             ("PU-1", "CV-1"), ("CV-1", "DL-1"), ("DL-1", "OF-1"))  # fmt: skip
    areas = (
        DrainageArea("CH-1", to_si(rng.uniform(100, 500), "ft2"), 0.9),
        DrainageArea("DS-1", to_si(rng.uniform(100, 600), "ft2"), 0.95, float(rng.choice([5.0, 10.0]))),
    )
    fills = {"CH-1": rng.uniform(0, 0.6), "GP-1": rng.uniform(0, 0.4)}
    return System(components, tuple(Connection(*pair) for pair in pairs), areas, RAIN, fills=fills)


def _by_gravity(rng: np.random.Generator) -> System:
    """French drain, catch basin, sloped channel and pipes to a pop-up: six components."""
    slope = rng.uniform(0.005, 0.02)
    depth, length = to_si(4.0, "in"), to_si(rng.uniform(10, 40), "ft")
    components = (
        GravityPipe("FD-1", to_si(4.0, "in"), 0.01, 0.020, kind="French drain"),
        CatchBasin("CB-1", Grate(to_si(4.0, "ft"), to_si(0.5, "ft2"), to_si(3.0, "in"))),
        ChannelRun("CH-1", to_si(5.0, "in"), depth, length, 0.012, slope, depth_end_m=depth + slope * length),
        GravityPipe("GP-1", to_si(4.0, "in"), 0.015, 0.012),
        GravityPipe("GP-2", to_si(6.0, "in"), 0.015, 0.012, to_si(60.0, "ft")),
        Outfall("OF-1", opening_head_m=to_si(2.0, "in")),
    )
    pairs = (("FD-1", "CB-1"), ("CB-1", "GP-1"), ("CH-1", "GP-2"), ("GP-1", "GP-2"), ("GP-2", "OF-1"))
    areas = (
        DrainageArea("FD-1", to_si(rng.uniform(100, 600), "ft2"), 0.2, 15.0),
        DrainageArea("CB-1", to_si(rng.uniform(200, 900), "ft2"), 0.25, 10.0),
        DrainageArea("CH-1", to_si(rng.uniform(100, 500), "ft2"), 0.9),
    )
    fills = {"CH-1": rng.uniform(0, 0.6), "FD-1": rng.uniform(0, 0.4)}
    return System(components, tuple(Connection(*pair) for pair in pairs), areas, RAIN, fills=fills)


def yards(count: int) -> list[System]:
    """``count`` systems, half pumped and half by gravity: 7.5 components each."""
    rng = np.random.default_rng(2026)
    return [_pumped(rng) if index % 2 == 0 else _by_gravity(rng) for index in range(count)]
