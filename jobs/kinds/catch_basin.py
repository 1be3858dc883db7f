"""Catch basin: a box under a grate that keeps silt below its outlet."""

from collections.abc import Mapping
from typing import Any

from jobs.kinds.base import (
    GRAVITY_RECEIVERS,
    DimensionProblem,
    Dimensions,
    Kind,
    SiltRoom,
    Symbol,
    ask,
    number,
)
from jobs.kinds.words import gettext_noop


class CatchBasinDimensions(Dimensions):
    inside_width_in: float | None = number("Inside width", "in", 4, 60, help="Of a square or oblong basin.")
    inside_length_in: float | None = number("Inside length", "in", 4, 60, help="Of a square or oblong basin.")
    inside_diameter_in: float | None = number("Inside diameter", "in", 4, 60, help="Of a round basin.")
    depth_in: float | None = number("Depth", "in", 4, 144, assumed=18, help="Rim to bottom.")
    invert_above_bottom_in: float | None = number(
        "Lowest outlet invert above the bottom",
        "in",
        0.5,
        120,
        assumed=6,
        help="Bottom of the lowest pipe that leaves, measured up from the basin's floor: the silt room.",
    )
    outlet_diameter_in: float | None = number(
        "Outlet pipe inside diameter", "in", 1, 24, assumed=4, help="Of the pipe that leaves."
    )


def check(values: Mapping[str, Any]) -> list[DimensionProblem]:
    """The outlet lies inside the basin, and the basin is either round or not."""
    problems = []
    depth, invert = values.get("depth_in"), values.get("invert_above_bottom_in")
    if depth is not None and invert is not None and invert >= depth:
        message = f"invert_above_bottom_in is {invert:g} in: give less than the depth of {depth:g} in."
        problems.append(DimensionProblem("invert_above_bottom_in", message, invert, f"less than {depth:g}", "in"))
    diameter = values.get("inside_diameter_in")
    if diameter is not None and ("inside_width_in" in values or "inside_length_in" in values):
        message = (
            f"inside_diameter_in is {diameter:g} in but a width or length is given too: "
            "give the diameter of a round basin, or width and length of a square one."
        )
        problems.append(DimensionProblem("inside_diameter_in", message, diameter, "round or square, not both", "in"))
    return problems


KIND = Kind(
    code="catch_basin",
    version=1,
    name="catch basin",
    plural="catch basins",
    plain_words=gettext_noop("the box under a grate that catches silt and leaves"),
    tag_prefix="CB",
    dimensions=CatchBasinDimensions,
    symbol=Symbol(
        "box",
        "double",
        letters="CB",
        width="inside_width_in",
        length="inside_length_in",
        diameter="inside_diameter_in",
    ),
    tasks=("clean", "look", "pour_bucket", "replace"),
    readings=(
        ask("silt_depth_in", "clean", "look"),
        ask("grade", "clean", "look"),
        ask("silt_left_in", "clean", "look"),
        ask("flow_seen", "pour_bucket"),
        ask("note", "clean", "look", "pour_bucket", "replace"),
    ),
    checklist=(
        gettext_noop("Silt depth read from the floor up to its top, before cleaning"),
        gettext_noop("Emptied from above with a scoop or vacuum; nobody climbs in"),
        gettext_noop("Outlet pipe clear as far as a light shows"),
    ),
    may_feed=GRAVITY_RECEIVERS,
    takes_in=True,
    may_overflow=True,
    silt=SiltRoom("invert_above_bottom_in", gettext_noop("depth below the lowest outlet")),
    check=check,
)
