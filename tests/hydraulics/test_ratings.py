"""Storm ratings: return periods, states, silt limits, many at once, real cycling beside them, sweeps."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics.basin import route
from hydraulics.network import (
    ChannelRun,
    DrainageArea,
    GravityPipe,
    Outfall,
    as_new,
    cleaned,
    pumped_basin,
    storm_rating,
    storm_ratings,
    threshold_fill,
)
from tests.hydraulics.yards import (
    constant_pump_yard,
    feet,
    gravity_yard,
    inches,
    patio_yard,
    round_area,
    square_feet,
)

SWEEP = settings(max_examples=25, deadline=None, derandomize=True)


def test_largest_return_period_that_passes():
    rating = storm_rating(patio_yard())
    assert rating.returns_years is not None
    just, over = (storm_rating(patio_yard(return_years=rating.returns_years * k)) for k in (0.995, 1.005))
    assert just.meets_target
    assert not over.meets_target
    assert storm_rating(constant_pump_yard(18, 12, 20)).beside_table == "below the table"
    small = patio_yard(areas=(DrainageArea("CH-1", square_feet(10), 0.9),))
    assert storm_rating(small).beside_table == "above the table"
    assert storm_rating(small).returns_years is None


def test_return_period_with_mixed_times_of_concentration():
    # a channel whose lateral and upstream inflows grow differently is asked anew at each return period
    run = ChannelRun("CH-1", inches(5), inches(5), feet(30), 0.011)
    yard = gravity_yard(
        GravityPipe("DS-1", inches(6), 0.02, 0.012), run, Outfall("OF-1"),
        areas=[DrainageArea("DS-1", square_feet(1900), 0.6, 15.0), DrainageArea("CH-1", square_feet(600), 0.9)],
    )  # fmt: skip
    rating = storm_rating(yard)
    assert rating.returns_years is not None
    for k, passes in ((0.995, True), (1.005, False)):
        assert storm_rating(replace(yard, return_years=rating.returns_years * k)).meets_target is passes


def test_states_as_new_today_cleaned():
    today = patio_yard(fills={"CH-1": 0.75, "GP-1": 0.3, "DS-1": 0.3}, drawdown_ratios={"PU-1": 0.6})
    new, old, clean = (storm_rating(y).multiple for y in (as_new(today), today, cleaned(today, {"CH-1", "GP-1"})))
    assert old < clean < new
    assert storm_rating(today).limiting == "CH-1"
    assert storm_rating(cleaned(today, {"CH-1", "GP-1"})).limiting == "SB-1"


def test_threshold_fill_is_where_the_component_alone_reaches_its_share():
    yard = patio_yard()
    for tag in ("CH-1", "GP-1"):
        limit = threshold_fill(yard, tag)
        for offset, carries in ((-0.002, True), (0.002, False)):
            rating = storm_rating(replace(yard, fills={tag: limit.fill + offset}))
            worst = min(check.multiple for check in rating.judgements if check.tag == tag)
            assert (worst >= 1.0) is carries
        assert threshold_fill(yard, tag, share=0.5).fill > limit.fill
    assert threshold_fill(yard, "SB-1") is None


def test_no_margin_for_silt():
    tight = patio_yard(areas=(DrainageArea("CH-1", square_feet(2500), 0.95),))
    limit = threshold_fill(tight, "CH-1")
    assert limit.fill == 0.0
    assert limit.no_margin
    assert not threshold_fill(patio_yard(), "CH-1").no_margin


def test_many_equal_one_by_one():
    rng = np.random.default_rng(11)
    yards = []
    for _ in range(30):
        yards.append(
            patio_yard(
                channel={"length_m": feet(rng.uniform(5, 60)), "slope": float(rng.choice([0.0, 0.01]))},
                basin={"area_m2": round_area(rng.uniform(15, 30))},
                areas=(
                    DrainageArea("CH-1", square_feet(rng.uniform(50, 900)), 0.9, float(rng.choice([5.0, 10.0, 15.0]))),
                    DrainageArea("DS-1", square_feet(rng.uniform(50, 900)), 0.95),
                ),
                fills={"CH-1": float(rng.uniform(0, 0.6))},
            )
        )
    yards.insert(7, patio_yard(channel={"length_m": None}))
    together = storm_ratings(yards)
    assert len(together) == 31
    assert not together[7].rated
    for yard, found in zip(yards, together, strict=True):
        alone = storm_rating(yard)
        assert alone.message == found.message
        if alone.rated:
            assert alone.multiple == pytest.approx(found.multiple, rel=1e-9)
            assert alone.beside_table == found.beside_table
            assert (alone.returns_years or 0.0) == pytest.approx(found.returns_years or 0.0, rel=1e-9)
            assert alone.limiting == found.limiting


def test_rating_lies_at_or_below_every_failure_found_by_cycling():
    # twenty random start levels below pump-on, thirty storms each: no storm the rating passes may fail by cycling
    rng = np.random.default_rng(20)
    factors = np.concatenate([np.linspace(0.85, 0.999, 10), np.linspace(1.001, 1.25, 20)])
    for yard in (constant_pump_yard(18, 12, 20), patio_yard(), patio_yard(basin={"area_m2": round_area(30)})):
        rating = next(c.multiple for c in storm_rating(yard).judgements if c.tag == "SB-1")
        sump = pumped_basin(yard, "SB-1")
        starts = rng.uniform(0.0, 1.0, 20) * float(sump.pumps[0].on_level_m)
        multiples, levels = (part.ravel() for part in np.meshgrid(rating * factors, starts))
        inflow = multiples[:, None] * sump.inflow_m3s
        found = route(inflow, sump.step_s, sump.area_m2, sump.depth_m, sump.pumps, levels)
        fails = found.peak_level_m > sump.limit_level_m + 1e-9
        assert fails.any()
        assert rating <= multiples[fails].min()
        # and it lies just below: every start level fails within a quarter more
        for start in starts:
            assert fails[levels == start].any()


basins = {
    "roof_ft2": st.floats(100, 2000),
    "patio_ft2": st.floats(50, 800),
    "diameter_in": st.floats(14, 36),
    "silt": st.floats(0.0, 0.5),
}


@SWEEP
@given(**basins)
def test_rating_is_monotonic(roof_ft2, patio_ft2, diameter_in, silt):
    def yard(roof=roof_ft2, c=0.9, diameter=diameter_in, fill=silt, lift=6.0, length=60.0, ratio=0.8, extra=()):
        areas = (DrainageArea("CH-1", square_feet(patio_ft2), c), DrainageArea("DS-1", square_feet(roof), 0.95), *extra)
        return patio_yard(
            areas=areas,
            basin={"area_m2": round_area(diameter)},
            line={"lift_above_off_m": feet(lift), "length_m": feet(length)},
            fills={"CH-1": fill, "GP-1": fill},
            drawdown_ratios={"PU-1": ratio},
        )

    base, *never_more = (
        rating.multiple
        for rating in storm_ratings(
            [
                yard(),
                yard(roof=1.1 * roof_ft2),
                yard(c=0.95),
                yard(fill=silt + 0.1),
                yard(lift=8.0),
                yard(length=90.0),
                yard(extra=(DrainageArea("DS-1", square_feet(40), 0.3, 15.0),)),
                yard(extra=(DrainageArea("SB-1", square_feet(40), 0.3, 10.0),)),
            ]
        )
    )
    more = 1.0 + 1e-9
    assert math.isfinite(base)
    assert base > 0.0
    for multiple in never_more:
        assert multiple <= base * more
    wider, stronger = (r.multiple for r in storm_ratings([yard(diameter=1.1 * diameter_in), yard(ratio=0.9)]))
    assert wider * more >= base
    assert stronger * more >= base
