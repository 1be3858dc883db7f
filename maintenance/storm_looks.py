"""Storms as the gauge saw them: what the storm rule's looks hang on. Pure.

The forecast turns them into at most one open look per property: it leaves out what is below the rule's least rain,
lets another storm add to the reason of the look that is open, and closes it by any visit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import Final

from maintenance.forecast.records import Storm

LOOK_BACK_DAYS: Final = 60
"""Older storms ask for nothing any more: the silt curve holds their rain, and the next visit sees what they left."""

LEAST_DAY_MM: Final = 5.0
"""Days below this are no storm under any rule; keeps the list short."""

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


def storms(rain_mm: Mapping[date, float], *, property_ids: Iterable[int], as_of: date) -> tuple[Storm, ...]:
    """The wet days of the last 60 days up to `as_of`, once for each property the gauge stands for.

    From daily rain only, so without a share of today's rating: a day says nothing about its worst ten minutes.
    """
    first = as_of - timedelta(days=LOOK_BACK_DAYS)
    wet = sorted((day, mm) for day, mm in rain_mm.items() if first <= day <= as_of and mm >= LEAST_DAY_MM)
    return tuple(Storm(key, day, mm) for key in sorted(property_ids) for day, mm in wet)
