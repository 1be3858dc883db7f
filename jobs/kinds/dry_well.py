"""Dry well: a buried chamber or stone pit from which the water soaks away."""

from jobs.kinds.base import Dimensions, Kind, Symbol, ask, number, whole, yes_no
from jobs.kinds.words import gettext_noop


class DryWellDimensions(Dimensions):
    inside_diameter_in: float | None = number("Inside diameter", "in", 12, 120, assumed=24, help="Of one chamber.")
    depth_in: float | None = number("Depth", "in", 12, 240, assumed=24, help="Of one chamber.")
    chambers: int | None = whole("Chambers", "", 1, 20, assumed=1, help="Stacked or side by side.")
    storage_ft3: float | None = number(
        "Storage", "ft3", 1, 5000, help="Chambers and the voids of the stone together, if known."
    )
    soaking_in_per_h: float | None = number(
        "Soaking rate",
        "in/h",
        0.01,
        100,
        help="Fall of the water level in a percolation test; never assumed.",
    )
    overflow_fitted: bool | None = yes_no("Overflow fitted", help="Water has a way out when it is full.")


KIND = Kind(
    code="dry_well",
    version=1,
    name="dry well",
    plural="dry wells",
    plain_words=gettext_noop("the buried pit where water soaks into the ground"),
    tag_prefix="DW",
    dimensions=DryWellDimensions,
    symbol=Symbol("round", "dotted", letters="DW", diameter="inside_diameter_in"),
    tasks=("look", "clean", "replace"),
    readings=(
        ask("silt_depth_in", "look", "clean"),
        ask("grade", "look", "clean"),
        ask("silt_left_in", "clean"),
        ask("note", "look", "clean", "replace"),
    ),
    checklist=(
        gettext_noop("Standing water noted with the days since the last rain"),
        gettext_noop("Worked from above; nobody climbs in"),
    ),
    ends=True,
    may_overflow=True,
)
