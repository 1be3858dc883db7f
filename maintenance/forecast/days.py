"""Local days as numbers and back: the proleptic ordinal of the date plus the share of the day gone."""

from __future__ import annotations

import calendar
import math
from datetime import date, datetime
from typing import Final

MEAN_YEAR_DAYS: Final = 365.2425
"""Mean length of a calendar year [day], Gregorian calendar: 146,097 days in 400 years."""


def day_number(when: date | datetime) -> float:
    """Day number of a local date (its midnight) or local date and time; a zone, if given, is not converted.

    >>> day_number(datetime(2026, 1, 1, 6)) - day_number(date(2026, 1, 1))
    0.25
    """
    whole = float(when.toordinal())
    if isinstance(when, datetime):
        return whole + (when.hour * 3600 + when.minute * 60 + when.second + when.microsecond / 1e6) / 86_400
    return whole


def day_before_or_on(number: float) -> date:
    """The date in which this instant lies; numbers outside the calendar give its first or last day."""
    return date.fromordinal(_inside(math.floor(number)))


def day_on_or_after(number: float) -> date:
    """The first date that begins at or after this instant."""
    return date.fromordinal(_inside(math.ceil(number)))


def add_months(start: date, months: float) -> date:
    """`start` plus calendar months, the day kept or cut to the month's last; a broken month adds its share of days.

    >>> add_months(date(2024, 1, 31), 1)
    datetime.date(2024, 2, 29)
    """
    whole = math.floor(months)
    year, month = divmod(start.year * 12 + start.month - 1 + whole, 12)
    if not date.min.year <= year < date.max.year:
        return date.max if months > 0 else date.min
    day = min(start.day, calendar.monthrange(year, month + 1)[1])
    broken = round((months - whole) * MEAN_YEAR_DAYS / 12)
    return date.fromordinal(_inside(date(year, month + 1, day).toordinal() + broken))


def in_year(year: int, month: int, day: int) -> date:
    """The month's day in `year`, cut to the month's last (29 February becomes the 28th)."""
    return date(year, month, min(day, calendar.monthrange(year, month)[1]))


def _inside(number: int) -> int:
    return min(max(number, date.min.toordinal()), date.max.toordinal())
