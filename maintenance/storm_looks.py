"""Storms as the gauge saw them: what the storm rule's looks hang on. Pure.

The forecast turns them into at most one open look per property: it leaves out what is below the rule's least rain,
lets another storm add to the reason of the look that is open, and closes it by any visit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import Final

from maintenance.forecast.records import Rule, Storm, StormNumbers

LOOK_BACK_DAYS: Final = 240
"""Far enough that every look still open, and the storms that opened or closed the one before it, are in the list."""

WHOLE_DAY_HOURS: Final = 23
"""Hours a day needs to count as recorded: 23 on the day the clocks go forward."""


def daily_rain(rows: Iterable[tuple[date, int, float]]) -> dict[date, float]:
    """Rain of each day [mm] from rows of (day, hour, depth_mm), the row recorded last for a day or hour coming last.

    A whole-day row (hour -1) counts before hours; without one, a day with fewer than 23 hours is a gap.
    """
    whole: dict[date, float] = {}
    hours: dict[date, dict[int, float]] = {}
    for day, hour, depth in rows:
        if hour < 0:
            whole[day] = depth
        else:
            hours.setdefault(day, {})[hour] = depth
    summed = {day: sum(found.values()) for day, found in hours.items() if len(found) >= WHOLE_DAY_HOURS}
    return {**summed, **whole}


def least_rain_mm(rules: Iterable[Rule]) -> float | None:
    """The least rain in a day that any storm rule asks for [mm], None where no storm rule holds."""
    asked = [
        rule.numbers.least_daily_rain_mm for rule in rules if isinstance(rule.numbers, StormNumbers) and rule.enabled
    ]
    return min(asked, default=None)


def storms(
    rain_mm: Mapping[date, float], *, property_ids: Iterable[int], as_of: date, least_mm: float | None
) -> tuple[Storm, ...]:
    """The days up to `as_of` with at least `least_mm`, once for each property the gauge stands for.

    From daily rain only, so without a share of today's rating: a day says nothing about its worst ten minutes.
    """
    if least_mm is None:
        return ()
    first = as_of - timedelta(days=LOOK_BACK_DAYS)
    wet = sorted((day, mm) for day, mm in rain_mm.items() if first <= day <= as_of and mm >= least_mm)
    return tuple(Storm(key, day, mm) for key in sorted(property_ids) for day, mm in wet)
