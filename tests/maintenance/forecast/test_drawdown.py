"""The pump-down test: arithmetic, verdicts, refusals and what tells faults apart (limits are common practice)."""

import math

import pytest

from maintenance.forecast.drawdown import VERDICT_WORDS, Basin, Run, Signs, flow_of, judge

SUMP = Basin(area_in2=math.pi * 9**2, standing_in2=14.5)
GPM_PER_IN_PER_S = SUMP.water_in2 / 231 * 60


def _runs(flow_gpm, *, inflow=0.0, seconds=12.0):
    drop = (flow_gpm - inflow) * seconds / GPM_PER_IN_PER_S
    return [Run(drop, seconds)] * 3


def _judge(flow_gpm, *, expected=50.0, baseline=True, inflow=0.0, seconds=12.0, signs=None):
    rise = Run(inflow * 30 / GPM_PER_IN_PER_S, 30.0) if inflow else None
    return judge(
        SUMP,
        _runs(flow_gpm, inflow=inflow, seconds=seconds),
        inflow_before=rise,
        inflow_after=rise,
        expected_gpm=expected,
        against_baseline=baseline,
        signs=signs,
    )


def test_flow_by_hand():
    # 18 in pit: pi 81 = 254.469 in2; 8 in down in 10 s: 254.469 x 8 / 231 = 8.813 gal in 10 s = 52.88 gpm
    assert flow_of(Basin(254.469), Run(8, 10)) == pytest.approx(52.88, abs=0.01)
    assert flow_of(Basin(254.469, 54.469), Run(8, 10), 3.0) == pytest.approx(200 * 8 / 231 * 6 + 3, abs=1e-9)


@pytest.mark.parametrize(
    ("share", "baseline", "verdict"),
    [
        (0.90, True, "good"),
        (0.89, True, "watch"),
        (0.80, True, "watch"),
        (0.79, True, "worn"),
        (0.85, False, "good"),
        (0.84, False, "watch"),
        (0.69, False, "worn"),
        (0.09, True, "failed"),
        (0.0, False, "failed"),
    ],
)
def test_verdicts(share, baseline, verdict):
    found = _judge(share * 50.0 + 1e-9, baseline=baseline)
    assert found.verdict == verdict
    assert found.ratio == pytest.approx(share, abs=1e-6)
    assert VERDICT_WORDS[verdict] in found.words


def test_inflow_is_added_and_too_much_refuses():
    found = _judge(48.0, inflow=10.0)
    assert (found.verdict, found.flow_gpm) == ("good", pytest.approx(48.0))
    assert found.inflow_gpm == pytest.approx(10.0)
    refused = _judge(48.0, inflow=15.1)
    assert (refused.verdict, refused.flow_gpm, refused.ratio) == ("refused", None, None)


def test_inflow_is_the_mean_of_before_and_after():
    rise = Run(6 * 30 / GPM_PER_IN_PER_S, 30.0)
    found = judge(SUMP, _runs(45.0), inflow_before=rise, inflow_after=None, expected_gpm=50, against_baseline=True)
    assert found.inflow_gpm == pytest.approx(3.0)


def test_short_runs_are_not_judged_but_long_ones_among_them_are():
    assert _judge(48.0, seconds=9.9).verdict == "too_short"
    runs = [*_runs(48.0)[:1], Run(1.0, 5.0), Run(9.0, 5.0)]
    found = judge(SUMP, runs, inflow_before=None, inflow_after=None, expected_gpm=50, against_baseline=True)
    assert found.flow_gpm == pytest.approx(48.0)


def test_the_median_of_three_runs_counts():
    runs = [_runs(48.0)[0], _runs(20.0)[0], _runs(47.0)[0]]
    found = judge(SUMP, runs, inflow_before=None, inflow_after=None, expected_gpm=50, against_baseline=True)
    assert found.flow_gpm == pytest.approx(47.0)


@pytest.mark.parametrize(
    ("share", "signs", "checks"),
    [
        (0.5, Signs(amps=9.0, plate_amps=7.0), ("jammed",)),
        (0.5, Signs(amps=4.0, plate_amps=7.0), ("blocked_or_worn",)),
        (0.5, Signs(), ()),
        (0.95, Signs(fall_back_in=2.0), ("leaks_back",)),
        (0.95, Signs(short_cycles=True), ("float",)),
        (0.5, Signs(amps=4.0, plate_amps=7.0, fall_back_in=2.0), ("blocked_or_worn", "leaks_back")),
    ],
)
def test_signs_tell_faults_apart(share, signs, checks):
    assert _judge(share * 50, signs=signs).checks == checks


def test_a_rise_while_water_runs_in_says_nothing_of_the_valve():
    assert _judge(48.0, inflow=5.0, signs=Signs(fall_back_in=2.0)).checks == ()


def test_bad_input_is_named():
    with pytest.raises(ValueError, match="no run"):
        judge(SUMP, [], inflow_before=None, inflow_after=None, expected_gpm=50, against_baseline=True)
    with pytest.raises(ValueError, match="expected flow is 0"):
        judge(SUMP, _runs(40), inflow_before=None, inflow_after=None, expected_gpm=0, against_baseline=True)
    with pytest.raises(ValueError, match="more than 0 s"):
        flow_of(SUMP, Run(1, 0))
    with pytest.raises(ValueError, match="no water"):
        flow_of(Basin(10, 10), Run(1, 10))
