"""Downspout leader: the buried pipe that takes a roof's water from the foot of a downspout."""

from typing import Literal

from jobs.kinds.base import GRAVITY_RECEIVERS, Dimensions, Kind, Symbol, ask, choice, number, yes_no
from jobs.kinds.words import gettext_noop


class DownspoutLeaderDimensions(Dimensions):
    inside_diameter_in: float | None = number("Inside diameter", "in", 1, 12, assumed=4, help="Of the buried pipe.")
    length_ft: float | None = number("Length", "ft", 0.5, 500, needed=True, help="Foot of the downspout to its end.")
    slope_percent: float | None = number(
        "Slope", "%", -5, 100, assumed=1, help="Fall of the pipe; negative where it was found to fall back."
    )
    inner_wall: Literal["smooth", "corrugated"] | None = choice(
        "Inner wall",
        {"smooth": "smooth", "corrugated": "corrugated"},
        assumed="smooth",
        help="Corrugated pipe carries about half as much.",
    )
    # Plastic smooth .012, corrugated interior .022: Caltrans Highway Design Manual, Table 851.2.
    manning_n: float | None = number(
        "Manning n",
        "",
        0.008,
        0.03,
        assumed_by=("inner_wall", {"smooth": 0.012, "corrugated": 0.022}),
        help="Smooth plastic 0.012, corrugated inside 0.022.",
    )
    cover_depth_in: float | None = number("Depth of cover", "in", 0, 240, help="Ground to the top of the pipe.")
    leaf_filter_fitted: bool | None = yes_no("Leaf filter fitted", help="At the downspout's foot or in the gutter.")


KIND = Kind(
    code="downspout_leader",
    version=1,
    name="downspout leader",
    plural="downspout leaders",
    plain_words=gettext_noop("the buried pipe from a downspout"),
    tag_prefix="DS",
    dimensions=DownspoutLeaderDimensions,
    symbol=Symbol("line", "dashed", width="inside_diameter_in", length="length_ft"),
    tasks=("look", "flush", "pour_bucket", "replace"),
    readings=(
        ask("flow_seen", "look", "flush", "pour_bucket"),
        ask("grade", "look"),
        ask("note", "look", "flush", "pour_bucket", "replace"),
    ),
    checklist=(
        gettext_noop("Gutter outlet and leaf filter clear; seen from the ground or a footed ladder"),
        gettext_noop("A hose at the downspout runs out at the far end"),
    ),
    may_feed=GRAVITY_RECEIVERS | {"downspout_leader"},
    takes_in=True,
    may_overflow=True,
    bore="inside_diameter_in",
    needs_fall=True,
)
