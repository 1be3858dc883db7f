"""Pooling: thin groups keep the rule of thumb and say so; thick ones find what made their readings."""

import math

import numpy as np
import pytest

from maintenance.forecast.priors import CANOPIES, group_prior, rule_of_thumb
from maintenance.forecast.records import GroupPrior
from maintenance.forecast.silting import RateReadings, pool
from tests.maintenance.forecast.kit import made_readings

THUMB = rule_of_thumb("catch_basin", "some")


def test_a_thin_group_keeps_its_rule_of_thumb_and_says_so():
    _, readings = made_readings(5, 1)
    found = pool(THUMB, readings)
    assert not found.learned
    assert found.prior == THUMB
    assert "rule of thumb kept" in found.why
    assert "5 parts" in found.why


def test_readings_that_teach_nothing_do_not_thicken_a_group():
    _, readings = made_readings(60, 2)
    early = readings.take(np.arange(len(readings)))
    early.exposure[:] = 0.01
    assert not pool(THUMB, early).learned


@pytest.mark.parametrize("cap", [math.inf, 0.6])
def test_a_thick_group_finds_what_made_its_readings(cap):
    made = {"mu": math.log(0.9), "tau": 0.4, "s": 0.2}
    _, readings = made_readings(120, 3, cap=cap, **made)
    found = pool(THUMB, readings, cap=cap)
    assert found.learned
    assert found.s_learned
    # 120 parts: a standard error of tau / sqrt(120) = 0.037 and a little for the readings; 3 of them allowed
    assert found.prior.mu == pytest.approx(made["mu"], abs=0.15)
    assert found.prior.tau == pytest.approx(made["tau"], abs=0.1)
    assert found.prior.s == pytest.approx(made["s"], abs=0.05)
    assert found.prior.readings == len(readings)
    assert found.prior.source == "learned from our own yards"


def test_the_spread_between_cycles_is_learned_too_if_asked():
    _, readings = made_readings(150, 4, graded_share=0.0, from_clean=True, cycle_sd=0.5, tau=0.3)
    found = pool(THUMB, readings, cycle_sd=None)
    assert found.cycle_sd_learned
    assert found.prior.cycle_sd == pytest.approx(0.5, abs=0.1)
    assert found.prior.tau == pytest.approx(0.3, abs=0.12)


def test_s_stays_where_no_part_was_read_twice():
    _, readings = made_readings(120, 5)
    once = readings.take(np.unique(readings.component, return_index=True)[1])
    found = pool(THUMB, once)
    assert found.learned
    assert not found.s_learned
    assert found.prior.s == THUMB.s


def test_every_rule_of_thumb_has_a_source_and_a_proper_load():
    for kind in ("catch_basin", "channel_run", "gravity_pipe", "french_drain", "sump_basin", "dry_well"):
        rates = []
        for canopy in CANOPIES:
            prior = rule_of_thumb(kind, canopy)
            assert prior.source.startswith("assumption")
            assert sum(prior.load) == pytest.approx(1)
            assert prior.load[2] >= 0.05
            rates.append(prior.mu)
        assert rates == sorted(rates), "trees never lower a rule of thumb"


def test_a_learned_group_takes_the_place_of_its_rule_of_thumb():
    own = GroupPrior("catch_basin/some", 0.1, 0.3, 0.2, (0.6, 0.3, 0.1), "learned from our own yards", 50, 12)
    assert group_prior("catch_basin/some", [own]) is own
    assert group_prior("catch_basin/heavy", [own]) == rule_of_thumb("catch_basin", "heavy")


def test_basins_all_found_past_their_trapping_limit_do_not_run_away():
    """They only say "fast": without a belief in the rule of thumb the mean climbs without end."""
    thumb = rule_of_thumb("catch_basin", "some")
    n = 12
    high = np.full(n * 2, 0.7)
    rows = RateReadings(
        np.repeat(np.arange(n), 2),
        np.tile([2, 1], n),
        np.full(2 * n, 0.4),
        np.zeros(2 * n),
        high,
        high,
        np.zeros(2 * n),
    )
    free = pool(thumb, rows, cap=0.6)
    steadied = pool(thumb, rows, cap=0.6, cycle_sd=None, steadied=0.3)
    assert free.prior.mu > thumb.mu + 3
    assert thumb.mu < steadied.prior.mu < thumb.mu + 3
