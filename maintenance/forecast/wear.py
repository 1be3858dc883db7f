"""Wear of pumps, floats, check valves, batteries and alarms: Weibull life in equivalent years, and what it asks for.

S(t) = exp(-(t / scale)^shape). Shape above 1: wears out; 1: fails at random; below 1: early failures. Lives are
assumptions until a company's own failures speak; loss of power in a storm is outside every life curve.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from maintenance.forecast.records import Bools, Floats

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)
FEW_FAILURES: Final = 10
"""With fewer failures than this no fitted life is shown: the assumed life and the count instead."""


@dataclass(frozen=True, slots=True)
class WearWeights:
    """What adds one equivalent year: so many run hours, so many starts, on top of calendar time (assumptions)."""

    calendar: float = 0.5
    run_hours_per_year: float = 200.0
    starts_per_year: float = 6000.0
    hours_weight: float = 0.25
    starts_weight: float = 0.25


def equivalent_age(
    years: float, run_hours: float = 0.0, starts: float = 0.0, weights: WearWeights | None = None
) -> float:
    """Equivalent age [year]: weighted sum of calendar age and of run hours and starts over a mean year's.

    A part that runs just a mean year's hours and starts ages one equivalent year a year.

    >>> equivalent_age(2, 400, 12_000)
    2.0
    """
    for name, value in (("years", years), ("run_hours", run_hours), ("starts", starts)):
        if not (math.isfinite(value) and value >= 0):
            raise ValueError(f"{name} is {value}: give 0 or more")
    w = weights or WearWeights()
    return (
        w.calendar * years
        + w.hours_weight * run_hours / w.run_hours_per_year
        + w.starts_weight * starts / w.starts_per_year
    )


def scale_of_median(median: float, shape: float) -> float:
    """Weibull scale whose median life is `median`: median / ln(2)^(1/shape), same unit.

    >>> round(scale_of_median(10, 3), 3)
    11.299
    """
    _check(shape, median)
    return median / math.log(2) ** (1 / shape)


def mean_life(shape: float, scale: float) -> float:
    """Mean life: scale x Gamma(1 + 1/shape), same unit as `scale`."""
    _check(shape, scale)
    return scale * math.gamma(1 + 1 / shape)


def survival(age: float, shape: float, scale: float) -> float:
    """Chance of living past `age` (0 or more, unit of `scale`)."""
    _check(shape, scale)
    return math.exp(-((max(age, 0.0) / scale) ** shape))


def chance_of_failure(age: float, span: float, shape: float, scale: float) -> float:
    """P(fails within `span` | alive at `age`) = 1 - S(age + span) / S(age); all in one unit of time, 0 or more.

    >>> round(chance_of_failure(0, 11.299, 3, 11.299), 6)
    0.632121
    """
    _check(shape, scale)
    if age < 0 or span < 0:
        raise ValueError(f"age is {age} and span {span}: give 0 or more")
    return -math.expm1((age / scale) ** shape - ((age + span) / scale) ** shape)


# --- fitting -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LifePrior:
    """What is assumed of a life: log-normal beliefs in shape and scale, each with its log standard deviation."""

    shape: float
    scale: float
    log_sd_shape: float = 0.3
    log_sd_scale: float = 0.4


@dataclass(frozen=True, slots=True)
class WeibullFit:
    """Fitted `shape` and `scale`; how many failures and survivors it rests on; whether a prior took part.

    `shown` is False under 10 failures: then pages show the assumed life and the count.
    """

    shape: float
    scale: float
    log_likelihood: float
    failures: int
    survivors: int
    with_prior: bool

    @property
    def shown(self) -> bool:
        """Whether there are failures enough to show a fitted curve."""
        return self.failures >= FEW_FAILURES


def fit_weibull(
    ages: Floats | Sequence[float], failed: Bools | Sequence[bool], prior: LifePrior | None = None
) -> WeibullFit:
    """Weibull shape and scale by maximum likelihood with right-censoring; with `prior` the most likely a posteriori.

    `ages` (above 0) at failure, or today for what still lives; `failed` tells which. Raises ValueError where
    the ages alone fix no life (no failure, or a single age) and no prior is given.
    """
    t, dead = np.asarray(ages, dtype=float), np.asarray(failed, dtype=bool)
    if t.shape != dead.shape or t.ndim != 1:
        raise ValueError(f"ages and failed have shapes {t.shape} and {dead.shape}: give two equal lists")
    if np.any(~(t > 0)) or not np.all(np.isfinite(t)):
        raise ValueError("every age must be above 0")
    if prior is None and not dead.any():
        raise ValueError("no failure among the ages: give a prior")
    log_t = np.log(t)
    start = prior.shape if prior is not None else 1.2
    k = _solve_shape(log_t, dead, prior, start)
    log_scale = _best_log_scale(k, log_t, dead, prior)
    top = _log_likelihood(k, log_scale, log_t, dead)
    return WeibullFit(k, math.exp(log_scale), top, int(dead.sum()), int((~dead).sum()), prior is not None)


def _log_likelihood(k: float, log_scale: float, log_t: Floats, dead: Bools) -> float:
    z = k * (log_t - log_scale)
    return float(np.sum(dead * (math.log(k) - log_t + z)) - np.sum(np.exp(z)))


def _best_log_scale(k: float, log_t: Floats, dead: Bools, prior: LifePrior | None) -> float:
    """log scale of highest posterior at shape `k`: closed without a prior, else Newton on a concave function."""
    top = float(np.max(log_t)) if len(log_t) else 0.0
    log_sum = k * top + math.log(np.sum(np.exp(k * (log_t - top)))) if len(log_t) else -math.inf
    failures = int(dead.sum())
    if prior is None:
        return (log_sum - math.log(failures)) / k
    mean, variance = math.log(prior.scale), prior.log_sd_scale**2
    low, high = mean - 12 * prior.log_sd_scale - 1, max(mean + 12 * prior.log_sd_scale, top) + 5

    def slope(v: float) -> float:
        return -k * failures + k * math.exp(min(log_sum - k * v, 700.0)) - (v - mean) / variance

    return _falling_root(slope, low, high)


def _solve_shape(log_t: Floats, dead: Bools, prior: LifePrior | None, start: float) -> float:
    """Shape where the profile's slope in log shape is 0; the profile rises, then falls."""

    def slope(log_k: float) -> float:
        k = math.exp(log_k)
        v = _best_log_scale(k, log_t, dead, prior)
        z = k * (log_t - v)
        total = float(np.sum(dead * (1 + z)) - np.sum(z * np.exp(z)))
        if prior is not None:
            total -= (log_k - math.log(prior.shape)) / prior.log_sd_shape**2
        return total

    low, high = math.log(start) - 5, math.log(start) + 5
    if not slope(low) > 0 > slope(high):
        raise ValueError("these ages fit no finite life (too few failures among them): give a prior")
    return math.exp(_falling_root(slope, low, high))


