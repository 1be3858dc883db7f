"""What a closeout says: version 1 of its JSON, read strictly from the bytes as they came. Pure.

A closeout that does not read is kept for the office with every problem named; it is never dropped.
"""

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Annotated, Any, Final, Literal, Self
from uuid import UUID

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    model_validator,
)

from core import limits, normalise
from jobs.kinds import words

VERSION: Final = 1
HAZARDS: Final = ("cable", "irrigation", "gas", "water", "dog", "soft_ground", "loose_lid", "traffic", "other")
SIGNATURE_CHARACTERS: Final = 60_000
SIGNATURE: Final = r"^[MLh0-9 -]*$"
"""Strokes as an SVG path of moves, lines and relative horizontals in whole pixels; nothing else can stand in it."""

FIRST_YEAR, LAST_YEAR = 2000, 2100


class NotUnderstood(ValueError):
    """The closeout cannot be read as version 1. `problems`: (field, message) for each, at most 50."""

    def __init__(self, problems: list[tuple[str, str]]) -> None:
        self.problems = tuple(problems[:50])
        super().__init__("; ".join(f"{field}: {message}" for field, message in self.problems[:5]))


def _plausible(at: datetime) -> datetime:
    if not FIRST_YEAR <= at.year < LAST_YEAR:
        raise ValueError(f"the year is {at.year}: give {FIRST_YEAR} to {LAST_YEAR - 1}")
    return at.astimezone(UTC)


def _known(table: Any, what: str) -> AfterValidator:
    def check(code: str) -> str:
        if code not in table:
            raise ValueError(f"{code[:40]!r} is no {what}: give one of {', '.join(table)}")
        return code

    return AfterValidator(check)


def _or_empty(value: Any) -> Any:
    return "" if value is None else value


