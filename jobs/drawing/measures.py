"""Lengths as a crew reads a tape, distances from the corner in words, scale bars and true scales. Pure."""

from collections.abc import Sequence
from typing import Final

BARS_FT: Final = (2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000)
RATIOS: Final = (50, 75, 100, 150, 200, 250, 300, 400, 500, 750, 1000, 2000, 5000, 10000)
MM_PER_FT: Final = 304.8


def feet_inches(length_ft: float) -> str:
    """'12 ft 6 in'.

    >>> feet_inches(12.5), feet_inches(3), feet_inches(-0.5)
    ('12 ft 6 in', '3 ft', '-6 in')
    """
    sign = "-" if length_ft < 0 else ""
    feet, inches = divmod(round(abs(length_ft) * 12), 12)
    if not feet and inches:
        return f"{sign}{inches} in"
    return f"{sign}{feet} ft {inches} in" if inches else f"{sign}{feet} ft"


def from_corner(point: Sequence[float]) -> str:
    """'33 ft east, 7 ft south' of the corner.

    >>> from_corner((33, -7)), from_corner((0, 4.5)), from_corner((0, 0))
    ('33 ft east, 7 ft south', '4 ft 6 in north', 'at the corner')
    """
    x, y = point[0], point[1]
    across = f"{feet_inches(abs(x))} {'east' if x > 0 else 'west'}" if round(x * 12) else ""
    along = f"{feet_inches(abs(y))} {'north' if y > 0 else 'south'}" if round(y * 12) else ""
    return ", ".join(word for word in (across, along) if word) or "at the corner"


def bar_ft(wide_ft: float) -> int:
    """The length of a scale bar for ground `wide_ft` wide: about a quarter of it, a round number.

    >>> bar_ft(90), bar_ft(22)
    (20, 5)
    """
    return max((step for step in BARS_FT if step <= wide_ft / 4), default=BARS_FT[0])


def ratio_for(wide_ft: float, tall_ft: float, *, wide_mm: float, tall_mm: float) -> int:
    """The largest usual scale, 1 : ratio, at which this ground fits the paper. 1 ft is 304.8 mm (exact).

    >>> ratio_for(80, 50, wide_mm=250, tall_mm=170)
    100
    """
    needed = max(wide_ft * MM_PER_FT / wide_mm, tall_ft * MM_PER_FT / tall_mm)
    return next((ratio for ratio in RATIOS if ratio >= needed), RATIOS[-1])
