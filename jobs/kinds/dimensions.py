"""Validate, read and describe the dimensions of a component.

Known values only are stored; an absent key is unknown. Writes refuse unknown keys, reads ignore them.
"""

import copy
import difflib
import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from jobs.kinds.base import DimensionField, DimensionProblem, Kind
from jobs.kinds.words import CERTAINTIES


class DimensionError(ValueError):
    """Dimensions were refused. `problems` holds every problem found, not only the first."""

    def __init__(self, problems: list[DimensionProblem]) -> None:
        self.problems = tuple(problems)
        super().__init__(" ".join(problem.message for problem in problems))


@dataclass(frozen=True)
class Known:
    """The dimensions that are known: `values` by name, `certainty` ('measured' or 'assumed') for each same name."""

    values: dict[str, Any]
    certainty: dict[str, str]


@dataclass(frozen=True)
class Filled:
    """Known values completed by assumptions. `assumed`: names not measured. `missing`: needed by the storm rating."""

    values: dict[str, Any]
    assumed: frozenset[str]
    missing: tuple[DimensionField, ...]


@functools.cache
def fields(kind: Kind) -> tuple[DimensionField, ...]:
    """The dimensions of `kind` in the order they are declared and asked for."""
    found = []
    for name, info in kind.dimensions.model_fields.items():
        extra = info.json_schema_extra
        if not isinstance(extra, dict):
            raise TypeError(f"{kind.code}.{name} must be declared with a helper of jobs.kinds.base")
        by: Any = extra.get("x-assumed-by")
        shape: Any = extra
        found.append(
            DimensionField(
                name=name,
                label=info.title or name,
                type=shape["x-type"],
                unit=shape.get("x-unit", ""),
                help=info.description or "",
                low=next((item.ge for item in info.metadata if hasattr(item, "ge")), None),
                high=next((item.le for item in info.metadata if hasattr(item, "le")), None),
                choices=shape.get("x-choices", {}),
                assumed=shape.get("x-assumed"),
                assumed_by=(by["field"], by["values"]) if by else None,
                needed=bool(shape.get("x-needed", False)),
            )
        )
    return tuple(found)


@functools.cache
def field_by_name(kind: Kind) -> Mapping[str, DimensionField]:
    """The dimensions of `kind` by name."""
    return {item.name: item for item in fields(kind)}


def clean_dimensions(kind: Kind, values: Mapping[str, Any], certainty: Mapping[str, str] | None = None) -> Known:
    """Check `values` for writing and return the known ones with their certainty.

    None means unknown and is dropped. A value without a stated certainty counts as assumed. A `kind` key that
    repeats the kind's own code is taken and dropped. Raises DimensionError with every problem.
    """
    problems = _wrong_kind(kind, values)
    given = {name: value for name, value in values.items() if name != "kind" and value is not None}
    known = _validated(kind, given, problems)
    sure = _clean_certainty(kind, known, certainty or {}, problems)
    if not problems:
        problems.extend(kind.check(known))
    if problems:
        raise DimensionError(problems)
    return Known(known, sure)


def _wrong_kind(kind: Kind, values: Mapping[str, Any]) -> list[DimensionProblem]:
    if "kind" not in values or values["kind"] == kind.code:
        return []
    message = f"kind is {_shown(values['kind'])}: these are the dimensions of {kind.a_name}, give {kind.code}."
    return [DimensionProblem("kind", message, values["kind"], kind.code)]


def _validated(kind: Kind, given: dict[str, Any], problems: list[DimensionProblem]) -> dict[str, Any]:
    by_name = field_by_name(kind)
    good = {}
    for name, value in given.items():
        if name not in by_name:
            problems.append(_unknown_key(kind, name, value))
        elif not _finite(value):
            problems.append(_refused(by_name[name], value))
        else:
            good[name] = value
    try:
        return kind.dimensions.model_validate(good).model_dump(exclude_none=True)
    except ValidationError as error:
        wrong = dict.fromkeys(str(item["loc"][0]) for item in error.errors(include_url=False, include_input=False))
        problems.extend(_refused(by_name[name], good[name]) for name in wrong)
        return {name: value for name, value in good.items() if name not in wrong}


