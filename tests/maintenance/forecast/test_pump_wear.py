"""Pace of a pump's ageing from rain and from its own tests, and lives learned from failures and survivors."""

import numpy as np
import pytest

from maintenance.forecast import life_learning as learning
from maintenance.forecast.life_learning import LifeSeen, learn_lives
from maintenance.forecast.pump_wear import FASTEST, FlowSeen, pace, pace_by_rain, pace_by_test
from maintenance.forecast.records import WearNumbers
from maintenance.forecast.watched_life import fit_watched
from maintenance.forecast.wear import LifePrior, WearWeights, scale_of_median

ASSUMED = {"pump": WearNumbers("replace", 10.0, 3.0), "float": WearNumbers("replace", 7.0, 2.0)}


def test_a_mean_years_hours_and_starts_are_one_year_and_weights_are_the_companys():
    assert pace_by_rain(200.0, 6000.0) == pytest.approx(1.0)
    assert pace_by_rain(0.0, 0.0) == pytest.approx(0.5)
    # By hand: 0.2 + 0.8 x 300 / 100.
    assert pace_by_rain(300.0, 9.0, WearWeights(0.2, 100.0, 1.0, 0.8, 0.0)) == pytest.approx(2.6)


@pytest.mark.parametrize("ratio", [1.3, 1.0, 0.9])
def test_a_pump_that_moves_nine_tenths_shows_no_wear(ratio):
    assert pace_by_test(FlowSeen(ratio, 5.0), 10.0) is None


def test_a_pump_ages_faster_the_less_it_moves_and_is_used_up_where_it_counts_as_worn():
    found = [pace_by_test(FlowSeen(ratio, 5.0), 10.0) for ratio in (0.89, 0.85, 0.8, 0.5)]
    assert found == sorted(found)
    assert found[2] == found[3] == pytest.approx(2.0)  # ten years of median life used in five
    assert pace_by_test(FlowSeen(0.5, 0.51), 10.0) == FASTEST
    assert pace_by_test(FlowSeen(0.5, 0.4), 10.0) is None, "so soon after hand-over it is a fault, not wear"


def test_a_test_never_makes_a_pump_younger():
    assert pace(None, None) == 1.0
    assert pace(0.6, None) == 0.6
    assert pace(1.4, 0.8) == 1.4
    assert pace(0.6, 1.5) == 1.5


def lives(failures: int, survivors: int, at: float = 5.0, kind: str = "pump") -> list[LifeSeen]:
    failed = [LifeSeen(kind, at * (0.8 + 0.4 * k / max(failures - 1, 1)), True) for k in range(failures)]
    return failed + [LifeSeen(kind, at, False) for _ in range(survivors)]


def test_under_ten_failures_the_assumed_life_and_the_count_are_told():
    pump, switch = sorted(learn_lives(lives(9, 30), ASSUMED), key=lambda life: life.kind, reverse=True)
    assert (pump.failures, pump.survivors, pump.learned) == (9, 30, False)
    assert (pump.shape, pump.scale_years) == (3.0, pytest.approx(scale_of_median(10.0, 3.0)))
    assert pump.why == "assumed life kept: 9 failures, 10 are needed"
    assert (switch.kind, switch.failures, switch.learned) == ("float", 0, False)


def test_from_ten_failures_on_they_speak_and_survivors_lengthen_the_life():
    (few,) = learn_lives(lives(10, 5), {"pump": ASSUMED["pump"]})
    (many,) = learn_lives(lives(10, 200), {"pump": ASSUMED["pump"]})
    assert few.learned
    assert few.why == "from 10 failures and 5 still sound or taken out sound"
    assert few.scale_years < scale_of_median(10.0, 3.0)
    assert few.scale_years < many.scale_years


def test_parts_watched_only_lately_do_not_flatter_the_life():
    """Old parts that came on record late can only have failed since: simulated, the true life comes back."""
    rng = np.random.default_rng(7)
    life = 10 * rng.weibull(2.5, 6000)
    entered = rng.uniform(0, 15, len(life))
    there = life > entered
    life, entered = life[there], entered[there]
    end = entered + rng.uniform(1, 4, len(life))
    flat = LifePrior(3.0, 10.0, 1e3, 1e3)
    fair = fit_watched(np.minimum(life, end), life <= end, entered, flat)
    blind = fit_watched(np.minimum(life, end), life <= end, np.zeros(len(life)), flat)
    assert fair.shape == pytest.approx(2.5, rel=0.08)
    assert fair.scale == pytest.approx(10.0, rel=0.03)
    assert blind.scale > 11, "without the truncation survivors flatter the life: the check above proves something"


@pytest.mark.parametrize("entered", [-1.0, 5.0])
def test_a_part_is_watched_from_before_its_end(entered):
    with pytest.raises(ValueError, match="watched"):
        fit_watched([5.0], [True], [entered], LifePrior(3.0, 10.0))


def test_a_part_that_failed_on_its_first_day_counts():
    seen = [*lives(10, 3), LifeSeen("pump", 0.0001, True)]
    (life,) = learn_lives(seen, {"pump": ASSUMED["pump"]})
    assert life.failures == 11
    assert life.scale_years > learning.LEAST_AGE_YEARS
