"""Records of one drainage system as the storm rating needs them: frozen, SI, None where a dimension is unknown.

Only what moves water is here; batteries, alarms and floats are left out by the caller. Values are checked where they
are used: a number out of range raises ValueError there, an unknown one makes the system "not rated: needs ...".
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from hydraulics.grate import PATIO_PONDING_M
from hydraulics.pump import PumpCurve
from hydraulics.rain import DepthDurationTable

End = Literal["closed", "open", "piped"]
PipeKind = Literal["gravity pipe", "downspout leader", "French drain"]
Power = Literal["mains", "battery", "none"]
"""Which pumps run: those on house current, those on the backup battery alone, none at all."""


@dataclass(frozen=True)
class Grate:
    """Grate over a channel run or catch basin. ponding_m: water allowed to stand over it (default 1 in, patio);
    blocked: share of perimeter and openings blocked, 0 to 1."""

    perimeter_m: float | None
    open_area_m2: float | None
    ponding_m: float | None = PATIO_PONDING_M
    blocked: float = 0.0


@dataclass(frozen=True)
class ChannelRun:
    """Rectangular channel. ends: (upstream end, outlet end); two that are not closed need slope 0.

    depth_m: floor to rim at the upstream end; depth_end_m: the same at the outlet end where the floor falls under a
    level rim, None where the rim runs parallel. outlet_diameter_m: of the piped ends.
    """

    tag: str
    width_m: float | None
    depth_m: float | None
    length_m: float | None
    manning_n: float | None
    slope: float | None = 0.0
    ends: tuple[End, End] = ("closed", "open")
    outlet_diameter_m: float | None = None
    freeboard_m: float = 0.0
    depth_end_m: float | None = None
    grate: Grate | None = None
    kind: Literal["channel run"] = "channel run"

    @property
    def free_ends(self) -> int:
        """Ends water can leave by."""
        return sum(end != "closed" for end in self.ends)


@dataclass(frozen=True)
class GravityPipe:
    """Gravity pipe, downspout leader or the perforated pipe of a French drain. length_m is needed only where the
    outfall it leads to takes some of the fall."""

    tag: str
    diameter_m: float | None
    slope: float | None
    manning_n: float | None
    length_m: float | None = None
    kind: PipeKind = "gravity pipe"


@dataclass(frozen=True)
class CatchBasin:
    """Box under a grate; its outlet is a pipe of its own and its silt takes nothing from what it carries."""

    tag: str
    grate: Grate | None = None
    kind: Literal["catch basin"] = "catch basin"


@dataclass(frozen=True)
class CleanOut:
    """Riser on a pipe: water passes."""

    tag: str
    kind: Literal["clean-out"] = "clean-out"


@dataclass(frozen=True)
class SumpBasin:
    """Pumped basin; levels over its floor. lowest_inlet_m: lowest invert entering freely, None if there is none;
    spill_level_m: None if it spills over the rim. The lower of the two is its limit."""

    tag: str
    area_m2: float | None
    depth_m: float | None
    on_level_m: float | None
    off_level_m: float | None
    lowest_inlet_m: float | None = None
    spill_level_m: float | None = None
    kind: Literal["sump basin"] = "sump basin"


@dataclass(frozen=True)
class Pump:
    """Pump in the basin ``sits_in``. curve: from its sheet; or flow_m3s: a flow taken as the same at every level.
    on_level_m, off_level_m: of its own float, None for the basin's."""

    tag: str
    sits_in: str
    curve: PumpCurve | None
    flow_m3s: float | None = None
    on_level_m: float | None = None
    off_level_m: float | None = None
    powered_by: Literal["mains", "battery"] = "mains"
    failed: bool = False
    kind: Literal["pump"] = "pump"


@dataclass(frozen=True)
class CheckValve:
    """Check valve; minor_k: its loss coefficient (swing check 100 f_T, about 2.0 at 1 1/2 in: Crane TP-410 A-27).
    fitted False: someone looked and there is none."""

    tag: str
    minor_k: float | None = 2.0
    fitted: bool = True
    kind: Literal["check valve"] = "check valve"


@dataclass(frozen=True)
class DischargePipe:
    """Discharge line. lift_above_off_m: from the pump-off level up to the outlet; high_point_above_off_m: up to the
    line's highest point, None if the outlet is the highest; bore and C as the pump page shows them."""

    tag: str
    length_m: float | None
    diameter_m: float | None
    lift_above_off_m: float | None
    high_point_above_off_m: float | None = None
    hazen_williams_c: float | None = 150.0
    minor_k: float | None = 0.0
    kind: Literal["discharge line"] = "discharge line"


@dataclass(frozen=True)
class Outfall:
    """Where the water comes out. opening_head_m: to open it (pop-up 2 in); tailwater_m: standing against it in a storm
    (curb 4 in): both assumptions, both add to the lift or come off the fall."""

    tag: str
    opening_head_m: float = 0.0
    tailwater_m: float = 0.0
    kind: Literal["outfall"] = "outfall"


@dataclass(frozen=True)
class DryWell:
    """Takes what comes; what it soaks away is not computed."""

    tag: str
    kind: Literal["dry well"] = "dry well"


Component = (
    ChannelRun | GravityPipe | CatchBasin | CleanOut | SumpBasin | Pump | CheckValve | DischargePipe | Outfall | DryWell
)


@dataclass(frozen=True)
class DrainageArea:
    """Surface draining to the component ``into``; runoff_c is never rounded; concentration_min at least 5."""

    into: str
    area_m2: float | None
    runoff_c: float | None
    concentration_min: float = 5.0


@dataclass(frozen=True)
class Connection:
    """Water goes from one component to the next. An overflow carries only the excess and never counts."""

    source: str
    target: str
    overflow: bool = False


@dataclass(frozen=True)
class System:
    """One drainage system in one state. fills: silt share by tag, 0 to 1; drawdown_ratios: pump flow found over its
    duty, by tag; blocked: grate blocked share by the tag of its component, over the grate's own."""

    components: tuple[Component, ...]
    connections: tuple[Connection, ...]
    areas: tuple[DrainageArea, ...]
    rain: DepthDurationTable | None
    return_years: float = 10.0
    fills: Mapping[str, float] = field(default_factory=dict)
    drawdown_ratios: Mapping[str, float] = field(default_factory=dict)
    blocked: Mapping[str, float] = field(default_factory=dict)
