"""Read the rule library: the rules a company starts with, kept as data in maintenance/rule_library.

A file holds `[[rule]]` tables. Everything is checked when it is read; each problem names file, rule and field.
"""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from jobs.kinds import registry
from jobs.kinds.words import OWNER_SAFETY, TASKS
from maintenance.decide.rule_numbers import RuleNumbersError, clean_numbers, forecast_numbers
from maintenance.forecast import records

LIBRARY_FOLDER: Final = Path(__file__).resolve().parent.parent / "rule_library"

COMMON_PRACTICE: Final = "common practice, no source"
ASSUMPTION: Final = "assumption"
YEAR_NOT_SEEN: Final = "year not seen"

_YEAR: Final = re.compile(r"\b(19|20)\d\d\b")


class RuleLibraryError(ValueError):
    """The library was refused. `problems` holds every problem: file, rule, field and what to give."""

    def __init__(self, problems: list[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(problems))


class LibraryRule(BaseModel):
    """One rule as it starts out. `numbers` depend on `basis`; `active` False offers it without using it.

    An owner rule's words for the homeowner always end with the safety words for owner tasks.
    """

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    code: str = Field(pattern=r"^[a-z][a-z0-9_]{2,59}$")
    kind: str
    task: str
    basis: Literal["calendar", "season", "silt", "wear", "storm"]
    standing: Literal["firm", "fallback"]
    numbers: dict[str, Any]
    minutes: int = Field(ge=1, le=480)
    who: Literal["crew", "owner"] = "crew"
    words_office: str = Field(min_length=5, max_length=300)
    words_homeowner: str = Field(min_length=5, max_length=400)
    source: str = Field(min_length=5, max_length=300)
    active: bool = True

    @field_validator("kind")
    @classmethod
    def _kind_is_known(cls, value: str) -> str:
        if value not in registry.BY_CODE:
            raise ValueError(f"give one of {', '.join(registry.BY_CODE)}")
        return value

    @field_validator("task")
    @classmethod
    def _task_is_known(cls, value: str) -> str:
        if value not in TASKS:
            raise ValueError(f"give one of {', '.join(TASKS)}")
        return value

    @field_validator("source")
    @classmethod
    def _source_says_what_it_is(cls, value: str) -> str:
        if value.startswith((COMMON_PRACTICE, ASSUMPTION)) or _YEAR.search(value) or YEAR_NOT_SEEN in value:
            return value
        raise ValueError(
            f"give a published source with its number, year (or {YEAR_NOT_SEEN!r}) and section, or begin with "
            f"{COMMON_PRACTICE!r} or {ASSUMPTION!r}"
        )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        kind = registry.get(self.kind)
        if self.task not in kind.tasks:
            raise ValueError(f"task is {self.task!r}: {kind.a_name} takes one of {', '.join(kind.tasks)}")
        if self.basis == "silt" and (kind.silt is None or self.task != "clean"):
            raise ValueError("basis is 'silt': that is for the task clean of a kind that holds silt")
        if self.basis == "wear" and not kind.wears:
            raise ValueError(f"basis is 'wear': {kind.a_name} has no life to wear out; use another basis")
        if self.basis == "wear" and (self.numbers.get("purpose") == "replace") != (self.task == "replace"):
            raise ValueError(f"purpose is {self.numbers.get('purpose')!r}, which is not for the task {self.task!r}")
        return self


def load_library(folder: Path = LIBRARY_FOLDER) -> tuple[LibraryRule, ...]:
    """Every rule of every file in `folder`, files by name. Raises RuleLibraryError with all problems."""
    found: dict[str, LibraryRule] = {}
    problems: list[str] = []
    for path in sorted(folder.glob("*.toml")):
        for place, table in enumerate(_tables(path, problems), start=1):
            try:
                rule = clean_rule(table)
            except RuleLibraryError as error:
                name = table.get("code") or f"number {place}"
                problems.extend(f"{path.name}, rule {name}, {problem}" for problem in error.problems)
                continue
            if rule.code in found:
                problems.append(f"{path.name}, rule {rule.code}, code: is used twice; give each rule its own")
            found[rule.code] = rule
    if problems:
        raise RuleLibraryError(problems)
    return tuple(found.values())


def clean_rule(table: Mapping[str, Any]) -> LibraryRule:
    """Check one rule, the library's or the company's own. Raises RuleLibraryError, naming each field."""
    problems: list[str] = []
    given = dict(table)
    try:
        if isinstance(given.get("numbers"), Mapping) and isinstance(given.get("basis"), str):
            given["numbers"] = clean_numbers(given["basis"], given["numbers"])
    except RuleNumbersError as error:
        problems.extend(f"{name}: {message}" for name, message in error.problems if name != "basis")
    try:
        rule = LibraryRule.model_validate(given)
    except ValidationError as error:
        problems.extend(_told(item) for item in error.errors(include_url=False))
    if problems:
        raise RuleLibraryError(problems)
    return rule.model_copy(update={"words_homeowner": homeowner_words(rule.words_homeowner, rule.who)})


def homeowner_words(words: str, who: str) -> str:
    """The words a homeowner sees; a task of their own always carries the safety words."""
    if who != "owner" or OWNER_SAFETY in words:
        return words
    return f"{words.rstrip()} {OWNER_SAFETY}"


def forecast_rule(
    rule: LibraryRule,
    *,
    id: str | None = None,
    version: int = 1,
    property_id: int | None = None,
    component_id: int | None = None,
) -> records.Rule:
    """The rule as the forecast takes it; `id` defaults to its code. What follows from kind and task is filled in."""
    return records.Rule(
        id=rule.code if id is None else id,
        kind=rule.kind,
        task=rule.task,
        basis=rule.basis,
        firmness=rule.standing,
        numbers=forecast_numbers(rule.basis, rule.numbers),
        minutes=rule.minutes,
        who=rule.who,
        words=rule.words_office,
        source=rule.source,
        version=version,
        enabled=rule.active,
        also_done_by=TASKS[rule.task].also_done_by,
        needs_pump=needs_pump(rule.kind, rule.basis),
        property_id=property_id,
        component_id=component_id,
    )


def needs_pump(kind: str, basis: str) -> bool:
    """Whether a rule holds only beside a pump: a sump's silt counts up to the pump's intake."""
    return basis == "silt" and registry.get(kind).capacity_falls == "pump_intake"


def _tables(path: Path, problems: list[str]) -> list[dict[str, Any]]:
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        problems.append(f"{path.name}: cannot be read: {error}")
        return []
    tables = content.get("rule")
    if set(content) != {"rule"} or not isinstance(tables, list) or not all(isinstance(item, dict) for item in tables):
        problems.append(f"{path.name}: give [[rule]] tables and nothing else")
        return []
    return tables


def _told(item: Any) -> str:
    name = str(item["loc"][0]) if item["loc"] else "rule"
    if item["type"] == "missing":
        return f"{name}: is missing; give it"
    if item["type"] == "extra_forbidden":
        return f"{name}: is not a field of a rule; remove it"
    message = str(item["msg"]).removeprefix("Value error, ")
    return (
        f"{name}: {message}" if not item["loc"] else f"{name}: is {item['input']!r}; {message[0].lower()}{message[1:]}"
    )
