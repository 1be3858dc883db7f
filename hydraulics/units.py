"""US customary and other units to SI and back: the only place of the project where the two meet.

Everything in ``hydraulics`` is SI (m, m2, m3, m3/s, s, kg). Fields of records, forms and the API carry their unit in
their name (``depth_in``, ``flow_gpm``); the unit words used there are the keys of ``SI_FACTORS``.

Source of the factors: international yard and pound agreement of 1959 (1 in = 0.0254 m, 1 lb = 0.45359237 kg, both
exact); US liquid gallon = 231 in3 (exact); survey feet are not used.
"""

from typing import Final, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

GRAVITY_M_S2: Final = 9.80665
"""Standard acceleration of gravity, 3rd CGPM 1901 [m/s2]; 32.174 ft/s2."""

INCH_M: Final = 0.0254
FOOT_M: Final = 0.3048
YARD_M: Final = 0.9144
MILE_M: Final = 1609.344
ACRE_M2: Final = 43560.0 * FOOT_M**2
GALLON_M3: Final = 231.0 * INCH_M**3
POUND_KG: Final = 0.45359237
MINUTE_S: Final = 60.0
HOUR_S: Final = 3600.0
DAY_S: Final = 86400.0

SI_FACTORS: Final[dict[str, float]] = {
    # length, to m
    "m": 1.0,
    "mm": 1e-3,
    "cm": 1e-2,
    "km": 1e3,
    "in": INCH_M,
    "ft": FOOT_M,
    "yd": YARD_M,
    "mi": MILE_M,
    # area, to m2
    "m2": 1.0,
    "in2": INCH_M**2,
    "ft2": FOOT_M**2,
    "ac": ACRE_M2,
    # volume, to m3
    "m3": 1.0,
    "l": 1e-3,
    "in3": INCH_M**3,
    "ft3": FOOT_M**3,
    "yd3": YARD_M**3,
    "gal": GALLON_M3,
    # flow, to m3/s
    "m3s": 1.0,
    "lps": 1e-3,
    "gpm": GALLON_M3 / MINUTE_S,
    "gph": GALLON_M3 / HOUR_S,
    "cfs": FOOT_M**3,
    # velocity, to m/s
    "m_s": 1.0,
    "ft_s": FOOT_M,
    # rain intensity, to m/s
    "mm_h": 1e-3 / HOUR_S,
    "in_h": INCH_M / HOUR_S,
    # time, to s
    "s": 1.0,
    "min": MINUTE_S,
    "h": HOUR_S,
    "day": DAY_S,
    # mass, to kg
    "kg": 1.0,
    "lb": POUND_KG,
    "ton": 2000.0 * POUND_KG,
    # slope, to m/m
    "m_m": 1.0,
    "pct": 1e-2,
    "in_ft": INCH_M / FOOT_M,
}
"""SI value of one unit: multiply to go to SI, divide to come back."""


def _factor(unit: str) -> float:
    try:
        return SI_FACTORS[unit]
    except KeyError:
        known = ", ".join(sorted(SI_FACTORS))
        raise ValueError(f"unit {unit!r} is not known; use one of: {known}") from None


@overload
def to_si(value: float, unit: str) -> float: ...
@overload
def to_si(value: ArrayLike, unit: str) -> FloatArray: ...
def to_si(value: ArrayLike, unit: str) -> float | FloatArray:
    """Value in ``unit`` to SI. Works on numbers and arrays; raises ValueError for a unit that is not known.

    >>> to_si(18.0, "in")
    0.4572
    >>> round(to_si(60.0, "gpm"), 8)
    0.00378541
    """
    factor = _factor(unit)
    if isinstance(value, int | float):
        return value * factor
    return np.asarray(value, dtype=np.float64) * factor


@overload
def from_si(value: float, unit: str) -> float: ...
@overload
def from_si(value: ArrayLike, unit: str) -> FloatArray: ...
def from_si(value: ArrayLike, unit: str) -> float | FloatArray:
    """SI value to ``unit``. Works on numbers and arrays; raises ValueError for a unit that is not known.

    >>> round(from_si(0.4572, "in"), 9)
    18.0
    """
    factor = _factor(unit)
    if isinstance(value, int | float):
        return value / factor
    return np.asarray(value, dtype=np.float64) / factor


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """Value in ``from_unit`` to ``to_unit``; the caller sees to it that both measure the same thing.

    >>> round(convert(1.0, "ft3", "gal"), 6)
    7.480519
    """
    return from_si(to_si(value, from_unit), to_unit)


def celsius_from_fahrenheit(value: float) -> float:
    """Temperature [degF] to [degC], exact.

    >>> celsius_from_fahrenheit(32.0)
    0.0
    """
    return (value - 32.0) * 5.0 / 9.0


def fahrenheit_from_celsius(value: float) -> float:
    """Temperature [degC] to [degF], exact.

    >>> fahrenheit_from_celsius(100.0)
    212.0
    """
    return value * 9.0 / 5.0 + 32.0


def mm_from_inches(value: float) -> float:
    """Rain depth [in] to [mm], exact.

    >>> mm_from_inches(2.0)
    50.8
    """
    return value * 25.4


def inches_from_mm(value: float) -> float:
    """Rain depth [mm] to [in], exact.

    >>> inches_from_mm(25.4)
    1.0
    """
    return value / 25.4
