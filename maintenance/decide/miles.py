"""Length of a day's drive, roughly: great circles times a factor for roads. Pure."""

from collections.abc import Sequence
from itertools import pairwise
from math import asin, cos, radians, sin, sqrt
from typing import Final

EARTH_MILES: Final = 3958.8
"""Mean radius of the earth, 6371.0 km [mi]."""

CIRCUITY: Final = 1.3
"""Road miles for each straight mile: assumption."""


def straight_miles(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Great-circle distance of two points (latitude, longitude in degrees) [mi], by the haversine formula.

    >>> round(straight_miles((0.0, 0.0), (0.0, 1.0)), 2)
    69.09
    """
    lat_a, lat_b = radians(a[0]), radians(b[0])
    h = sin((lat_b - lat_a) / 2) ** 2 + cos(lat_a) * cos(lat_b) * sin(radians(b[1] - a[1]) / 2) ** 2
    return 2 * EARTH_MILES * asin(sqrt(min(h, 1.0)))


def drive_miles(stops: Sequence[tuple[float, float] | None]) -> float | None:
    """Miles from the first stop through all to the last; None where a stop's position is not known.

    >>> drive_miles([(40.0, -75.0), None]) is None
    True
    """
    known = [stop for stop in stops if stop is not None]
    if len(known) != len(stops):
        return None
    return CIRCUITY * sum(straight_miles(a, b) for a, b in pairwise(known))
