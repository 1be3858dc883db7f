"""The to-scale plan of a property: from the register's feet to shapes for one SVG template. Pure.

The paper is WIDE units across; x runs to the east and y to the south of it. Presentation alone is the template's.
"""

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from jobs.drawing import lines
from jobs.drawing.labels import Room, around, spread, width_of
from jobs.drawing.measures import bar_ft, feet_inches
from jobs.drawing.places import Found, Placed, placed_parts, positions
from jobs.drawing.shapes import STRIP_BELOW, Drawn, Hazard, Line, Mark, Measure, Node, Point, Sample, Scene
from jobs.kinds import registry
from jobs.kinds.base import Kind, Symbol

WIDE: Final = 900.0
TALLEST: Final = 900.0
STRIP_LEFT: Final = 84.0
EDGE: Final = 30.0
HEAD: Final = 64.0
LEAST_FT: Final = 24.0
PAD_FT: Final = 4.0
NAME: Final = 16.0
SMALL: Final = 13.0
REACH: Final = 9.0
"""Half the least size of a symbol; what is larger in the ground is drawn at its true size."""


@dataclass(frozen=True, slots=True)
class _Frame:
    """Turns feet into units of the paper."""

    scale: float
    x0: float
    y0: float
    width: float
    height: float

    def at(self, point: Sequence[float]) -> Point:
        """Feet east and north of the corner as a point of the paper."""
        return round(self.x0 + point[0] * self.scale, 1), round(self.y0 - point[1] * self.scale, 1)


def scene(parts: Sequence[Drawn], hazards: Sequence[Hazard], plan: Mapping[str, Any], corner: str) -> Scene:
    """The scene of one property. `plan`: `house`, an outline in feet, and `north_deg`, clockwise from straight up."""
    house = [p for p in plan.get("house", ()) if len(p) == 2]
    found = placed_parts(parts)
    spots = [(x, y) for _, x, y, _ in hazards if x is not None and y is not None]
    frame = _frame([(0.0, 0.0), *house, *spots, *(p for part in found.drawn for p in part.points)])
    room = Room((4.0, HEAD / 2, frame.width - 4, frame.height - STRIP_BELOW))
    # Symbols first, then the words of lines, then names: each finds the room the ones before have left.
    for part in found.drawn:
        _take(room, frame, part)
    for leaves, arrives in found.gaps():
        room.take_line(*frame.at(leaves), *frame.at(arrives), 2)
    _take_house(room, [frame.at(p) for p in house])
    corner_at = frame.at((0, 0))
    corner_name = room.settle(around(*corner_at, 6, width_of(corner or "corner", SMALL), SMALL))
    drawn_lines = tuple(_line(part, found, frame, room) for part in found.drawn if part.is_line)
    nodes = tuple(_node(part, found, frame, room) for part in found.drawn if not part.is_line)
    marks = _marks(hazards, frame, room)
    step = bar_ft((frame.width - STRIP_LEFT) / frame.scale)
    piece = step / 2 * frame.scale
    return Scene(
        width=frame.width,
        height=frame.height,
        scale=frame.scale,
        house=lines.path([frame.at(p) for p in house]) + "Z" if house else "",
        house_at=_middle([frame.at(p) for p in house]),
        corner=corner,
        corner_at=corner_at,
        corner_name=corner_name,
        links=tuple(_links(found, frame)),
        lines=drawn_lines,
        nodes=nodes,
        hazards=marks,
        across=_measures(found, frame, spots, axis=0),
        down=_measures(found, frame, spots, axis=1),
        missing=(*found.missing, *(words for words, x, y, _ in hazards if x is None or y is None)),
        north_deg=float(plan.get("north_deg") or 0.0),
        bar=tuple((round(STRIP_LEFT + n * piece, 1), round(piece, 1)) for n in range(4)),
        bar_ft=step,
        key=_key(found.drawn),
        places=positions(found),
    )


def _frame(points: Sequence[Sequence[float]]) -> _Frame:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    wide = max(max(xs) - min(xs), LEAST_FT) + 2 * PAD_FT
    tall = max(max(ys) - min(ys), LEAST_FT / 2) + 2 * PAD_FT
    room_wide = WIDE - STRIP_LEFT - EDGE
    scale = min(room_wide / wide, (TALLEST - HEAD - STRIP_BELOW) / tall)
    spare = room_wide - (max(xs) - min(xs)) * scale
    x0 = STRIP_LEFT + spare / 2 - min(xs) * scale
    middle = HEAD + tall * scale / 2
    y0 = middle + (max(ys) + min(ys)) / 2 * scale
    return _Frame(scale, x0, y0, WIDE, round(HEAD + tall * scale + STRIP_BELOW, 1))


def _middle(points: Sequence[Point]) -> Point | None:
    if not points:
        return None
    return round(sum(p[0] for p in points) / len(points), 1), round(sum(p[1] for p in points) / len(points), 1)


def _kind(code: str) -> Kind | None:
    return registry.BY_CODE.get(code)


def _symbol(code: str) -> Symbol:
    kind = _kind(code)
    return kind.symbol if kind else Symbol("mark")


def _form(code: str) -> str:
    """A fixed sign where water may end is drawn as an open pipe end."""
    kind, symbol = _kind(code), _symbol(code)
    return "mouth" if kind is not None and kind.ends and symbol.form == "mark" else symbol.form


def _name(code: str) -> str:
    kind = _kind(code)
    return kind.name if kind else code.replace("_", " ")


