"""Storm rating of systems: what reaches what, what limits, what is missing, sweeps, real cycling beside it."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydraulics import channel, pipe
from hydraulics.basin import route
from hydraulics.network import (
    CatchBasin,
    ChannelRun,
    CleanOut,
    Connection,
    DischargePipe,
    DrainageArea,
    DryWell,
    Grate,
    GravityPipe,
    Outfall,
    Pump,
    SumpBasin,
    System,
    as_new,
    cleaned,
    flows,
    pumped_basin,
    storm_rating,
    storm_ratings,
    threshold_fill,
)
from hydraulics.pump import duty_point
from hydraulics.units import to_si
from tests.hydraulics.yards import (
    HALF_HORSE,
    RAIN,
    constant_pump_yard,
    feet,
    inches,
    patio_yard,
    round_area,
    square_feet,
)

SWEEP = settings(max_examples=25, deadline=None, derandomize=True)


def rational(area_ft2, c, minutes=5.0):
    return c * square_feet(area_ft2) * RAIN.intensity(minutes, 10.0) / 3.6e6


def links(*pairs):
    return tuple(Connection(*pair) for pair in pairs)


def with_more(yard, parts, *pairs):
    """The yard with more parts and connections."""
    return replace(yard, components=(*yard.components, *parts), connections=(*yard.connections, *links(*pairs)))


def gravity_yard(*parts, areas, **more):
    """Parts in a row, each feeding the next."""
    connections = tuple(Connection(a.tag, b.tag) for a, b in pairwise(parts))
    return System(components=parts, connections=connections, areas=tuple(areas), rain=RAIN, **more)


def test_gravity_pipe_by_hand():
    yard = gravity_yard(
        GravityPipe("GP-1", inches(4), 0.01, 0.012),
        Outfall("OF-1"),
        areas=[DrainageArea("GP-1", square_feet(1000), 0.9)],
    )
    rating = storm_rating(yard)
    expected = pipe.full_flow(inches(4), 0.01, 0.012) / rational(1000, 0.9)
    assert rating.multiple == pytest.approx(expected, rel=1e-12)
    assert rating.limiting == "GP-1"
    assert rating.limiting_what == "running full"
    assert rating.rain_10min_mm_h == pytest.approx(expected * RAIN.intensity(10, 10), rel=1e-12)
    assert flows(yard)["GP-1"] == pytest.approx(rational(1000, 0.9), rel=1e-12)


def test_areas_are_summed_each_at_its_own_time_of_concentration():
    yard = gravity_yard(
        GravityPipe("DS-1", inches(4), 0.02, 0.012, kind="downspout leader"),
        CleanOut("CO-1"),
        GravityPipe("GP-1", inches(4), 0.01, 0.012),
        DryWell("DW-1"),
        areas=[DrainageArea("DS-1", square_feet(800), 0.95), DrainageArea("GP-1", square_feet(2000), 0.2, 15.0)],
    )
    peaks = flows(yard)
    assert peaks["DS-1"] == pytest.approx(rational(800, 0.95), rel=1e-12)
    assert peaks["GP-1"] == pytest.approx(rational(800, 0.95) + rational(2000, 0.2, 15.0), rel=1e-12)


def test_channel_with_grate_and_piped_end():
    run = ChannelRun(
        "CH-1", inches(4), inches(4), feet(20), 0.011, ends=("closed", "piped"), outlet_diameter_m=inches(3),
        grate=Grate(feet(40), square_feet(2.0)),
    )  # fmt: skip
    yard = gravity_yard(run, Outfall("OF-1"), areas=[DrainageArea("CH-1", square_feet(500), 0.9)])
    rating = storm_rating(yard)
    asked = rational(500, 0.9)
    by_what = {check.what: check.multiple for check in rating.judgements}
    assert by_what["its outlet"] == pytest.approx(channel.outlet_flow(inches(3), inches(4)) / asked, rel=1e-9)
    assert by_what["full to the rim"] == pytest.approx(
        channel.capacity(inches(4), inches(4), feet(20), 0.011) / asked, rel=1e-6
    )
    assert rating.multiple == min(by_what.values())
    blocked = storm_rating(replace(yard, blocked={"CH-1": 0.99}))
    assert blocked.limiting_what == "its grate"
    assert blocked.multiple < rating.multiple


def test_channel_open_at_both_ends_sends_half_each_way():
    run = ChannelRun("CH-1", inches(4), inches(4), feet(40), 0.011, ends=("open", "open"))
    left, right = GravityPipe("GP-1", inches(4), 0.01, 0.012), GravityPipe("GP-2", inches(4), 0.01, 0.012)
    yard = System(
        (run, left, right, Outfall("OF-1"), Outfall("OF-2")),
        (
            Connection("CH-1", "GP-1"),
            Connection("CH-1", "GP-2"),
            Connection("GP-1", "OF-1"),
            Connection("GP-2", "OF-2"),
        ),
        (DrainageArea("CH-1", square_feet(600), 0.9),),
        RAIN,
    )
    peaks = flows(yard)
    assert peaks["GP-1"] == peaks["GP-2"] == pytest.approx(0.5 * peaks["CH-1"])
    rim = next(check for check in storm_rating(yard).judgements if check.what == "full to the rim")
    both = channel.capacity(inches(4), inches(4), feet(40), 0.011, free_ends=2)
    assert rim.capacity_m3s == pytest.approx(both, rel=1e-6)


def test_pipe_to_a_pop_up_loses_fall():
    parts = (GravityPipe("GP-1", inches(4), 0.01, 0.012, feet(50)), Outfall("OF-1"))
    areas = [DrainageArea("GP-1", square_feet(1000), 0.9)]
    free = storm_rating(gravity_yard(*parts, areas=areas))
    held = storm_rating(gravity_yard(parts[0], Outfall("OF-1", opening_head_m=inches(2)), areas=areas))
    # 50 ft at 1 % fall 6 in; 2 in of them open the pop-up: the flow goes with the root of 4/6
    assert held.multiple / free.multiple == pytest.approx(math.sqrt(4 / 6), rel=1e-9)
    curb = storm_rating(gravity_yard(parts[0], Outfall("OF-1", tailwater_m=inches(7)), areas=areas))
    assert curb.multiple == 0.0


def test_pumped_basin_keeps_the_areas_and_sends_its_pumps_flow():
    base = patio_yard()
    base = replace(base, connections=tuple(c for c in base.connections if c.target != "OF-1"))
    yard = with_more(base, [GravityPipe("GP-9", inches(4), 0.02, 0.012)], ("DL-1", "GP-9"), ("GP-9", "OF-1"))
    yard = replace(yard, areas=(*base.areas, DrainageArea("GP-9", square_feet(100), 0.9)))
    check = next(c for c in storm_rating(yard).judgements if c.tag == "GP-9")
    pumped = check.reaches_m3s - rational(100, 0.9)
    sump = pumped_basin(yard, "SB-1")
    at_limit = np.interp(inches(18), sump.pumps[0].flow_m3s.levels_m, sump.pumps[0].flow_m3s.flows_m3s)
    assert pumped == pytest.approx(at_limit, rel=1e-9)
    assert check.multiple == pytest.approx((check.capacity_m3s - pumped) / rational(100, 0.9), rel=1e-9)


def test_backup_alone_and_without_power():
    base = patio_yard()
    weak = Pump("PU-2", "SB-1", None, to_si(15.0, "gpm"), powered_by="battery")
    yard = with_more(base, [weak], ("PU-2", "OF-1"))
    mains, battery, none = (storm_rating(yard, power).multiple for power in ("mains", "battery", "none"))
    assert mains == pytest.approx(storm_rating(base).multiple, rel=1e-9)
    assert none < battery < mains
    # without any pump the storm's volume has to fit between pump-on and the limit
    sump = pumped_basin(yard, "SB-1")
    volume = sump.inflow_m3s.sum() * sump.step_s
    assert none == pytest.approx(round_area(18) * inches(6) / volume, rel=1e-6)


def test_two_pumps_on_one_line_and_on_two():
    base = patio_yard(areas=(DrainageArea("DS-1", square_feet(1900), 0.95),))
    second = Pump("PU-2", "SB-1", HALF_HORSE, on_level_m=inches(14), off_level_m=inches(7))
    own_line = DischargePipe("DL-2", feet(60), inches(1.61), feet(6))
    shared = with_more(base, [second], ("PU-2", "CV-1"))
    separate = with_more(base, [second, own_line], ("PU-2", "DL-2"), ("DL-2", "OF-1"))
    levels = {}
    for name, yard in (("one", base), ("shared", shared), ("separate", separate)):
        levels[name] = next(c.multiple for c in storm_rating(yard).judgements if c.tag == "SB-1")
    assert levels["one"] < levels["shared"] < levels["separate"]


def test_duty_of_a_pump_line_for_the_pump_page():
    sump = pumped_basin(patio_yard(drawdown_ratios={"PU-1": 0.8}), "SB-1")
    (line,) = sump.lines
    # midway between on 12 in and off 6 in the lift from the off level, 6 ft, is 3 in less
    assert line.level_m == pytest.approx(inches(9))
    assert line.line.static_lift_m == pytest.approx(feet(6) - inches(3))
    assert line.duty.flow_m3s == pytest.approx(duty_point(HALF_HORSE, line.line).flow_m3s)
    assert line.flow_m3s == pytest.approx(0.8 * line.duty.flow_m3s, rel=1e-4)
    assert line.duty.velocity_flag == ""
    assert sump.pump_tags == line.pump_tags == ("PU-1",)
    constant = pumped_basin(constant_pump_yard(18, 12, 20), "SB-1").lines[0]
    assert constant.duty is None
    assert constant.flow_m3s == pytest.approx(to_si(55.0, "gpm"))


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"channel": {"length_m": None}}, "not rated: needs CH-1 length"),
        ({"pump": {"curve": None}}, "not rated: needs PU-1 pump curve"),
        (
            {"line": {"diameter_m": None, "lift_above_off_m": None}},
            "not rated: needs DL-1 diameter, DL-1 lift above off",
        ),
        ({"basin": {"on_level_m": None}}, "not rated: needs SB-1 on level"),
        ({"areas": ()}, "not rated: no drainage area is known"),
        (
            {"basin": {"off_level_m": 0.29}},
            "not rated: PU-1 must switch on at least 1 in (25.4 mm) above where it switches off",
        ),
        ({"basin": {"on_level_m": 0.7}}, "not rated: PU-1 must switch on below the rim of SB-1"),
        ({"areas": (DrainageArea("CH-1", None, 0.9),)}, "not rated: needs CH-1 drainage area"),
        ({"channel": {"grate": Grate(None, 0.1)}}, "not rated: needs CH-1 grate perimeter"),
        ({"return_years": 500.0}, "not rated: the rain table goes from 2 to 100 years; the target is 500"),
    ],
)
def test_what_is_unknown_is_named(change, message):
    rating = storm_rating(patio_yard(**change))
    assert not rating.rated
    assert rating.message == message
    assert flows(patio_yard(**change)) == {}


def test_dimensions_of_parts_without_water_are_not_asked_for():
    base = patio_yard()
    dry = GravityPipe("GP-7", None, None, None)
    assert storm_rating(replace(base, components=(*base.components, dry))).rated


@pytest.mark.parametrize(
    ("connections", "words"),
    [
        ((Connection("CH-1", "GP-1"),), "needs GP-1 connection onward"),
        ((Connection("CH-1", "GP-1"), Connection("GP-1", "CH-1")), "round in a ring"),
        ((Connection("CH-1", "GP-1"), Connection("GP-1", "XX-1")), "names XX-1"),
        ((Connection("CH-1", "GP-1"), Connection("CH-1", "OF-1"), Connection("GP-1", "OF-1")), "2 ways out"),
    ],
)
def test_faults_of_the_graph_are_named(connections, words):
    parts = (ChannelRun("CH-1", 0.1, 0.1, 6.0, 0.011), GravityPipe("GP-1", 0.1, 0.01, 0.012), Outfall("OF-1"))
    rating = storm_rating(System(parts, connections, (DrainageArea("CH-1", 40.0, 0.9),), RAIN))
    assert not rating.rated
    assert words in rating.message


def test_overflow_connections_never_count():
    base = patio_yard()
    overflow = Connection("GP-1", "OF-1", overflow=True)
    assert storm_rating(replace(base, connections=(*base.connections, overflow))) == storm_rating(base)


def test_impossible_channels_are_named():
    sloped = patio_yard(channel={"ends": ("open", "open"), "slope": 0.01})
    assert "must be level" in storm_rating(sloped).message
    shut = patio_yard(channel={"ends": ("closed", "closed")})
    assert "closed at both ends" in storm_rating(shut).message


def test_numbers_out_of_range_raise():
    with pytest.raises(ValueError, match="fill of CH-1 is 1"):
        storm_rating(patio_yard(fills={"CH-1": 1.2}))
    with pytest.raises(ValueError, match="channel width is 40 m"):
        storm_rating(patio_yard(channel={"width_m": 40.0}))


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


def test_catch_basin_is_judged_by_its_grate():
    yard = gravity_yard(
        CatchBasin("CB-1", Grate(feet(4), square_feet(0.5), inches(3))),
        GravityPipe("GP-1", inches(6), 0.02, 0.012),
        Outfall("OF-1"),
        areas=[DrainageArea("CB-1", square_feet(2000), 0.3, 10.0)],
    )
    checks = {check.tag: check for check in storm_rating(yard).judgements}
    assert checks["CB-1"].what == "its grate"
    # 12 x 12 in grate at 3 in: the orifice governs, 603.1 gpm (TxDOT eq. 10-31, computed)
    assert checks["CB-1"].capacity_m3s == pytest.approx(to_si(603.1, "gpm"), rel=1e-3)


def test_basin_without_a_pump_is_named():
    yard = gravity_yard(
        GravityPipe("GP-1", inches(4), 0.01, 0.012),
        SumpBasin("SB-1", 0.2, 0.6, 0.3, 0.1),
        areas=[DrainageArea("GP-1", square_feet(100), 0.9)],
    )
    assert storm_rating(yard).message == "not rated: needs SB-1 pump"
