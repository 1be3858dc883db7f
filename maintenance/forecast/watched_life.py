"""A Weibull life from parts that were watched only from some age on (left truncation, beside right-censoring)."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from maintenance.forecast.records import Bools, Floats
from maintenance.forecast.wear import LifePrior, WeibullFit, fit_weibull


def fit_watched(
    ages: Floats | Sequence[float], failed: Bools | Sequence[bool], entered: Floats | Sequence[float], prior: LifePrior
) -> WeibullFit:
    """Shape and scale most likely a posteriori: `wear.fit_weibull`, each part watched from the age `entered` on.

    Raises ValueError unless every part was watched from an age of 0 or more and below its last.
    """
    t, dead, first = np.asarray(ages, dtype=float), np.asarray(failed, dtype=bool), np.asarray(entered, dtype=float)
    if first.shape != t.shape or np.any(first < 0) or np.any(first >= t):
        raise ValueError("each part must be watched from an age of 0 or more and below its last")
    return _fit_truncated(t, dead, first, prior) if first.any() else fit_weibull(t, dead, prior)


def _fit_truncated(t: Floats, dead: Bools, first: Floats, prior: LifePrior) -> WeibullFit:
    """Most likely a posteriori where what was not watched tells nothing: Newton on log shape and log scale.

    Adds (entered / scale)^shape for each part to the log likelihood: its chance of having lived so long is 1.
    """
    log_t, log_e = np.log(t), np.log(first[first > 0])
    believed = np.array([math.log(prior.shape), math.log(prior.scale)])
    spread = np.array([prior.log_sd_shape, prior.log_sd_scale])

    def height(x: Floats) -> float:
        k, v = math.exp(x[0]), float(x[1])
        watched = _whole_lives(k, v, log_t, dead) + float(np.sum(np.exp(np.minimum(k * (log_e - v), 700.0))))
        return watched - 0.5 * float(np.sum(((x - believed) / spread) ** 2))

    x = believed.copy()
    for _ in range(100):
        gradient, hessian = _bent(height, x)
        values, vectors = np.linalg.eigh(hessian)
        step = vectors @ ((vectors.T @ gradient) / np.maximum(np.abs(values), 1e-3))
        step /= max(1.0, float(np.max(np.abs(step))))
        here = height(x)
        while height(x + step) < here and np.max(np.abs(step)) > 1e-10:
            step /= 2
        x = x + step
        if np.max(np.abs(step)) < 1e-9:
            break
    k, v = math.exp(x[0]), float(x[1])
    top = height(x) + 0.5 * float(np.sum(((x - believed) / spread) ** 2))
    return WeibullFit(k, math.exp(v), top, int(dead.sum()), int((~dead).sum()), True)


def _bent(height: Callable[[Floats], float], x: Floats, h: float = 1e-4) -> tuple[Floats, Floats]:
    """Gradient and second derivatives of a function of two, by central differences."""
    a, b = np.array([h, 0.0]), np.array([0.0, h])
    here = height(x)
    near = np.array([[height(x + a), height(x - a)], [height(x + b), height(x - b)]])
    gradient = (near[:, 0] - near[:, 1]) / (2 * h)
    mixed = (height(x + a + b) - height(x + a - b) - height(x - a + b) + height(x - a - b)) / (4 * h * h)
    second = (near.sum(axis=1) - 2 * here) / h**2
    return gradient, np.array([[second[0], mixed], [mixed, second[1]]])


def _whole_lives(k: float, v: float, log_t: Floats, dead: Bools) -> float:
    """Log likelihood as if every part had been watched from new."""
    z = k * (log_t - v)
    return float(np.sum(dead * (math.log(k) - log_t + z)) - np.sum(np.exp(np.minimum(z, 700.0))))
