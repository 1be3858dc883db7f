"""The posterior of each component's log silting rate, given its group and its own readings.

Model: log R ~ Normal(mu, tau) for the component; in each cycle between cleanings log r = log R + cycle_sd
x Normal(0, 1); readings as in `likelihood`. What comes out is log r of the cycle under way, in closed form where
everything is normal, else on panels of nodes (`rate_grid`).
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Final

import numpy as np

from maintenance.forecast.likelihood import LEAST_EXPOSURE, RateGroups, RateReadings, cycle_starts
from maintenance.forecast.normal import cdf, quantile
from maintenance.forecast.panels import PanelDensity
from maintenance.forecast.rate_grid import on_grid
from maintenance.forecast.records import Floats, Ints

LEAST_CYCLE_SD: Final = 0.05
"""Smallest cycle_sd above 0 that the nested grid resolves; a smaller one would hardly change a forecast."""


@dataclass(frozen=True, eq=False, slots=True)
class RatePosterior:
    """log r of n components. `mean`, `sd`: where the posterior is normal, else NaN; `densities`: the rest.

    `log_evidence`: log of each component's marginal likelihood, measured fills as densities of their logarithm.
    `readings`, `cycles`: how many readings taught something, and from how many different cycles.
    """

    mean: Floats
    sd: Floats
    densities: tuple[PanelDensity, ...]
    log_evidence: Floats
    readings: Ints
    cycles: Ints

    def __len__(self) -> int:
        return len(self.mean)

    def take(self, parts: Ints) -> RatePosterior:
        """Posterior of some components in the order asked for; one may be asked for more than once."""
        densities = []
        for density in self.densities:
            row_of = np.full(len(self), -1)
            row_of[density.component] = np.arange(len(density.component))
            rows = row_of[parts]
            here = np.flatnonzero(rows >= 0)
            if len(here):
                at = rows[here]
                densities.append(PanelDensity(here, density.edges[at], density.values[at], density.below[at]))
        return RatePosterior(
            self.mean[parts],
            self.sd[parts],
            tuple(densities),
            self.log_evidence[parts],
            self.readings[parts],
            self.cycles[parts],
        )

    def log_quantile(self, p: Floats | float) -> Floats:
        """log r with P(log r <= it) = p, shape (n,); `p` one for all or one per component, 0 < p < 1."""
        wanted = np.broadcast_to(np.asarray(p, dtype=float), self.mean.shape)
        levels, which = np.unique(wanted, return_inverse=True)
        result = self.mean + self.sd * np.array([quantile(float(v)) for v in levels])[which.reshape(-1)]
        for density in self.densities:
            result[density.component] = density.quantile(wanted[density.component])
        return result

    def quantile(self, p: Floats | float) -> Floats:
        """Rate r [fill per mean year] with P(r <= it) = p, shape (n,)."""
        return np.exp(self.log_quantile(p))

    def chance_above(self, log_rate: Floats) -> Floats:
        """P(log r > log_rate), one value per component; -inf gives 1, inf gives 0."""
        result = np.zeros(len(self))
        normal = np.isfinite(self.mean)
        there = np.clip(log_rate, -1e6, 1e6)
        result[normal] = cdf((self.mean[normal] - there[normal]) / self.sd[normal])
        for density in self.densities:
            result[density.component] = 1 - density.chance_below(there[density.component])
        return result


def posterior(
    groups: RateGroups,
    readings: RateReadings,
    *,
    nodes: int = 64,
    cycle_sd: float | Floats = 0.0,
    closed_form: bool = True,
) -> RatePosterior:
    """Posterior of log r for every component of `groups`.

    `nodes`: nodes of the fine pass, 64 or more, rounded up to whole panels of 8 (more are used where `cycle_sd` asks
    for them). `cycle_sd`: one for all or one per component. `closed_form` False puts every component with readings on
    the grid, to check one against the other.
    Raises ValueError for parameters out of range or readings of components that are not there.
    """
    values, which = np.unique(np.broadcast_to(np.asarray(cycle_sd, dtype=float), (len(groups),)), return_inverse=True)
    if len(values) > 1:
        some = [np.flatnonzero(which.reshape(-1) == k) for k in range(len(values))]
        options = [float(value) for value in values]
        parts = [_of_some(groups, readings, s, nodes, v, closed_form) for s, v in zip(some, options, strict=True)]
        return _joined(some, parts)
    one = float(values[0]) if len(values) else 0.0
    _check(groups, readings, nodes, one)
    return _posterior(groups, readings, nodes, one, closed_form)


def _posterior(
    groups: RateGroups, readings: RateReadings, nodes: int, cycle_sd: float, closed_form: bool
) -> RatePosterior:
    taught = readings.take((readings.exposure >= LEAST_EXPOSURE) & np.isfinite(readings.low))
    rows = taught.take(np.lexsort((taught.cycle, taught.component)))
    n = len(groups)
    count = np.bincount(rows.component, minlength=n)
    normal = (rows.low == rows.high) & (rows.fill_left == 0) & np.isinf(groups.cap[rows.component])
    gridded = np.bincount(rows.component, weights=~normal if closed_form else None, minlength=n) > 0
    mean, sd, evidence = _closed_form(groups, rows.take(~gridded[rows.component]), cycle_sd)
    mean[gridded] = sd[gridded] = np.nan
    densities = on_grid(groups, rows, np.flatnonzero(gridded), evidence, nodes, cycle_sd)
    return RatePosterior(mean, sd, tuple(densities), evidence, count, _different_cycles(rows, n))


def _of_some(
    groups: RateGroups, readings: RateReadings, some: Ints, nodes: int, cycle_sd: float, closed_form: bool
) -> RatePosterior:
    mine = readings.take(np.isin(readings.component, some))
    local = dataclasses.replace(mine, component=np.searchsorted(some, mine.component))
    return posterior(groups.take(some), local, nodes=nodes, cycle_sd=cycle_sd, closed_form=closed_form)


def _joined(some: list[Ints], parts: list[RatePosterior]) -> RatePosterior:
    """Posteriors of different components put back in the order of all."""
    order = np.argsort(np.concatenate(some))
    columns = [
        np.concatenate([getattr(part, name) for part in parts])[order]
        for name in ("mean", "sd", "log_evidence", "readings", "cycles")
    ]
    densities = tuple(
        dataclasses.replace(density, component=rows[density.component])
        for rows, part in zip(some, parts, strict=True)
        for density in part.densities
    )
    return RatePosterior(columns[0], columns[1], densities, columns[2], columns[3], columns[4])


def _check(groups: RateGroups, readings: RateReadings, nodes: int, cycle_sd: float) -> None:
    if nodes < 64:
        raise ValueError(f"nodes is {nodes}: give 64 or more")
    if cycle_sd != 0 and not LEAST_CYCLE_SD <= cycle_sd <= 2:
        raise ValueError(f"cycle_sd is {cycle_sd}: give 0, or {LEAST_CYCLE_SD} to 2")
    if not (np.all(groups.tau > 0) and np.all(groups.s > 0) and np.all(np.isfinite(groups.mu))):
        raise ValueError("each group needs a finite mu, and tau and s above 0")
    if len(readings) and not (readings.component.min() >= 0 and readings.component.max() < len(groups)):
        raise ValueError(f"a reading names a component outside 0 to {len(groups) - 1}")
    if np.any(readings.fill_left < 0) or np.any(readings.low > readings.high):
        raise ValueError("fill left must be 0 or more, and each interval's low end at most its high end")
    if np.any((readings.low == readings.high) & (readings.low <= 0)):
        raise ValueError("a measured fill must be above 0; give shallow depths as an interval from 0")


def _different_cycles(rows: RateReadings, n: int) -> Ints:
    """Number of different cycles among each component's readings; rows are sorted."""
    if not len(rows):
        return np.zeros(n, dtype=np.int64)
    return np.bincount(rows.component[cycle_starts(rows)], minlength=n)


