"""Daily rain of an invented gauge, and an invented rain table. Nothing here was measured."""

from datetime import date, timedelta
from random import Random
from typing import Final

GAUGE: Final = "Sedgewater yard (invented)"
SOURCE: Final = "invented rain for the demo company, made from monthly means"
CLIMATE_MM: Final = [88.0, 78.0, 98.0, 90.0, 96.0, 102.0, 118.0, 112.0, 98.0, 82.0, 80.0, 84.0]
WET_SHARE: Final = [0.52, 0.50, 0.52, 0.49, 0.50, 0.52, 0.55, 0.52, 0.44, 0.40, 0.46, 0.50]

DURATIONS_MIN: Final = [5, 10, 15, 30, 60, 120, 180, 360, 720, 1440]
RETURN_YEARS: Final = [2, 5, 10, 25, 50, 100]
# The 10-year column and a usual spread between return periods; an invented place.
_TEN_YEARS_IN: Final = [0.60, 0.95, 1.20, 1.75, 2.27, 2.8, 3.1, 3.8, 4.6, 5.5]
_SPREAD: Final = [0.70, 0.87, 1.0, 1.18, 1.31, 1.45]
DEPTHS_IN: Final = [[round(depth * part, 3) for part in _SPREAD] for depth in _TEN_YEARS_IN]


def daily_rain_mm(seed: int, first: date, last: date) -> list[tuple[date, float]]:
    """Rain of each day from `first` to `last`: wet or dry by month, amounts exponential with the month's mean."""
    rng = Random(f"rain {seed}")
    days = []
    day = first
    while day <= last:
        share = WET_SHARE[day.month - 1]
        mean = CLIMATE_MM[day.month - 1] / (30.4 * share)
        amount = rng.expovariate(1 / mean) if rng.random() < share else 0.0
        days.append((day, round(amount, 1)))
        day += timedelta(days=1)
    return days
