"""Published tables of pipes, pumps, friction, grates. The source stands beside each check."""

import math

import numpy as np
import pytest

from hydraulics import grate, pipe
from hydraulics.basin import minimum_active_volume
from hydraulics.pump import DischargeLine, PumpCurve, duty_point
from hydraulics.units import GALLON_M3, from_si, to_si

LEAST_WALL_BORE_IN = {"1-1/4": 1.380, "1-1/2": 1.610, "2": 2.067, "3": 3.068, "4": 4.026, "6": 6.065, "8": 7.981}
"""ASTM D1785, schedule 40, bore at the least wall."""

EQUIVALENT_FT = {"90": 5.17, "45": 2.76, "swing check": 17.2}
"""2 in: Minnesota Pollution Control Agency / University of Minnesota pump selection worksheet."""


def gpm(value):
    return to_si(value, "gpm")


@pytest.mark.parametrize(
    ("size", "flows_gpm"),
    [
        ("3", (39, 55, 79, 111)),
        ("4", (81, 115, 163, 231)),
        ("6", (243, 344, 487, 689)),
        ("8", (505, 714, 1010, 1429)),
    ],
)
def test_storm_pipe_capacity(size, flows_gpm):
    # International Plumbing Code 2018 table 1106.2, slopes 1/16, 1/8, 1/4, 1/2 in/ft; Manning full, n 0.010, true bore
    slopes = np.array([1 / 16, 1 / 8, 1 / 4, 1 / 2]) / 12.0
    flows = pipe.full_flow(to_si(LEAST_WALL_BORE_IN[size], "in"), slopes, 0.010)
    np.testing.assert_allclose(from_si(flows, "gpm"), flows_gpm, rtol=0.02)


def test_smooth_and_perforated_pipe():
    # Austin DCM table 5-2 and Caltrans HDM table 851.2 give the n; flows of a 4 in pipe at 1 % computed
    for n, flow, velocity in ((0.011, 100.9, 2.58), (0.020, 55.5, 1.42)):
        full = pipe.partly_full(to_si(4.0, "in"), to_si(4.0, "in"), 0.01, n)
        assert from_si(full.flow_m3s, "gpm") == pytest.approx(flow, abs=0.06)
        assert from_si(full.velocity_m_s, "ft_s") == pytest.approx(velocity, abs=0.006)


def test_circular_section_facts():
    # Chow 1959 figure 6-5, constant n (value from memory)
    depths = np.linspace(0.01, 1.0, 991)
    part = pipe.partly_full(1.0, depths, 0.01, 0.013)
    full = pipe.partly_full(1.0, 1.0, 0.01, 0.013)
    flow, velocity = part.flow_m3s / full.flow_m3s, part.velocity_m_s / full.velocity_m_s
    assert flow.max() == pytest.approx(1.0757, abs=1e-3)
    assert depths[flow.argmax()] == pytest.approx(0.938, abs=1.5e-3)
    assert velocity.max() == pytest.approx(1.140, abs=1e-3)
    assert depths[velocity.argmax()] == pytest.approx(0.813, abs=3e-3)
    for depth, share in ((0.25, 0.1370), (0.5, 0.5), (0.75, 0.9119), (0.8, 0.9775)):
        assert np.interp(depth, depths, flow) == pytest.approx(share, abs=1e-3)


@pytest.mark.parametrize(
    ("size", "flow", "feet_per_100_ft"),
    [
        ("1-1/4", 20, 5.23),
        ("1-1/2", 20, 2.46),
        ("1-1/2", 30, 5.22),
        ("2", 20, 0.74),
        ("2", 30, 1.54),
        ("2", 40, 2.62),
        ("2", 50, 3.98),
        ("3", 60, 0.81),
        ("3", 100, 2.09),
    ],
)
def test_friction_loss_table(size, flow, feet_per_100_ft):
    # Illinois Administrative Code title 77 part 906 appendix A exhibit I, schedule 40 plastic, C 150
    line = DischargeLine(0.0, to_si(100.0, "ft"), to_si(LEAST_WALL_BORE_IN[size], "in"), 150.0)
    assert from_si(line.head(gpm(float(flow))), "ft") == pytest.approx(feet_per_100_ft, rel=0.02)


