"""Sump basin: the pit water collects in and is pumped from."""

from collections.abc import Mapping
from typing import Any

from jobs.kinds.base import GRAVITY_RECEIVERS, DimensionProblem, Dimensions, Kind, SiltRoom, Symbol, ask, number
from jobs.kinds.words import gettext_noop

LEAST_RANGE_IN = 1.0


class SumpBasinDimensions(Dimensions):
    # At least 18 in across and 24 in deep: IRC P3303.1.2 / IPC 1113.1.2. Local code may ask for more.
    inside_diameter_in: float | None = number("Inside diameter", "in", 8, 72, assumed=18, help="Across the pit.")
    depth_in: float | None = number("Depth", "in", 12, 144, assumed=24, help="Rim to bottom; about two feet is usual.")
    on_above_bottom_in: float | None = number(
        "Pump-on level above the bottom", "in", 2, 140, assumed=12, help="Water level at which the pump starts."
    )
    off_above_bottom_in: float | None = number(
        "Pump-off level above the bottom", "in", 0.5, 139, assumed=6, help="Water level at which the pump stops."
    )
    lowest_inflow_invert_above_bottom_in: float | None = number(
        "Lowest inflow invert above the bottom",
        "in",
        1,
        144,
        assumed=18,
        help="Bottom of the lowest pipe that enters: above it water backs up into that pipe.",
    )
    spill_above_bottom_in: float | None = number(
        "Spill level above the bottom", "in", 2, 144, help="If water leaves below the rim; else the rim counts."
    )
    pump_intake_above_bottom_in: float | None = number(
        "Pump intake above the bottom", "in", 0.25, 60, assumed=3, help="Silt this deep reaches the pump."
    )


def check(values: Mapping[str, Any]) -> list[DimensionProblem]:
    """On lies above off by an inch or more, and every level lies inside the basin."""
    problems = []
    on, off, depth = (values.get(f"{name}_in") for name in ("on_above_bottom", "off_above_bottom", "depth"))
    if on is not None and off is not None and on - off < LEAST_RANGE_IN:
        message = f"on_above_bottom_in is {on:g} in: give at least 1 in more than off_above_bottom_in, {off:g} in."
        problems.append(DimensionProblem("on_above_bottom_in", message, on, f"at least {off + LEAST_RANGE_IN:g}", "in"))
    if depth is None:
        return problems
    for name in SumpBasinDimensions.model_fields:
        level = values.get(name)
        if name.endswith("_above_bottom_in") and level is not None and level > depth:
            message = f"{name} is {level:g} in: give at most the basin's depth, {depth:g} in."
            problems.append(DimensionProblem(name, message, level, f"at most {depth:g}", "in"))
    return problems


KIND = Kind(
    code="sump_basin",
    version=1,
    name="sump basin",
    plural="sump basins",
    plain_words=gettext_noop("the pit the pump sits in"),
    tag_prefix="SB",
    dimensions=SumpBasinDimensions,
    symbol=Symbol("round", "double", letters="SB", diameter="inside_diameter_in"),
    tasks=("clean", "look", "pour_bucket", "replace"),
    readings=(
        ask("silt_depth_in", "clean", "look"),
        ask("grade", "clean", "look"),
        ask("silt_left_in", "clean", "look"),
        ask("inflow_rise_in", "look", "clean"),
        ask("inflow_seconds", "look", "clean"),
        ask("note", "clean", "look", "pour_bucket", "replace"),
    ),
    checklist=(
        gettext_noop("Pump unplugged and locked out before any hand goes below the rim"),
        gettext_noop("No one enters the basin; worked from above"),
        gettext_noop("Silt below the pump's intake after cleaning"),
        gettext_noop("Float swings free of wall, pipe and cord"),
    ),
    may_feed=GRAVITY_RECEIVERS | {"pump"},
    takes_in=True,
    may_overflow=True,
    capacity_falls="pump_intake",
    silt=SiltRoom("pump_intake_above_bottom_in", gettext_noop("height of the pump's intake")),
    check=check,
)
