"""Check valve: keeps the water in the discharge line from running back into the basin."""

from typing import Literal

from jobs.kinds.base import Dimensions, Kind, Symbol, ask, choice, number, yes_no
from jobs.kinds.words import gettext_noop


class CheckValveDimensions(Dimensions):
    valve_type: Literal["swing", "spring", "ball", "flap", "none_fitted"] | None = choice(
        "Type",
        {
            "swing": "swing",
            "spring": "spring",
            "ball": "ball",
            "flap": "rubber flap",
            "none_fitted": "none fitted",
        },
        assumed="swing",
        help="'None fitted' says that someone looked and the pump has none.",
    )
    inside_diameter_in: float | None = number(
        "Inside diameter", "in", 0.5, 6, assumed=1.61, help="Bore of the pipe it sits in."
    )
    reachable: bool | None = yes_no("Can be reached", help="Without digging or cutting.")


KIND = Kind(
    code="check_valve",
    version=1,
    name="check valve",
    plural="check valves",
    plain_words=gettext_noop("the one-way valve above the pump"),
    tag_prefix="CV",
    dimensions=CheckValveDimensions,
    symbol=Symbol("mark", letters="CV"),
    tasks=("test_valve", "clean", "replace"),
    readings=(ask("fall_back_in", "test_valve"), ask("note", "test_valve", "clean", "replace")),
    checklist=(
        gettext_noop("Water level in the basin watched for two minutes after the pump stops"),
        gettext_noop("Line drained back into a bucket before the valve is opened"),
    ),
    may_feed=frozenset({"discharge_line"}),
    wears=True,
    absent_when=("valve_type", "none_fitted"),
)
