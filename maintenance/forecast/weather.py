"""Weather to come: the silting time ahead is a climate mean, the weather that comes is not.

Silting time not yet seen is taken as log-normal with the climate's mean E and variance w^2 E, w the rain share of the
load times the spread of a year's rain; increments of different times are independent. Silting time already seen by a
gauge is certain. The spread widens the posterior of log r about its median, in proportion: exact for a normal
posterior, close for others. Where nothing is ahead, or w is 0, P(f0 + r E > threshold) is what it was.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from maintenance.forecast.records import Floats, Ints

YEARLY_RAIN_CV: Final = 0.17
"""Standard deviation over mean of a year's rain [-]: 0.17 in seattle-weather (1226.0, 828.0, 1232.8, 1139.2 mm, 2012 to
2015) and in New York's of the same years (1012.5, 902.7, 1289.8, 973.6 mm)."""


@dataclass(frozen=True, eq=False, slots=True)
class WeatherAhead:
    """Per part, shape (n,): `spread` w of one mean year ahead [-]; `seen` silting time since the cycle began that a
    gauge has seen [mean years]."""

    spread: Floats
    seen: Floats

    def take(self, rows: Ints) -> WeatherAhead:
        """Some of the parts."""
        return WeatherAhead(self.spread[rows], self.seen[rows])

    def log_sd(self, exposure: Floats) -> Floats:
        """Log standard deviation of silting time whose mean is `exposure`: sqrt(log(1 + w^2 E_ahead / E^2)).

        A year ahead, half of it rain and that of spread 0.2: about 0.1.
        """
        time = np.maximum(exposure, 1e-12)
        ahead = np.maximum(time - self.seen, 0.0)
        return np.sqrt(np.log1p(self.spread**2 * ahead / time**2))
