"""Gravity pipe: a solid buried pipe in which water runs by its own weight."""

from typing import Literal

from jobs.kinds.base import GRAVITY_RECEIVERS, Dimensions, Kind, SiltRoom, Symbol, ask, choice, number
from jobs.kinds.words import gettext_noop


class GravityPipeDimensions(Dimensions):
    inside_diameter_in: float | None = number("Inside diameter", "in", 1, 36, assumed=4, help="The bore.")
    length_ft: float | None = number("Length", "ft", 0.5, 1000, needed=True, help="Along the pipe.")
    slope_percent: float | None = number(
        "Slope", "%", -5, 100, assumed=1, help="Fall of the pipe; negative where it was found to fall back."
    )
    inner_wall: Literal["smooth", "corrugated", "concrete"] | None = choice(
        "Inner wall",
        {"smooth": "smooth plastic", "corrugated": "corrugated plastic", "concrete": "concrete"},
        assumed="smooth",
        help="Corrugated pipe carries about half as much as smooth pipe.",
    )
    # Plastic smooth .012, corrugated interior .022: Caltrans Highway Design Manual, Table 851.2.
    # Concrete storm drain .012: City of Austin Drainage Criteria Manual, Table 5-2.
    manning_n: float | None = number(
        "Manning n",
        "",
        0.008,
        0.03,
        assumed_by=("inner_wall", {"smooth": 0.012, "corrugated": 0.022, "concrete": 0.012}),
        help="Smooth plastic 0.012, corrugated inside 0.022, concrete 0.012.",
    )
    cover_depth_in: float | None = number("Depth of cover", "in", 0, 240, help="Ground to the top of the pipe.")


KIND = Kind(
    code="gravity_pipe",
    version=1,
    name="gravity pipe",
    plural="gravity pipes",
    plain_words=gettext_noop("the buried drain pipe"),
    tag_prefix="GP",
    dimensions=GravityPipeDimensions,
    symbol=Symbol("line", "solid", width="inside_diameter_in", length="length_ft"),
    tasks=("look", "clean", "replace"),
    readings=(
        ask("silt_depth_in", "clean", "look", high=36),
        ask("grade", "clean", "look"),
        ask("silt_left_in", "clean", high=36),
        ask("flow_seen", "clean"),
        ask("note", "clean", "look", "replace"),
    ),
    checklist=(
        gettext_noop("Silt depth read at an open end or a clean-out before flushing"),
        gettext_noop("Flushed from the high end; the loosened silt caught at the low end"),
    ),
    may_feed=GRAVITY_RECEIVERS,
    bore="inside_diameter_in",
    needs_fall=True,
    capacity_falls="layer",
    silt=SiltRoom("inside_diameter_in", gettext_noop("bore of the pipe")),
)