def _closed_form(groups: RateGroups, rows: RateReadings, cycle_sd: float) -> tuple[Floats, Floats, Floats]:
    """Mean, sd of log r and log evidence where every reading is measured from clean; the prior where there is none."""
    n = len(groups)
    mean, variance, evidence = groups.mu.copy(), groups.tau**2, np.zeros(n)
    if not len(rows):
        return mean, np.sqrt(variance + cycle_sd**2), evidence
    starts = cycle_starts(rows)
    component, past = rows.component[starts], rows.cycle[starts] > 0
    v = groups.s[rows.component] ** 2 + rows.rounding**2
    z = np.log(rows.low / rows.exposure)
    precision = np.add.reduceat(1 / v, starts)
    cycle_mean = np.add.reduceat(z / v, starts) / precision
    within = np.add.reduceat(-0.5 * np.log(2 * np.pi * v) - 0.5 * z * z / v, starts)
    within += 0.5 * cycle_mean**2 * precision + 0.5 * np.log(2 * np.pi / precision)
    spread = 1 / precision + cycle_sd**2
    evidence += np.bincount(component, weights=within, minlength=n)
    # Past cycles first: they speak of the component; then the cycle under way, one more step from it.
    for take in (past, ~past):
        c, m, v_c = component[take], cycle_mean[take], spread[take]
        if not past[take].all():
            variance = variance + cycle_sd**2
            v_c = 1 / precision[take]
        gain = np.bincount(c, weights=1 / v_c, minlength=n)
        pull = np.bincount(c, weights=m / v_c, minlength=n)
        total = 1 / variance + gain
        new = (mean / variance + pull) / total
        evidence += np.bincount(c, weights=-0.5 * np.log(2 * np.pi * v_c) - 0.5 * m * m / v_c, minlength=n)
        evidence += -0.5 * np.log(variance * total) - 0.5 * mean**2 / variance + 0.5 * new**2 * total
        mean, variance = new, 1 / total
    if past.all():
        variance = variance + cycle_sd**2
    return mean, np.sqrt(variance), evidence
