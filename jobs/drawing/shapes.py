"""What the plan of a property is made of: the parts as given, and the shapes the template draws. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from jobs.drawing import lines
from jobs.drawing.labels import Spot
from jobs.drawing.measures import MM_PER_FT, ratio_for
from jobs.drawing.places import Place

STRIP_BELOW: Final = 82.0
"""Room below the drawing for the measures."""

Point = tuple[float, float]
Hazard = tuple[str, float | None, float | None, float | None]
"""Words, feet east and north of the corner, depth in inches."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A component to draw: `points` in feet east and north of the corner.

    `inside`: key of the part it sits in or belongs to. `goes_to`: keys of the parts its water goes to. `key` tells
    parts apart; without one the tag does.
    """

    tag: str
    kind: str
    points: Sequence[Sequence[float]]
    dims: Mapping[str, Any] = field(default_factory=dict)
    inside: str = ""
    goes_to: Sequence[str] = ()
    cover_in: float | None = None
    is_assumed: bool = False
    key: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """A pipe or channel: its course, arrows (x, y, degrees) the way the water goes, and a label along it."""

    tag: str
    words: str
    stroke: str
    path: str
    arrows: tuple[tuple[float, float, float], ...]
    label: lines.Along


@dataclass(frozen=True, slots=True)
class Node:
    """A basin, an outfall or a fitting. `form`: box, round, mouth (an open pipe end, turned) or mark."""

    form: str
    stroke: str
    tag: str
    words: str
    letters: str
    x: float
    y: float
    reach: float
    turn: float
    name: Spot
    holds: str


@dataclass(frozen=True, slots=True)
class Mark:
    """A hazard on the plan; `number` is its place in the list of hazards."""

    number: int
    x: float
    y: float
    words: str
    text: str
    name: Spot


@dataclass(frozen=True, slots=True)
class Measure:
    """A distance from the corner at the edge: `at` where it is true, `shown` where its words stand."""

    at: float
    shown: float
    reach: float
    words: str


@dataclass(frozen=True, slots=True)
class Sample:
    """One line of the legend."""

    name: str
    form: str
    stroke: str
    letters: str


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything the template draws. `missing`: parts and hazards without a position, by name."""

    width: float
    height: float
    scale: float
    house: str
    house_at: Point | None
    corner: str
    corner_at: Point
    corner_name: Spot
    links: tuple[tuple[str, tuple[tuple[float, float, float], ...]], ...]
    lines: tuple[Line, ...]
    nodes: tuple[Node, ...]
    hazards: tuple[Mark, ...]
    across: tuple[Measure, ...]
    down: tuple[Measure, ...]
    missing: tuple[str, ...]
    north_deg: float
    bar: tuple[tuple[float, float], ...]
    bar_ft: int
    key: tuple[Sample, ...]
    places: tuple[Place, ...]

    @property
    def view_box(self) -> str:
        """The SVG's viewBox."""
        return f"0 0 {self.width:g} {self.height:g}"

    @property
    def is_empty(self) -> bool:
        """Nothing has a position."""
        return not (self.lines or self.nodes or self.hazards or self.house)

    @property
    def ratio(self) -> int:
        """The scale on a landscape letter page, 1 : ratio."""
        return ratio_for(self.width / self.scale, self.height / self.scale, wide_mm=245, tall_mm=165)

    @property
    def paper_mm(self) -> Point:
        """Width and height on paper at that scale."""
        unit = MM_PER_FT / self.scale / self.ratio
        return round(self.width * unit, 2), round(self.height * unit, 2)

    @property
    def foot(self) -> float:
        """Where the drawing ends and the measures below it begin."""
        return self.height - STRIP_BELOW

    @property
    def foot_tick(self) -> float:
        """Where the lines of the measures below end."""
        return self.foot + 10

    @property
    def foot_text(self) -> float:
        """Where their words begin."""
        return self.foot + 14

    @property
    def sheet_height(self) -> float:
        """The paper without its edge."""
        return self.height - 2

    @property
    def bar_end(self) -> float:
        """Where the scale bar ends."""
        return self.bar[-1][0] + self.bar[-1][1]
