"""The posterior of the rate: closed form against grid, what each kind of reading may and may not teach, limits."""

import dataclasses
import math

import numpy as np
import pytest

from maintenance.forecast.likelihood import LEAST_EXPOSURE, RateGroups, RateReadings, fill_intervals
from maintenance.forecast.records import GRADES, MEASURED
from maintenance.forecast.season import Curve, Season
from maintenance.forecast.silting import (
    TRAPPING_LIMIT,
    chance_over,
    day_at_chance,
    exposure_at_chance,
    fill_quantile,
    posterior,
)
from tests.maintenance.forecast.kit import CLIMATE, made_readings

MU, TAU, S = math.log(0.5), 0.6, 0.25


def _groups(n, cap=np.inf):
    return RateGroups(np.full(n, MU), np.full(n, TAU), np.full(n, S), np.full(n, cap))


def _readings(*rows):
    """Rows of (component, cycle, exposure, fill_left, low, high)."""
    c = [np.array(column, dtype=float) for column in zip(*rows, strict=True)]
    return RateReadings(c[0].astype(int), c[1].astype(int), c[2], c[3], c[4], c[5], np.zeros(len(rows)))


NONE = RateReadings(*(np.zeros(0, dtype=int),) * 2, *(np.zeros(0),) * 5)


def test_without_readings_the_group_speaks():
    post = posterior(_groups(3), NONE, cycle_sd=0.2)
    assert post.mean.tolist() == [MU] * 3
    assert post.sd == pytest.approx(np.full(3, math.hypot(TAU, 0.2)), abs=1e-15)
    assert post.readings.tolist() == [0, 0, 0]


def test_one_measured_reading_by_hand():
    # Normal prior and normal error in the log: precision-weighted mean, summed precisions.
    post = posterior(_groups(1), _readings((0, 0, 0.5, 0.0, 0.4, 0.4)))
    z = math.log(0.4 / 0.5)
    precision = 1 / TAU**2 + 1 / S**2
    assert post.log_quantile(0.5)[0] == pytest.approx((MU / TAU**2 + z / S**2) / precision, abs=1e-12)
    assert post.sd[0] == pytest.approx(precision**-0.5, abs=1e-12)


@pytest.mark.parametrize("cycle_sd", [0.0, 0.2, 0.6])
def test_closed_form_and_grid_agree(cycle_sd):
    groups, readings = made_readings(80, 4, graded_share=0.0, from_clean=True, cycle_sd=cycle_sd)
    exact = posterior(groups, readings, cycle_sd=cycle_sd)
    assert not exact.densities
    grid = posterior(groups, readings, nodes=200, cycle_sd=cycle_sd, closed_form=False)
    assert len(grid.densities) > 0
    assert grid.log_quantile(0.5) == pytest.approx(exact.log_quantile(0.5), abs=1e-7)
    assert grid.log_quantile(0.95) == pytest.approx(exact.log_quantile(0.95), abs=1e-6)
    assert grid.log_evidence == pytest.approx(exact.log_evidence, abs=1e-7)
    at = np.full(80, math.log(0.7))
    assert grid.chance_above(at) == pytest.approx(exact.chance_above(at), abs=1e-7)


def test_grid_alone_reaches_the_closed_median_to_1e_9_with_many_nodes():
    groups, readings = made_readings(40, 6, graded_share=0.0, from_clean=True)
    exact, grid = posterior(groups, readings), posterior(groups, readings, nodes=400, closed_form=False)
    assert grid.log_quantile(0.5) == pytest.approx(exact.log_quantile(0.5), abs=1e-9)


def test_a_part_computes_the_same_alone_as_among_others():
    groups, readings = made_readings(60, 8, cap=TRAPPING_LIMIT)
    for cycle_sd in (0.0, 0.2):
        together = posterior(groups, readings, cycle_sd=cycle_sd)
        for i in (0, 17, 59):
            mine = readings.take(readings.component == i)
            alone = posterior(
                groups.take(np.array([i])),
                dataclasses.replace(mine, component=np.zeros(len(mine), dtype=int)),
                cycle_sd=cycle_sd,
            )
            # The last bit may differ: vector units take numbers four at a time, wherever a part happens to lie.
            assert alone.log_quantile(0.5)[0] == pytest.approx(together.log_quantile(0.5)[i], abs=1e-13)
            assert alone.log_quantile(0.95)[0] == pytest.approx(together.log_quantile(0.95)[i], abs=1e-13)


