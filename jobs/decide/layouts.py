"""Starting layouts: a whole system from about six numbers, to begin an as-built from.

Each layout is a pure function. The numbers given carry the certainty they are given with; everything else is assumed
until someone measures it. What comes out passes the graph checks.
"""

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from jobs.decide import layout_builders as build
from jobs.decide.layout_draft import Draft, Numbers, StartingDraft

__all__ = ["ALL", "Ask", "LayoutError", "StartingLayout", "draft", "get"]


class LayoutError(ValueError):
    """A layout was refused: unknown code, or numbers missing, unknown or out of range. `problems` lists them all."""

    def __init__(self, problems: list[str]) -> None:
        self.problems = tuple(problems)
        super().__init__(" ".join(problems))


@dataclass(frozen=True)
class Ask:
    """One number a layout asks for, in `unit`, from `low` to `high`; `usual` stands in the form to begin with."""

    name: str
    label: str
    unit: str
    low: float
    high: float
    usual: float
    help: str = ""
    whole: bool = False


@dataclass(frozen=True)
class StartingLayout:
    """A ready-made set of components and connections. `asks` are its numbers, `builder` makes the draft from them."""

    code: str
    name: str
    words: str
    asks: tuple[Ask, ...]
    builder: Callable[[Draft, Numbers], None] = field(repr=False)


def _length(name: str, label: str, usual: float) -> Ask:
    return Ask(name, label, "ft", 1, 500, usual)


def _area(name: str, label: str, usual: float) -> Ask:
    return Ask(name, label, "ft2", 1, 100_000, usual)


CHANNEL_WIDTH: Final = Ask("channel_width_in", "Channel inside width", "in", 2, 12, 4)
CHANNEL_DEPTH: Final = Ask("channel_depth_in", "Channel inside depth", "in", 2, 24, 6)
LIFT: Final = Ask("static_lift_ft", "Static lift", "ft", 0, 40, 6, "Pump-off level up to the outlet.")
SLOPE: Final = Ask("slope_percent", "Slope of the pipes", "%", 0.5, 20, 1, "1 % is 1/8 in a foot.")

ALL: Final[tuple[StartingLayout, ...]] = (
    StartingLayout(
        "channel_pumped_curb",
        "channel run to pumped sump to curb",
        "A level channel across the patio falls into a sump basin; a pump lifts the water to the curb.",
        (
            _length("channel_length_ft", "Channel length", 40),
            CHANNEL_WIDTH,
            CHANNEL_DEPTH,
            _length("discharge_length_ft", "Discharge line length", 60),
            LIFT,
            _area("paved_area_ft2", "Paved area that drains to it", 600),
        ),
        build.channel_pumped_curb,
    ),
    StartingLayout(
        "leaders_pop_up",
        "downspout leaders to pop-up outfall",
        "Each downspout has its own leader into one larger pipe that ends in a pop-up in the lawn.",
        (
            Ask("downspouts", "Downspouts", "", 1, 12, 3, whole=True),
            _length("leader_length_ft", "Length of each leader", 15),
            _length("pipe_length_ft", "Length of the common pipe", 40),
            Ask("pipe_diameter_in", "Common pipe inside diameter", "in", 4, 12, 6),
            SLOPE,
            _area("roof_area_ft2", "Roof area, all downspouts together", 1200),
        ),
        build.leaders_pop_up,
    ),
    StartingLayout(
        "french_dry_well",
        "French drain to dry well",
        "A perforated pipe in stone, with a clean-out at its high end, leads to a dry well that overflows to the lawn.",
        (
            _length("drain_length_ft", "French drain length", 50),
            SLOPE,
            Ask("trench_depth_in", "Trench depth", "in", 12, 60, 24),
            _length("pipe_length_ft", "Solid pipe to the dry well", 10),
            Ask("dry_well_diameter_in", "Dry well inside diameter", "in", 12, 120, 24),
            _area("lawn_area_ft2", "Lawn that drains to it", 1000),
        ),
        build.french_dry_well,
    ),
    StartingLayout(
        "basins_gravity_curb",
        "catch basins by gravity to curb",
        "Catch basins in a row, each with a pipe to the next, run by gravity to the curb.",
        (
            Ask("basins", "Catch basins", "", 1, 12, 3, whole=True),
            Ask("basin_width_in", "Basin width and length", "in", 6, 36, 12),
            Ask("basin_depth_in", "Basin depth", "in", 12, 60, 24),
            _length("pipe_length_ft", "Length of each pipe", 25),
            SLOPE,
            _area("lawn_area_ft2", "Lawn and bed, all basins together", 1500),
        ),
        build.basins_gravity_curb,
    ),
    StartingLayout(
        "two_sumps",
        "two sump basins",
        "A level channel open at both ends feeds two sump basins, each with its own pump and line to the curb.",
        (
            _length("channel_length_ft", "Channel length", 60),
            CHANNEL_WIDTH,
            CHANNEL_DEPTH,
            _length("discharge_length_ft", "Length of each discharge line", 50),
            LIFT,
            _area("paved_area_ft2", "Paved area that drains to it", 1200),
        ),
        build.two_sumps,
    ),
)

BY_CODE: Final[dict[str, StartingLayout]] = {layout.code: layout for layout in ALL}


def get(code: str) -> StartingLayout:
    """The layout with this code. Raises LayoutError naming the codes there are."""
    if code not in BY_CODE:
        raise LayoutError([f"layout is {code[:60]!r}: give one of {', '.join(BY_CODE)}."])
    return BY_CODE[code]


def draft(
    code: str, numbers: Mapping[str, Any], *, taken_tags: Collection[str] = (), certainty: str = "assumed"
) -> StartingDraft:
    """The components, connections and drainage areas of one layout.

    A number left out takes its usual value, then assumed whatever `certainty` says. `taken_tags` are the property's
    present tags: new ones go on from them. Raises LayoutError with every number that is unknown or out of range.
    """
    layout = get(code)
    asks = {ask.name: ask for ask in layout.asks}
    problems = [
        f"{name} is not asked by {layout.name!r}: it asks {', '.join(asks)}." for name in numbers if name not in asks
    ]
    values = {}
    for name, ask in asks.items():
        value = numbers.get(name)
        values[name] = ask.usual if value is None else value
        problems.extend(_out_of_range(ask, values[name]))
    if problems:
        raise LayoutError(problems)
    given = {name for name in asks if numbers.get(name) is not None}
    started = Draft(taken_tags)
    layout.builder(started, Numbers(values, frozenset(given if certainty == "measured" else ())))
    return started.finished()


def _out_of_range(ask: Ask, value: Any) -> list[str]:
    number = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
    if number and ask.low <= value <= ask.high and (not ask.whole or value == int(value)):
        return []
    what = "a whole number" if ask.whole else "a number"
    return [f"{ask.name} is {value!r}: give {what} from {ask.low:g} to {ask.high:g} {ask.unit}".rstrip() + "."]
