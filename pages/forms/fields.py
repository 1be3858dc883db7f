"""A small form mechanism: named fields with label, help and unit, filled from what was typed or what is stored."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final, Literal

from django.http import QueryDict

from core.problem import BadInput, FieldProblem, Problem

Sort = Literal["text", "long", "number", "date", "choice", "check", "file", "hidden", "secret"]
DIMENSION: Final = "dim_"


@dataclass(frozen=True, slots=True)
class Field:
    """One line of a form. `value` is text as shown; `error` stands beside it.

    `beside`: a second choice on the line. `group`: the words above the neighbours that belong together.
    """

    name: str
    label: str
    sort: Sort = "text"
    value: str = ""
    help: str = ""
    unit: str = ""
    choices: Sequence[tuple[str, str]] = ()
    required: bool = False
    group: str = ""
    error: str = ""
    beside: "Field | None" = None

    @property
    def html_id(self) -> str:
        """Id of the input."""
        return f"f-{self.name}"

    @property
    def words(self) -> str:
        """The value as a person reads it: the words of a choice, yes or no, the unit."""
        if self.sort == "check":
            return "yes" if self.value else "no"
        text = dict(self.choices).get(self.value, self.value) if self.sort == "choice" else self.value
        text = f"{text} {self.unit}" if text and self.unit else text
        return f"{text}, {self.beside.words}" if self.beside and self.value else text


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
        message = _with_label(by_name.pop(name, ""), name, field.label)
        marked.append(replace(field, error=message))
        if message:
            told.append((field.html_id, message))
    told += [("", message) for message in by_name.values()]
    return marked, told or [("", problem.detail)]


def _with_label(message: str, name: str, label: str) -> str:
    """What a service said of a field, under the name it has on the page: 'Length is 900 ft: ...'."""
    if message.startswith((f"{name} ", f"{name}: ")):
        return label + message[len(name) :]
    return message


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
        try:
            return number(text)
        except ValueError as error:
            raise ValueError(f"{error}: give a number" + (f" in {field.unit}" if field.unit else "")) from None
    if field.sort == "date":
        try:
            return date.fromisoformat(text)
        except ValueError:
            raise ValueError(f"{text[:20]!r} is no date: give one such as 2026-05-04") from None
    if field.sort == "choice" and text not in {code for code, _ in field.choices}:
        raise ValueError(f"{text[:30]!r} is not one of the choices")
    return text


def sure(values: dict[str, Any], what_follows: str) -> None:
    """Take the tick `sure` out of the values. Raises BadInput, saying what follows, where it is not set."""
    if not values.pop("sure"):
        message = f"Tick that you are sure: {what_follows}"
        raise BadInput(message, fields=(FieldProblem("sure", message),))


def number(text: str) -> float:
    """A number as people type it. Raises ValueError."""
    try:
        value = float(text)
    except ValueError:
        raise ValueError(f"{text[:20]!r} is no number") from None
    if value != value or value in (float("inf"), float("-inf")):
        raise ValueError(f"{text[:20]!r} is no number")
    return value
