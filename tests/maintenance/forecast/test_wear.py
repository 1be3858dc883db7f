"""Lives, tests and replacements: limits, simulation, and what a company with few failures is told."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from maintenance.forecast import wear
from maintenance.forecast.wear import LifePrior, WearWeights


def test_equivalent_age_adds_hours_and_starts():
    weights = WearWeights(
        calendar=0.4, run_hours_per_year=100, starts_per_year=5000, hours_weight=0.3, starts_weight=0.3
    )
    assert wear.equivalent_age(10, 1000, 50_000, weights) == pytest.approx(10)
    assert wear.equivalent_age(10, 0, 0, weights) == pytest.approx(4)
    assert wear.equivalent_age(10, 2000, 50_000, weights) == pytest.approx(13)
    with pytest.raises(ValueError, match="run_hours is -1"):
        wear.equivalent_age(1, -1, 0)


@given(
    shape=st.floats(0.6, 5), scale=st.floats(0.5, 50), age=st.floats(0, 30), span=st.floats(0, 10), more=st.floats(0, 5)
)
def test_chance_of_failure_is_a_chance_and_grows_with_the_span(shape, scale, age, span, more):
    chance = wear.chance_of_failure(age, span, shape, scale)
    assert 0 <= chance <= 1
    assert wear.chance_of_failure(age, span + more, shape, scale) >= chance
    by_survival = 1 - wear.survival(age + span, shape, scale) / max(wear.survival(age, shape, scale), 1e-300)
    if wear.survival(age, shape, scale) > 1e-200:
        assert chance == pytest.approx(by_survival, abs=1e-9)


def test_random_failures_have_no_memory():
    assert wear.chance_of_failure(0, 2, 1, 10) == pytest.approx(wear.chance_of_failure(25, 2, 1, 10), abs=1e-12)


@given(shape=st.floats(1.2, 5), scale=st.floats(1, 30), age=st.floats(0, 20), u=st.floats(0.005, 0.4))
def test_the_test_interval_gives_back_its_unavailability(shape, scale, age, u):
    span = wear.test_interval(shape, scale, age, u)
    assert wear.mean_unavailability(span, shape, scale, age) == pytest.approx(u, rel=1e-6)


def test_exponential_limit_of_the_test_interval():
    for u in (1e-4, 1e-3):
        assert wear.test_interval(1, 10, 3, u) == pytest.approx(2 * u * 10, rel=u)


def test_tests_come_closer_as_a_part_ages():
    spans = [wear.test_interval(3, 11.3, age, 0.05) for age in (0, 3, 6, 9, 12)]
    assert spans == sorted(spans, reverse=True)


def test_unavailability_between_tests_by_simulation():
    shape, scale, age, u = 2.5, 9.0, 4.0, 0.05
    span = wear.test_interval(shape, scale, age, u)
    rng = np.random.default_rng(20)
    n = 200_000
    # Lives of parts alive at `age`, by inverting the conditional survival.
    lives = scale * ((age / scale) ** shape - np.log(rng.random(n))) ** (1 / shape) - age
    down = np.clip(1 - lives / span, 0, None)
    assert down.mean() == pytest.approx(u, abs=4 * down.std() / math.sqrt(n))


def test_cost_of_age_replacement_by_simulation():
    shape, scale, planned, failure = 3.0, 11.3, 1.0, 5.0
    age = wear.replacement_age(shape, scale, planned, failure)
    rng = np.random.default_rng(21)
    n = 200_000
    lives = scale * rng.weibull(shape, n)
    cost, time = np.where(lives > age, planned, failure), np.minimum(lives, age)
    rate = cost.mean() / time.mean()
    error = np.std(cost - rate * time) / math.sqrt(n) / time.mean()
    assert wear.cost_rate(age, shape, scale, planned, failure) == pytest.approx(rate, abs=4 * error)


@given(shape=st.floats(1.1, 5), scale=st.floats(0.5, 40), ratio=st.floats(1.5, 50))
def test_no_other_age_costs_less(shape, scale, ratio):
    age = wear.replacement_age(shape, scale, 1.0, ratio)
    least = wear.cost_rate(age, shape, scale, 1.0, ratio)
    for factor in (0.5, 0.9, 1.1, 2.0):
        assert wear.cost_rate(age * factor, shape, scale, 1.0, ratio) >= least * (1 - 1e-7)


def test_failing_costs_no_more_then_run_to_failure():
    assert wear.replacement_age(3, 10, 5, 5) is None
    assert wear.replacement_age(3, 10, 5, 4) is None


def test_right_censoring_lengthens_a_life():
    ages = [3.0, 5.0, 6.0, 8.0, 9.0]
    all_failed = wear.fit_weibull(ages, [True] * 5)
    some_live = wear.fit_weibull(ages, [True, True, False, True, False])
    assert wear.mean_life(some_live.shape, some_live.scale) > wear.mean_life(all_failed.shape, all_failed.scale)
    assert (some_live.failures, some_live.survivors) == (3, 2)


def test_few_failures_move_an_assumed_life_only_a_little_and_are_not_shown():
    prior = LifePrior(3.0, 11.3)
    none = wear.fit_weibull([], [], prior)
    assert (none.shape, none.scale) == (pytest.approx(3.0), pytest.approx(11.3))
    early = wear.fit_weibull([2.0, 3.0], [True, True], prior)
    alive = wear.fit_weibull([9.0, 10.0, 12.0], [False] * 3, prior)
    assert early.scale < 11.3 < alive.scale
    assert not early.shown
    many = wear.fit_weibull(np.linspace(2, 14, 12), [True] * 12, prior)
    assert many.shown


def test_much_data_outweighs_the_prior():
    rng = np.random.default_rng(22)
    lives = 6.0 * rng.weibull(1.5, 3000)
    free, held = wear.fit_weibull(lives, lives > 0), wear.fit_weibull(lives, lives > 0, LifePrior(3.0, 11.3))
    assert held.shape == pytest.approx(free.shape, rel=0.01)
    assert held.scale == pytest.approx(free.scale, rel=0.01)


@pytest.mark.parametrize(
    ("ages", "failed"),
    [([1.0, 2.0], [False, False]), ([5.0, 5.0], [True, True]), ([1.0, 9.0], [False, True]), ([0.0, 1.0], [True, True])],
)
def test_ages_that_fix_no_life_are_refused(ages, failed):
    with pytest.raises(ValueError, match=r"prior|above 0"):
        wear.fit_weibull(ages, failed)


def test_parameters_out_of_range_are_named():
    with pytest.raises(ValueError, match="share between 0 and 1"):
        wear.test_interval(3, 10, 0, 1.0)
    with pytest.raises(ValueError, match="costs are"):
        wear.replacement_age(3, 10, 0, 5)
    with pytest.raises(ValueError, match="shape is 0"):
        wear.chance_of_failure(1, 1, 0, 10)
    with pytest.raises(ValueError, match="age is -1"):
        wear.chance_of_failure(-1, 1, 2, 10)
