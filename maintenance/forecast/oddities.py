"""Readings that look odd and should be seen by a person. Nothing is thrown away for being odd."""

from __future__ import annotations

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
    ids, days = states.readings.component_id, states.readings.day
    same = ids[1:] == ids[:-1]
    known = np.isfinite(states.low[1:]) & np.isfinite(states.high[:-1])
    fallen = np.flatnonzero(same & known & (states.high[1:] < states.low[:-1] - _FALL)) + 1
    parts = {part.id: part for part in states.components} if len(fallen) else {}
    found = []
    for row in fallen.tolist():
        part = int(ids[row])
        if any(days[row - 1] <= clean.day < days[row] for clean in parts[part].cleanings):
            continue
        on = day_before_or_on(float(days[row])).isoformat()
        before, after = round(float(states.low[row - 1]), 3), round(float(states.high[row]), 3)
        found.append(Odd(part, row, Reason("fill_fell", (("before", before), ("after", after), ("on", on)))))
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
    group = np.exp(np.array([prior.mu for prior in states.priors], dtype=float))
    times = states.rate.quantile(0.5) / group
    far = (states.rate.readings > 0) & ((times >= much_faster) | (times <= 1 / much_faster))
    return [
        Odd(states.components[i].id, -1, Reason("unlike_similar", (("times", float(f"{times[i]:.2g}")),)))
        for i in np.flatnonzero(far).tolist()
    ]
