"""Readings that look odd and should be seen by a person. Nothing is thrown away for being odd."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from maintenance.forecast.days import day_before_or_on
from maintenance.forecast.records import Reason
from maintenance.forecast.silt_states import SiltStates

_FALL: Final = 0.125  # fill; smaller falls are within the error of two looks


@dataclass(frozen=True, slots=True)
class Odd:
    """A component and what is odd about it; `row`: the reading among the states' readings, -1 the part itself."""

    component_id: int
    row: int
    reason: Reason


ODD_WORDS: Final = {
    "fill_fell": "Fill fell from %(before)s to %(after)s between two looks without a cleaning (%(on)s).",
    "above_the_part": "Silt was measured deeper than the part holds (%(on)s).",
    "unlike_similar": "It silts %(times)s times as fast as similar parts.",
}


def odd_readings(states: SiltStates, much_faster: float = 10.0) -> list[Odd]:
    """What a person should look at: fill that fell without a cleaning, depth above the part, rates far off.

    `much_faster`: a part this many times faster or slower than similar ones is told.
    """
    return sorted(
        [*_fell(states), *_above(states), *_unlike(states, much_faster)], key=lambda o: (o.component_id, o.row)
    )


def _fell(states: SiltStates) -> list[Odd]:
    found = []
    cleaned = {part.id: [clean.day for clean in part.cleanings] for part in states.components}
    ids, days = states.readings.component_id, states.readings.day
    for row in range(1, len(states.readings)):
        part = int(ids[row])
        if part != int(ids[row - 1]) or not np.isfinite(states.low[row]) or not np.isfinite(states.high[row - 1]):
            continue
        before, after = float(states.low[row - 1]), float(states.high[row])
        if any(days[row - 1] <= day < days[row] for day in cleaned[part]) or after >= before - _FALL:
            continue
        on = day_before_or_on(float(days[row])).isoformat()
        params = (("before", round(before, 3)), ("after", round(after, 3)), ("on", on))
        found.append(Odd(part, row, Reason("fill_fell", params)))
    return found


def _above(states: SiltStates) -> list[Odd]:
    measured = (states.readings.grade < 0) & (states.low > 1.0)
    return [
        Odd(
            int(states.readings.component_id[row]),
            int(row),
            Reason("above_the_part", (("on", day_before_or_on(float(states.readings.day[row])).isoformat()),)),
        )
        for row in np.flatnonzero(measured)
    ]


def _unlike(states: SiltStates, much_faster: float) -> list[Odd]:
    found = []
    medians = states.rate.quantile(0.5)
    for i, part in enumerate(states.components):
        times = float(medians[i]) / math.exp(states.priors[i].mu)
        if states.rate.readings[i] and not 1 / much_faster < times < much_faster:
            found.append(Odd(part.id, -1, Reason("unlike_similar", (("times", float(f"{times:.2g}")),))))
    return found