Moment = Annotated[AwareDatetime, AfterValidator(_plausible)]
Line = Annotated[str, BeforeValidator(_or_empty), Field(max_length=400), AfterValidator(normalise.line)]
Short = Annotated[str, BeforeValidator(_or_empty), Field(max_length=limits.LINE), AfterValidator(normalise.line)]
Note = Annotated[str, BeforeValidator(_or_empty), Field(max_length=limits.NOTE), AfterValidator(normalise.text)]
Tag = Annotated[str, BeforeValidator(_or_empty), Field(max_length=limits.TAG), AfterValidator(normalise.line)]
Feet = Annotated[float, Field(ge=-2000, le=2000)]
Inches = Annotated[float, Field(ge=0, le=600)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class _AtPart(_Strict):
    """Names a component by its uid, or by the tag written on it."""

    component: UUID | None = None
    tag: Tag = ""

    @property
    def named(self) -> str:
        """How the sender named the component, for messages."""
        return str(self.component) if self.component else self.tag


class _NamesPart(_AtPart):
    @model_validator(mode="after")
    def _one_name(self) -> Self:
        if (self.component is None) == (not self.tag):
            raise ValueError("name the component by component (its uid) or by tag, one of the two")
        return self


class TaskReported(_NamesPart):
    """One task and what came of it. `left_fill`: silt left behind as fill, 0 clean to 1 full, if judged so."""

    task: Annotated[str, _known(words.TASKS, "task")]
    outcome: Annotated[str, _known(words.OUTCOMES, "outcome")]
    reason: Short = ""
    left_fill: Annotated[float, Field(ge=0, le=1)] | None = None

    @model_validator(mode="after")
    def _says_why(self) -> Self:
        if self.outcome == "could_not" and not self.reason:
            raise ValueError(f"reason is missing: say why {self.task} could not be done")
        return self


class ReadingTaken(_NamesPart):
    """One value. Numbers carry `value` and `unit` (the code's own where left out), yes or no a `value`, a grade
    `grade`, a note `text`. `measured_at`: when the crew left, where not given."""

    code: Annotated[str, _known(words.READINGS, "reading")]
    value: float | bool | None = None
    unit: Annotated[str, BeforeValidator(_or_empty), Field(max_length=12)] = ""
    grade: Annotated[str, BeforeValidator(_or_empty), Field(max_length=16)] = ""
    text: Line = ""
    moment: Literal["before", "after"] = "before"
    measured_at: Moment | None = None


class PartReplaced(_NamesPart):
    """An old part taken out and a new one put in; `new_uid` is made by the phone."""

    new_uid: UUID
    dimensions: dict[str, Any] = Field(default_factory=dict, max_length=60)
    certainty: dict[str, str] = Field(default_factory=dict, max_length=60)
    reason: Short
    because: Literal["", "failed", "worn", "planned", "not_needed", "damaged"] = ""
    name: Annotated[str, BeforeValidator(_or_empty), Field(max_length=limits.NAME)] = ""
    note: Note = ""
    photo: UUID | None = None

    @model_validator(mode="after")
    def _says_why(self) -> Self:
        if not self.reason:
            raise ValueError("reason is missing: say why the part was replaced")
        return self


class HazardFound(_Strict):
    """Something that can hurt someone or be broken; position in feet from the named corner."""

    kind: Annotated[str, _known(HAZARDS, "hazard")]
    note: Line = ""
    x_ft: Feet | None = None
    y_ft: Feet | None = None
    depth_in: Inches | None = None


class ExtraTask(_AtPart):
    """Something found that wants doing another time."""

    task: Annotated[str, BeforeValidator(_or_empty), Field(max_length=30)] = ""
    note: Line = ""


class CloseoutBody(_Strict):
    """The whole closeout. Exactly one of `visit`, `property` and `address` says where."""

    version: Literal[1] = 1
    uid: UUID
    visit: UUID | None = None
    property: UUID | None = None
    address: Annotated[str, BeforeValidator(_or_empty), Field(max_length=limits.ADDRESS)] = ""
    technician: UUID | None = None
    arrived_at: Moment | None = None
    left_at: Moment
    phone_at: Moment | None = None
    lids_fastened: bool
    lids_note: Line = ""
    tasks: tuple[TaskReported, ...] = Field(default=(), max_length=200)
    readings: tuple[ReadingTaken, ...] = Field(default=(), max_length=500)
    parts_replaced: tuple[PartReplaced, ...] = Field(default=(), max_length=30)
    hazards_found: tuple[HazardFound, ...] = Field(default=(), max_length=50)
    extra_tasks: tuple[ExtraTask, ...] = Field(default=(), max_length=50)
    photos: tuple[UUID, ...] = Field(default=(), max_length=200)
    nobody_home: bool = False
    signature: Annotated[str, BeforeValidator(_or_empty), Field(max_length=SIGNATURE_CHARACTERS, pattern=SIGNATURE)] = (
        ""
    )
    note: Note = ""
    follow_up: Line = ""

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.visit is None and self.property is None and not self.address.strip():
            raise ValueError("say where: give visit, or property, or the address as text")
        if self.arrived_at is not None and self.arrived_at > self.left_at:
            raise ValueError(f"arrived_at {self.arrived_at} is later than left_at {self.left_at}")
        seen = [(task.named, task.task) for task in self.tasks]
        for named, task in {pair for pair in seen if seen.count(pair) > 1}:
            raise ValueError(f"tasks names {task} of {named} twice: report it once")
        swapped = [part.named for part in self.parts_replaced]
        if len(set(swapped)) != len(swapped) or len({p.new_uid for p in self.parts_replaced}) != len(swapped):
            raise ValueError("parts_replaced names a part twice: report each replacement once")
        return self


def is_json(body: bytes) -> bool:
    """Whether the bytes are one JSON value in UTF-8 as RFC 8259 has it: no NaN, no byte order mark.

    >>> is_json(b'{"a": 1}'), is_json(b'{"a": NaN}'), is_json(b'<html>')
    (True, False, False)
    """
    try:
        json.loads(body.decode("utf-8"), parse_constant=_refuse_constant)
    except (ValueError, RecursionError):
        return False
    return True


def read_closeout(body: bytes, uid: UUID) -> CloseoutBody:
    """The closeout in `body`, sent under `uid`. Raises NotUnderstood naming every problem."""
    try:
        read = CloseoutBody.model_validate_json(body)
    except ValidationError as error:
        raise NotUnderstood(list(_problems(error))) from error
    if read.uid != uid:
        raise NotUnderstood([("uid", f"the closeout says {read.uid}, it was sent as {uid}")])
    return read


def _problems(error: ValidationError) -> Iterator[tuple[str, str]]:
    for item in error.errors(include_url=False, include_context=False):
        field = ".".join(str(part) for part in item["loc"]) or "closeout"
        message = item["msg"].removeprefix("Value error, ")
        if item["type"] == "missing":
            message = "is missing"
        elif isinstance(item["input"], str | int | float):
            message = f"{message} (given: {str(item['input'])[:60]})"
        yield field, message


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is no JSON number")


def closeout_schema() -> dict[str, Any]:
    """JSON schema (2020-12) of version 1, for the API's documentation."""
    return CloseoutBody.model_json_schema()