def _clean_certainty(
    kind: Kind, known: Mapping[str, Any], certainty: Mapping[str, str], problems: list[DimensionProblem]
) -> dict[str, str]:
    wrong = {problem.field for problem in problems}
    by_name = field_by_name(kind)
    for name, sure in certainty.items():
        if name not in by_name:
            problems.append(_unknown_key(kind, name, sure))
        elif name in known and sure not in CERTAINTIES:
            message = f"The certainty of {name} is {_shown(sure)}: give measured or assumed."
            problems.append(DimensionProblem(name, message, sure, "measured or assumed"))
        elif name not in known and name not in wrong and sure in CERTAINTIES:
            message = f"{name} is marked {sure} but has no value: give {by_name[name].expects()}, or leave both out."
            problems.append(DimensionProblem(name, message, None, by_name[name].expects(), by_name[name].unit))
    return {name: certainty.get(name, "assumed") for name in known}


def _finite(value: Any) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    # Integers beyond what a float holds exactly cannot be a length, a flow or a count.
    return not (isinstance(value, int) and abs(value) > 2**53)


def _refused(item: DimensionField, value: Any) -> DimensionProblem:
    unit = f" {item.unit}" if item.unit and isinstance(value, int | float) and not isinstance(value, bool) else ""
    message = f"{item.name} is {_shown(value)}{unit}: give {item.expects()}."
    return DimensionProblem(item.name, message, value, item.expects(), item.unit)


def _unknown_key(kind: Kind, name: str, value: Any) -> DimensionProblem:
    close = difflib.get_close_matches(str(name)[:80], list(field_by_name(kind)), n=1)
    hint = f"did you mean {close[0]}?" if close else "it has " + (", ".join(field_by_name(kind)) or "none") + "."
    message = f"{_shown(name)} (value {_shown(value)}) is not a dimension of {kind.a_name}: {hint}"
    return DimensionProblem(str(name)[:80], message, value)


def _shown(value: Any) -> str:
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) > 2**53:
        return "a number too large"
    text = value if isinstance(value, str) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def read_dimensions(
    kind: Kind, values: Mapping[str, Any], certainty: Mapping[str, str] | None = None, *, version: int | None = None
) -> Known:
    """Read stored dimensions: keys this kind does not know are ignored, older versions are upgraded, nothing refused.

    `version` is the kind's version they were written under (None: the present one). A value that an upgrade brought
    under a new name counts as assumed.
    """
    stored = dict(values) if version is None or version == kind.version else kind.upgrade(version, values)
    names = field_by_name(kind)
    known = {name: value for name, value in stored.items() if name in names and value is not None}
    sure = certainty or {}
    return Known(known, {name: sure[name] if sure.get(name) in CERTAINTIES else "assumed" for name in known})


def fill_assumptions(kind: Kind, known: Known) -> Filled:
    """Complete known values with the kind's assumptions for computing; says what was assumed and what is missing."""
    values: dict[str, Any] = dict(known.values)
    assumed = {name for name, sure in known.certainty.items() if sure == "assumed"}
    for item in fields(kind):
        if item.name not in values and item.assumed is not None:
            values[item.name] = copy.deepcopy(item.assumed)
            assumed.add(item.name)
    for item in fields(kind):
        if item.name not in values and item.assumed_by is not None:
            value = item.assumed_by[1].get(values.get(item.assumed_by[0], ""))
            if value is not None:
                values[item.name] = value
                assumed.add(item.name)
    missing = tuple(item for item in fields(kind) if item.needed and item.name not in values)
    return Filled(values, frozenset(assumed), missing)


def json_schema(kind: Kind) -> dict[str, Any]:
    """The JSON schema (2020-12) of one kind's dimensions; it repeats `kind` as a literal, to be told apart by."""
    schema = kind.dimensions.model_json_schema()
    parts = schema.pop("$defs", {})
    properties = {"kind": {"const": kind.code, "type": "string", "title": "Kind"}}
    for name, item in schema.get("properties", {}).items():
        properties[name] = _flat(item, parts)
    return {
        "type": "object",
        "title": f"Dimensions of {kind.a_name}",
        "properties": properties,
        "required": ["kind"],
        "additionalProperties": False,
    }


def _flat(item: dict[str, Any], parts: dict[str, Any]) -> dict[str, Any]:
    """One property without references: `anyOf X or null` becomes X that may be null."""
    rest = {key: value for key, value in item.items() if key not in ("anyOf", "default")}
    rest = {key: value for key, value in rest.items() if value is not None and value is not False}
    options = [option for option in item.get("anyOf", []) if option != {"type": "null"}]
    shape = dict(options[0]) if options else {}
    if "$ref" in shape.get("items", {}):
        shape["items"] = parts[shape["items"]["$ref"].rsplit("/", 1)[-1]]
    if "enum" in shape:
        shape["enum"] = [*shape["enum"], None]
    shape["type"] = [shape["type"], "null"]
    return {**shape, **rest}
