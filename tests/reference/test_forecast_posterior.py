"""The posterior against scipy's adaptive quadrature and against importance sampling, every mixture of readings."""

import itertools
import math

import numpy as np
import pytest
from scipy import integrate, interpolate, special, stats

from maintenance.forecast.season import Curve, Season
from maintenance.forecast.silting import TRAPPING_LIMIT, exposure_at_chance, posterior
from tests.maintenance.forecast.kit import CLIMATE, made_readings

PARTS = 24
MIXTURES = {
    "measured": {"graded_share": 0.0, "from_clean": True},
    "measured, silt left": {"graded_share": 0.0},
    "graded": {"graded_share": 1.0},
    "both": {},
    "both, trapping limit": {"cap": TRAPPING_LIMIT},
    "graded, trapping limit": {"cap": TRAPPING_LIMIT, "graded_share": 1.0},
}
THRESHOLD = 0.5


def log_likelihood_of(rows, s, cap, x):
    """Log likelihood of one part's readings at log rate x, by scipy's normal functions."""
    fill = np.minimum(rows.fill_left + rows.exposure * math.exp(x), cap)
    spread = np.hypot(s, rows.rounding)
    point = rows.low == rows.high
    total = 0.0
    if point.any():
        total += stats.norm.logpdf(np.log(rows.low[point]), np.log(fill[point]), spread[point]).sum()
    with np.errstate(divide="ignore"):
        a = (np.log(rows.low[~point]) - np.log(fill[~point])) / spread[~point]
        b = (np.log(rows.high[~point]) - np.log(fill[~point])) / spread[~point]
    mirrored = a + b > 0
    a, b = np.where(mirrored, -b, a), np.where(mirrored, -a, b)
    left, right = special.log_ndtr(a), special.log_ndtr(b)
    return total + float(np.sum(right + np.log1p(-np.exp(left - right))))


class Truth:
    """One part's posterior by scipy alone: log density, and integrals of it with breaks at the trapping limit."""

    def __init__(self, groups, readings, part):
        rows = readings.take((readings.component == part) & (readings.exposure >= 0.02))
        self.rows, self.s, self.cap = rows, float(groups.s[part]), float(groups.cap[part])
        self.prior = stats.norm(groups.mu[part], groups.tau[part])
        bends = np.log((self.cap - rows.fill_left) / rows.exposure) if np.isfinite(self.cap) else np.array([])
        grid = np.linspace(self.prior.mean() - 6, self.prior.mean() + 6, 601)
        values = np.array([self._log(x) for x in grid])
        self.top = values.max()
        near = grid[values > self.top - 45]
        self.low, self.high = near[0] - 0.02, near[-1] + 0.02
        self.breaks = sorted({*bends[(bends > self.low) & (bends < self.high)].tolist(), float(grid[values.argmax()])})
        self.total = self._integral(self.low, self.high)

    def _log(self, x):
        return self.prior.logpdf(x) + log_likelihood_of(self.rows, self.s, self.cap, x)

    def density(self, x):
        return math.exp(self._log(x) - self.top)

    def _integral(self, a, b):
        edges = [a, *[x for x in self.breaks if a < x < b], b]
        parts = [
            integrate.quad(self.density, u, v, epsabs=1e-13, epsrel=1e-11, limit=200)[0]
            for u, v in itertools.pairwise(edges)
        ]
        return math.fsum(parts)

    def below(self, x):
        if x <= self.low:
            return 0.0
        return self._integral(self.low, min(x, self.high)) / self.total

    def near(self, p, guess):
        """The p-quantile, one Newton step from a guess that must be near: its error is the step squared."""
        return guess - (self.below(guess) - p) / (self.density(guess) / self.total)


@pytest.fixture(scope="module", params=MIXTURES, ids=lambda name: name.replace(", ", "_").replace(" ", "_"))
def case(request):
    groups, readings = made_readings(PARTS, 31, **MIXTURES[request.param])
    some = [part for part in range(PARTS) if np.any(readings.component == part)][:8]
    return groups, readings, [(part, Truth(groups, readings, part)) for part in some]


def test_median_chance_and_date_at_200_nodes(case):
    groups, readings, truths = case
    post = posterior(groups, readings, nodes=200)
    curve = Curve(Season(CLIMATE), (0.6, 0.3, 0.1))
    start, left, level = np.full(PARTS, 739_000.0), np.zeros(PARTS), np.full(PARTS, THRESHOLD)
    chance = post.chance_above(np.full(PARTS, math.log(0.7)))
    median = post.log_quantile(0.5)
    days = curve.day_reached(start, exposure_at_chance(post, left, level, 0.2))
    for part, truth in truths:
        assert median[part] == pytest.approx(truth.near(0.5, median[part]), abs=1e-5)
        assert chance[part] == pytest.approx(1 - truth.below(math.log(0.7)), abs=1e-6)
        rate = math.exp(truth.near(0.8, float(post.log_quantile(0.8)[part])))
        assert days[part] == pytest.approx(float(curve.day_reached(739_000.0, THRESHOLD / rate)), abs=0.01)