@pytest.mark.parametrize(("size", "flow", "feet"), [("2", 40, 2.723), ("1-1/2", 20, 2.624), ("1-1/4", 20, 5.482)])
def test_hazen_williams_beside_colebrook(size, flow, feet):
    # Colebrook-White, roughness 5e-6 ft, 60 degF, computed: Hazen-Williams at C 150 lies within 3 to 6 % of it
    line = DischargeLine(0.0, to_si(100.0, "ft"), to_si(LEAST_WALL_BORE_IN[size], "in"), 150.0)
    assert from_si(line.head(gpm(float(flow))), "ft") == pytest.approx(feet, rel=0.07)


def test_equivalent_lengths_are_length_over_bore():
    # same worksheet; Crane TP-410 ratios 30, 16, 100
    bore_ft = LEAST_WALL_BORE_IN["2"] / 12.0
    for name, ratio in (("90", 30), ("45", 16), ("swing check", 100)):
        assert EQUIVALENT_FT[name] == pytest.approx(ratio * bore_ft, rel=0.006)


def test_check_valve_loss():
    # Crane TP-410 A-26 ff.: swing check K = 100 f_T = 1.89 at 2 in; 40 gpm is 3.824 ft/s, V2/2g 0.2273 ft, loss 0.43 ft
    bore = to_si(2.067, "in")
    line = DischargeLine(0.0, 0.0, bore, minor_k=1.89)
    assert from_si(line.head(gpm(40.0)), "ft") == pytest.approx(0.43, abs=0.005)


def test_velocity_identity():
    # V = 0.4085 Q / d^2 (identity): 40 gpm in 2.067 in gives 3.824 ft/s
    curve = PumpCurve([(0.0, 10.0), (gpm(40.0), 6.0), (gpm(60.0), 1.0)])
    point = duty_point(curve, DischargeLine(6.0, 0.0, to_si(2.067, "in")))
    assert from_si(point.flow_m3s, "gpm") == pytest.approx(40.0, rel=1e-9)
    assert from_si(point.velocity_m_s, "ft_s") == pytest.approx(3.824, abs=1e-3)


def test_slow_line_is_flagged():
    # 9VAC25-790-440: at least 2 ft/s; 20 gpm in 2 in runs at 1.91 ft/s
    curve = PumpCurve([(0.0, 10.0), (gpm(20.0), 6.0), (gpm(30.0), 1.0)])
    assert duty_point(curve, DischargeLine(6.0, 0.0, to_si(2.067, "in"))).velocity_flag == "slow"
    assert duty_point(curve, DischargeLine(6.0, 0.0, to_si(1.380, "in"))).velocity_flag == ""
    assert duty_point(curve, DischargeLine(6.0, 0.0, to_si(0.9, "in"))).velocity_flag == "fast"


def quadratic_pump():
    """H = 25 - 0.006 Q^2 (ft, gpm)."""
    flows = (0.0, 30.0, 60.0)
    return PumpCurve([(gpm(q), to_si(25.0 - 0.006 * q * q, "ft")) for q in flows])


def test_duty_point_in_closed_form():
    # H = 25 - 0.006 Q^2 against 8 + 0.002 Q^2: Q = (17/0.008)^0.5 = 46.098 gpm at 12.25 ft (algebra)
    bore = to_si(2.067, "in")
    area = 0.25 * math.pi * bore**2
    minor_k = to_si(0.002, "ft") / gpm(1.0) ** 2 * 2 * 9.80665 * area**2
    point = duty_point(quadratic_pump(), DischargeLine(to_si(8.0, "ft"), 0.0, bore, minor_k=minor_k))
    assert from_si(point.flow_m3s, "gpm") == pytest.approx(math.sqrt(17 / 0.008), rel=1e-6)
    assert from_si(point.head_m, "ft") == pytest.approx(16.5 - 4.25, rel=1e-6)


def test_duty_point_with_friction():
    # Illinois table formula and worksheet fittings, 60 ft of 2 in, 90 90 45 swing check: 47.757 gpm, 4.566 ft/s.
    # That formula's friction is 0.4 % above the one used here, which moves the head (11.316 ft) by 0.11 %.
    length = 60.0 + 2 * EQUIVALENT_FT["90"] + EQUIVALENT_FT["45"] + EQUIVALENT_FT["swing check"]
    assert length == pytest.approx(90.30)
    point = duty_point(quadratic_pump(), DischargeLine(to_si(8.0, "ft"), to_si(length, "ft"), to_si(2.067, "in")))
    assert from_si(point.flow_m3s, "gpm") == pytest.approx(47.757, rel=1e-3)
    assert from_si(point.velocity_m_s, "ft_s") == pytest.approx(4.566, rel=1e-3)
    assert from_si(point.head_m, "ft") == pytest.approx(11.316, rel=2e-3)


