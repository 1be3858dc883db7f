"""The sizes of a component kind as lines of a form: each a value and how it is known."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from django.http import QueryDict

from core.problem import BadInput, FieldProblem
from jobs.kinds.base import DimensionField, Kind
from jobs.kinds.dimensions import fields as dimension_fields
from pages.forms.fields import DIMENSION, Field, Sort, number

CERTAINTIES: Final = (("measured", "measured"), ("assumed", "assumed"), ("", "unknown"))
CERTAINTY: Final = "sure_"
SIZES: Final = "Sizes"


def dimension_lines(
    kind: Kind, values: Mapping[str, Any], certainty: Mapping[str, str], *, group: str = SIZES
) -> list[Field]:
    """One line a dimension of `kind`. A value whose certainty nobody stated counts as assumed."""
    return [
        Field(
            name=DIMENSION + item.name,
            label=item.label,
            sort=_sort(item),
            value=_shown(values.get(item.name)),
            help=_help(item),
            unit="" if item.type == "curve" else item.unit,
            choices=_choices(item),
            group=group,
            beside=Field(
                name=CERTAINTY + item.name,
                label=f"How {item.label.lower()} is known",
                sort="choice",
                value=certainty.get(item.name, "assumed") if item.name in values else "measured",
                choices=CERTAINTIES,
            ),
        )
        for item in dimension_fields(kind)
    ]


def dimensions_of(kind: Kind, given: QueryDict, stored: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """(values, certainty) as typed; a text left as shown keeps the stored value.

    Empty, or left as it was and marked unknown, is unknown. Raises BadInput naming each that does not read, and each
    new value that is marked unknown.
    """
    values: dict[str, Any] = {}
    certainty: dict[str, str] = {}
    problems: list[FieldProblem] = []
    for item in dimension_fields(kind):
        text = given.get(DIMENSION + item.name, "").strip()
        sure = given.get(CERTAINTY + item.name, "")
        unchanged = item.name in stored and text == _shown(stored[item.name])
        if not text or (unchanged and not sure):
            continue
        try:
            values[item.name] = stored[item.name] if unchanged else _read(item, text)
            certainty[item.name] = sure
            if sure not in ("measured", "assumed"):
                raise ValueError(f"{text[:20]!r} is marked unknown: say measured or assumed, or leave it empty")
        except ValueError as error:
            problems.append(FieldProblem(item.name, f"{item.label}: {error}. Give {item.expects()}.", text[:60]))
    if problems:
        raise BadInput("Some sizes need another look.", fields=tuple(problems))
    return values, certainty


def _sort(item: DimensionField) -> Sort:
    if item.type == "curve":
        return "text"
    return "choice" if item.type in ("choice", "yes_no") else "number"


def _choices(item: DimensionField) -> Sequence[tuple[str, str]]:
    if item.type == "yes_no":
        return [("", "unknown"), ("yes", "yes"), ("no", "no")]
    return [("", "unknown"), *item.choices.items()] if item.type == "choice" else ()


def _help(item: DimensionField) -> str:
    if item.type == "choice" or item.type == "yes_no":
        return item.help
    how = " As gallons a minute @ feet of head: 0@25; 35@18; 60@5." if item.type == "curve" else ""
    return f"{item.help} Give {item.expects()}.{how}"


def _shown(value: Any) -> str:
    """A stored value as text that reads back as the same value."""
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "; ".join(f"{_shown(point['flow_gpm'])}@{_shown(point['head_ft'])}" for point in value)
    return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(float(value))


def _read(item: DimensionField, text: str) -> Any:
    if item.type == "curve":
        return _curve(text)
    if item.type == "yes_no":
        return {"yes": True, "no": False}.get(text, text)
    if item.type == "whole":
        value = number(text)
        if not value.is_integer():
            raise ValueError(f"{text[:20]!r} is no whole number")
        return int(value)
    return number(text) if item.type == "number" else text


def _curve(text: str) -> list[dict[str, float]]:
    points = []
    for part in filter(None, (part.strip() for part in text.split(";"))):
        flow, at, head = part.partition("@")
        if not at:
            raise ValueError(f"{part[:20]!r} is no point: write flow@head, such as 35@18")
        points.append({"flow_gpm": number(flow), "head_ft": number(head)})
    return points