def test_median_at_64_nodes(case):
    groups, readings, truths = case
    median = posterior(groups, readings, nodes=64).log_quantile(0.5)
    for part, truth in truths:
        assert median[part] == pytest.approx(truth.near(0.5, median[part]), abs=1e-4)


def test_evidence(case):
    groups, readings, truths = case
    evidence = posterior(groups, readings, nodes=200).log_evidence
    for part, truth in truths:
        assert evidence[part] == pytest.approx(math.log(truth.total) + truth.top, abs=1e-7)


def test_closed_form_to_1e_9():
    groups, readings = made_readings(PARTS, 33, graded_share=0.0, from_clean=True)
    post = posterior(groups, readings)
    assert not post.densities
    for part in range(6):
        r = readings.take((readings.component == part) & (readings.exposure >= 0.02))
        # Regression of the logs on a constant with known errors, prior as one observation more.
        weight = np.append(1 / (0.25**2 + r.rounding**2), 1 / 0.6**2)
        value = np.append(np.log(r.low / r.exposure), math.log(0.5))
        assert post.log_quantile(0.5)[part] == pytest.approx(np.average(value, weights=weight), abs=1e-9)


@pytest.mark.parametrize("cycle_sd", [0.0, 0.3])
@pytest.mark.parametrize("cap", [np.inf, TRAPPING_LIMIT])
def test_importance_sampling_agrees(cycle_sd, cap):
    groups, readings = made_readings(10, 35, cap=cap, cycle_sd=cycle_sd)
    post = posterior(groups, readings, cycle_sd=cycle_sd)
    chance, median = post.chance_above(np.full(10, math.log(0.6))), post.log_quantile(0.5)
    rng = np.random.default_rng(36)
    n = 200_000
    for part in range(10):
        rows = readings.take((readings.component == part) & (readings.exposure >= 0.02))
        own = groups.mu[part] + groups.tau[part] * rng.normal(size=n)
        by_cycle = {c: own + cycle_sd * rng.normal(size=n) for c in {0, *rows.cycle.tolist()}}
        log_weight = np.zeros(n)
        for k in range(len(rows)):
            fill = np.minimum(rows.fill_left[k] + rows.exposure[k] * np.exp(by_cycle[int(rows.cycle[k])]), cap)
            spread = math.hypot(0.25, rows.rounding[k])
            if rows.low[k] == rows.high[k]:
                log_weight += stats.norm.logpdf(math.log(rows.low[k]), np.log(fill), spread)
            else:
                ends = [-np.inf if v == 0 else math.log(v) for v in (rows.low[k], rows.high[k])]
                a, b = ((end - np.log(fill)) / spread for end in ends)
                # From the upper tail where both ends lie in it, so that nothing cancels.
                upper = a > 0
                inside = np.where(upper, stats.norm.sf(a) - stats.norm.sf(b), stats.norm.cdf(b) - stats.norm.cdf(a))
                log_weight += np.log(np.maximum(inside, 1e-300))
        weight = np.exp(log_weight - log_weight.max())
        weight /= weight.sum()
        for level, expected in ((math.log(0.6), chance[part]), (median[part], 0.5)):
            above = by_cycle[0] > level
            found = float(np.sum(weight * above))
            error = math.sqrt(float(np.sum(weight**2 * (above - found) ** 2)))
            assert expected == pytest.approx(found, abs=4 * error + 1e-6)


@pytest.mark.parametrize(("cap", "tolerance"), [(np.inf, 1e-6), (TRAPPING_LIMIT, 1e-5)])
def test_spread_between_cycles_against_a_dense_double_integral(cap, tolerance):
    cycle_sd = 0.25
    groups, readings = made_readings(5, 37, cap=cap, cycle_sd=cycle_sd)
    post = posterior(groups, readings, nodes=200, cycle_sd=cycle_sd)
    median, chance = post.log_quantile(0.5), post.chance_above(np.full(5, math.log(0.7)))
    x = np.linspace(math.log(0.5) - 5, math.log(0.5) + 5, 2401)
    kernel = stats.norm.pdf(x[:, None] - x[None, :], scale=cycle_sd)
    for part in range(5):
        rows = readings.take((readings.component == part) & (readings.exposure >= 0.02))
        own = stats.norm.pdf(x, groups.mu[part], groups.tau[part])
        now = np.ones_like(x)
        for cycle in set(rows.cycle.tolist()):
            one = rows.take(rows.cycle == cycle)
            log = np.array([log_likelihood_of(one, float(groups.s[part]), cap, v) for v in x])
            seen = np.exp(log - log.max())
            if cycle == 0:
                now = seen
            else:
                own = own * (kernel @ seen)
        below = integrate.cumulative_simpson((kernel @ own) * now, x=x, initial=0)
        truth = interpolate.CubicSpline(x, below / below[-1])
        # Where the likelihood bends the dense grid itself is good only to about its step squared.
        assert truth(median[part]) == pytest.approx(0.5, abs=tolerance)
        assert chance[part] == pytest.approx(1 - truth(math.log(0.7)), abs=tolerance)
