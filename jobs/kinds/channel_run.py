"""Channel run: a narrow open trough under a grate, cut into a patio, walk or drive."""

from collections.abc import Mapping
from typing import Any, Literal

from jobs.kinds.base import (
    GRAVITY_RECEIVERS,
    DimensionProblem,
    Dimensions,
    Kind,
    SiltRoom,
    Symbol,
    ask,
    choice,
    number,
)
from jobs.kinds.words import gettext_noop


class ChannelRunDimensions(Dimensions):
    inside_width_in: float | None = number(
        "Inside width", "in", 1, 24, assumed=4, help="Between the walls, without the lip the grate sits on."
    )
    inside_depth_in: float | None = number(
        "Inside depth", "in", 1, 36, assumed=4, help="Floor to rim at the shallow end; the silt can lie this deep."
    )
    length_ft: float | None = number("Length", "ft", 0.5, 500, needed=True, help="Along the channel, end to end.")
    slope_percent: float | None = number(
        "Slope of the floor",
        "%",
        0,
        10,
        assumed=0,
        help="Fall of the floor under a level rim; most run level.",
    )
    # Polymer-concrete grated line drain .011 (.010 to .013): Caltrans Highway Design Manual, Table 851.2.
    manning_n: float | None = number(
        "Manning n",
        "",
        0.008,
        0.03,
        assumed=0.011,
        help="Polymer concrete 0.011, cast-in-place concrete 0.013, smooth plastic 0.012.",
    )
    ends: Literal["one_open", "two_open", "piped"] | None = choice(
        "Ends",
        {"one_open": "one end open", "two_open": "both ends open", "piped": "leaves by a pipe"},
        assumed="piped",
        help="Open: the water falls freely out of the end. Both ends open needs a level floor.",
    )
    outlet_diameter_in: float | None = number(
        "Outlet pipe inside diameter", "in", 1, 12, assumed=4, help="Where the channel leaves by a pipe."
    )
    freeboard_in: float | None = number(
        "Freeboard", "in", 0, 12, assumed=0, help="Height below the rim the water has to stay under."
    )


def check(values: Mapping[str, Any]) -> list[DimensionProblem]:
    """The freeboard leaves some depth to flow in."""
    depth, freeboard = values.get("inside_depth_in"), values.get("freeboard_in")
    if depth is None or freeboard is None or freeboard < depth:
        return []
    message = f"freeboard_in is {freeboard:g} in: give less than the inside depth of {depth:g} in."
    return [DimensionProblem("freeboard_in", message, freeboard, f"less than {depth:g}", "in")]


KIND = Kind(
    code="channel_run",
    version=1,
    name="channel run",
    plural="channel runs",
    plain_words=gettext_noop("the long narrow drain with a grate on top"),
    tag_prefix="CH",
    dimensions=ChannelRunDimensions,
    symbol=Symbol("line", "ladder", width="inside_width_in", length="length_ft"),
    tasks=("clean", "look", "pour_bucket", "replace"),
    readings=(
        ask("silt_depth_in", "clean", "look", high=36),
        ask("grade", "clean", "look"),
        ask("silt_left_in", "clean", "look", high=36),
        ask("flow_seen", "clean", "pour_bucket"),
        ask("note", "clean", "look", "pour_bucket", "replace"),
    ),
    checklist=(
        gettext_noop("Grates lifted with a hook or a second pair of hands, laid where nobody trips"),
        gettext_noop("Silt depth read at the deepest place before anything is taken out"),
        gettext_noop("Silt shovelled out, not rinsed on into the pipe or the pump"),
        gettext_noop("Water poured in at the far end runs out at the low end"),
    ),
    may_feed=GRAVITY_RECEIVERS,
    takes_in=True,
    may_overflow=True,
    capacity_falls="layer",
    silt=SiltRoom("inside_depth_in", gettext_noop("inside depth of the channel")),
    check=check,
)