def _falling_root(value: Callable[[float], float], low: float, high: float) -> float:
    """Root of a function positive at `low` and negative at `high`: false position, halving a stuck end (Illinois)."""
    at_low, at_high = value(low), value(high)
    side = 0
    for step in range(200):
        middle = (low * at_high - high * at_low) / (at_high - at_low) if at_low > 0 > at_high else (low + high) / 2
        # Every fourth step halves, so that no shape of function makes it crawl.
        if step % 4 == 3 or not low < middle < high:
            middle = (low + high) / 2
        here = value(middle)
        if here == 0 or high - low < 1e-14 * max(1.0, abs(middle)):
            return middle
        if here > 0:
            low, at_low = middle, here
            at_high, side = (at_high / 2, 1) if side == 1 else (at_high, 1)
        else:
            high, at_high = middle, here
            at_low, side = (at_low / 2, -1) if side == -1 else (at_low, -1)
    return (low + high) / 2


# --- replacing and testing -----------------------------------------------------------------------------------------


def cost_rate(age: float, shape: float, scale: float, cost_planned: float, cost_failure: float) -> float:
    """Cost per unit of time of replacing at `age` or at failure: [cp S + cf (1 - S)] / integral of S.

    Source: Barlow & Hunter 1960, age replacement.
    """
    alive = survival(age, shape, scale)
    return (cost_planned * alive + cost_failure * (1 - alive)) / _mean_time(age, shape, scale)


