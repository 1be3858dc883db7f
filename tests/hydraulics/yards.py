"""Invented yards for the tests, in SI, and the rain table of the rating check."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from hydraulics.network import (
    ChannelRun,
    CheckValve,
    Connection,
    DischargePipe,
    DrainageArea,
    GravityPipe,
    Outfall,
    Pump,
    SumpBasin,
    System,
)
from hydraulics.pump import PumpCurve
from hydraulics.rain import DepthDurationTable
from hydraulics.units import to_si

DURATIONS_MIN = [5, 10, 15, 30, 60, 120, 180, 360, 720, 1440]
TEN_YEAR_IN = np.array([0.60, 0.95, 1.20, 1.75, 2.27, 2.8, 3.1, 3.8, 4.6, 5.5])

RAIN = DepthDurationTable(
    DURATIONS_MIN,
    [2, 10, 25, 100],
    25.4 * TEN_YEAR_IN[:, None] * np.array([0.70, 1.0, 1.18, 1.45]),
    "invented; the 10-year column is the one of the rating check",
)

HALF_HORSE = PumpCurve([(to_si(q, "gpm"), to_si(h, "ft")) for q, h in ((0.0, 28.0), (40.0, 18.0), (65.0, 4.0))])
"""A 1/2 hp pump, invented: about 60 gpm at low head (common practice, no source)."""


def inches(value: float) -> float:
    return to_si(float(value), "in")


def feet(value: float) -> float:
    return to_si(float(value), "ft")


def square_feet(value: float) -> float:
    return to_si(float(value), "ft2")


def round_area(diameter_in: float) -> float:
    return math.pi / 4 * inches(diameter_in) ** 2


def constant_pump_yard(diameter_in: float, on_in: float, limit_in: float, gpm: float = 55.0) -> System:
    """The yard of the rating check: one basin, one pump of constant flow, C A 1,440 ft2, 5 min."""
    basin = SumpBasin("SB-1", round_area(diameter_in), inches(30), inches(on_in), inches(on_in - 8), inches(limit_in))
    return System(
        components=(basin, Pump("PU-1", "SB-1", None, to_si(gpm, "gpm")), Outfall("OF-1")),
        connections=(Connection("SB-1", "OF-1"),),
        areas=(DrainageArea("SB-1", square_feet(1440), 1.0),),
        rain=RAIN,
    )


def patio_yard(**changes) -> System:
    """Channel run to a pipe, a downspout leader beside it, both to a pumped sump, its line to the curb."""
    parts = {
        "channel": ChannelRun("CH-1", inches(4), inches(4), feet(20), 0.011),
        "pipe": GravityPipe("GP-1", inches(4), 0.01, 0.012),
        "leader": GravityPipe("DS-1", inches(4), 0.01, 0.012, kind="downspout leader"),
        "basin": SumpBasin("SB-1", round_area(18), inches(24), inches(12), inches(6), inches(18)),
        "pump": Pump("PU-1", "SB-1", HALF_HORSE),
        "valve": CheckValve("CV-1"),
        "line": DischargePipe("DL-1", feet(60), inches(1.61), feet(6)),
        "outfall": Outfall("OF-1"),
    }
    usual = (DrainageArea("CH-1", square_feet(250), 0.9), DrainageArea("DS-1", square_feet(350), 0.95))
    areas = changes.pop("areas", usual)
    system_changes = {
        k: changes.pop(k) for k in ("fills", "drawdown_ratios", "blocked", "return_years") if k in changes
    }
    for name, change in changes.items():
        parts[name] = replace(parts[name], **change)
    pairs = (("CH-1", "GP-1"), ("GP-1", "SB-1"), ("DS-1", "SB-1"), ("PU-1", "CV-1"), ("CV-1", "DL-1"), ("DL-1", "OF-1"))
    return System(
        components=tuple(parts.values()),
        connections=tuple(Connection(*pair) for pair in pairs),
        areas=areas,
        rain=RAIN,
        **system_changes,
    )


def links(*pairs: tuple[str, str]) -> tuple[Connection, ...]:
    return tuple(Connection(*pair) for pair in pairs)


def with_more(yard, parts, *pairs):
    """The yard with more parts and connections."""
    return replace(yard, components=(*yard.components, *parts), connections=(*yard.connections, *links(*pairs)))


def gravity_yard(*parts, areas, **more):
    """Parts in a row, each feeding the next."""
    connections = tuple(Connection(a.tag, b.tag) for a, b in pairwise(parts))
    return System(components=parts, connections=connections, areas=tuple(areas), rain=RAIN, **more)
