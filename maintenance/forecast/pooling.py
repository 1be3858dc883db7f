"""What similar parts teach about each other: mu, tau, s of a group by marginal likelihood (empirical Bayes).

Every component's readings are integrated over its own rate (`rate_posterior` gives the log evidence), graded readings
included, and the sum is maximised. A thin group keeps its rule of thumb and says so.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from maintenance.forecast.likelihood import LEAST_EXPOSURE, RateGroups, RateReadings
from maintenance.forecast.rate_posterior import LEAST_CYCLE_SD, posterior
from maintenance.forecast.records import Floats, GroupPrior

LEAST_COMPONENTS: Final = 8
LEAST_READINGS: Final = 20
"""A group with fewer parts or readings keeps its rule of thumb (assumption)."""

_LEAST_REPEATED: Final = 5
_MU_STEADIED: Final = 1.0
"""How far a group's mean is believed to lie from its rule of thumb where it is steadied, as a log standard deviation
(assumption). Of no weight beside a few readings, but basins all found past their trapping limit say only "fast"."""
_LIMITS: Final = {"mu": (-9.0, 5.0), "tau": (0.01, 3.0), "s": (0.01, 1.5), "cycle_sd": (LEAST_CYCLE_SD, 2.0)}


@dataclass(frozen=True, slots=True)
class Pooled:
    """A group's parameters: `learned` says whether its readings or the rule of thumb gave them, `why` in plain words.

    `s_learned`, `cycle_sd_learned`: whether these, too, come from the readings.
    """

    prior: GroupPrior
    learned: bool
    s_learned: bool
    cycle_sd_learned: bool
    log_likelihood: float
    why: str


def pool(
    thumb: GroupPrior,
    readings: RateReadings,
    *,
    cap: float = math.inf,
    cycle_sd: float | None = 0.0,
    cycle_sd_start: float = 0.2,
    steadied: float | None = None,
    restricted: bool = False,
    nodes: int = 64,
    least_components: int = LEAST_COMPONENTS,
    least_readings: int = LEAST_READINGS,
) -> Pooled:
    """Re-estimate one group from the readings of all its parts (`readings.component` tells them apart).

    `thumb`: its rule of thumb, kept where the group is thin. `cap`: fill at which its kind stops trapping. `cycle_sd`:
    held at this value, or estimated too if None, starting from `cycle_sd_start`, which stays where fewer than 5 parts
    show two cycles. `steadied`: a belief that tau, s and cycle_sd lie near where they start, as a log standard
    deviation (and mu near its rule of thumb, within a factor 2.7); without it a small group may take a few alike parts
    for certainty. `restricted`: restricted maximum
    likelihood, which takes the loss of one degree of freedom to mu into account (exact where all readings are measured
    from clean). s is learned once 5 parts have two readings.
    """
    taught = readings.take((readings.exposure >= LEAST_EXPOSURE) & np.isfinite(readings.low))
    names, component = np.unique(taught.component, return_inverse=True)
    rows = dataclasses.replace(taught, component=component.astype(np.int64))
    if len(names) < least_components or len(rows) < least_readings:
        why = (
            f"rule of thumb kept: {len(rows)} readings on {len(names)} parts, "
            f"{least_readings} on {least_components} are needed"
        )
        return Pooled(thumb, False, False, False, math.nan, why)
    free = ["tau"]
    repeated = np.bincount(rows.component) >= 2
    if repeated.sum() >= min(_LEAST_REPEATED, least_components):
        free.append("s")
    if cycle_sd is None and _has_several_cycles(rows):
        free.append("cycle_sd")
    model = _Model(thumb, rows, len(names), cap, cycle_sd_start if cycle_sd is None else cycle_sd, nodes, steadied)
    found, top = _fit(model, free, restricted)
    prior = dataclasses.replace(
        thumb,
        mu=found["mu"],
        tau=found["tau"],
        s=found["s"],
        source="learned from our own yards",
        readings=len(rows),
        components=len(names),
        cycle_sd=found["cycle_sd"] if cycle_sd is None else thumb.cycle_sd,
    )
    why = f"learned from {len(rows)} readings on {len(names)} parts"
    return Pooled(prior, True, "s" in free, "cycle_sd" in free, top, why)


def _has_several_cycles(rows: RateReadings) -> bool:
    pairs = np.unique(np.stack((rows.component, rows.cycle)), axis=1)
    return bool((np.bincount(pairs[0]) >= 2).sum() >= _LEAST_REPEATED)


@dataclass(frozen=True, slots=True)
class _Model:
    thumb: GroupPrior
    rows: RateReadings
    components: int
    cap: float
    cycle_sd: float
    nodes: int
    steadied: float | None

    def log_likelihood(self, values: dict[str, float]) -> float:
        """Sum of the components' log evidence at `values` of mu, tau, s, cycle_sd."""
        size = self.components
        groups = RateGroups(
            np.full(size, values["mu"]),
            np.full(size, values["tau"]),
            np.full(size, values["s"]),
            np.full(size, self.cap),
        )
        spread = values["cycle_sd"]
        # Differences reach a little below the least spread that is resolved; the likelihood is flat there.
        found = posterior(
            groups, self.rows, nodes=self.nodes, cycle_sd=0.0 if spread == 0 else max(spread, LEAST_CYCLE_SD)
        )
        return math.fsum(found.log_evidence)

    def belief(self, values: dict[str, float], free: list[str]) -> float:
        """Log of the belief that mu and what is free lie near where they start; 0 without one."""
        if self.steadied is None:
            return 0.0
        start = {"tau": self.thumb.tau, "s": self.thumb.s, "cycle_sd": self.cycle_sd}
        spreads = sum((math.log(values[name] / start[name]) / self.steadied) ** 2 for name in free)
        return -0.5 * (spreads + ((values.get("mu", self.thumb.mu) - self.thumb.mu) / _MU_STEADIED) ** 2)


