"""Float: the sub-part that switches a pump on and off."""

from typing import Literal

from jobs.kinds.base import Dimensions, Kind, Symbol, ask, choice, yes_no
from jobs.kinds.words import gettext_noop


class FloatDimensions(Dimensions):
    switch_type: Literal["tethered", "vertical", "diaphragm", "electronic"] | None = choice(
        "Type",
        {
            "tethered": "swings on its cord",
            "vertical": "slides on a rod",
            "diaphragm": "pressed by the water's weight",
            "electronic": "no moving part",
        },
        assumed="tethered",
        help="How it feels the water.",
    )
    plug_in_series: bool | None = yes_no(
        "Plug through the float's plug", help="The pump can be run without the float by plugging it straight in."
    )


KIND = Kind(
    code="float",
    version=1,
    name="float",
    plural="floats",
    plain_words=gettext_noop("the switch that starts the pump"),
    tag_prefix="",
    dimensions=FloatDimensions,
    symbol=Symbol("mark", letters="F"),
    tasks=("test_float", "replace"),
    readings=(ask("switched", "test_float"), ask("note", "test_float", "replace")),
    checklist=(
        gettext_noop("Water run in until the pump starts by itself, and stops by itself"),
        gettext_noop("Cord tied so that the float cannot catch on wall, pipe or pump"),
    ),
    part_of=frozenset({"pump"}),
    sits_in=frozenset({"sump_basin"}),
    wears=True,
)
