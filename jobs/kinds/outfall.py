"""Outfall: where the water comes out."""

from typing import Literal

from jobs.kinds.base import Dimensions, Kind, Symbol, ask, choice, number
from jobs.kinds.words import gettext_noop


class OutfallDimensions(Dimensions):
    outlet_kind: Literal["open", "curb", "pop_up"] | None = choice(
        "Kind of outlet",
        {"open": "open pipe end", "curb": "through the curb", "pop_up": "pop-up"},
        assumed="open",
        help="How the water leaves.",
    )
    outlet_diameter_in: float | None = number("Outlet diameter", "in", 0.5, 24, assumed=4, help="Of the opening.")
    opening_head_in: float | None = number(
        "Opening head",
        "in",
        0,
        24,
        assumed_by=("outlet_kind", {"open": 0, "curb": 0, "pop_up": 2}),
        help="Height of water needed to open it; a pop-up about 2 in (assumption).",
    )
    tailwater_in: float | None = number(
        "Tailwater",
        "in",
        0,
        120,
        assumed_by=("outlet_kind", {"open": 0, "curb": 4, "pop_up": 0}),
        help="Water standing outside against it in a storm; a curb about 4 in (assumption).",
    )


KIND = Kind(
    code="outfall",
    version=1,
    name="outfall",
    plural="outfalls",
    plain_words=gettext_noop("where the water comes out"),
    tag_prefix="OF",
    dimensions=OutfallDimensions,
    symbol=Symbol("mark", letters="OF", diameter="outlet_diameter_in"),
    tasks=("look", "clear_outfall", "replace"),
    readings=(
        ask("grade", "look", "clear_outfall"),
        ask("flow_seen", "look", "clear_outfall"),
        ask("note", "look", "clear_outfall", "replace"),
    ),
    checklist=(
        gettext_noop("Turf, mulch and ice cut back from the opening"),
        gettext_noop("Pop-up lid lifts and falls shut by itself"),
        gettext_noop("Water leaves toward the street or a place local code allows, not onto a neighbor"),
    ),
    ends=True,
)
