"""Weights and volumes of what is cut, dug and poured. Pure arithmetic; lifting limits are the company's to set."""

import math
from typing import Final

PLAIN_CONCRETE_LB_PER_FT3: Final = 150.0
"""Plain concrete, 145 to 152 lb/ft3: general weight table (value from memory for 145 to 150)."""

INCHES_PER_FOOT: Final = 12.0


def concrete_piece_weight_lb(
    *, thickness_in: float, width_in: float, length_ft: float, density_lb_per_ft3: float = PLAIN_CONCRETE_LB_PER_FT3
) -> float:
    """Weight of a piece cut from a slab.

    Formula: W = (t / 12) (w / 12) L d, with t and w [in], L [ft], d [lb/ft3], W [lb]. Valid for t, w, L above 0 and d
    from 80 to 200. Source: definition of density. Raises ValueError naming the argument, its value and its limit.

    >>> round(concrete_piece_weight_lb(thickness_in=3, width_in=16, length_ft=1, density_lb_per_ft3=150), 3)
    50.0
    """
    for name, value, unit in (("thickness_in", thickness_in, "in"), ("width_in", width_in, "in")):
        _positive(name, value, unit)
    _positive("length_ft", length_ft, "ft")
    if not 80 <= density_lb_per_ft3 <= 200:
        raise ValueError(f"density_lb_per_ft3 is {density_lb_per_ft3}: give 80 to 200 lb/ft3")
    return thickness_in / INCHES_PER_FOOT * (width_in / INCHES_PER_FOOT) * length_ft * density_lb_per_ft3


def _positive(name: str, value: float, unit: str) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name} is {value}: give a finite number above 0 {unit}")
