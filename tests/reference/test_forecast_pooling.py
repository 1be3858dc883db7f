"""Pooling against statsmodels' mixed models on exact readings and against direct quadrature on graded ones."""

import math
import warnings

import numpy as np
import pytest
from scipy import integrate, stats
from statsmodels.regression.mixed_linear_model import MixedLM

from maintenance.forecast.likelihood import RateReadings
from maintenance.forecast.priors import rule_of_thumb
from maintenance.forecast.silting import pool
from tests.maintenance.forecast.kit import made_readings
from tests.reference.test_forecast_posterior import log_likelihood_of

THUMB = rule_of_thumb("catch_basin", "some")


def _exact(seed, parts=40):
    rng = np.random.default_rng(seed)
    part = np.repeat(np.arange(parts), rng.integers(1, 7, parts))
    size = len(part)
    time = rng.uniform(0.2, 2, size)
    log_rate = (math.log(0.4) + 0.5 * rng.normal(size=parts))[part] + 0.3 * rng.normal(size=size)
    fill = np.exp(log_rate) * time
    none = np.zeros(size)
    return log_rate, part, RateReadings(part, none.astype(int), time, none, fill, fill, none)


@pytest.mark.parametrize("restricted", [False, True])
@pytest.mark.parametrize("seed", [5, 6, 7])
def test_exact_readings_as_a_mixed_model(seed, restricted):
    log_rate, part, readings = _exact(seed)
    found = pool(THUMB, readings, restricted=restricted).prior
    with warnings.catch_warnings():
        # statsmodels warns that its optimiser's keywords changed; the fit is not touched by it.
        warnings.simplefilter("ignore", FutureWarning)
        fit = MixedLM(log_rate, np.ones(len(part)), part).fit(reml=restricted, method=["bfgs", "powell"])
    assert found.mu == pytest.approx(fit.fe_params[0], abs=1e-4)
    assert found.tau == pytest.approx(math.sqrt(fit.cov_re[0, 0]), abs=1e-4)
    assert found.s == pytest.approx(math.sqrt(fit.scale), abs=1e-4)


def test_the_likelihood_of_exact_readings_is_the_mixed_models():
    log_rate, part, readings = _exact(8)
    found = pool(THUMB, readings)
    model = MixedLM(log_rate, np.ones(len(part)), part)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FutureWarning)
        fit = model.fit(reml=False, method=["bfgs", "powell"])
    assert found.log_likelihood == pytest.approx(fit.llf, abs=1e-5)


def _direct(readings, mu, tau, s, cap):
    """Log marginal likelihood of all parts by scipy's quadrature, one integral a part."""
    total = 0.0
    for part in np.unique(readings.component):
        rows = readings.take((readings.component == part) & (readings.exposure >= 0.02))
        if not len(rows):
            continue
        x = np.linspace(mu - 7 * tau, mu + 7 * tau, 201)
        log = np.array([log_likelihood_of(rows, s, cap, v) + stats.norm.logpdf(v, mu, tau) for v in x])
        peak, top = x[log.argmax()], log.max()
        kinks = np.log((cap - rows.fill_left) / rows.exposure) if np.isfinite(cap) else np.array([])
        breaks = sorted({peak, *kinks[(kinks > x[0]) & (kinks < x[-1])].tolist()})
        value, _ = integrate.quad(
            lambda v, rows=rows, top=top: math.exp(
                log_likelihood_of(rows, s, cap, v) + stats.norm.logpdf(v, mu, tau) - top
            ),
            x[0],
            x[-1],
            points=breaks,
            limit=200,
            epsrel=1e-10,
        )
        total += math.log(value) + top
    return total


@pytest.mark.parametrize("cap", [math.inf, 0.6])
def test_graded_readings_against_direct_quadrature(cap):
    _, readings = made_readings(12, 41, cap=cap)
    found = pool(THUMB, readings, cap=cap, nodes=200)
    at = (found.prior.mu, found.prior.tau, found.prior.s)
    best = _direct(readings, *at, cap)
    assert found.log_likelihood == pytest.approx(best, abs=1e-6)
    # And it is the top: a parabola through the direct likelihood at points beside it peaks where it was found.
    h = 0.02
    for name, step in (("mu", h), ("tau", h), ("s", h)):
        ends = []
        for sign in (-1, 1):
            moved = {"mu": found.prior.mu, "tau": found.prior.tau, "s": found.prior.s}
            moved[name] = moved[name] + sign * step if name == "mu" else moved[name] * math.exp(sign * step)
            ends.append(_direct(readings, *moved.values(), cap))
        peak = step / 2 * (ends[1] - ends[0]) / (2 * best - ends[0] - ends[1])
        assert peak == pytest.approx(0, abs=1e-3)