def _fit(model: _Model, free: list[str], restricted: bool) -> tuple[dict[str, float], float]:
    """Maximise over mu and the logs of `free`; for the restricted likelihood mu is profiled out inside."""
    fixed = {"tau": model.thumb.tau, "s": model.thumb.s, "cycle_sd": model.cycle_sd}
    low = [math.log(_LIMITS[name][0]) for name in free]
    high = [math.log(_LIMITS[name][1]) for name in free]
    start = [math.log(fixed[name]) for name in free]

    def values(logs: Floats) -> dict[str, float]:
        return {**fixed, **{name: math.exp(v) for name, v in zip(free, logs, strict=True)}}

    mu, _, _ = _best_mu(model, fixed, model.thumb.mu)
    if not restricted:
        if model.steadied is not None:
            mu = float(np.clip(mu, model.thumb.mu - 2, model.thumb.mu + 2))

        def height(x: Floats) -> float:
            here = {**values(x[1:]), "mu": float(x[0])}
            return model.log_likelihood(here) + model.belief(here, free)

        best = _climb(
            height,
            np.array([mu, *start]),
            np.array([_LIMITS["mu"][0], *low]),
            np.array([_LIMITS["mu"][1], *high]),
        )
        found = {**values(best[1:]), "mu": float(best[0])}
        return found, model.log_likelihood(found)

    def at(logs: Floats) -> tuple[float, float]:
        where, top, curvature = _best_mu(model, values(logs), mu)
        return where, top - 0.5 * math.log(curvature / (2 * math.pi))

    best = _climb(lambda x: at(x)[1] + model.belief(values(x), free), np.array(start), np.array(low), np.array(high))
    where, top = at(best)
    return {**values(best), "mu": where}, top


def _best_mu(model: _Model, values: dict[str, float], start: float) -> tuple[float, float, float]:
    """mu of highest likelihood, the likelihood there and its curvature, by Newton: the curve is nearly a parabola."""
    mu, h = start, 0.05
    for _ in range(20):
        left, here, right = (model.log_likelihood({**values, "mu": m}) for m in (mu - h, mu, mu + h))
        curvature = max(-(right - 2 * here + left) / h**2, 1e-6)
        step = float(np.clip((right - left) / (2 * h) / curvature, -1, 1))
        mu = float(np.clip(mu + step, *_LIMITS["mu"]))
        if abs(step) < 1e-7:
            return mu, here, curvature
    return mu, model.log_likelihood({**values, "mu": mu}), curvature


def _climb(value: Callable[[Floats], float], start: Floats, low: Floats, high: Floats) -> Floats:
    """Highest point of a smooth function inside a box, by Newton steps on differences, shortened until they climb."""
    x = np.clip(start, low, high)
    top = value(x)
    for _ in range(40):
        gradient, hessian = _differences(value, x, top, 3e-3)
        bent = np.linalg.eigh(hessian)
        # The size of the curvature, not its sign: uphill also where the surface is still hollow.
        step = bent.eigenvectors @ ((bent.eigenvectors.T @ gradient) / np.maximum(np.abs(bent.eigenvalues), 1e-3))
        step = step / max(1.0, float(np.max(np.abs(step))))
        for _ in range(12):
            there = np.clip(x + step, low, high)
            gained = value(there)
            if gained > top:
                break
            step = step / 3
        else:
            return x
        moved = float(np.max(np.abs(there - x)))
        x, top = there, gained
        if moved < 3e-6:
            break
    return x


def _differences(value: Callable[[Floats], float], x: Floats, here: float, h: float) -> tuple[Floats, Floats]:
    """Gradient and second derivatives by central differences."""
    size = len(x)
    unit = np.eye(size) * h
    near = np.array([[value(x + unit[i]), value(x - unit[i])] for i in range(size)])
    gradient = (near[:, 0] - near[:, 1]) / (2 * h)
    hessian = np.diag((near.sum(axis=1) - 2 * here) / h**2)
    for i in range(size):
        for j in range(i):
            both = value(x + unit[i] + unit[j]) + value(x - unit[i] - unit[j])
            mixed = (both - near[i].sum() - near[j].sum() + 2 * here) / (2 * h**2)
            hessian[i, j] = hessian[j, i] = mixed
    return gradient, hessian
