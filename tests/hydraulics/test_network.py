"""Storm rating of systems: what reaches what, what limits, what is missing."""

import math
from dataclasses import replace

import numpy as np
import pytest

from hydraulics import channel, pipe
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
    flows,
    pumped_basin,
    storm_rating,
)
from hydraulics.pump import duty_point
from hydraulics.units import to_si
from tests.hydraulics.yards import (
    HALF_HORSE,
    RAIN,
    constant_pump_yard,
    feet,
    gravity_yard,
    inches,
    patio_yard,
    round_area,
    square_feet,
    with_more,
)


def rational(area_ft2, c, minutes=5.0):
    return c * square_feet(area_ft2) * RAIN.intensity(minutes, 10.0) / 3.6e6


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
