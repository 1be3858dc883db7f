"""A small form mechanism: named fields with label, help and unit, filled from what was typed or what is stored."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final, Literal

from django.http import QueryDict

from core.problem import BadInput, FieldProblem, Problem
from jobs.kinds.base import Kind
from jobs.kinds.dimensions import fields as dimension_fields

Sort = Literal["text", "long", "number", "date", "choice", "check", "file", "hidden", "secret"]
CERTAINTIES: Final = (("measured", "measured"), ("assumed", "assumed"), ("", "unknown"))
DIMENSION: Final = "dim_"
CERTAINTY: Final = "sure_"


@dataclass(frozen=True, slots=True)
class Field:
    """One line of a form. `value` is text as shown; `error` stands beside it. `beside`: a second choice on the line."""

    name: str
    label: str
    sort: Sort = "text"
    value: str = ""
    help: str = ""
    unit: str = ""
    choices: Sequence[tuple[str, str]] = ()
    required: bool = False
    error: str = ""
    beside: "Field | None" = None

    @property
    def html_id(self) -> str:
        """Id of the input."""
        return f"f-{self.name}"


def typed(fields: Sequence[Field], given: QueryDict) -> list[Field]:
    """The fields with what was typed in place of what is stored."""
    return [
        replace(
            field,
            value=("1" if field.name in given else "") if field.sort == "check" else given.get(field.name, ""),
            beside=replace(field.beside, value=given.get(field.beside.name, "")) if field.beside else None,
        )
        if field.sort != "file"
        else field
        for field in fields
    ]


def with_errors(fields: Sequence[Field], problem: Problem) -> tuple[list[Field], list[tuple[str, str]]]:
    """Fields with their errors, and a summary of (id, message) for the top of the page."""
    by_name: dict[str, str] = {}
    for item in problem.fields:
        by_name.setdefault(item.field.rpartition(".")[2] or item.field, item.message)
    marked, told = [], []
    for field in fields:
        name = field.name.removeprefix(DIMENSION)
        message = by_name.pop(name, "")
        marked.append(replace(field, error=message))
        if message:
            told.append((field.html_id, message))
    told += [("", message) for message in by_name.values()]
    return marked, told or [("", problem.detail)]


def cleaned(fields: Sequence[Field], given: QueryDict) -> dict[str, Any]:
    """Values by name: numbers, dates, yes and no. Raises BadInput naming each that does not read."""
    values: dict[str, Any] = {}
    problems: list[FieldProblem] = []
    for field in fields:
        if field.sort in ("file", "hidden") or field.name.startswith(DIMENSION):
            continue
        text = given.get(field.name, "").strip()
        try:
            values[field.name] = _value(field, text, field.name in given)
        except ValueError as error:
            problems.append(FieldProblem(field.name, f"{field.label}: {error}", text))
    if problems:
        raise BadInput("Some values need another look.", fields=tuple(problems))
    return values


def _value(field: Field, text: str, there: bool) -> Any:
    if field.sort == "check":
        return there
    if not text:
        if field.required:
            raise ValueError("is missing")
        return None if field.sort in ("number", "date") else ""
    if field.sort == "number":
        return number(text)
    if field.sort == "date":
        try:
            return date.fromisoformat(text)
        except ValueError:
            raise ValueError(f"{text[:20]!r} is no date: give one such as 2026-05-04") from None
    if field.sort == "choice" and text not in {code for code, _ in field.choices}:
        raise ValueError(f"{text[:30]!r} is not one of the choices")
    return text


def number(text: str) -> float:
    """A number as people type it. Raises ValueError."""
    try:
        value = float(text)
    except ValueError:
        raise ValueError(f"{text[:20]!r} is no number") from None
    if value != value or value in (float("inf"), float("-inf")):
        raise ValueError(f"{text[:20]!r} is no number")
    return value


def dimension_lines(kind: Kind, values: Mapping[str, Any], certainty: Mapping[str, str]) -> list[Field]:
    """One line a dimension of `kind`: the value and how it is known. Curves are kept as stored."""
    lines = []
    for item in dimension_fields(kind):
        if item.type == "curve":
            continue
        value = values.get(item.name)
        choices: Sequence[tuple[str, str]] = ()
        if item.type == "choice":
            choices = [("", "unknown"), *item.choices.items()]
        elif item.type == "yes_no":
            choices = [("", "unknown"), ("yes", "yes"), ("no", "no")]
        shown = (
            "" if value is None else ({True: "yes", False: "no"}.get(value, str(value)) if choices else f"{value:g}")
        )
        lines.append(
            Field(
                name=DIMENSION + item.name,
                label=item.label,
                sort="choice" if choices else "number",
                value=shown,
                help=f"{item.help} Give {item.expects()}.",
                unit=item.unit,
                choices=choices,
                beside=Field(
                    name=CERTAINTY + item.name,
                    label=f"How {item.label.lower()} is known",
                    sort="choice",
                    value=certainty.get(item.name, "measured" if value is None else ""),
                    choices=CERTAINTIES,
                ),
            )
        )
    return lines


def dimensions_of(kind: Kind, given: QueryDict, stored: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """(values, certainty) as typed; a text left as shown keeps the stored number. Raises BadInput."""
    values: dict[str, Any] = {}
    certainty: dict[str, str] = {}
    problems: list[FieldProblem] = []
    for item in dimension_fields(kind):
        if item.type == "curve":
            if item.name in stored:
                values[item.name] = stored[item.name]
            continue
        text = given.get(DIMENSION + item.name, "").strip()
        sure = given.get(CERTAINTY + item.name, "")
        if not text or sure not in ("measured", "assumed"):
            continue
        old = stored.get(item.name)
        try:
            values[item.name] = old if _same(old, text) else _dimension(item.type, text)
            certainty[item.name] = sure
        except ValueError as error:
            problems.append(FieldProblem(item.name, f"{item.label}: {error}; give {item.expects()}.", text))
    if problems:
        raise BadInput("Some sizes need another look.", fields=tuple(problems))
    return values, certainty


def _same(old: Any, text: str) -> bool:
    return isinstance(old, int | float) and not isinstance(old, bool) and f"{old:g}" == text


def _dimension(sort: str, text: str) -> Any:
    if sort == "yes_no":
        return text == "yes"
    if sort == "whole":
        value = number(text)
        if value != int(value):
            raise ValueError(f"{text!r} is no whole number")
        return int(value)
    return number(text) if sort == "number" else text


def _shown(value: Any, is_choice: bool) -> str:
    if value is None:
        return ""
    if is_choice:
        return {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)
    return f"{value:g}"
