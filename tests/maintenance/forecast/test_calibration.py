"""The quick version of benchmarks.forecast_calibration: one small company, its own generator, the same replay.

The full run, on seeds from the commit id, writes docs/calibration.md.
"""

import math

import numpy as np
import pytest

from benchmarks.forecast_calibration import seeds_of
from benchmarks.forecast_company import company
from benchmarks.forecast_fixed import at_equal, best_mixtures, by_interval
from benchmarks.forecast_plot import plot
from benchmarks.forecast_replay import CHANCES, replay

PARTS, DAYS, STEP = 60, 4 * 365, 21


@pytest.fixture(scope="module")
def replayed():
    """Groups lie at their rules of thumb, as if learned already: learning them takes too long here."""
    yards = company(20_240, PARTS, groups_off=0.0)
    return yards, replay(yards, pooled=False, days=DAYS, step_days=STEP)


@pytest.mark.parametrize("chance", CHANCES)
def test_chances_hold_within_five_points(replayed, chance):
    _, tally = replayed
    hits = tally.hits[chance]
    # Forecasts of one part share its rate, so they count for fewer: 60 parts stand behind them, not hundreds.
    error = math.sqrt(chance * (1 - chance) / PARTS)
    assert len(hits) > 200
    assert np.mean(hits) == pytest.approx(chance, abs=0.05 + 2 * error)


def test_far_chances_are_told_from_near_ones(replayed):
    _, tally = replayed
    table = np.array(tally.horizon, dtype=float)
    low, high = table[table[:, 0] < 0.1], table[table[:, 0] > 0.9]
    assert len(low) > 30
    assert len(high) > 30
    assert low[:, 1].mean() < 0.2
    assert high[:, 1].mean() > 0.8


def test_less_waste_than_the_best_fixed_interval_with_as_many_visits(replayed):
    yards, tally = replayed
    _, wasted, _, _ = at_equal(best_mixtures(by_interval(yards, DAYS)), tally.visits, tally.days_over)
    assert tally.wasted < wasted


def test_the_same_seed_gives_the_same_company_and_history():
    first, second = (replay(company(7, 12), pooled=False, days=400, step_days=30) for _ in range(2))
    assert first == second


def test_seeds_come_from_the_commit_id():
    # SHA-256 of "abc" begins ba7816bf 8f01cfea (FIPS 180-4, example B.1).
    assert seeds_of("abc", 2) == [0xBA7816BF, 0x8F01CFEA]
    assert len(set(seeds_of("0" * 40, 5))) == 5


def test_the_plot_is_plain_svg():
    text = plot([(0.05, 0.06, 100), (0.95, 0.9, 50)], [(0.2, 0.22, 70)])
    assert text.startswith("<svg ")
    assert text.count("<circle") == 2
    assert "70 came" in text
    assert "style=" not in text