def replacement_age(shape: float, scale: float, cost_planned: float, cost_failure: float) -> float | None:
    """Age of least `cost_rate`, unit of `scale`; None where running to failure is never worse.

    That is for shape <= 1 and where a failure costs no more than a planned replacement. The optimum solves
    h(t) x integral of S - F(t) = cp / (cf - cp), whose left side only rises when shape > 1 (Barlow & Hunter 1960).
    """
    _check(shape, scale)
    if not cost_planned > 0 or not cost_failure > 0:
        raise ValueError(f"costs are {cost_planned} and {cost_failure}: give costs above 0")
    if shape <= 1 or cost_failure <= cost_planned:
        return None
    target = cost_planned / (cost_failure - cost_planned)

    def short(log_age: float) -> float:
        t = math.exp(log_age)
        hazard = shape / scale * (t / scale) ** (shape - 1)
        return target - (hazard * _mean_time(t, shape, scale) - (1 - survival(t, shape, scale)))

    high = math.log(scale)
    while short(high) > 0:
        high += 1.0
        if high > math.log(scale) + 100:
            return None
    return math.exp(_falling_root(short, math.log(scale) - 40, high))


def test_interval(shape: float, scale: float, age: float, unavailability: float) -> float:
    """Interval between tests of a hidden failure whose mean unavailability, alive at `age`, is the accepted one.

    Solves (1/T) x integral over T of 1 - S(age + u) / S(age) = U, 0 < U < 1; a test does not renew the part. For
    shape 1 and small U it tends to 2 U M, M the mean life (RCM practical guide, p. 44; SAE JA1012).
    """
    _check(shape, scale)
    if not 0 < unavailability < 1:
        raise ValueError(f"unavailability is {unavailability}: give a share between 0 and 1")
    if age < 0:
        raise ValueError(f"age is {age}: give 0 or more")

    def room(log_span: float) -> float:
        return unavailability - mean_unavailability(math.exp(log_span), shape, scale, age)

    low, high = math.log(scale) - 60, math.log(scale)
    while room(high) > 0:
        high += 1.0
    return math.exp(_falling_root(room, low, high))


test_interval.__test__ = False  # type: ignore[attr-defined]  # its name is the trade's, not a test of ours


def mean_unavailability(span: float, shape: float, scale: float, age: float = 0.0) -> float:
    """Mean share of `span` that a part alive at `age` spends failed unseen, if nobody looks in between."""
    u = span / 2 * (_NODES + 1)
    failed = -np.expm1((age / scale) ** shape - ((age + u) / scale) ** shape)
    return float(np.sum(_WEIGHTS * failed) / 2)


def failure_finding_interval(mean_life_years: float, unavailability: float) -> float:
    """Rule of thumb 2 U M for random failures (RCM practical guide, p. 44). Good up to about a tenth of M.

    >>> round(failure_finding_interval(10, 0.01), 12)
    0.2
    """
    return 2 * unavailability * mean_life_years


def failure_finding_with_demand(mean_protective: float, mean_protected: float, mean_multiple: float) -> float:
    """2 x M(protective) x M(protected) / M(multiple failure), one unit of time (RCM practical guide, p. 44)."""
    return 2 * mean_protective * mean_protected / mean_multiple


def _mean_time(age: float, shape: float, scale: float) -> float:
    """Integral of S from 0 to `age`, in pieces that shrink towards 0, where S bends for broken shapes.

    Past where S is 1e-16 nothing more is added.
    """
    end = min(age, scale * 37.0 ** (1 / shape))
    edges = end * np.array([0.0, 1 / 64, 1 / 8, 1 / 2, 1.0])
    half, middle = np.diff(edges)[:, None] / 2, (edges[1:] + edges[:-1])[:, None] / 2
    alive = np.exp(-(((middle + half * _NODES) / scale) ** shape))
    return float(np.sum(alive * _WEIGHTS * half))


def _check(shape: float, scale: float) -> None:
    if not (math.isfinite(shape) and shape > 0 and math.isfinite(scale) and scale > 0):
        raise ValueError(f"shape is {shape} and life {scale}: give both above 0")
