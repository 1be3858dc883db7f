"""The drawn section of a part filled with silt to its level, with a tick where cleaning is due.

Drawn in a box of 46 x 30: walls from y 3 down to a bottom at y 27 whose corners are quadratic curves.
"""

import math
from dataclasses import dataclass

TOP, BOTTOM, BEND = 3.0, 27.0, 16.0
LEFT, CORNER, WIDTH = 7.0, 11.0, 46.0


@dataclass(frozen=True, slots=True)
class Section:
    """Paths of the drawing; `silt` is "" where there is none. `heavy`: cleaning is near or past."""

    silt: str
    mark: str
    gap: str
    heavy: bool
    label: str


def section(fill: float, limit: float, *, heavy: bool, label: str) -> Section:
    """The drawing for a fill and a limit between 0 and 1; `label` is read aloud in its place."""
    tick_y = _n(_height(limit))
    start = 24 if heavy else 33
    return Section(_silt(fill), f"M{start} {tick_y}H44", f"M{start} {tick_y}H38", heavy, label)


def _height(share: float) -> float:
    return BOTTOM - (BOTTOM - TOP) * min(1.0, max(0.0, share))


def _silt(fill: float) -> str:
    y = _height(fill)
    if y > BOTTOM - 0.3:
        return ""
    if y <= BEND:
        return f"M7 {_n(y)}V16Q7 27 18 27H28Q39 27 39 16V{_n(y)}Z"
    # The corner is B(t) = (7 + 11 t^2, 27 - 11 (1 - t)^2): cut it where it reaches the level.
    t = 1 - math.sqrt((BOTTOM - y) / CORNER)
    x, bend = LEFT + CORNER * t * t, LEFT + CORNER * t
    return f"M{_n(x)} {_n(y)}Q{_n(bend)} 27 18 27H28Q{_n(WIDTH - bend)} 27 {_n(WIDTH - x)} {_n(y)}Z"


def _n(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")