def test_grate_as_weir_and_orifice():
    # TxDOT Hydraulic Design Manual chapter 10 section 6, eq. 10-30 and 10-31; 4 ft of perimeter, 0.5 ft2 open; computed
    depths = to_si([0.5, 1.0, 2.0, 3.0], "in")
    weir = from_si(grate.weir_intake(depths, to_si(4.0, "ft")), "gpm")
    np.testing.assert_allclose(weir, [45.8, 129.6, 366.5, 673.2], atol=0.06)
    orifice = from_si(grate.orifice_intake(depths[1:], to_si(0.5, "ft2")), "gpm")
    np.testing.assert_allclose(orifice, [348.2, 492.4, 603.1], atol=0.15)
    # half clogged at 1 in: 64.8 gpm; the two cross at 0.2239 ft
    half = grate.intake(depths[1], to_si(4.0, "ft"), to_si(0.5, "ft2"), clogged=0.5)
    assert from_si(half, "gpm") == pytest.approx(64.8, abs=0.05)
    crossing = to_si(0.2239, "ft")
    assert grate.weir_intake(crossing, to_si(4.0, "ft")) == pytest.approx(
        float(grate.orifice_intake(crossing, to_si(0.5, "ft2"))), rel=1e-3
    )


def test_grate_in_a_sag_orifice():
    # Fair, Geyer and Okun, Water and Wastewater Engineering, 2010, p. 493: 0.0283 m3/s at 0.055 m, C 0.60: 0.045 m2
    per_area = float(grate.orifice_intake(0.055, 1.0, coefficient=0.60))
    assert 0.0283 / per_area == pytest.approx(0.045, rel=0.01)


def test_grate_in_a_sag_half_clogged():
    # FHWA HEC-22, 3rd edition, section 4.4.5 (value from memory): 6.71 ft3/s at 0.44 ft needs 7.66 ft of perimeter
    per_foot = float(grate.weir_intake(to_si(0.44, "ft"), to_si(1.0, "ft")))
    assert to_si(6.71, "cfs") / per_foot == pytest.approx(7.66, abs=0.01)
    # a 2 x 4 ft grate against the kerb, blocked along half its length, keeps 6 of 8 ft but half its area
    perimeter = grate.open_perimeter(4.0, 2.0, long_sides_on_wall=1)
    assert perimeter == 8.0
    flow = grate.intake(0.05, perimeter, 10.0, 0.5, clogged_perimeter=0.25)
    assert flow == pytest.approx(float(grate.weir_intake(0.05, 6.0)))


def test_basin_active_volume():
    # US Army EI 11C201 / UFC 3-240-04A (1997) section 7, V = t q / 4
    for gallons_per_minute, minutes, gallons in ((50, 10, 125), (40, 4, 40), (30, 6, 45)):
        volume = minimum_active_volume(gpm(float(gallons_per_minute)), 60.0 * minutes)
        assert volume / GALLON_M3 == pytest.approx(gallons, rel=1e-12)


def test_pump_rate_from_a_drawdown():
    # operator-training arithmetic ("Time for math 33", 2019): 10 ft pit, 6 in in 2 min: 146.8 gpm;
    # 15 x 12 ft, 3 ft in 30 min: 134.64 gpm
    pit = math.pi / 4 * to_si(10.0, "ft") ** 2 * to_si(6.0, "in") / 120.0
    assert from_si(pit, "gpm") == pytest.approx(146.8, rel=1e-3)
    assert from_si(to_si(15.0 * 12.0, "ft2") * to_si(3.0, "ft") / 1800.0, "gpm") == pytest.approx(134.64, rel=1e-3)


def test_basin_volume_per_inch():
    # University of Illinois Extension: 18 in about 1 gal an inch, 24 in about 2; exact 1.1016, 1.9584
    for diameter, gallons in ((18.0, 1.1016), (24.0, 1.9584), (30.0, 3.060)):
        volume = math.pi / 4 * to_si(diameter, "in") ** 2 * to_si(1.0, "in")
        assert from_si(volume, "gal") == pytest.approx(gallons, abs=1e-4)
