"""Which water reaches which component: one pure walk down one system's connections.

Areas drain to components; each component hands what it gets to the next, in halves where a level channel has two open
ends. A pumped basin keeps the areas above it and sends on its pumps' flow instead.
"""

from dataclasses import dataclass, field

from hydraulics.limits import within
from hydraulics.parts import (
    ChannelRun,
    CheckValve,
    Component,
    DischargePipe,
    DryWell,
    GravityPipe,
    Outfall,
    Pump,
    SumpBasin,
    System,
)

Areas = dict[float, float]
"""Time of concentration [min] -> sum of C x A [m2]."""


@dataclass(frozen=True)
class Missing:
    """A dimension the rating cannot do without: the component's tag and the field of its record."""

    tag: str
    dimension: str

    def __str__(self) -> str:
        return f"{self.tag} {self.words}"

    @property
    def words(self) -> str:
        """The dimension without its unit: "length", "pump curve"."""
        name = self.dimension
        for ending in ("_m2", "_m"):
            name = name.removesuffix(ending)
        return name.replace("_", " ")


@dataclass
class Water:
    """What reaches a place: areas by time of concentration, and shares of lines' pumped flow by line."""

    areas: Areas = field(default_factory=dict)
    pumped: dict[str, float] = field(default_factory=dict)

    def add(self, other: "Water", share: float = 1.0) -> None:
        """Add a share of another place's water."""
        for minutes, area in other.areas.items():
            self.areas[minutes] = self.areas.get(minutes, 0.0) + share * area
        for line, part in other.pumped.items():
            self.pumped[line] = self.pumped.get(line, 0.0) + share * part

    def __bool__(self) -> bool:
        return bool(self.areas or self.pumped)


@dataclass
class PumpLine:
    """Pumps of one basin on one line: the way from them to where the water comes out."""

    basin: str
    pumps: list[Pump]
    valves: list[CheckValve]
    lines: list[DischargePipe]
    outfall: Outfall | None


@dataclass
class Paths:
    """One system walked: its components by tag, own and arriving water by tag, pump lines by key, what is wrong."""

    parts: dict[str, Component]
    own: dict[str, Water]
    arriving: dict[str, Water]
    onward: dict[str, list[str]]
    pump_lines: dict[str, PumpLine]
    basin_pumps: dict[str, list[Pump]]
    missing: list[Missing]
    problems: list[str]


def walk(system: System) -> Paths:
    """Walk one system; every missing dimension and every fault of the graph is listed, none raises."""
    paths = _lay_out(system)
    _add_areas(system, paths)
    _find_pump_lines(paths)
    order = _downstream_order(paths)
    if order is None:
        return paths
    ends_of_lines = {line: key for key, group in paths.pump_lines.items() for line in _sender(group, key, paths)}
    for tag in order:
        _pass_on(tag, paths, ends_of_lines)
    return paths


def _lay_out(system: System) -> Paths:
    parts: dict[str, Component] = {}
    problems = []
    for part in system.components:
        if part.tag in parts:
            problems.append(f"two components carry the tag {part.tag}: give each its own")
        parts[part.tag] = part
    onward: dict[str, list[str]] = {tag: [] for tag in parts}
    for connection in system.connections:
        if connection.overflow:
            continue
        unknown = [tag for tag in (connection.source, connection.target) if tag not in parts]
        if unknown:
            problems.append(f"a connection names {unknown[0]}, which is not in the system")
        elif connection.target not in onward[connection.source]:
            onward[connection.source].append(connection.target)
    basin_pumps: dict[str, list[Pump]] = {}
    for part in parts.values():
        if isinstance(part, Pump):
            if isinstance(parts.get(part.sits_in), SumpBasin):
                basin_pumps.setdefault(part.sits_in, []).append(part)
            else:
                problems.append(f"{part.tag} sits in {part.sits_in}, which is no sump basin of the system")
    water = {tag: Water() for tag in parts}, {tag: Water() for tag in parts}
    return Paths(parts, *water, onward, {}, basin_pumps, [], problems)


