"""From the register's rows to the records of `hydraulics.network`: the one place where their units change. Pure."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from hydraulics import network as net
from hydraulics.grate import open_perimeter
from hydraulics.parts import End, PipeKind
from hydraulics.pump import PumpCurve
from hydraulics.rain import DepthDurationTable
from hydraulics.units import to_si
from jobs.kinds import registry
from jobs.kinds.dimensions import fill_assumptions, read_dimensions

PIPES: Final[Mapping[str, PipeKind]] = {
    "gravity_pipe": "gravity pipe",
    "downspout_leader": "downspout leader",
    "french_drain": "French drain",
}
LAYERED: Final = frozenset({"channel_run", "gravity_pipe", "french_drain"})
"""Kinds whose capacity falls with a bed of silt."""

# Equivalent lengths over bore, and the fully rough friction factor by bore [in]: Crane TP-410.
_L_OVER_D: Final = {"elbows_90": 30, "elbows_45": 16, "tees_through": 20, "tees_branch": 60, "gate_valves": 8}
_BORES_IN: Final = (1.38, 1.61, 2.067, 3.068)
_ROUGH_FACTOR: Final = (0.0208, 0.0200, 0.0189, 0.0172)
_EXIT_K: Final = 1.0


@dataclass(frozen=True, slots=True)
class PartRow:
    """A component as the register holds it. `name`: what the rating calls it, the tag, or kind and key without one."""

    id: int
    name: str
    kind: str
    dims: Mapping[str, Any]
    sits_in: int | None = None
    part_of: int | None = None


@dataclass(frozen=True, slots=True)
class AreaRow:
    """A drainage area."""

    component: int
    area_ft2: float
    runoff_c: float
    concentration_min: float


@dataclass(frozen=True, slots=True)
class LinkRow:
    """A connection."""

    source: int
    target: int
    overflow: bool


@dataclass(frozen=True, slots=True)
class SystemRows:
    """One system: its parts, links and areas, the rain it is judged by, and the silt and pump ratios of today."""

    id: int
    parts: tuple[PartRow, ...]
    links: tuple[LinkRow, ...]
    areas: tuple[AreaRow, ...]
    rain: DepthDurationTable | None
    return_years: float
    fills: Mapping[int, float] = field(default_factory=dict)
    drawdown_ratios: Mapping[int, float] = field(default_factory=dict)

    @property
    def names(self) -> dict[int, str]:
        """What the rating calls each part, by key."""
        return {part.id: part.name for part in self.parts}


def part_row(
    key: int,
    tag: str,
    kind: str,
    dims: Mapping[str, Any],
    certainty: Mapping[str, str],
    version: int,
    sits_in: int | None = None,
    part_of: int | None = None,
) -> PartRow:
    """A row with unknown dimensions filled by the kind's assumptions where it has some."""
    declared = registry.get(kind)
    known = read_dimensions(declared, dims, certainty, version=version)
    name = tag or f"{declared.name} {key}"
    return PartRow(key, name, kind, fill_assumptions(declared, known).values, sits_in, part_of)


def to_system(rows: SystemRows, fills: Mapping[int, float] | None = None) -> net.System:
    """The hydraulic record of one system with these fills (those of the rows where not given).

    Fills are cut to 0 to 1 and kept only for kinds whose capacity falls with silt. Raises ValueError naming a value
    out of range.
    """
    names = rows.names
    grates = {part.part_of: part for part in rows.parts if part.kind == "grate" and part.part_of}
    silt = rows.fills if fills is None else fills
    layered = {part.id for part in rows.parts if part.kind in LAYERED}
    known = {part.id for part in rows.parts}
    made = [_component(part, grates.get(part.id), names) for part in rows.parts]
    return net.System(
        components=tuple(part for part in made if part is not None),
        connections=tuple(
            net.Connection(names[link.source], names[link.target], link.overflow)
            for link in rows.links
            if link.source in known and link.target in known
        ),
        areas=tuple(
            net.DrainageArea(names[area.component], to_si(area.area_ft2, "ft2"), area.runoff_c, area.concentration_min)
            for area in rows.areas
            if area.component in known
        ),
        rain=rows.rain,
        return_years=rows.return_years,
        fills={names[key]: min(max(fill, 0.0), 1.0) for key, fill in silt.items() if key in layered},
        drawdown_ratios={names[key]: ratio for key, ratio in rows.drawdown_ratios.items() if key in known},
    )


def _inch(value: Any) -> float | None:
    return None if value is None else to_si(float(value), "in")


def _foot(value: Any) -> float | None:
    return None if value is None else to_si(float(value), "ft")


def _component(part: PartRow, grate: PartRow | None, names: Mapping[int, str]) -> net.Component | None:
    """One component; None for what moves no water (float, battery, alarm, grate)."""
    dims = part.dims
    if part.kind in PIPES:
        return _pipe(part)
    match part.kind:
        case "channel_run":
            return _channel(part, grate)
        case "catch_basin":
            return net.CatchBasin(part.name, _grate(grate, None))
        case "clean_out":
            return net.CleanOut(part.name)
        case "sump_basin":
            return _sump(part)
        case "pump":
            return _pump(part, names)
        case "check_valve":
            return net.CheckValve(part.name, fitted=registry.get(part.kind).is_there(dims))
        case "discharge_line":
            return _line(part)
        case "outfall":
            head, tail = _inch(dims.get("opening_head_in")), _inch(dims.get("tailwater_in"))
            return net.Outfall(part.name, head or 0.0, tail or 0.0)
        case "dry_well":
            return net.DryWell(part.name)
    return None


