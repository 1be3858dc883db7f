"""Many systems taken apart into flat lists by kind of check, so that each check runs once for all of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from hydraulics.basin_pumps import LEAST_BAND_M
from hydraulics.demands import Demands, rain_problem
from hydraulics.duty_tables import LineTask, float_levels, line_task, needs
from hydraulics.limits import within
from hydraulics.parts import CatchBasin, ChannelRun, Grate, GravityPipe, Power, Pump, SumpBasin, System
from hydraulics.water_paths import Missing, Paths, Water, next_outfall, walk


@dataclass
class FlatPlaces:
    """Places of one kind of check: rows of numbers, whose they are, and what reaches them."""

    owner: list[tuple[int, str]] = field(default_factory=list)
    numbers: list[tuple[float, ...]] = field(default_factory=list)
    demand: Demands = field(default_factory=Demands)

    def add(
        self, system: int, tag: str, numbers: tuple[float, ...], waters: Sequence[Water], lines: dict[str, int]
    ) -> None:
        """Append one place."""
        self.owner.append((system, tag))
        self.numbers.append(numbers)
        self.demand.add(system, waters, lines)


@dataclass
class Flat:
    """All systems taken apart.

    pipes: diameter, slope, n, silt. channels: width, length, n, slope, rim, rim at the end, free ends; demand is what
    comes in along the length, ``above`` what comes in upstream. outlets: diameter, rim depth, silt, free ends.
    grates: ponding, perimeter, open area, blocked. basins: area, depth, limit, number of the first of its lines.
    """

    pipes: FlatPlaces = field(default_factory=FlatPlaces)
    channels: FlatPlaces = field(default_factory=FlatPlaces)
    above: Demands = field(default_factory=Demands)
    outlets: FlatPlaces = field(default_factory=FlatPlaces)
    grates: FlatPlaces = field(default_factory=FlatPlaces)
    basins: FlatPlaces = field(default_factory=FlatPlaces)
    basin_lines: list[list[int]] = field(default_factory=list)
    tasks: list[LineTask] = field(default_factory=list)
    task_limits: list[float] = field(default_factory=list)

    def close(self) -> None:
        """End the lists of demands."""
        for places in (self.pipes, self.channels, self.outlets, self.grates, self.basins):
            places.demand.close()
        self.above.close()


@dataclass(frozen=True)
class Unrated:
    """Why a system is not rated."""

    missing: tuple[Missing, ...]
    problems: tuple[str, ...]


def limit_level(basin: SumpBasin) -> float:
    """Lowest invert entering freely, or the spill level if none, never above the rim [m over the floor]."""
    levels = (basin.lowest_inlet_m, basin.spill_level_m, basin.depth_m)
    return min(float(level) for level in levels if level is not None)


def take_apart(flat: Flat, index: int, system: System, power: Power) -> Unrated | None:
    """Add one system to the lists, or say why it cannot be rated (and add nothing)."""
    paths = walk(system)
    problem = rain_problem(system)
    problems = [*paths.problems, problem] if problem else list(paths.problems)
    missing = list(paths.missing)
    for tag, part in paths.parts.items():
        reached = bool(paths.own[tag]) or bool(paths.arriving[tag])
        if reached:
            missing += _needs(part, paths)
            problems += _faults(part, paths)
    if missing or problems:
        return Unrated(tuple(dict.fromkeys(missing)), tuple(dict.fromkeys(problems)))
    lines = _add_lines(flat, system, paths, power)
    for tag, part in paths.parts.items():
        own, arriving = paths.own[tag], paths.arriving[tag]
        if not own and not arriving:
            continue
        if isinstance(part, GravityPipe):
            _add_pipe(flat, index, system, paths, part, lines)
        elif isinstance(part, ChannelRun):
            _add_channel(flat, index, system, part, own, arriving, lines)
        elif isinstance(part, SumpBasin) and tag in paths.basin_pumps:
            within("basin area", part.area_m2 or 0.0, 0.01, 100.0, "m2")
            flat.basin_lines.append([lines[key] for key, group in paths.pump_lines.items() if group.basin == tag])
            numbers = (float(part.area_m2 or 0.0), float(part.depth_m or 0.0), limit_level(part))
            flat.basins.add(index, tag, numbers, (own, arriving), lines)
        if isinstance(part, ChannelRun | CatchBasin) and part.grate is not None and own:
            blocked = float(system.blocked.get(tag, part.grate.blocked))
            grate = part.grate
            grate_numbers = (grate.ponding_m or 0.0, grate.perimeter_m or 0.0, grate.open_area_m2 or 0.0, blocked)
            flat.grates.add(index, tag, grate_numbers, (own,), lines)
    return None


def _needs(part: object, paths: Paths) -> list[Missing]:
    """Dimensions a component that gets water cannot be judged without."""
    names: tuple[str, ...] = ()
    missing: list[Missing] = []
    if isinstance(part, GravityPipe):
        names = ("diameter_m", "slope", "manning_n")
        outfall = next_outfall(paths, part)
        if outfall is not None and outfall.opening_head_m + outfall.tailwater_m > 0.0:
            names = (*names, "length_m")
    elif isinstance(part, ChannelRun):
        names = ("width_m", "depth_m", "length_m", "manning_n", "slope")
        if "piped" in part.ends:
            names = (*names, "outlet_diameter_m")
    elif isinstance(part, SumpBasin) and part.tag in paths.basin_pumps:
        names = ("area_m2", "depth_m")
        for pump in paths.basin_pumps[part.tag]:
            for name in ("on_level_m", "off_level_m"):
                if getattr(pump, name) is None and getattr(part, name) is None:
                    missing.append(Missing(part.tag, name))
        for group in paths.pump_lines.values():
            if group.basin == part.tag:
                missing += needs(part, group)
    tag = getattr(part, "tag", "")
    missing += [Missing(tag, name) for name in names if getattr(part, name) is None]
    grate = getattr(part, "grate", None)
    if isinstance(grate, Grate) and paths.own[tag]:
        for name in ("perimeter_m", "open_area_m2", "ponding_m"):
            if getattr(grate, name) is None:
                missing.append(Missing(tag, f"grate_{name}"))
    return missing


def _faults(part: object, paths: Paths) -> list[str]:
    """Combinations no capacity can be computed for."""
    if isinstance(part, ChannelRun):
        if part.free_ends == 0:
            return [f"{part.tag} is closed at both ends: water cannot leave it"]
        if part.free_ends == 2 and part.slope:
            return [f"{part.tag} has two free ends and a slope: a channel open at both ends must be level"]
        if part.free_ends == 2 and paths.arriving[part.tag]:
            return [f"{part.tag} has two free ends and takes water from another component: close one end"]
    if isinstance(part, SumpBasin):
        return [fault for pump in paths.basin_pumps.get(part.tag, []) for fault in _float_faults(part, pump)]
    return []


def _float_faults(basin: SumpBasin, pump: Pump) -> list[str]:
    on, off = float_levels(pump, basin)
    if not on or not off or basin.depth_m is None:
        return []
    if on - off < LEAST_BAND_M * (1.0 - 1e-9):
        return [f"{pump.tag} must switch on at least 1 in (25.4 mm) above where it switches off"]
    if on >= basin.depth_m:
        return [f"{pump.tag} must switch on below the rim of {basin.tag}"]
    return []


def _add_lines(flat: Flat, system: System, paths: Paths, power: Power) -> dict[str, int]:
    """Number the pump lines of the basins that get water, and of none else."""
    numbers = {}
    for key, group in paths.pump_lines.items():
        basin = paths.parts[group.basin]
        numbers[key] = len(flat.tasks)
        if not isinstance(basin, SumpBasin) or not (paths.own[group.basin] or paths.arriving[group.basin]):
            numbers.pop(key)
            continue
        flat.tasks.append(line_task(basin, group, system.drawdown_ratios, power))
        flat.task_limits.append(limit_level(basin))
    return numbers


def _silt(system: System, tag: str, depth: float) -> float:
    fills: Mapping[str, float] = system.fills
    return depth * float(within(f"fill of {tag}", fills.get(tag, 0.0), 0.0, 1.0, ""))


def _add_pipe(flat: Flat, index: int, system: System, paths: Paths, pipe: GravityPipe, lines: dict[str, int]) -> None:
    slope = float(pipe.slope or 0.0)
    outfall = next_outfall(paths, pipe)
    if outfall is not None and pipe.length_m:
        slope -= (outfall.opening_head_m + outfall.tailwater_m) / pipe.length_m
    diameter = float(pipe.diameter_m or 0.0)
    numbers = (diameter, max(slope, 0.0), float(pipe.manning_n or 0.0), _silt(system, pipe.tag, diameter))
    flat.pipes.add(index, pipe.tag, numbers, (paths.own[pipe.tag], paths.arriving[pipe.tag]), lines)


def _add_channel(
    flat: Flat, index: int, system: System, run: ChannelRun, own: Water, arriving: Water, lines: dict[str, int]
) -> None:
    depth = float(run.depth_m or 0.0)
    depth_end = depth if run.depth_end_m is None else float(run.depth_end_m)
    silt = _silt(system, run.tag, depth)
    ends = run.free_ends
    numbers = (
        float(run.width_m or 0.0), float(run.length_m or 0.0) / ends, float(run.manning_n or 0.0),
        float(run.slope or 0.0), depth - silt - run.freeboard_m, depth_end - silt - run.freeboard_m, float(ends), depth,
    )  # fmt: skip
    flat.channels.add(index, run.tag, numbers, (own,), lines)
    flat.above.add(index, (arriving,), lines)
    if "piped" in run.ends:
        outlet = (float(run.outlet_diameter_m or 0.0), depth_end - run.freeboard_m, silt, float(ends))
        flat.outlets.add(index, run.tag, outlet, (own, arriving), lines)
