"""Finds room for the words of a drawing: each label goes where it covers the least of what stands already. Pure."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

CHARACTER: Final = 0.56
"""Mean width of a character of the drawing's typeface as a share of its size."""

Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place a label may take: where its text is anchored, and the box it would fill."""

    x: float
    y: float
    anchor: str
    box: Box


@dataclass
class Room:
    """What is taken already. `edge` is the paper: a label that leaves it costs most."""

    edge: Box
    taken: list[Box] = field(default_factory=list)

    def take(self, box: Box) -> None:
        """Mark a box as taken."""
        self.taken.append(box)

    def take_line(self, x1: float, y1: float, x2: float, y2: float, half: float) -> None:
        """Mark a line as taken, by squares along it."""
        steps = max(1, int(math.dist((x1, y1), (x2, y2)) / (2 * half)))
        for n in range(steps + 1):
            x, y = x1 + (x2 - x1) * n / steps, y1 + (y2 - y1) * n / steps
            self.taken.append((x - half, y - half, x + half, y + half))

    def cost(self, box: Box) -> float:
        """How much of what is taken a box would cover; leaving the paper counts tenfold."""
        outside = _area(box) - overlap(box, self.edge)
        return sum(overlap(box, other) for other in self.taken) + 10 * outside

    def settle(self, spots: Iterable[Spot]) -> Spot:
        """The cheapest of `spots`, the earlier one where two are alike; it is taken from now on."""
        best = min(spots, key=lambda spot: round(self.cost(spot.box), 3))
        self.take(best.box)
        return best


def overlap(one: Box, other: Box) -> float:
    """The area two boxes share.

    >>> overlap((0, 0, 4, 4), (2, 3, 9, 9))
    2
    """
    across = min(one[2], other[2]) - max(one[0], other[0])
    down = min(one[3], other[3]) - max(one[1], other[1])
    return across * down if across > 0 and down > 0 else 0


def _area(box: Box) -> float:
    return (box[2] - box[0]) * (box[3] - box[1])


def width_of(text: str, size: float) -> float:
    """About how wide `text` is."""
    return CHARACTER * size * len(text)


def around(x: float, y: float, reach: float, width: float, size: float, *, more: float = 0.0) -> list[Spot]:
    """Eight places for a label about a symbol that reaches `reach` from its middle: right above first.

    `size` is that of its first line, `more` the height of what stands below that.
    """
    gap, height = 4.0, size * 1.15 + more
    found = []
    for dx, dy in ((1, -1), (1, 1), (-1, -1), (-1, 1), (1, 0), (-1, 0), (0, -1), (0, 1)):
        away = reach + gap
        corner = 0.8 if dx and dy else 1.0
        tx, middle = x + dx * away * corner, y + dy * (away * corner + height / 2)
        left = tx if dx > 0 else tx - width if dx < 0 else tx - width / 2
        anchor = {1: "start", -1: "end", 0: "middle"}[dx]
        box = (left, middle - height / 2, left + width, middle + height / 2)
        found.append(Spot(round(tx, 1), round(box[1] + size * 0.9, 1), anchor, box))
    return found


def spread(wanted: list[float], *, apart: float, low: float, high: float) -> list[float]:
    """Positions in rising order at least `apart`, each near the one wanted, within low and high where they fit.

    >>> spread([10, 12, 50], apart=10, low=0, high=100)
    [10, 20, 50]
    >>> spread([90, 95], apart=10, low=0, high=95)
    [85, 95]
    """
    placed: list[float] = []
    for value in wanted:
        placed.append(max(value, placed[-1] + apart if placed else low))
    limit = high
    for n in range(len(placed) - 1, -1, -1):
        placed[n] = min(placed[n], limit)
        limit = placed[n] - apart
    return placed
