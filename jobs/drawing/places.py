"""Which parts of a yard can be drawn, in which order their water runs, and where each lies in words. Pure."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Protocol

from jobs.drawing.lines import in_flow
from jobs.drawing.measures import from_corner
from jobs.kinds import registry

JOINED_FT: Final = 0.75
"""Ends nearer than this meet; a wider gap is drawn as a link of unknown course."""

Point = tuple[float, float]


class Given(Protocol):
    """A component as the register has it; see scene.Drawn."""

    @property
    def tag(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def points(self) -> Sequence[Sequence[float]]: ...
    @property
    def dims(self) -> Mapping[str, Any]: ...
    @property
    def inside(self) -> str: ...
    @property
    def goes_to(self) -> Sequence[str]: ...
    @property
    def cover_in(self) -> float | None: ...
    @property
    def is_assumed(self) -> bool: ...
    @property
    def key(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Placed:
    """A part that is drawn, its points in the order of the water."""

    key: str
    tag: str
    kind: str
    points: tuple[Point, ...]
    dims: Mapping[str, Any]
    cover_in: float | None
    goes_to: tuple[str, ...]
    is_line: bool


@dataclass(frozen=True, slots=True)
class Place:
    """Where one part lies, in words."""

    tag: str
    kind: str
    words: str
    depth: str
    is_assumed: bool


@dataclass(frozen=True)
class Found:
    """The parts drawn, what each holds, and the names of those without a position."""

    drawn: tuple[Placed, ...]
    held: Mapping[str, tuple[str, ...]]
    missing: tuple[str, ...]
    given: Mapping[str, Given]
    home: Mapping[str, str]
    by_key: Mapping[str, Placed] = field(default_factory=dict)
    ways: tuple[tuple[str, str], ...] = ()

    def gaps(self) -> Iterable[tuple[Point, Point]]:
        """Pairs of points between which water goes on, farther apart than ends that meet. None twice."""
        seen = set()
        for start, end in self.ways:
            one, other = self.by_key[start], self.by_key[end]
            arrives = other.points[0]
            leaves = min(one.points[:: max(1, len(one.points) - 1)], key=lambda p: math.dist(p, arrives))
            if math.dist(leaves, arrives) > JOINED_FT and (leaves, arrives) not in seen:
                seen.add((leaves, arrives))
                yield leaves, arrives

    def comes_from(self, key: str) -> Point | None:
        """The last point of other ground the water crossed before it reached this part."""
        here = self.by_key[key].points[0]
        for start, end in self.ways:
            if end == key:
                before = [p for p in self.by_key[start].points if math.dist(p, here) > JOINED_FT]
                if before:
                    return before[-1]
        return None


def placed_parts(parts: Sequence[Given]) -> Found:
    """Sorts parts into drawn, held by a drawn one, and missing. Sub-parts are never missing: they lie in theirs."""
    given = {part.key or part.tag or f"#{n}": part for n, part in enumerate(parts)}
    home = {key: _home(key, given) for key in given}
    held: dict[str, list[str]] = {}
    drawn, missing = {}, []
    for key, part in given.items():
        holder = home[key]
        if holder != key:
            held.setdefault(holder, []).append(part.tag)
        elif part.points:
            drawn[key] = part
        elif not _is_sub_part(part):
            missing.append(part.tag or _name(part))
    ways = _ways(given, home, drawn)
    lying = tuple(_placed(key, part, drawn, ways) for key, part in drawn.items())
    return Found(
        drawn=lying,
        held={key: tuple(tags) for key, tags in held.items()},
        missing=tuple(missing),
        given=given,
        home=home,
        by_key={part.key: part for part in lying},
        ways=ways,
    )


def _is_sub_part(part: Given) -> bool:
    kind = registry.BY_CODE.get(part.kind)
    return kind is not None and kind.is_part


def _name(part: Given) -> str:
    kind = registry.BY_CODE.get(part.kind)
    return kind.name if kind else part.kind


def _home(key: str, given: Mapping[str, Given]) -> str:
    """The drawn part this one lies in, through any number of holders; itself where it lies by itself."""
    seen, at = {key}, key
    while given[at].inside in given and given[at].inside not in seen:
        at = given[at].inside
        seen.add(at)
    return at if given[at].points else key


def _ways(given: Mapping[str, Given], home: Mapping[str, str], drawn: Mapping[str, Given]) -> tuple[Any, ...]:
    found = dict.fromkeys((home[key], home[end]) for key, part in given.items() for end in part.goes_to if end in home)
    return tuple((start, end) for start, end in found if start != end and start in drawn and end in drawn)


def _placed(key: str, part: Given, drawn: Mapping[str, Given], ways: tuple[Any, ...]) -> Placed:
    kind = registry.BY_CODE.get(part.kind)
    points = [(float(p[0]), float(p[1])) for p in part.points]
    is_line = kind is not None and kind.symbol.form == "line" and len(points) > 1
    onward = tuple(end for start, end in ways if start == key)
    if is_line and len(onward) < 2:
        before = [p for start, end in ways if end == key for p in _ends(drawn[start])]
        points = in_flow(points, before, [p for end in onward for p in _ends(drawn[end])])
    cover = part.cover_in if part.cover_in is not None else part.dims.get("cover_depth_in")
    if not is_line:
        points = points[:1]
    return Placed(key, part.tag, part.kind, tuple(points), part.dims, cover, onward, is_line)


def _ends(part: Given) -> list[Point]:
    return [(float(p[0]), float(p[1])) for p in (part.points[0], part.points[-1])]


def positions(found: Found) -> tuple[Place, ...]:
    """Every part that lies somewhere known, in the order given; what sits in another says in which."""
    told = []
    for key, part in found.given.items():
        holder = found.home[key]
        if holder != key:
            if part.tag:
                inside = found.by_key.get(holder)
                where = f"in {inside.tag or _name(found.given[holder])}" if inside else ""
                told.append(Place(part.tag, _name(part), where, "", False))
        elif key in found.by_key:
            here = found.by_key[key]
            words = " to ".join(from_corner(p) for p in here.points)
            depth = f"{here.cover_in:g} in" if here.cover_in is not None else ""
            told.append(Place(part.tag or _name(part), _name(part), words, depth, part.is_assumed))
    return tuple(told)