def test_order_of_readings_does_not_matter():
    groups, readings = made_readings(30, 9)
    mixed = readings.take(np.random.default_rng(1).permutation(len(readings)))
    a, b = posterior(groups, readings), posterior(groups, mixed)
    assert b.log_quantile(0.5) == pytest.approx(a.log_quantile(0.5), abs=1e-12)


def test_early_readings_are_kept_but_teach_nothing():
    early = _readings((0, 0, LEAST_EXPOSURE * 0.99, 0.0, 0.5, 0.5))
    post = posterior(_groups(1), early)
    assert (post.mean[0], post.readings[0]) == (MU, 0)
    counted = posterior(_groups(1), _readings((0, 0, LEAST_EXPOSURE, 0.0, 0.5, 0.5)))
    assert counted.readings[0] == 1


def test_cycle_spread_widens_and_forgets():
    groups, readings = made_readings(40, 10, graded_share=0.0, from_clean=True)
    steady, moody = posterior(groups, readings), posterior(groups, readings, cycle_sd=0.4)
    assert np.all(moody.sd > steady.sd)
    # With one cycle only, the spread between cycles cannot be told from a wider group.
    first = readings.take(readings.cycle == 0)
    wide = RateGroups(groups.mu, np.hypot(groups.tau, 0.4), groups.s, groups.cap)
    only, same = posterior(groups, first, cycle_sd=0.4), posterior(wide, first)
    assert only.log_quantile(0.5) == pytest.approx(same.log_quantile(0.5), abs=1e-12)
    assert only.sd == pytest.approx(same.sd, abs=1e-12)


def test_each_part_may_have_its_own_cycle_spread():
    groups, readings = made_readings(20, 11)
    some = np.where(np.arange(20) % 2 == 0, 0.0, 0.3)
    mixed = posterior(groups, readings, cycle_sd=some)
    for value in (0.0, 0.3):
        one = posterior(groups, readings, cycle_sd=value)
        rows = some == value
        assert mixed.log_quantile(0.9)[rows] == pytest.approx(one.log_quantile(0.9)[rows], abs=1e-13)
        assert mixed.log_evidence[rows] == pytest.approx(one.log_evidence[rows], abs=1e-12)


def test_a_full_basin_says_only_that_it_is_fast():
    # Past the trapping limit the fill no longer grows, so E = 1 and E = 3 at 0.6 must both allow any fast rate.
    late = posterior(_groups(1, TRAPPING_LIMIT), _readings((0, 0, 3.0, 0.0, 0.6, 0.6)))
    without = posterior(_groups(1), _readings((0, 0, 3.0, 0.0, 0.6, 0.6)))
    assert late.log_quantile(0.5)[0] > without.log_quantile(0.5)[0] + 0.2
    assert late.log_quantile(0.95)[0] > without.log_quantile(0.95)[0] + 0.5


def test_overflowing_is_at_least_full():
    post = posterior(_groups(1), _readings((0, 0, 1.0, 0.0, 1.0, np.inf)))
    more = posterior(_groups(1), _readings((0, 0, 1.0, 0.0, 7 / 8, np.inf)))
    assert post.log_quantile(0.5)[0] > more.log_quantile(0.5)[0] > MU


def test_intervals_of_grades():
    grade = np.array([0, 1, 2, 3, 4, 5])
    nan = np.full(6, np.nan)
    low, high, rounding = fill_intervals(nan, nan, np.zeros(6), grade, np.zeros(6, dtype=bool))
    assert low.tolist() == [0, 1 / 8, 3 / 8, 5 / 8, 7 / 8, 1]
    assert high.tolist() == [1 / 8, 3 / 8, 5 / 8, 7 / 8, 1, math.inf]
    assert not rounding.any()
    low, high, _ = fill_intervals(nan, nan, np.zeros(6), grade, np.ones(6, dtype=bool))
    assert low.tolist() == [0, 0, 1 / 8, 3 / 8, 5 / 8, 7 / 8]
    assert high.tolist() == [3 / 8, 5 / 8, 7 / 8, 1, math.inf, math.inf]
    assert len(GRADES) == 6


