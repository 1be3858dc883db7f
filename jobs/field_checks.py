"""Checks of single values before the database sees them, each refusal naming field, value, limit and unit.

A table {field: check} is what a service takes; `cleaned` runs it and raises one BadInput with every problem.
"""

import json
import math
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from functools import cache
from typing import Any
from zoneinfo import available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from core import limits, normalise
from core.problem import BadInput, FieldProblem

Check = Callable[[str, Any], Any]
"""Takes the field's name and the value given; returns the value to store or raises Refused."""

EARLIEST_DAY = date(1900, 1, 1)
JSON_CHARACTERS = 200_000


class Refused(ValueError):
    """One value was not taken; the text says why and what to give."""


def cleaned(noun: str, table: Mapping[str, Check], given: Mapping[str, Any]) -> dict[str, Any]:
    """The values of `given` as they may be stored. Raises BadInput naming each unknown field and bad value."""
    values: dict[str, Any] = {}
    problems: list[FieldProblem] = []
    for name, value in given.items():
        check = table.get(name)
        try:
            if check is None:
                raise Refused(f"{name[:60]} is not a field of a {noun}: it has {', '.join(table)}.")
            values[name] = check(name, value)
        except Refused as refusal:
            problems.append(FieldProblem(name[:60], str(refusal), shown(value)))
    refuse(problems)
    return values


def refuse(problems: Iterable[FieldProblem]) -> None:
    """Raise BadInput if there is any problem; its detail is the messages in one text."""
    found = tuple(problems)
    if found:
        raise BadInput(" ".join(problem.message for problem in found[:5]), fields=found)


def refuse_field(name: str, message: str, value: Any = None) -> None:
    """Raise BadInput for one field."""
    refuse([FieldProblem(name, message, shown(value))])


def shown(value: Any) -> Any:
    """A value as it may be repeated in a message: short, plain."""
    if value is None or isinstance(value, bool | int | float):
        return value
    text = value if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def line(limit: int, *, required: bool = False) -> Check:
    """One line of text of at most `limit` characters."""

    def check(name: str, value: Any) -> str:
        return _within(name, normalise.line(_text(name, value), limit=1_000_000), limit, required)

    return check


def note(limit: int = limits.NOTE) -> Check:
    """Text that may have several lines."""

    def check(name: str, value: Any) -> str:
        return _within(name, normalise.text(_text(name, value), limit=1_000_000), limit, False)

    return check


def _text(name: str, value: Any) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        raise Refused(f"{name} is {shown(value)!r}: give text.")
    return value


def _within(name: str, text: str, limit: int, required: bool) -> str:
    if required and not text:
        raise Refused(f"{name} is empty: give 1 to {limit} characters.")
    if len(text) > limit:
        raise Refused(f"{name} has {len(text)} characters ({shown(text)!r}): give at most {limit} characters.")
    return text


def one_of(choices: Iterable[str], *, empty: bool = False) -> Check:
    """One of the codes; `empty`: also nothing at all."""
    codes = tuple(choices)

    def check(name: str, value: Any) -> str:
        if empty and value in (None, ""):
            return ""
        if value not in codes:
            raise Refused(f"{name} is {shown(value)!r}: give one of {', '.join(codes)}.")
        return str(value)

    return check


def number(low: float, high: float, unit: str, *, required: bool = False, above: bool = False) -> Check:
    """A finite number from `low` to `high` in `unit`; `above`: greater than `low`. None is unknown unless required."""
    expects = f"{'more than' if above else 'a number from'} {low:g}{' up' if above else ''} to {high:g} {unit}".rstrip()

    def check(name: str, value: Any) -> float | None:
        if value is None and not required:
            return None
        good = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
        if not good or not low <= value <= high or (above and value == low):
            raise Refused(f"{name} is {shown(value)!r} {unit}".rstrip() + f": give {expects}.")
        return float(value)

    return check


def whole(low: int, high: int, unit: str) -> Check:
    """A whole number from `low` to `high` in `unit`, or None."""

    def check(name: str, value: Any) -> int | None:
        if value is None:
            return None
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            expects = f"a whole number from {low} to {high} {unit}".rstrip()
            raise Refused(f"{name} is {shown(value)!r} {unit}".rstrip() + f": give {expects}.")
        return value

    return check


def yes_no(name: str, value: Any) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise Refused(f"{name} is {shown(value)!r}: give true or false.")
    return value


def day(*, required: bool = False, latest: date | None = None) -> Check:
    """A calendar day from 1900 on, at most `latest`; None where it is not known."""

    def check(name: str, value: Any) -> date | None:
        if value is None and not required:
            return None
        if not isinstance(value, date) or isinstance(value, datetime):
            raise Refused(f"{name} is {shown(value)!r}: give a date (YYYY-MM-DD).")
        if value < EARLIEST_DAY:
            raise Refused(f"{name} is {value}: give a date from {EARLIEST_DAY} on.")
        if latest is not None and value > latest:
            raise Refused(f"{name} is {value}: give a date no later than {latest}.")
        return value

    return check


def instant(name: str, value: Any) -> datetime | None:
    """An aware instant, or None."""
    if value is None:
        return None
    if not isinstance(value, datetime) or value.tzinfo is None:
        raise Refused(f"{name} is {shown(value)!r}: give a date and time with its zone.")
    return value


def email(name: str, value: Any) -> str:
    """An e-mail address, or ""."""
    text = line(limits.EMAIL)(name, value)
    if text:
        try:
            validate_email(text)
        except ValidationError:
            raise Refused(f"{name} is {shown(text)!r}: give an address such as name@example.org.") from None
    return text


@cache
def _zones() -> frozenset[str]:
    return frozenset(available_timezones())


def zone(name: str, value: Any) -> str:
    """An IANA time zone name."""
    if not isinstance(value, str) or value not in _zones():
        raise Refused(f"{name} is {shown(value)!r}: give an IANA time zone such as America/New_York.")
    return value


def record_of(model: type) -> Check:
    """A record of `model`, or None."""

    def check(name: str, value: Any) -> Any:
        if value is not None and not isinstance(value, model):
            raise Refused(f"{name} is {shown(value)!r}: give one of the recorded ones, or nothing.")
        return value

    return check


def points(name: str, value: Any) -> list[list[float]]:
    """A course on the plan: [[x_ft, y_ft], ...], feet from the named corner, at most limits.POINTS_PER_LINE points."""
    course = value or []
    coordinate = number(-5000, 5000, "ft", required=True)
    if not isinstance(course, list | tuple) or len(course) > limits.POINTS_PER_LINE:
        raise Refused(f"{name}: give at most {limits.POINTS_PER_LINE} points, each [x_ft, y_ft].")
    good = []
    for point in course:
        if not isinstance(point, list | tuple) or len(point) != 2:
            raise Refused(f"{name} has the point {shown(point)!r}: give [x_ft, y_ft], feet from the corner.")
        good.append([coordinate(name, part) for part in point])
    return good


def json_object(name: str, value: Any) -> dict[str, Any]:
    """A JSON object with finite numbers only, of bounded length."""
    if value is None:
        return {}
    try:
        length = len(json.dumps(value, allow_nan=False)) if isinstance(value, dict) else -1
    except (TypeError, ValueError):
        length = -1
    if length < 0:
        raise Refused(f"{name} must be a JSON object with finite numbers.")
    if length > JSON_CHARACTERS:
        raise Refused(f"{name} has {length} characters: give at most {JSON_CHARACTERS} characters.")
    return json.loads(json.dumps(value))
