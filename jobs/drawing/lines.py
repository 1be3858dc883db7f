"""Courses of pipes and channels: the way the water goes, arrows along it, where a label can lie. Pure."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from jobs.drawing.labels import Room, width_of

Point = tuple[float, float]
SIZE = 14.0


@dataclass(frozen=True, slots=True)
class Along:
    """A label along a line: its middle, the turn that keeps it upright, how far it stands off, its words."""

    x: float
    y: float
    turn: float
    off: float
    text: str


def in_flow(points: Sequence[Point], source: Sequence[Point], target: Sequence[Point]) -> list[Point]:
    """The course in the order the water takes.

    `source` and `target` are points of the parts before and after it. The end that lies nearest to one of them
    decides; without any the order given stays.
    """
    first, last = points[0], points[-1]
    forth = [math.dist(first, p) for p in source] + [math.dist(last, p) for p in target]
    back = [math.dist(last, p) for p in source] + [math.dist(first, p) for p in target]
    return list(points) if not forth or min(forth) <= min(back) else list(reversed(points))


def path(points: Sequence[Point]) -> str:
    """An SVG path through these points."""
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in points)


def heading(one: Point, other: Point) -> float:
    """The direction from one point to the other in degrees, clockwise from the right of the paper."""
    return math.degrees(math.atan2(other[1] - one[1], other[0] - one[0]))


def arrows(points: Sequence[Point], *, both_ways: bool = False) -> tuple[tuple[float, float, float], ...]:
    """(x, y, degrees) of arrows along a course, the way the water goes. `both_ways`: out of the middle to both ends."""
    legs = list(itertools.pairwise(points))
    half = sum(math.dist(*leg) for leg in legs) / 2
    found, gone = [], 0.0
    for one, other in legs:
        length = math.dist(one, other)
        for share in (0.22, 0.78) if length > 150 else (0.5,) if length > 26 else ():
            turn = heading(one, other)
            if both_ways and gone + share * length < half:
                turn += 180
            x, y = one[0] + (other[0] - one[0]) * share, one[1] + (other[1] - one[1]) * share
            found.append((round(x, 1), round(y, 1), round(turn, 1)))
        gone += length
    return tuple(found)


def label(points: Sequence[Point], words: Sequence[str], room: Room, *, clear: float) -> Along:
    """The words of a line on its longest leg, as many as fit, on the side with more room.

    `clear` is half the line's thickness. What does not fit is in the list of positions beside the drawing.
    """
    one, other = max(itertools.pairwise(points), key=lambda leg: math.dist(*leg))
    length, turn = math.dist(one, other), heading(one, other)
    if turn > 90 or turn <= -90:
        turn += 180 if turn <= -90 else -180
    fitting = list(words)
    while len(fitting) > 1 and width_of(", ".join(fitting), SIZE) > length:
        fitting.pop()
    text = ", ".join(fitting)
    x, y = (one[0] + other[0]) / 2, (one[1] + other[1]) / 2
    sides = [(off, _boxes(x, y, turn, off, width_of(text, SIZE))) for off in (-clear - 6, clear + 16)]
    off, boxes = min(sides, key=lambda side: round(sum(room.cost(box) for box in side[1]), 3))
    for box in boxes:
        room.take(box)
    return Along(round(x, 1), round(y, 1), round(turn, 1), round(off, 1), text)


def _boxes(x: float, y: float, turn: float, off: float, width: float) -> list[tuple[float, float, float, float]]:
    """Squares along a turned line of text, so that a slanted label takes its own strip and not its whole box."""
    angle = math.radians(turn)
    middle = off - SIZE * 0.35
    cx, cy = x - middle * math.sin(angle), y + middle * math.cos(angle)
    steps = max(1, round(width / SIZE))
    found = []
    for n in range(steps + 1):
        t = (n / steps - 0.5) * width
        px, py = cx + t * math.cos(angle), cy + t * math.sin(angle)
        found.append((px - SIZE / 2, py - SIZE / 2, px + SIZE / 2, py + SIZE / 2))
    return found
