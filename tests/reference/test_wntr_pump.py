"""Duty points beside EPANET, run through package wntr."""

import pytest
import wntr

from hydraulics.pump import DischargeLine, PumpCurve, duty_point
from hydraulics.units import to_si

POINTS = ((0.0, 28.0), (40.0, 18.0), (65.0, 4.0))
"""Flow gpm, head ft: a 1/2 hp pump, invented."""


def epanet_flow(points, lift_ft, length_ft, bore_in, c, minor_k):
    """Flow [m3/s] of a pump from a low to a high reservoir through one pipe."""
    model = wntr.network.WaterNetworkModel()
    options = model.options.hydraulic
    options.headloss, options.accuracy, options.trials = "H-W", 1e-8, 200
    options.inpfile_units = "LPS"
    model.options.time.duration = 0
    model.add_reservoir("low", base_head=0.0)
    model.add_junction("mid", elevation=0.0)
    model.add_reservoir("high", base_head=to_si(lift_ft, "ft"))
    model.add_curve("curve", "HEAD", [(to_si(q, "gpm"), to_si(h, "ft")) for q, h in points])
    model.add_pump("pump", "low", "mid", "HEAD", "curve")
    model.add_pipe("line", "mid", "high", to_si(length_ft, "ft"), to_si(bore_in, "in"), c, minor_k)
    return model


@pytest.mark.parametrize(
    ("lift_ft", "length_ft", "bore_in", "c", "minor_k"),
    [
        (8.0, 100.0, 1.380, 150.0, 0.0),
        (8.0, 100.0, 1.610, 150.0, 4.0),
        (12.0, 60.0, 1.610, 130.0, 2.0),
        (6.0, 200.0, 2.067, 140.0, 5.0),
        (15.0, 30.0, 2.067, 150.0, 2.0),
    ],
)
def test_duty_point_agrees_with_epanet(tmp_path, lift_ft, length_ft, bore_in, c, minor_k):
    model = epanet_flow(POINTS, lift_ft, length_ft, bore_in, c, minor_k)
    results = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(tmp_path / "run"))
    engine = float(results.link["flowrate"].loc[0, "line"])
    curve = PumpCurve([(to_si(q, "gpm"), to_si(h, "ft")) for q, h in POINTS])
    line = DischargeLine(to_si(lift_ft, "ft"), to_si(length_ft, "ft"), to_si(bore_in, "in"), c, minor_k)
    assert duty_point(curve, line).flow_m3s == pytest.approx(engine, rel=2e-4)
