"""Silting: how full a part will be, the chance that it is past a limit, and when that chance reaches a value.

fill(t) = f0 + r E(t): f0 what the last cleaning left, E the silting time since then [mean years] (`season`), r the rate
[fill per mean year] with its posterior. The chance of being over a threshold is P(f0 + r E > threshold) with no error
of reading in it, and is to be kept so.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from maintenance.forecast.likelihood import LEAST_EXPOSURE, TRAPPING_LIMIT, RateGroups, RateReadings, fill_intervals
from maintenance.forecast.pooling import Pooled, pool
from maintenance.forecast.priors import group_prior
from maintenance.forecast.rate_posterior import RatePosterior, posterior
from maintenance.forecast.records import Floats
from maintenance.forecast.season import Curve
from maintenance.forecast.weather import WeatherAhead

__all__ = [
    "LEAST_EXPOSURE",
    "TRAPPING_LIMIT",
    "Pooled",
    "RateGroups",
    "RatePosterior",
    "RateReadings",
    "WeatherAhead",
    "chance_over",
    "day_at_chance",
    "exposure_at_chance",
    "fill_intervals",
    "fill_quantile",
    "group_prior",
    "pool",
    "posterior",
]


_ONE_SD: Final = 0.5 * math.erfc(-1 / math.sqrt(2))


def chance_over(
    post: RatePosterior,
    fill_left: Floats,
    exposure: Floats,
    threshold: Floats,
    weather: WeatherAhead | None = None,
) -> Floats:
    """P(f0 + r E > threshold), shape (n,); `exposure` [mean years] since the cycle's start, 0 or more.

    With `weather`, E is not known but has `exposure` as its mean.
    """
    needed = _log_rate_needed(fill_left, exposure, threshold)
    if weather is None:
        return post.chance_above(needed)
    spread = weather.log_sd(exposure)
    middle, sd = post.log_quantile(0.5), _log_sd(post)
    # A log-normal factor of mean 1 has its median below 1.
    apart = np.clip(needed, -1e6, 1e6) + 0.5 * spread**2 - middle
    return post.chance_above(middle + apart * sd / np.hypot(sd, spread))


def exposure_at_chance(
    post: RatePosterior,
    fill_left: Floats,
    threshold: Floats,
    chance: Floats | float,
    weather: WeatherAhead | None = None,
) -> Floats:
    """Silting time [mean years] at which P(f0 + r E > threshold) reaches `chance`, 0 < chance < 1; 0 if f0 is over."""
    room = np.maximum(threshold - fill_left, 0)
    level = post.log_quantile(1 - np.asarray(chance, dtype=float))
    plain = room / np.exp(level)
    if weather is None or not np.any(weather.spread > 0):
        return plain
    middle, sd = post.log_quantile(0.5), _log_sd(post)
    log_room = np.log(np.maximum(room, 1e-300))
    low, high = np.log(np.maximum(plain, 1e-300)) - 4.0, np.log(np.maximum(plain, 1e-300)) + 4.0
    for _ in range(60):
        time = (low + high) / 2
        spread = weather.log_sd(np.exp(time))
        over = middle + (level - middle) * np.hypot(sd, spread) / sd > log_room - time + 0.5 * spread**2
        low, high = np.where(over, low, time), np.where(over, time, high)
    return np.where(room > 0, np.exp((low + high) / 2), 0.0)


def _log_sd(post: RatePosterior) -> Floats:
    """Half the width of the middle 68 % of log r: the standard deviation where it is normal."""
    return (post.log_quantile(_ONE_SD) - post.log_quantile(1 - _ONE_SD)) / 2


def day_at_chance(
    post: RatePosterior,
    curve: Curve,
    start_day: Floats,
    fill_left: Floats,
    threshold: Floats,
    chance: Floats | float,
) -> Floats:
    """Day number, with fraction, at which P(over threshold) reaches `chance`; all components share one `curve`."""
    return curve.day_reached(start_day, exposure_at_chance(post, fill_left, threshold, chance))


def fill_quantile(
    post: RatePosterior, fill_left: Floats, exposure: Floats, p: float, cap: Floats | float = np.inf
) -> Floats:
    """Fill [-] that is not exceeded with chance `p` after `exposure`; levelled off at `cap` for drawing."""
    return np.minimum(fill_left + post.quantile(p) * exposure, cap)


def _log_rate_needed(fill_left: Floats, exposure: Floats, threshold: Floats) -> Floats:
    room = threshold - fill_left
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.log(np.maximum(room, 0)) - np.log(np.maximum(exposure, 0))
    return np.where(room <= 0, np.where(room < 0, -np.inf, np.where(exposure > 0, -np.inf, np.inf)), needed)
