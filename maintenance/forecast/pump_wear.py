"""How fast one pump ages: by the hours and starts the rain asked of it, and by what its own pump-down tests show.

Both give equivalent years a calendar year. A pump that still moves nine tenths of its hand-over flow shows no wear that
a test could tell from its error; below that it is taken to have used up its median life when it counts as worn, in
proportion before (assumption, no published record ties a small pump's flow to its remaining life). The faster of the
two paces is kept: a test never makes a pump younger.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from maintenance.forecast.drawdown import AGAINST_BASELINE
from maintenance.forecast.wear import WearWeights, equivalent_age

LEAST_TEST_YEARS: Final = 0.5
"""A fall in flow sooner after hand-over than this [year] is no wear: a fault, or an error of the test."""
FASTEST: Final = 5.0
"""Equivalent years a year that no pump is taken to exceed (assumption)."""

_GOOD, _WORN = AGAINST_BASELINE


@dataclass(frozen=True, slots=True)
class FlowSeen:
    """The last pump-down test against the one at hand-over: share of its flow, and the pump's age then [year]."""

    ratio: float
    age_years: float


def pace_by_rain(hours_per_year: float, starts_per_year: float, weights: WearWeights | None = None) -> float:
    """Equivalent years a calendar year adds at so many run hours and starts a year.

    >>> pace_by_rain(200, 6000), pace_by_rain(0, 0)
    (1.0, 0.5)
    """
    return equivalent_age(1.0, hours_per_year, starts_per_year, weights)


def pace_by_test(seen: FlowSeen, median_life_years: float) -> float | None:
    """Equivalent years a year that a fall in flow speaks of; None where the test shows no wear.

    >>> round(pace_by_test(FlowSeen(0.85, 5.0), 10.0), 9), pace_by_test(FlowSeen(0.95, 5.0), 10.0)
    (1.5, None)
    """
    if seen.ratio >= _GOOD or seen.age_years < LEAST_TEST_YEARS:
        return None
    used = median_life_years * min((1 - seen.ratio) / (1 - _WORN), 1.0)
    return min(used / seen.age_years, FASTEST)


def pace(rain: float | None, test: float | None) -> float:
    """The pace to reckon with: 1 where nothing is known, else the faster of the two (the rain's may be below 1)."""
    known = [value for value in (1.0 if rain is None else rain, test) if value is not None]
    return max(known)
