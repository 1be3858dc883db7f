"""A part of the register in words: its sizes, what is in the ground at a property, how full it is."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from jobs.kinds.base import DimensionField
from jobs.kinds.dimensions import fields, read_dimensions
from jobs.models import Component
from jobs.read.yard import Part, SystemThere
from maintenance.models import DueWindow
from maintenance.read.part_states import PartState
from maintenance.read.silt_now import Level
from pages.silt_section import Section, section

FIRST_SIZES = 6
SOON_DAYS = 28


@dataclass(frozen=True, slots=True)
class PartLine:
    """One part as a line of its system's register."""

    part: Part
    measured: str
    assumed: str
    found: str
    drawing: Section | None
    level: str
    limit: str


def value_words(item: DimensionField, value: Any) -> str:
    """A size with its unit; a choice in words; a curve as its points."""
    if item.type == "curve":
        return ", ".join(f"{p['flow_gpm']:g} gpm at {p['head_ft']:g} ft" for p in value)
    if item.type == "yes_no":
        return "yes" if value else "no"
    if isinstance(value, str):
        return item.choices.get(value, value)
    return f"{value:g} {item.unit}".strip()


def sizes(part: Part) -> tuple[str, str]:
    """(measured, assumed) sizes in words, the first of the kind's own order."""
    if part.kind is None:
        return "", ""
    row = part.component
    known = read_dimensions(part.kind, row.dimensions, row.certainty, version=row.kind_version)
    told: dict[str, list[str]] = {"measured": [], "assumed": []}
    for item in fields(part.kind):
        if item.name in known.values and item.type != "curve":
            words = f"{item.label[0].lower()}{item.label[1:]} {value_words(item, known.values[item.name])}"
            told[known.certainty[item.name]].append(words)
    return ", ".join(told["measured"][:FIRST_SIZES]), ", ".join(told["assumed"][:FIRST_SIZES])


def part_lines(
    system: SystemThere,
    states: Mapping[int, PartState],
    levels: Mapping[int, tuple[DueWindow, Level]],
    today: date,
) -> list[PartLine]:
    """The parts of one system. `states` and `levels` by the component's key."""
    return [_line(part, states, levels, today) for part in system.parts]


def _line(part: Part, states: Mapping[int, Any], levels: Mapping[int, Any], today: date) -> PartLine:
    pk = part.component.pk
    measured, assumed = sizes(part)
    state, drawing, now, limit = states.get(pk), None, "", ""
    if pk in levels:
        window, level = levels[pk]
        now, limit = level_words(level)
        heavy = (window.best_on - today).days <= SOON_DAYS
        label = f"{now} of silt expected today; {limit}"
        drawing = section(level.fill, level.limit, heavy=heavy, label=label)
    return PartLine(part, measured, assumed, state.words if state else "", drawing, now, limit)


def level_words(level: Level) -> tuple[str, str]:
    """('1.4 in', 'clean at 3 in'), in shares where the depth that can hold silt is unknown."""
    if level.depth_in is None or level.limit_in is None:
        return f"{level.fill:.0%} full", f"clean at {level.limit:.0%}"
    return f"{level.depth_in:.1f} in", f"clean at {round(level.limit_in, 1):g} in"


def in_the_ground(systems: Iterable[SystemThere]) -> str:
    """'2 channel runs, 56 ft; 2 catch basins; 1 pump' over all systems, in the order of the kinds."""
    parts = [part for system in systems for part in system.parts if part.kind is not None]
    counted = Counter(part.kind.code for part in parts if part.kind)
    told = []
    for code, count in counted.items():
        same = [part for part in parts if part.kind and part.kind.code == code]
        kind = same[0].kind
        lengths = [part.component.dimensions.get("length_ft") for part in same]
        name = kind.name if count == 1 else kind.plural  # type: ignore[union-attr]
        long = f", {sum(lengths):g} ft" if lengths and all(isinstance(x, int | float) for x in lengths) else ""
        told.append(f"{count} {name}{long}")
    return "; ".join(told)


def named(row: Component) -> str:
    """The tag, or what kind of part it is."""
    return row.tag or row.kind.replace("_", " ")


def levels_by_part(windows: Sequence[DueWindow], known: Mapping[int, Level]) -> dict[int, tuple[DueWindow, Level]]:
    """The expected silt of each part that has a silt window."""
    return {w.component_id: (w, known[w.pk]) for w in windows if w.pk in known}
