"""The standard normal distribution on arrays: NumPy has no error function and this package takes no larger library.

Upper tails are kept as Mills' ratio R(z) = Q(z) / phi(z), which stays smooth where Q itself underflows. R is tabulated
from `math.erfc` every 1/32 and carried between table points by its Taylor series (R' = z R - 1).
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Final

import numpy as np

from maintenance.forecast.records import Floats

LOG_SQRT_2PI: Final = 0.5 * math.log(2 * math.pi)
_STEP: Final = 1 / 32
_TOP: Final = 30.0


def _mills(z: float) -> float:
    return math.erfc(z / math.sqrt(2)) * math.exp(0.5 * z * z) * math.sqrt(math.pi / 2)


_TABLE: Final[Floats] = np.array([_mills(i * _STEP) for i in range(round(_TOP / _STEP) + 2)])


def mills_ratio(z: Floats) -> Floats:
    """Q(z) / phi(z) for z >= 0, relative error below 1e-12 [-]; above 30 by the asymptotic series."""
    near = np.minimum(z, _TOP)
    index = np.rint(near * (1 / _STEP)).astype(np.intp)
    at = index * _STEP
    d = near - at
    r0 = _TABLE[index]
    # Each derivative follows from the two before it: R(n+1) = z R(n) + n R(n-1).
    r1 = at * r0 - 1
    r2 = at * r1 + r0
    r3 = at * r2 + 2 * r1
    r4 = at * r3 + 3 * r2
    r5 = at * r4 + 4 * r3
    r6 = at * r5 + 5 * r4
    ratio = r0 + d * (r1 + d * (r2 / 2 + d * (r3 / 6 + d * (r4 / 24 + d * (r5 / 120 + d * r6 / 720)))))
    far = np.maximum(z, _TOP)
    square = 1 / (far * far)
    series = (1 - square * (1 - 3 * square * (1 - 5 * square * (1 - 7 * square)))) / far
    return np.where(z > _TOP, series, ratio)


def cdf(z: Floats) -> Floats:
    """P(Z <= z), absolute error below 1e-13.

    >>> round(float(cdf(np.array(1.0))), 12)
    0.841344746069
    """
    size = np.abs(z)
    tail = np.exp(-0.5 * size * size - LOG_SQRT_2PI) * mills_ratio(size)
    return np.where(z > 0, 1 - tail, tail)


def log_between(low: Floats, high: Floats) -> Floats:
    """log P(low < Z < high) for low < high, either end possibly infinite; exact far into both tails."""
    # Mirror intervals that lie mostly left so that the near end is never the far left tail.
    left = low + high < 0
    near = np.where(left, -high, low)
    far = np.where(left, -low, high)
    size = np.minimum(np.abs(near), 1e150)
    log_near = -0.5 * size * size - LOG_SQRT_2PI + np.log(mills_ratio(size))
    far_size = np.minimum(np.abs(far), 1e150)
    log_far = -0.5 * far_size * far_size - LOG_SQRT_2PI + np.log(mills_ratio(far_size))
    tail = log_near + np.log1p(-np.exp(np.minimum(log_far - log_near, -1e-15)))
    middle = np.log1p(-np.minimum(np.exp(log_near) + np.exp(log_far), 1 - 1e-16))
    return np.where(near >= 0, tail, middle)


def quantile(p: float) -> float:
    """z with P(Z <= z) = p, 0 < p < 1.

    >>> round(quantile(0.95), 6)
    1.644854
    """
    return NormalDist().inv_cdf(p)
