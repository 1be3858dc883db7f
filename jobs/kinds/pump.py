"""Pump: lifts the water out of a sump basin."""

from collections.abc import Mapping
from itertools import pairwise
from typing import Any, Literal

from pydantic import Field, JsonValue

from jobs.kinds.base import DimensionProblem, Dimensions, Kind, Symbol, ask, choice, number, yes_no
from jobs.kinds.words import gettext_noop


class CurvePoint(Dimensions):
    """One point of a pump's curve: it delivers `flow_gpm` against `head_ft` of water."""

    flow_gpm: float = Field(ge=0, le=500, title="Flow")
    head_ft: float = Field(ge=0, le=200, title="Head")


# A 1/2 hp effluent pump moves about 60 gpm at low head: common practice, no source.
HALF_HORSEPOWER_CURVE: list[JsonValue] = [
    {"flow_gpm": 0.0, "head_ft": 25.0},
    {"flow_gpm": 35.0, "head_ft": 18.0},
    {"flow_gpm": 60.0, "head_ft": 5.0},
]


class PumpDimensions(Dimensions):
    curve: list[CurvePoint] | None = Field(
        default=None,
        min_length=3,
        max_length=12,
        title="Pump curve",
        description="At least three points from the maker's sheet, flow rising and head falling.",
        json_schema_extra={"x-type": "curve", "x-unit": "gpm, ft", "x-assumed": HALF_HORSEPOWER_CURVE},
    )
    horsepower_hp: float | None = number("Power", "hp", 0.05, 5, assumed=0.5, help="From the plate.")
    plate_amps_a: float | None = number("Plate amps", "A", 0.1, 60, help="Full-load current from the plate.")
    supply_volts_v: float | None = number("Supply", "V", 10, 480, assumed=115, help="From the plate.")
    powered_by: Literal["mains", "battery"] | None = choice(
        "Powered by",
        {"mains": "house current", "battery": "backup battery"},
        assumed="mains",
        help="A pump on the backup battery runs when the house has no current.",
    )
    hard_wired: bool | None = yes_no(
        "Hard-wired", help="No plug to pull: a licensed electrician isolates and locks it out."
    )
    ground_fault_protected: bool | None = yes_no(
        "Ground-fault protection", help="Outlet or breaker trips on a leak of current to ground; see local code."
    )
    # Small single-phase pumps are outside the published start tables: common practice, no source.
    most_starts_per_hour: float | None = number(
        "Most starts an hour", "1/h", 1, 300, assumed=15, help="The maker's limit if known."
    )


def check(values: Mapping[str, Any]) -> list[DimensionProblem]:
    """Along the curve flow rises and head falls."""
    points = values.get("curve") or []
    for first, second in pairwise(points):
        if second["flow_gpm"] <= first["flow_gpm"] or second["head_ft"] >= first["head_ft"]:
            message = (
                f"curve goes from {first['flow_gpm']:g} gpm at {first['head_ft']:g} ft to {second['flow_gpm']:g} gpm "
                f"at {second['head_ft']:g} ft: give the points with flow rising and head falling."
            )
            return [DimensionProblem("curve", message, points, "flow rising, head falling", "gpm, ft")]
    return []


KIND = Kind(
    code="pump",
    version=1,
    name="pump",
    plural="pumps",
    plain_words=gettext_noop("the pump that lifts the water to the street"),
    tag_prefix="PU",
    dimensions=PumpDimensions,
    symbol=Symbol("mark", letters="P"),
    tasks=("test_pump", "clean", "replace"),
    readings=(
        ask("drawdown_drop_in", "test_pump"),
        ask("drawdown_seconds", "test_pump"),
        ask("inflow_rise_in", "test_pump"),
        ask("inflow_seconds", "test_pump"),
        ask("amps", "test_pump"),
        ask("fall_back_in", "test_pump"),
        ask("starts_counted", "test_pump"),
        ask("run_hours_counted", "test_pump"),
        ask("flow_seen", "test_pump"),
        ask("note", "test_pump", "clean", "replace"),
    ),
    checklist=(
        gettext_noop("No one in water that may touch outlets, cords or a panel"),
        gettext_noop("Pumped down three times, each run timed over the same drop"),
        gettext_noop("Water seen at the outfall while the pump runs"),
        gettext_noop("Intake and vent hole clear; pump unplugged while they are cleared"),
    ),
    may_feed=frozenset({"check_valve", "discharge_line"}),
    sits_in=frozenset({"sump_basin"}),
    wears=True,
    check=check,
)