def _reach(part: Placed, scale: float) -> float:
    symbol = _symbol(part.kind)
    size = part.dims.get(symbol.diameter) or part.dims.get(symbol.width) or 0
    # A fitting or a pipe end is a sign, not a picture to scale.
    true = float(size) / 24 * scale if symbol.form in ("box", "round") else 0.0
    return round(max(REACH + (3 if symbol.form == "mark" else 0), true), 1)


def _take(room: Room, frame: _Frame, part: Placed) -> None:
    points = [frame.at(p) for p in part.points]
    if part.is_line:
        for (x1, y1), (x2, y2) in itertools.pairwise(points):
            room.take_line(x1, y1, x2, y2, 5)
    else:
        (x, y), reach = points[0], _reach(part, frame.scale)
        room.take((x - reach, y - reach, x + reach, y + reach))


def _take_house(room: Room, walls: Sequence[Point]) -> None:
    for (x1, y1), (x2, y2) in zip(walls, [*walls[1:], *walls[:1]], strict=True):
        room.take_line(x1, y1, x2, y2, 3)


def _line(part: Placed, found: Found, frame: _Frame, room: Room) -> Line:
    points = [frame.at(p) for p in part.points]
    stroke = _symbol(part.kind).stroke
    both = sum(key in found.by_key for key in part.goes_to) > 1
    label = lines.label(points, _line_words(part), room, clear=7 if stroke == "ladder" else 4)
    words = f"{_name(part.kind)} {part.tag}".strip()
    return Line(part.tag, words, stroke, lines.path(points), lines.arrows(points, both_ways=both), label)


def _line_words(part: Placed) -> list[str]:
    """Tag, length, depth of cover, fall, as far as they are known; the most wanted first."""
    words = [part.tag or _name(part.kind)]
    if part.dims.get("length_ft"):
        words.append(feet_inches(float(part.dims["length_ft"])))
    if part.cover_in is not None:
        words.append(f"{part.cover_in:g} in deep")
    if part.dims.get("slope_percent"):
        words.append(f"fall {float(part.dims['slope_percent']):g} %")
    return words


def _node(part: Placed, found: Found, frame: _Frame, room: Room) -> Node:
    (x, y), reach = frame.at(part.points[0]), _reach(part, frame.scale)
    symbol = _symbol(part.kind)
    held = ", ".join(tag for tag in found.held.get(part.key, ()) if tag)
    width = max(width_of(part.tag, NAME * 1.1), width_of(held, SMALL))
    name = room.settle(around(x, y, reach, width, NAME, more=SMALL * 1.2 if held else 0.0))
    comes = found.comes_from(part.key)
    turn = lines.heading(frame.at(comes), (x, y)) if comes is not None else 0.0
    words = f"{_name(part.kind)} {part.tag}".strip() + (f", with {held} in it" if held else "")
    return Node(
        _form(part.kind), symbol.stroke, part.tag, words, symbol.letters, x, y, reach, round(turn, 1), name, held
    )


def _links(found: Found, frame: _Frame) -> list[tuple[str, tuple[tuple[float, float, float], ...]]]:
    """Where water goes on over ground whose course nobody measured."""
    drawn = []
    for leaves, arrives in found.gaps():
        points = [frame.at(leaves), frame.at(arrives)]
        drawn.append((lines.path(points), lines.arrows(points)[-1:] if math.dist(*points) > 40 else ()))
    return drawn


def _marks(hazards: Sequence[Hazard], frame: _Frame, room: Room) -> tuple[Mark, ...]:
    placed = [
        (number, words, frame.at((x, y)), depth)
        for number, (words, x, y, depth) in enumerate(hazards, 1)
        if x is not None and y is not None
    ]
    for _, _, (x, y), _ in placed:
        room.take((x - 13, y - 15, x + 13, y + 11))
    marks = []
    for number, words, (x, y), depth in placed:
        text = words.partition(":")[0] + (f", {depth:g} in deep" if depth is not None else "")
        name = room.settle(around(x, y, 13, width_of(text, SMALL), SMALL))
        marks.append(Mark(number, x, y, words, text, name))
    return tuple(marks)


def _measures(found: Found, frame: _Frame, spots: Sequence[Point], *, axis: int) -> tuple[Measure, ...]:
    """Distances from the corner along one side of the paper, none twice, moved apart so that each can be read."""
    ends = [p for part in found.drawn for p in ((part.points[0], part.points[-1]) if part.is_line else part.points)]
    ends.append((0.0, 0.0))
    nearest: dict[int, float] = {}
    for point in [*ends, *spots]:
        inches = round(point[axis] * 12)
        edge = frame.at(point)[1 - axis]
        far = nearest.get(inches)
        # The extension line starts at the point farthest from the edge.
        nearest[inches] = edge if far is None else (min(far, edge) if axis == 0 else max(far, edge))
    true = sorted((frame.at((n / 12, n / 12))[axis], n, reach) for n, reach in nearest.items())
    low = STRIP_LEFT if axis == 0 else HEAD
    high = frame.width - 10 if axis == 0 else frame.height - STRIP_BELOW - 4
    shown = spread([at for at, _, _ in true], apart=SMALL + 3, low=low, high=high)
    side = (("E", "W"), ("N", "S"))[axis]
    return tuple(
        Measure(at, round(where, 1), reach, f"{feet_inches(abs(n) / 12)} {side[n < 0]}" if n else "0")
        for (at, n, reach), where in zip(true, shown, strict=True)
    )


def _key(drawn: Sequence[Placed]) -> tuple[Sample, ...]:
    """The kinds drawn, in the order water meets them."""
    there = {part.kind for part in drawn}
    return tuple(
        Sample(kind.name, _form(kind.code), kind.symbol.stroke, kind.symbol.letters)
        for kind in registry.ALL
        if kind.code in there
    )
