"""How long a pump ran and how often it started, from the rain that fell.

Hourly rain is followed hour by hour: with inflow q, pump flow Q and active volume V the pump runs q/Q of the time and
starts q (1 - q/Q) / V times per unit of time; what it cannot keep up with waits for the next hour. Daily rain knows no
intensity: hours = volume / Q, and starts = volume / V is an upper bound. Daily figures are marked as estimated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from maintenance.forecast.records import Floats, Ints


@dataclass(frozen=True, slots=True)
class PumpedBasin:
    """What a pump serves: runoff coefficient x area [m2], duty flow [m3/h], active volume between floats [m3]."""

    runoff_area_m2: float
    duty_m3_h: float
    active_m3: float

    def __post_init__(self) -> None:
        for name, value in (("duty_m3_h", self.duty_m3_h), ("active_m3", self.active_m3)):
            if not value > 0:
                raise ValueError(f"{name} is {value}: give more than 0")
        if not self.runoff_area_m2 >= 0:
            raise ValueError(f"runoff_area_m2 is {self.runoff_area_m2}: give 0 or more")


@dataclass(frozen=True, slots=True)
class HourlyRain:
    """An even series: `rain_mm[i]` fell in hour `first_hour` + i, NaN where missing.

    `duplicated`: hours that came twice (their rain is added: when clocks go back two real hours carry one name);
    `missing`: hours without a value.
    """

    first_hour: int
    rain_mm: Floats
    duplicated: tuple[int, ...]
    missing: int


@dataclass(frozen=True, slots=True)
class PumpLoad:
    """Run time [h] and starts over a record, and what it stands on.

    `estimated`: from daily rain, so starts are an upper bound. `unknown_hours`: time without a rain value; nothing is
    counted for it. `left_m3`: water still waiting at the end.
    """

    run_hours: float
    starts: float
    pumped_m3: float
    left_m3: float
    unknown_hours: float
    estimated: bool


def hourly_rain(hour: Ints, rain_mm: Floats) -> HourlyRain:
    """An even series from rows in any order: `hour` counts hours from any origin, rain [mm] 0 or more, NaN missing.

    Raises ValueError for no row or for rain below 0.
    """
    hours, rain = np.asarray(hour, dtype=np.int64), np.asarray(rain_mm, dtype=float)
    if not len(hours):
        raise ValueError("no hour was given")
    if np.any(rain < 0):
        raise ValueError(f"rain is below 0 mm in hour {int(hours[rain < 0][0])}")
    first = int(hours.min())
    size = int(hours.max()) - first + 1
    known = np.isfinite(rain)
    sums = np.bincount(hours[known] - first, weights=rain[known], minlength=size)
    times = np.bincount(hours - first, minlength=size)
    seen = np.bincount(hours[known] - first, minlength=size) > 0
    series = np.where(seen, sums, np.nan)
    twice = tuple(int(k) + first for k in np.flatnonzero(times > 1))
    return HourlyRain(first, series, twice, int((~seen).sum()))


def load_from_hours(rain: HourlyRain, basin: PumpedBasin) -> PumpLoad:
    """Run hours and starts from hourly rain, water that one hour cannot pump carried into the next."""
    known = np.isfinite(rain.rain_mm)
    inflow = np.where(known, rain.rain_mm, 0.0) / 1000 * basin.runoff_area_m2
    waiting, hours, starts = 0.0, 0.0, 0.0
    # Only wet hours and those just after them have anything to pump.
    for volume in inflow.tolist():
        total = waiting + volume
        if total == 0.0:
            continue
        pumped = min(total, basin.duty_m3_h)
        share = pumped / basin.duty_m3_h
        hours += share
        starts += pumped * (1 - share) / basin.active_m3
        waiting = total - pumped
    return PumpLoad(hours, starts, float(inflow.sum()) - waiting, waiting, float((~known).sum()), False)


def loads_from_hours(rain: HourlyRain, basins: Sequence[PumpedBasin]) -> list[PumpLoad]:
    """`load_from_hours` for many basins under one rain at once: the wet hours are walked through a single time."""
    area = np.array([basin.runoff_area_m2 for basin in basins], dtype=float)
    duty = np.array([basin.duty_m3_h for basin in basins], dtype=float)
    active = np.array([basin.active_m3 for basin in basins], dtype=float)
    known = np.isfinite(rain.rain_mm)
    waiting, hours, starts, fallen = (np.zeros(len(basins)) for _ in range(4))
    wet = np.flatnonzero(known & (rain.rain_mm > 0))
    size = len(rain.rain_mm)
    for hour, following in zip(wet.tolist(), [*wet[1:].tolist(), size], strict=True):
        volume = rain.rain_mm[hour] / 1000 * area
        fallen += volume
        waiting += volume
        now = hour
        while now < following and waiting.any():
            pumped = np.minimum(waiting, duty)
            share = pumped / duty
            hours += share
            starts += pumped * (1 - share) / active
            waiting -= pumped
            now += 1
    unknown = float((~known).sum())
    return [
        PumpLoad(*row, unknown_hours=unknown, estimated=False)
        for row in zip(hours.tolist(), starts.tolist(), (fallen - waiting).tolist(), waiting.tolist(), strict=True)
    ]


def load_from_days(rain_mm: Floats, basin: PumpedBasin) -> PumpLoad:
    """Run hours and an upper bound of starts from daily rain [mm], NaN where missing; marked as estimated."""
    rain = np.asarray(rain_mm, dtype=float)
    if np.any(rain < 0):
        raise ValueError("rain is below 0 mm")
    known = np.isfinite(rain)
    volume = float(np.sum(rain[known])) / 1000 * basin.runoff_area_m2
    unknown = 24.0 * float((~known).sum())
    return PumpLoad(volume / basin.duty_m3_h, volume / basin.active_m3, volume, 0.0, unknown, True)
