"""Exact factors and identities of the unit border."""

import doctest

import numpy as np
import pytest

from hydraulics import units


def test_doctests_hold():
    assert doctest.testmod(units).failed == 0


@pytest.mark.parametrize(
    ("value", "unit", "si"),
    [
        (1.0, "in", 0.0254),  # yard and pound agreement 1959
        (1.0, "ft", 0.3048),
        (1.0, "gal", 0.003785411784),  # NIST SP 811, appendix B (value from memory): exact
        (1.0, "ac", 4046.8564224),
        (1.0, "lb", 0.45359237),
        (1.0, "cfs", 0.028316846592),
    ],
)
def test_exact_factors(value, unit, si):
    assert units.to_si(value, unit) == pytest.approx(si, rel=1e-15)


def test_identities_of_the_trade():
    # 1 ft3/s = 448.831 gpm; 1 in/h on 1 ac = 1.00833 ft3/s; 1 in/h on 1 ft2 = 0.0103896 gpm (arithmetic)
    assert units.convert(1.0, "cfs", "gpm") == pytest.approx(448.831, abs=5e-4)
    flow = units.to_si(1.0, "in_h") * units.to_si(1.0, "ac")
    assert units.from_si(flow, "cfs") == pytest.approx(1.00833, abs=5e-6)
    flow = units.to_si(1.0, "in_h") * units.to_si(1.0, "ft2")
    assert units.from_si(flow, "gpm") == pytest.approx(0.0103896, abs=5e-8)


def test_arrays_and_round_trip():
    values = np.array([0.5, 1.0, 60.0])
    for unit in units.SI_FACTORS:
        np.testing.assert_allclose(units.from_si(units.to_si(values, unit), unit), values, rtol=1e-15)


def test_unknown_unit_is_named():
    with pytest.raises(ValueError, match="furlong"):
        units.to_si(1.0, "furlong")
