"""Grate: the sub-part on top of a channel run, a basin or a pit, with its own age and state."""

from collections.abc import Mapping
from typing import Any, Literal

from jobs.kinds.base import DimensionProblem, Dimensions, Kind, Symbol, ask, choice, number, whole, yes_no
from jobs.kinds.words import gettext_noop


class GrateDimensions(Dimensions):
    length_in: float | None = number("Length", "in", 2, 7200, help="Along a channel, or one side of a square grate.")
    width_in: float | None = number("Width", "in", 1, 60, assumed=5, help="Across.")
    diameter_in: float | None = number("Diameter", "in", 3, 60, help="Of a round grate.")
    open_share_percent: float | None = number(
        "Open share", "%", 5, 95, assumed=40, help="Openings as a share of the whole face."
    )
    sides_on_wall: int | None = whole("Sides against a wall", "", 0, 3, assumed=0, help="No water comes over these.")
    set_in: Literal["paving", "lawn"] | None = choice(
        "Set in", {"paving": "paving", "lawn": "lawn or bed"}, assumed="paving", help="What lies around it."
    )
    ponding_depth_in: float | None = number(
        "Allowed ponding depth",
        "in",
        0.25,
        24,
        assumed_by=("set_in", {"paving": 1, "lawn": 3}),
        help="Water that may stand over it; 1 in on paving, 3 in in lawn (assumptions).",
    )
    load_class: Literal["A15", "B125", "C250", "D400"] | None = choice(
        "Load class",
        {"A15": "A15, feet", "B125": "B125, cars", "C250": "C250, curbs", "D400": "D400, trucks"},
        help="Marked on the grate (BS EN 1433): A15 15 kN, B125 125 kN, C250 250 kN, D400 400 kN.",
    )
    fastened: bool | None = yes_no("Fastened", help="Screwed or locked, so that a child cannot lift it.")


def check(values: Mapping[str, Any]) -> list[DimensionProblem]:
    """A grate is round or it has sides, not both."""
    diameter = values.get("diameter_in")
    if diameter is None or ("length_in" not in values and "width_in" not in values):
        return []
    message = f"diameter_in is {diameter:g} in but a length or width is given too: give one or the other."
    return [DimensionProblem("diameter_in", message, diameter, "round or straight, not both", "in")]


KIND = Kind(
    code="grate",
    version=1,
    name="grate",
    plural="grates",
    plain_words=gettext_noop("the grate on top"),
    tag_prefix="",
    dimensions=GrateDimensions,
    symbol=Symbol("box", "ladder", width="width_in", length="length_in", diameter="diameter_in"),
    tasks=("clear_grate", "look", "replace"),
    readings=(ask("grade", "clear_grate", "look"), ask("note", "clear_grate", "look", "replace")),
    checklist=(
        gettext_noop("Blocked share judged before clearing"),
        gettext_noop("Cracks, missing screws and rocking pieces noted"),
    ),
    part_of=frozenset({"channel_run", "catch_basin", "sump_basin", "dry_well"}),
    check=check,
)
