"""What a component kind declares. One file a kind in this package declares it; everything else follows from it.

Forms, the API schema, import columns, the drawing, closeout checklists and forecasts read these declarations.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from jobs.kinds.words import READINGS, TASKS, ReadingType

CapacityFall = Literal["none", "layer", "pump_intake"]
"""none: capacity does not fall with fill. layer: a silt bed takes its share of the section. pump_intake: nothing until
the silt reaches the pump's intake, then the pump is at risk."""

FieldType = Literal["number", "whole", "choice", "yes_no", "curve"]


class Dimensions(BaseModel):
    """Base of each kind's dimension model: every field may be absent (unknown), no other field is taken."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False, title="Dimensions")


def number(
    label: str,
    unit: str,
    low: float,
    high: float,
    *,
    assumed: float | None = None,
    assumed_by: tuple[str, Mapping[str, float]] | None = None,
    needed: bool = False,
    help: str,
) -> Any:
    """A measured number in `unit`, `low` to `high`.

    `assumed` is used where the value is unknown; `assumed_by` (name of a choice field, value per choice) where it
    depends on that choice; `needed` says the storm rating cannot do without it.
    """
    extra: dict[str, Any] = {"x-type": "number", "x-unit": unit, "x-assumed": assumed, "x-needed": needed}
    if assumed_by is not None:
        extra["x-assumed-by"] = {"field": assumed_by[0], "values": dict(assumed_by[1])}
    return Field(default=None, ge=low, le=high, title=label, description=help, json_schema_extra=extra)


def whole(label: str, unit: str, low: int, high: int, *, assumed: int | None = None, help: str) -> Any:
    """A count, `low` to `high`."""
    extra: dict[str, Any] = {"x-type": "whole", "x-unit": unit, "x-assumed": assumed}
    return Field(default=None, ge=low, le=high, title=label, description=help, json_schema_extra=extra)


def choice(label: str, choices: Mapping[str, str], *, assumed: str | None = None, help: str) -> Any:
    """One of the codes in `choices` (code -> words); the annotation must be a Literal of the same codes."""
    extra: dict[str, Any] = {"x-type": "choice", "x-choices": dict(choices), "x-assumed": assumed}
    return Field(default=None, title=label, description=help, json_schema_extra=extra)


def yes_no(label: str, *, assumed: bool | None = None, help: str) -> Any:
    """Yes or no."""
    extra: dict[str, Any] = {"x-type": "yes_no", "x-assumed": assumed}
    return Field(default=None, title=label, description=help, json_schema_extra=extra)


@dataclass(frozen=True)
class DimensionField:
    """One dimension as forms, import columns and messages need it. `name` ends with its unit where it has one."""

    name: str
    label: str
    type: FieldType
    unit: str
    help: str
    low: float | None
    high: float | None
    choices: Mapping[str, str]
    assumed: Any
    assumed_by: tuple[str, Mapping[str, Any]] | None
    needed: bool

    def expects(self) -> str:
        """What to give, in words: 'a number from 1 to 24 in'."""
        unit = f" {self.unit}" if self.unit else ""
        if self.type in ("number", "whole"):
            noun = "a number" if self.type == "number" else "a whole number"
            return f"{noun} from {self.low:g} to {self.high:g}{unit}"
        if self.type == "choice":
            return "one of " + ", ".join(self.choices)
        if self.type == "yes_no":
            return "yes or no"
        return "3 to 12 points, each with flow_gpm from 0 to 500 gpm and head_ft from 0 to 200 ft"


@dataclass(frozen=True)
class SiltRoom:
    """Where silt can lie: `dimension` [in] is the depth that holds it; fill = silt depth / that depth, 0 to 1.

    `only_if` names a yes/no dimension that must be yes for the silt to be watched at all.
    """

    dimension: str
    words: str
    only_if: str = ""


@dataclass(frozen=True)
class ReadingAsked:
    """A reading a closeout asks for at this kind, for these tasks; limits in `unit`, None where it is no number."""

    code: str
    words: str
    type: ReadingType
    unit: str
    low: float | None
    high: float | None
    tasks: tuple[str, ...]


def ask(code: str, *tasks: str, high: float | None = None) -> ReadingAsked:
    """Ask for the reading `code` with `tasks`; `high` tightens the general upper limit for this kind.

    Raises KeyError for a reading or task code that words.py does not know.
    """
    reading = READINGS[code]
    for task in tasks:
        TASKS[task]
    limit = reading.high if high is None else high
    return ReadingAsked(code, reading.words, reading.type, reading.unit, reading.low, limit, tasks)


@dataclass(frozen=True)
class Symbol:
    """How a kind is drawn to scale.

    `form`: line (a polyline along its course), box, round, or mark (a fixed sign). `stroke`: the pattern of its
    outline. `letters` stand inside a box, round or mark. `width`, `length` and `diameter` name the dimensions that give
    its true size; a line's course is its polyline.
    """

    form: Literal["line", "box", "round", "mark"]
    stroke: Literal["solid", "double", "dashed", "dotted", "chain", "ladder"] = "solid"
    letters: str = ""
    width: str = ""
    length: str = ""
    diameter: str = ""


@dataclass(frozen=True)
class DimensionProblem:
    """One thing wrong with one dimension: `message` names field, value, limit and unit and says what to give."""

    field: str
    message: str
    value: Any = None
    limit: str = ""
    unit: str = ""


def keep_as_is(old_version: int, values: Mapping[str, Any]) -> dict[str, Any]:
    """The upgrade of a kind whose dimensions never changed."""
    return dict(values)


def nothing_more(values: Mapping[str, Any]) -> list[DimensionProblem]:
    """The combination check of a kind whose dimensions are independent of each other."""
    return []


@dataclass(frozen=True)
class Kind:
    """A component kind. `code` and the dimension names are stored and never change meaning; see DEVELOPERS.md.

    `may_feed`: kinds that may receive its water by a normal connection. `sits_in`: kinds of basin it belongs to.
    `part_of`: kinds it is a sub-part of. `takes_in`: water enters the system here. `ends`: water may end here.
    `may_overflow`: excess may leave it by an overflow connection. `bore`: the dimension [in] compared along a line of
    pipes. `needs_fall`: gravity alone moves the water, so a least slope applies. `wears`: has a life and a hidden
    failure. `absent_when`: the choice (dimension, code) that records that there is none. `check` finds impossible
    combinations; `upgrade(old_version, values)` brings stored values up to date.
    """

    code: str
    version: int
    name: str
    plural: str
    plain_words: str
    tag_prefix: str
    dimensions: type[Dimensions]
    symbol: Symbol
    tasks: tuple[str, ...]
    readings: tuple[ReadingAsked, ...]
    checklist: tuple[str, ...]
    may_feed: frozenset[str] = frozenset()
    sits_in: frozenset[str] = frozenset()
    part_of: frozenset[str] = frozenset()
    takes_in: bool = False
    ends: bool = False
    may_overflow: bool = False
    bore: str = ""
    needs_fall: bool = False
    wears: bool = False
    absent_when: tuple[str, str] | None = None
    capacity_falls: CapacityFall = "none"
    silt: SiltRoom | None = None
    check: Callable[[Mapping[str, Any]], list[DimensionProblem]] = field(default=nothing_more)
    upgrade: Callable[[int, Mapping[str, Any]], dict[str, Any]] = field(default=keep_as_is)

    @property
    def a_name(self) -> str:
        """The name with its article: 'an outfall'."""
        return ("an " if self.name[0] in "aeiou" else "a ") + self.name

    @property
    def is_part(self) -> bool:
        """A sub-part: a row of its own with `part_of` and no tag."""
        return bool(self.part_of)

    def is_there(self, values: Mapping[str, Any]) -> bool:
        """False where the row records that there is none (a check valve 'none fitted'): no task applies to it."""
        return self.absent_when is None or values.get(self.absent_when[0]) != self.absent_when[1]

    @property
    def carries_water(self) -> bool:
        """Water passes through it or ends in it, so it must be connected."""
        return self.ends or bool(self.may_feed)


GRAVITY_RECEIVERS: Final = frozenset(
    {"catch_basin", "gravity_pipe", "clean_out", "sump_basin", "outfall", "dry_well", "channel_run"}
)
"""Kinds that take water running to them by its own weight."""
