"""The to-scale plan of a property: from the register's feet to shapes for one SVG template. Pure.

The viewBox is in inches of the ground: x to the east, y to the south (turned from feet north of the named corner).
"""

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from jobs.kinds import registry

INCHES: Final = 12
MARGIN_IN: Final = 96
BAR_FT: Final = 10

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Drawn:
    """A component to draw: `points` in feet east and north of the corner."""

    tag: str
    kind: str
    points: Sequence[Sequence[float]]
    dims: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Shape:
    """One component in drawing units. `path` for lines; x, y and size for the rest; arrows (x, y, degrees) along."""

    form: str
    stroke: str
    tag: str
    words: str
    path: str
    x: float
    y: float
    size: float
    letters: str
    arrows: tuple[tuple[float, float, float], ...]
    label: str

    @property
    def radius(self) -> float:
        """Of a round one."""
        return round(self.size / 2, 1)

    @property
    def low(self) -> float:
        """Left and top of a square one about its middle."""
        return -self.radius


@dataclass(frozen=True, slots=True)
class Mark:
    """A hazard on the plan."""

    number: int
    x: float
    y: float
    words: str


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything the template draws. `missing`: parts and hazards without a position, by name."""

    box: tuple[float, float, float, float]
    house: str
    corner: str
    corner_at: Point
    shapes: tuple[Shape, ...]
    hazards: tuple[Mark, ...]
    missing: tuple[str, ...]
    north_deg: float
    bar: tuple[float, float, float]
    kinds: tuple[str, ...]

    @property
    def north_at(self) -> Point:
        """Where the north arrow stands: the upper right."""
        return round(self.box[0] + self.box[2] - 40, 1), round(self.box[1] + 60, 1)

    @property
    def view_box(self) -> str:
        """The SVG's viewBox."""
        return " ".join(f"{value:g}" for value in self.box)


def at(point: Sequence[float]) -> Point:
    """Feet east and north of the corner as drawing units."""
    return round(point[0] * INCHES, 1), round(-point[1] * INCHES, 1)


def path_of(points: Iterable[Sequence[float]], *, closed: bool = False) -> str:
    """An SVG path through these feet."""
    there = "L".join(f"{x:g} {y:g}" for x, y in map(at, points))
    return f"M{there}{'Z' if closed else ''}" if there else ""


def scene(
    parts: Sequence[Drawn],
    hazards: Sequence[tuple[str, float | None, float | None, float | None]],
    plan: Mapping[str, Any],
    corner: str,
) -> Scene:
    """The scene of one property. `hazards`: (words, x_ft, y_ft, depth_in). `plan`: house outline and north."""
    house = [p for p in plan.get("house", ()) if len(p) == 2]
    shapes = tuple(_shape(part) for part in parts if part.points)
    marks = tuple(
        Mark(number, *at((x, y)), words)
        for number, (words, x, y, _) in enumerate(hazards, 1)
        if x is not None and y is not None
    )
    missing = [part.tag or part.kind for part in parts if not part.points]
    missing += [words for words, x, y, _ in hazards if x is None or y is None]
    points = [at(p) for p in house] + [at(p) for part in parts for p in part.points] + [(m.x, m.y) for m in marks]
    left, top, right, bottom = _extent(points or [(0.0, 0.0)])
    box = (left - MARGIN_IN, top - MARGIN_IN, right - left + 2 * MARGIN_IN, bottom - top + 2 * MARGIN_IN)
    return Scene(
        box=box,
        house=path_of(house, closed=True),
        corner=corner,
        corner_at=(0.0, 0.0),
        shapes=shapes,
        hazards=marks,
        missing=tuple(missing),
        north_deg=float(plan.get("north_deg") or 0.0),
        bar=(box[0] + 30, box[1] + box[3] - 24, BAR_FT * INCHES),
        kinds=tuple(dict.fromkeys(registry.get(p.kind).name for p in parts if p.points and p.kind in registry.BY_CODE)),
    )


def _extent(points: Sequence[Point]) -> tuple[float, float, float, float]:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def _shape(part: Drawn) -> Shape:
    kind = registry.BY_CODE.get(part.kind)
    symbol = kind.symbol if kind else None
    name = kind.name if kind else part.kind
    points = [at(p) for p in part.points]
    x, y = points[0]
    is_line = symbol is not None and symbol.form == "line" and len(points) > 1
    size = max(float(part.dims.get(symbol.diameter or symbol.width, 0) or 0), 18.0) if symbol else 18.0
    return Shape(
        form="line" if is_line else (symbol.form if symbol and symbol.form != "line" else "mark"),
        stroke=symbol.stroke if symbol else "solid",
        tag=part.tag,
        words=f"{name} {part.tag}".strip(),
        path=path_of(part.points) if is_line else "",
        x=(points[0][0] + points[-1][0]) / 2 if is_line else x,
        y=(points[0][1] + points[-1][1]) / 2 if is_line else y,
        size=size,
        letters=symbol.letters if symbol else "",
        arrows=_arrows(points) if is_line else (),
        label=_label(part, points) if is_line else part.tag,
    )


def _arrows(points: Sequence[Point]) -> tuple[tuple[float, float, float], ...]:
    """One arrow in the middle of each stretch, pointing the way the water goes."""
    found = []
    for (x1, y1), (x2, y2) in itertools.pairwise(points):
        angle = math.degrees(math.atan2(y2 - y1, x2 - x1))
        found.append((round((x1 + 2 * x2) / 3, 1), round((y1 + 2 * y2) / 3, 1), round(angle, 1)))
    return tuple(found)


def _label(part: Drawn, points: Sequence[Point]) -> str:
    """Tag, measured length, fall and depth of cover, as far as they are known."""
    length = part.dims.get("length_ft")
    words = [part.tag, feet_inches(float(length)) if length else ""]
    if part.dims.get("slope_percent"):
        words.append(f"fall {float(part.dims['slope_percent']):g} %")
    if part.dims.get("cover_depth_in"):
        words.append(f"{float(part.dims['cover_depth_in']):g} in deep")
    return ", ".join(word for word in words if word)


def feet_inches(length_ft: float) -> str:
    """'12 ft 6 in'.

    >>> feet_inches(12.5), feet_inches(3)
    ('12 ft 6 in', '3 ft')
    """
    whole = round(length_ft * 12)
    feet, inches = divmod(whole, 12)
    return f"{feet} ft {inches} in" if inches else f"{feet} ft"