def _pipe(part: PartRow) -> net.GravityPipe:
    dims = part.dims
    slope = dims.get("slope_percent")
    return net.GravityPipe(
        part.name,
        diameter_m=_inch(dims.get("inside_diameter_in")),
        slope=None if slope is None else float(slope) / 100.0,
        manning_n=dims.get("manning_n"),
        length_m=_foot(dims.get("length_ft")),
        kind=PIPES[part.kind],
    )


def _channel(part: PartRow, grate: PartRow | None) -> net.ChannelRun:
    dims = part.dims
    ends: dict[str, tuple[End, End]] = {
        "one_open": ("closed", "open"),
        "two_open": ("open", "open"),
        "piped": ("closed", "piped"),
    }
    return net.ChannelRun(
        part.name,
        width_m=_inch(dims.get("inside_width_in")),
        depth_m=_inch(dims.get("inside_depth_in")),
        length_m=_foot(dims.get("length_ft")),
        manning_n=dims.get("manning_n"),
        slope=float(dims.get("slope_percent") or 0.0) / 100.0,
        ends=ends[dims.get("ends") or "piped"],
        outlet_diameter_m=_inch(dims.get("outlet_diameter_in")),
        freeboard_m=_inch(dims.get("freeboard_in")) or 0.0,
        grate=_grate(grate, dims.get("length_ft")),
    )


def _grate(part: PartRow | None, channel_length_ft: float | None) -> net.Grate | None:
    """The grate over a component, None where none is recorded; a channel's grate is as long as the channel."""
    if part is None:
        return None
    dims = part.dims
    share = float(dims.get("open_share_percent") or 0.0) / 100.0
    ponding = _inch(dims.get("ponding_depth_in"))
    if dims.get("diameter_in"):
        across = to_si(float(dims["diameter_in"]), "in")
        return net.Grate(math.pi * across, share * math.pi / 4 * across**2, ponding)
    length = _inch(dims.get("length_in")) or _foot(channel_length_ft)
    width = _inch(dims.get("width_in"))
    if length is None or width is None:
        return net.Grate(None, None, ponding)
    walls = int(dims.get("sides_on_wall") or 0)
    long_walls = min(walls, 2)
    perimeter = open_perimeter(length, width, long_sides_on_wall=long_walls, ends_on_wall=walls - long_walls)
    return net.Grate(perimeter, share * length * width, ponding)


def _sump(part: PartRow) -> net.SumpBasin:
    dims = part.dims
    across = _inch(dims.get("inside_diameter_in"))
    return net.SumpBasin(
        part.name,
        area_m2=None if across is None else math.pi / 4 * across**2,
        depth_m=_inch(dims.get("depth_in")),
        on_level_m=_inch(dims.get("on_above_bottom_in")),
        off_level_m=_inch(dims.get("off_above_bottom_in")),
        lowest_inlet_m=_inch(dims.get("lowest_inflow_invert_above_bottom_in")),
        spill_level_m=_inch(dims.get("spill_above_bottom_in")),
    )


def _pump(part: PartRow, names: Mapping[int, str]) -> net.Pump | None:
    if part.sits_in is None or part.sits_in not in names:
        return None
    points = part.dims.get("curve")
    curve = None
    if points:
        flows = [to_si(float(p["flow_gpm"]), "gpm") for p in points]
        heads = [to_si(float(p["head_ft"]), "ft") for p in points]
        curve = PumpCurve(list(zip(flows, heads, strict=True)))
    return net.Pump(part.name, names[part.sits_in], curve, powered_by=part.dims.get("powered_by") or "mains")


def fittings_k(dims: Mapping[str, Any]) -> float:
    """Sum of the loss coefficients of a line's fittings and its outlet: L/D x f_T, plus 1 where the water leaves.

    Source: Crane TP-410 A-26 to A-29. Valid for bores of 1 1/4 to 3 in; the ends are held beyond.
    """
    bore = float(dims.get("inside_diameter_in") or _BORES_IN[1])
    factor = float(np.interp(bore, _BORES_IN, _ROUGH_FACTOR))
    return _EXIT_K + factor * sum(ratio * float(dims.get(name) or 0) for name, ratio in _L_OVER_D.items())


def _line(part: PartRow) -> net.DischargePipe:
    dims = part.dims
    return net.DischargePipe(
        part.name,
        length_m=_foot(dims.get("length_ft")),
        diameter_m=_inch(dims.get("inside_diameter_in")),
        lift_above_off_m=_foot(dims.get("static_lift_ft")),
        high_point_above_off_m=_foot(dims.get("line_high_point_ft")),
        hazen_williams_c=dims.get("hazen_williams_c"),
        minor_k=fittings_k(dims),
    )


def clean_tags(rows: SystemRows) -> Sequence[str]:
    """Names of the parts a cleaning would empty: every kind with a clean task."""
    return [part.name for part in rows.parts if "clean" in registry.get(part.kind).tasks]
