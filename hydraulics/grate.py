"""Grates in a low spot: what they take in at a ponding depth.

Weir over the open perimeter, orifice through the clear openings; the smaller governs.
Source: FHWA HEC-22 (2009) eq. 4-26 and 4-27; TxDOT Hydraulic Design Manual chapter 10 section 6, eq. 10-30 and 10-31.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from hydraulics.limits import scalar_or_array, within
from hydraulics.units import FOOT_M, GRAVITY_M_S2, INCH_M, FloatArray

WEIR_COEFFICIENT: Final = 3.0 * FOOT_M**0.5
"""3.0 ft^0.5/s = 1.656 m^0.5/s (TxDOT eq. 10-30)."""

ORIFICE_COEFFICIENT: Final = 0.67
"""TxDOT eq. 10-31, HEC-22 eq. 4-27. Fair, Geyer and Okun (2010) use 0.60."""

PATIO_PONDING_M: Final = 1.0 * INCH_M
LAWN_PONDING_M: Final = 3.0 * INCH_M
"""Allowed ponding over a grate: assumptions."""


def weir_intake(depth_m: ArrayLike, perimeter_m: ArrayLike) -> FloatArray:
    """Q = 1.656 P h^1.5 [m3/s]: depth_m 0 to 1 [m], perimeter_m 0 to 1000 [m]. Source: TxDOT eq. 10-30.

    >>> round(float(weir_intake(0.25, 1.0)), 3)
    0.207
    """
    depth = within("ponding depth", depth_m, 0.0, 1.0, "m")
    return np.asarray(WEIR_COEFFICIENT * within("grate perimeter", perimeter_m, 0.0, 1000.0, "m") * depth**1.5)


def orifice_intake(depth_m: ArrayLike, open_area_m2: ArrayLike, coefficient: float = ORIFICE_COEFFICIENT) -> FloatArray:
    """Q = C A (2 g h)^0.5 [m3/s]: depth_m 0 to 1 [m], open_area_m2 0 to 100 [m2]. Source: TxDOT eq. 10-31.

    >>> round(float(orifice_intake(0.1, 0.01)), 6)
    0.009383
    """
    depth = within("ponding depth", depth_m, 0.0, 1.0, "m")
    area = within("open area of the grate", open_area_m2, 0.0, 100.0, "m2")
    return np.asarray(coefficient * area * np.sqrt(2.0 * GRAVITY_M_S2 * depth))


def intake(
    depth_m: ArrayLike,
    perimeter_m: ArrayLike,
    open_area_m2: ArrayLike,
    clogged: ArrayLike = 0.0,
    *,
    clogged_perimeter: ArrayLike | None = None,
) -> float | FloatArray:
    """What a grate takes in at ``depth_m`` of water over it [m3/s].

    depth_m: 0 to 1 [m]; perimeter_m: the sides water can come over, a side on a wall left out [m] (``open_perimeter``);
    open_area_m2: clear openings [m2]; clogged: blocked share, 0 to 1, taken off perimeter and area alike.
    ``clogged_perimeter`` gives the perimeter a share of its own: a 2 x 4 ft grate blocked along half its length loses
    half its area but a quarter of its perimeter (HEC-22 section 4.4.5).

    >>> from hydraulics.units import from_si, to_si
    >>> q = intake(to_si(1.0, "in"), to_si(4.0, "ft"), to_si(0.5, "ft2"), clogged=0.5)
    >>> round(from_si(q, "gpm"), 1)
    64.8
    """
    blocked_area = within("blocked share", clogged, 0.0, 1.0, "")
    if clogged_perimeter is None:
        blocked_perimeter = blocked_area
    else:
        blocked_perimeter = within("blocked share of the perimeter", clogged_perimeter, 0.0, 1.0, "")
    weir = weir_intake(depth_m, perimeter_m) * (1.0 - blocked_perimeter)
    orifice = orifice_intake(depth_m, open_area_m2) * (1.0 - blocked_area)
    return scalar_or_array(np.asarray(np.minimum(weir, orifice)))


def open_perimeter(length_m: float, width_m: float, *, long_sides_on_wall: int = 0, ends_on_wall: int = 0) -> float:
    """Perimeter of a rectangular grate water can come over [m]: sides against a wall or kerb do not count.

    >>> open_perimeter(1.0, 0.25, long_sides_on_wall=1)
    1.5
    """
    if not (0 <= long_sides_on_wall <= 2 and 0 <= ends_on_wall <= 2):
        raise ValueError(f"sides on a wall are {long_sides_on_wall} and {ends_on_wall}; each must be 0, 1 or 2")
    length = float(within("grate length", length_m, 0.0, 500.0, "m"))
    width = float(within("grate width", width_m, 0.0, 10.0, "m"))
    return (2 - long_sides_on_wall) * length + (2 - ends_on_wall) * width