def _add_areas(system: System, paths: Paths) -> None:
    if not system.areas:
        paths.problems.append("no drainage area is known")
    for area in system.areas:
        if area.into not in paths.parts:
            paths.problems.append(f"a drainage area drains to {area.into}, which is not in the system")
            continue
        if area.area_m2 is None:
            paths.missing.append(Missing(area.into, "drainage_area_m2"))
        if area.runoff_c is None:
            paths.missing.append(Missing(area.into, "runoff_coefficient"))
        if area.area_m2 is None or area.runoff_c is None:
            continue
        c = float(within("runoff coefficient", area.runoff_c, 0.0, 1.0, ""))
        size = float(within("drainage area", area.area_m2, 0.0, 1e6, "m2"))
        minutes = float(within("time of concentration", area.concentration_min, 5.0, 1440.0, "min"))
        if c * size > 0.0:
            paths.own[area.into].add(Water({minutes: c * size}))


def _find_pump_lines(paths: Paths) -> None:
    """Group the pumps of each basin by the first discharge line their water meets."""
    for basin, pumps in paths.basin_pumps.items():
        for pump in pumps:
            tag = pump.tag if paths.onward[pump.tag] else basin
            valves: list[CheckValve] = []
            lines: list[DischargePipe] = []
            seen = {tag}
            end: Component | None = None
            while paths.onward[tag] and paths.onward[tag][0] not in seen:
                tag = paths.onward[tag][0]
                seen.add(tag)
                end = paths.parts[tag]
                if isinstance(end, CheckValve):
                    valves.append(end)
                elif isinstance(end, DischargePipe):
                    lines.append(end)
                elif not isinstance(end, Pump):
                    break
            outfall = end if isinstance(end, Outfall) else None
            key = lines[0].tag if lines else (pump.tag if paths.onward[pump.tag] else basin)
            group = paths.pump_lines.setdefault(key, PumpLine(basin, [], valves, lines, outfall))
            group.pumps.append(pump)


def _sender(group: PumpLine, key: str, paths: Paths) -> list[str]:
    """The place that sends on a line's flow: its first discharge line, else its pump, else its basin."""
    return [key] if key in paths.parts else [group.basin]


def _downstream_order(paths: Paths) -> list[str] | None:
    """Tags so that each comes after everything that feeds it; None, with the ring named, if water goes in a ring."""
    feeds = {tag: list(targets) for tag, targets in paths.onward.items()}
    for basin, pumps in paths.basin_pumps.items():
        for pump in pumps:
            feeds[basin].append(pump.tag)
    waiting = dict.fromkeys(paths.parts, 0)
    for targets in feeds.values():
        for target in targets:
            waiting[target] += 1
    ready = [tag for tag, count in waiting.items() if count == 0]
    order = []
    while ready:
        tag = ready.pop()
        order.append(tag)
        for target in feeds[tag]:
            waiting[target] -= 1
            if waiting[target] == 0:
                ready.append(target)
    if len(order) < len(paths.parts):
        ring = sorted(tag for tag in paths.parts if tag not in set(order))
        paths.problems.append(f"water goes round in a ring: look at the connections of {', '.join(ring)}")
        return None
    return order


def _pass_on(tag: str, paths: Paths, ends_of_lines: dict[str, str]) -> None:
    """Hand what a component gets to the next ones."""
    part, targets = paths.parts[tag], paths.onward[tag]
    leaving = Water()
    if tag in ends_of_lines:
        leaving.pumped[ends_of_lines[tag]] = 1.0
    elif not isinstance(part, Pump) and tag not in paths.basin_pumps:
        leaving.add(paths.own[tag])
        leaving.add(paths.arriving[tag])
    if not leaving:
        return
    if isinstance(part, Outfall | DryWell):
        return
    if not targets:
        if isinstance(part, SumpBasin) and tag not in paths.basin_pumps:
            paths.missing.append(Missing(tag, "pump"))
        else:
            paths.missing.append(Missing(tag, "connection_onward"))
        return
    halves = isinstance(part, ChannelRun) and part.free_ends == 2
    if len(targets) > (2 if halves else 1):
        paths.problems.append(f"{tag} has {len(targets)} ways out: keep one and mark the others as overflow")
        return
    for target in targets:
        paths.arriving[target].add(leaving, 1.0 / len(targets))


def next_outfall(paths: Paths, pipe: GravityPipe) -> Outfall | None:
    """The outfall a pipe leads straight to, if it does."""
    targets = paths.onward[pipe.tag]
    end = paths.parts[targets[0]] if targets else None
    return end if isinstance(end, Outfall) else None
