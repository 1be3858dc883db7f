"""The storm rating against its own definition, worked by hand, and facts of the trade. Sources beside each check."""

import numpy as np
import pytest

from hydraulics.network import as_new, storm_rating
from hydraulics.units import to_si
from tests.hydraulics.yards import (
    RAIN,
    TEN_YEAR_IN,
    constant_pump_yard,
    inches,
    patio_yard,
    round_area,
    square_feet,
)


@pytest.mark.parametrize(("diameter", "on", "limit", "share"), [(18, 12, 20, 0.5269), (24, 14, 20, 0.5324)])
def test_rating_of_a_constant_pump(diameter, on, limit, share):
    # computed by independent code: 10-year depths .60 .95 1.20 1.75 2.27 2.8 3.1 3.8 4.6 5.5 in at 5 to 1440 min,
    # C A 1,440 ft2, 5 min, pump a constant 55 gpm
    rating = storm_rating(constant_pump_yard(diameter, on, limit))
    assert rating.multiple == pytest.approx(share, abs=1e-3)
    assert rating.limiting == "SB-1"
    # the steady reading, pump flow over peak inflow, would give 0.5106: the basin's room counts
    peak = square_feet(1440) * TEN_YEAR_IN[0] * 0.0254 / 300.0
    assert to_si(55.0, "gpm") / peak == pytest.approx(0.5106, abs=1e-4)
    assert rating.multiple > 0.5106


@pytest.mark.parametrize(("diameter", "on", "limit"), [(18, 12, 20), (24, 14, 20), (30, 10, 24)])
def test_rating_in_closed_form(diameter, on, limit):
    # with a constant pump the worst span of the nested storm decides: m = min over k of (q t_k + A (limit - on)) / V_k,
    # V_k the runoff of the deepest k blocks, which is the table's depth (algebra)
    q, room = to_si(55.0, "gpm"), round_area(diameter) * inches(limit - on)
    spans = 300.0 * np.arange(1, 289)
    runoff = square_feet(1440) * np.asarray(RAIN.depth(spans / 60.0, 10.0)) / 1000.0
    assert storm_rating(constant_pump_yard(diameter, on, limit)).multiple == pytest.approx(
        np.min((q * spans + room) / runoff), rel=1e-9
    )


def test_twenty_inches_beat_any_yard_and_two_inches_none_that_meets_its_target():
    # trade sanity (common practice, no source): told as rain of the day in the shape of the rating storm
    day_in = TEN_YEAR_IN[-1]
    for yard in (patio_yard(), constant_pump_yard(18, 12, 20), constant_pump_yard(30, 10, 24, gpm=110)):
        rating = storm_rating(as_new(yard))
        assert rating.multiple * day_in < 20.0
        if rating.meets_target:
            assert rating.multiple * day_in > 2.0
    assert storm_rating(patio_yard()).meets_target
