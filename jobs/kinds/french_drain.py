"""French drain: a perforated pipe in a stone-filled trench."""

from typing import Literal

from jobs.kinds.base import GRAVITY_RECEIVERS, Dimensions, Kind, SiltRoom, Symbol, ask, choice, number, yes_no
from jobs.kinds.words import gettext_noop


class FrenchDrainDimensions(Dimensions):
    inside_diameter_in: float | None = number(
        "Pipe inside diameter", "in", 1, 24, assumed=4, help="Of the perforated pipe."
    )
    length_ft: float | None = number("Length", "ft", 1, 1000, needed=True, help="Along the trench.")
    slope_percent: float | None = number(
        "Slope", "%", -5, 50, assumed=1, help="Fall of the pipe; negative where it was found to fall back."
    )
    # Smooth plastic perforated .020: City of Austin Drainage Criteria Manual, Table 5-2.
    manning_n: float | None = number(
        "Manning n", "", 0.008, 0.035, assumed=0.02, help="Smooth perforated plastic 0.020, corrugated 0.022."
    )
    cover_depth_in: float | None = number("Depth of cover", "in", 0, 240, help="Ground to the top of the pipe.")
    trench_width_in: float | None = number("Trench width", "in", 4, 60, assumed=12, help="Of the stone.")
    trench_depth_in: float | None = number("Trench depth", "in", 6, 240, help="Ground to the bottom of the stone.")
    wrapping: Literal["none", "pipe", "trench"] | None = choice(
        "Fabric",
        {"none": "none", "pipe": "around the pipe", "trench": "around the stone"},
        help="Where filter fabric was laid.",
    )
    clean_out_fitted: bool | None = yes_no(
        "Clean-out fitted", assumed=False, help="Silt can be watched and flushed only through a clean-out."
    )


KIND = Kind(
    code="french_drain",
    version=1,
    name="French drain",
    plural="French drains",
    plain_words=gettext_noop("the buried stone trench with a perforated pipe"),
    tag_prefix="FD",
    dimensions=FrenchDrainDimensions,
    symbol=Symbol("line", "dotted", width="trench_width_in", length="length_ft"),
    tasks=("look", "clean", "replace"),
    readings=(
        ask("silt_depth_in", "clean", "look", high=24),
        ask("grade", "clean", "look"),
        ask("silt_left_in", "clean", high=24),
        ask("standing_seconds", "look"),
        ask("flow_seen", "clean", "look"),
        ask("note", "clean", "look", "replace"),
    ),
    checklist=(
        gettext_noop("Silt depth read in the clean-out before flushing"),
        gettext_noop("Flushed through the clean-out until the water runs clear at the end"),
    ),
    may_feed=GRAVITY_RECEIVERS | {"french_drain"},
    takes_in=True,
    bore="inside_diameter_in",
    needs_fall=True,
    capacity_falls="layer",
    silt=SiltRoom("inside_diameter_in", gettext_noop("bore of the pipe"), only_if="clean_out_fitted"),
)
