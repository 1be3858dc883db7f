"""The standard normal distribution on arrays: NumPy has no error function and this package takes no larger library.

Upper tails are kept as Mills' ratio R(z) = Q(z) / phi(z), which stays smooth where Q itself underflows. log R is
tabulated from `math.erfc` every 1/128 with its exact slope (d log R / dz = z - 1/R) and a cubic between table points.
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Final

import numpy as np

from maintenance.forecast.records import Floats

LOG_SQRT_2PI: Final = 0.5 * math.log(2 * math.pi)
_STEP: Final = 1 / 128
_TOP: Final = 40.0


def _mills(z: float) -> float:
    """R(z) for z >= 0: from erfc while that is safe, else by its asymptotic series (error below 1e-16 from 15 on)."""
    if z < 15:
        return math.erfc(z / math.sqrt(2)) * math.exp(0.5 * z * z) * math.sqrt(math.pi / 2)
    total = term = 1.0
    for k in range(1, 12):
        term *= -(2 * k - 1) / (z * z)
        total += term
    return total / z


def _cubics() -> Floats:
    """Coefficients (4, cells) of log R on each cell, from values and slopes at both ends."""
    z = [i * _STEP for i in range(round(_TOP / _STEP) + 2)]
    ratio = [_mills(v) for v in z]
    value = np.log(ratio)
    slope = np.array([v - 1 / r for v, r in zip(z, ratio, strict=True)])
    rise = np.diff(value) / _STEP
    square = (3 * rise - 2 * slope[:-1] - slope[1:]) / _STEP
    cube = (slope[:-1] + slope[1:] - 2 * rise) / _STEP**2
    return np.stack((value[:-1], slope[:-1], square, cube))


_C0, _C1, _C2, _C3 = _cubics()


def log_tail(z: Floats) -> Floats:
    """log P(Z > z) for z >= 0, error below 1e-11; past 40, where the chance is e^-804, only nearly."""
    near = np.minimum(z, _TOP)
    cell = (near * (1 / _STEP)).astype(np.int32)
    d = near - cell * _STEP
    log_ratio = _C3[cell]
    for c in (_C2, _C1, _C0):
        log_ratio *= d
        log_ratio += c[cell]
    log_ratio -= 0.5 * z * z
    log_ratio -= LOG_SQRT_2PI
    return log_ratio


def cdf(z: Floats) -> Floats:
    """P(Z <= z), absolute error below 1e-12.

    >>> round(float(cdf(np.array([1.0]))[0]), 11)
    0.84134474607
    """
    tail = np.exp(log_tail(np.minimum(np.abs(z), 1e150)))
    return np.where(z > 0, 1 - tail, tail)


def log_between(low: Floats, high: Floats) -> Floats:
    """log P(low < Z < high) for low < high, either end possibly infinite; exact far into both tails."""
    # Mirror intervals that lie mostly left, so that the near end is never the far left tail.
    left = low + high < 0
    near = np.where(left, -high, low)
    far = np.where(left, -low, high)
    log_near = log_tail(np.minimum(np.abs(near), 1e150))
    log_far = log_tail(np.minimum(np.abs(far), 1e150))
    inside = near < 0
    # Near end in the upper tail: Q(near) (1 - Q(far)/Q(near)). Else both tails are taken from 1.
    base = np.where(inside, 0.0, log_near)
    outside = np.exp(log_far - base)
    outside += np.where(inside, np.exp(log_near), 0.0)
    return base + np.log1p(-np.minimum(outside, 1 - 1e-16))


def quantile(p: float) -> float:
    """z with P(Z <= z) = p, 0 < p < 1.

    >>> round(quantile(0.95), 6)
    1.644854
    """
    return NormalDist().inv_cdf(p)