def test_intervals_of_depths():
    depth, step = np.array([6.0, 0.2, 0.25, 5.0]), np.array([0.25, 0.25, 0.25, 0.5])
    height = np.array([12.0, 12.0, 12.0, np.nan])
    low, high, rounding = fill_intervals(depth, height, step, np.full(4, MEASURED), np.zeros(4, dtype=bool))
    assert (low[0], high[0]) == (0.5, 0.5)
    assert rounding[0] == pytest.approx(0.25 / math.sqrt(12) / 6)
    assert (low[1], high[1], rounding[1]) == (0, 0.25 / 12, 0)
    assert low[2] == high[2] == 0.25 / 12  # a quarter inch itself is a measured depth
    assert np.isnan(low[3])


def test_dates_follow_from_the_rate():
    groups, readings = made_readings(25, 12)
    post = posterior(groups, readings)
    curve = Curve(Season(CLIMATE), (0.6, 0.3, 0.1))
    start, left, threshold = np.full(25, 739_000.5), np.linspace(0, 0.3, 25), np.full(25, 0.5)
    for chance in (0.05, 0.2, 0.5, 0.9):
        day = day_at_chance(post, curve, start, left, threshold, chance)
        there = chance_over(post, left, curve.exposure(start, day), threshold)
        assert there == pytest.approx(np.full(25, chance), abs=1e-9)
    assert np.all(
        day_at_chance(post, curve, start, left, threshold, 0.05)
        < day_at_chance(post, curve, start, left, threshold, 0.2)
    )


def test_the_chance_has_no_reading_error_in_it():
    post = posterior(_groups(1), _readings((0, 0, 1.0, 0.0, 0.5, 0.5)))
    time, threshold = np.array([1.3]), np.array([0.5])
    by_hand = 0.5 * math.erfc((math.log(0.5 / 1.3) - post.mean[0]) / post.sd[0] / math.sqrt(2))
    assert chance_over(post, np.zeros(1), time, threshold)[0] == pytest.approx(by_hand, abs=1e-12)


def test_edges_of_the_chance():
    post = posterior(_groups(4), NONE)
    left, time = np.array([0.6, 0.5, 0.0, 0.5]), np.array([0.0, 1.0, 0.0, 0.0])
    assert chance_over(post, left, time, np.full(4, 0.5)).tolist() == [1, 1, 0, 0]
    assert exposure_at_chance(post, left, np.full(4, 0.5), 0.2)[0] == 0
    assert fill_quantile(post, np.zeros(4), np.full(4, 9.0), 0.5, TRAPPING_LIMIT).tolist() == [0.6] * 4


def test_more_silt_found_means_sooner_and_less_means_later():
    dates = []
    for fill in (0.2, 0.4, 0.8):
        post = posterior(_groups(1), _readings((0, 0, 1.0, 0.0, fill, fill)))
        dates.append(float(exposure_at_chance(post, np.zeros(1), np.full(1, 0.5), 0.2)[0]))
    assert dates == sorted(dates, reverse=True)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"nodes": 32}, "64 or more"),
        ({"cycle_sd": 0.01}, r"0\.05 to 2"),
        ({"cycle_sd": 3.0}, r"0\.05 to 2"),
    ],
)
def test_parameters_out_of_range_are_named(change, words):
    with pytest.raises(ValueError, match=words):
        posterior(_groups(1), NONE, **change)


def test_readings_out_of_range_are_named():
    with pytest.raises(ValueError, match="outside 0 to 0"):
        posterior(_groups(1), _readings((1, 0, 1, 0, 0.5, 0.5)))
    with pytest.raises(ValueError, match="above 0"):
        posterior(_groups(1), _readings((0, 0, 1, 0, 0.0, 0.0)))
    with pytest.raises(ValueError, match="low end"):
        posterior(_groups(1), _readings((0, 0, 1, 0, 0.6, 0.5)))
    with pytest.raises(ValueError, match="tau"):
        posterior(RateGroups(np.zeros(1), np.zeros(1), np.ones(1), np.ones(1)), NONE)
