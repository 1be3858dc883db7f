"""What reported values mean: times corrected for a wrong clock, readings in their own unit, silt left behind. Pure."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Final, NamedTuple

from hydraulics import units
from jobs.kinds import dimensions, words
from jobs.kinds.base import Kind
from maintenance.decide.closeout_meaning import ReadingTaken

SKEW_LIMIT_S: Final = 300.0
"""Beyond this the phone's clock is taken for wrong and its times are corrected."""

LATE_AFTER: Final = timedelta(hours=48)
FORGIVEN: Final = timedelta(seconds=SKEW_LIMIT_S)

LENGTHS: Final = frozenset({"in", "ft", "mm", "cm", "m"})
TIMES: Final = frozenset({"s", "min", "h"})

CLEANING_TASKS: Final = frozenset({"clean", "flush", "look"})
"""Tasks after which silt may be left behind."""

GRADE_FILL: Final[Mapping[str, float]] = {
    "clean": 0.0,
    "quarter": 0.25,
    "half": 0.5,
    "three_quarters": 0.75,
    "full": 1.0,
    "overflowing": 1.0,
}
"""Fill left behind for a grade given after cleaning: what the grade's name says."""


class ImpossibleValue(ValueError):
    """A reading that cannot be: wrong part, unit or range. The message names field, value, limit and unit."""


class ReadingValue(NamedTuple):
    """A reading as stored: as entered, and `canonical` in the code's own unit. `odd`: true but worth a look."""

    value: float | None
    unit: str
    canonical: float | None
    grade: str
    text: str
    odd: str = ""


class TimeTaken(NamedTuple):
    """A time as it counts, and why it differs from what the phone said ("" if it does not)."""

    at: datetime
    why: str = ""


def skew_seconds(sent_phone_at: datetime | None, body_phone_at: datetime | None, received_at: datetime) -> float | None:
    """How far the phone's clock is ahead [s], None where unknown.

    The phone's time at sending tells it. The time within the closeout was written when the visit was closed, maybe
    hours before there was signal, so it tells only when it lies ahead of the server's.
    """
    if sent_phone_at is not None:
        return (sent_phone_at - received_at).total_seconds()
    if body_phone_at is not None and body_phone_at - received_at > FORGIVEN:
        return (body_phone_at - received_at).total_seconds()
    return None


def corrected(at: datetime, skew_s: float | None, received_at: datetime) -> TimeTaken:
    """A phone's time, less its skew where that is over 5 minutes; never later than the moment of receipt."""
    taken = TimeTaken(at)
    if skew_s is not None and abs(skew_s) > SKEW_LIMIT_S:
        taken = TimeTaken(at - timedelta(seconds=skew_s), "skew")
    if taken.at > received_at + FORGIVEN:
        taken = TimeTaken(received_at, "ahead")
    return taken


def check_reading(kind: Kind, known: Mapping[str, Any], item: ReadingTaken) -> ReadingValue:
    """The stored form of a reading at a part of `kind` whose dimensions (with assumptions) are `known`.

    Raises ImpossibleValue: the kind has no such reading, the wrong sort of value, a unit that does not fit, or a
    value outside the limits.
    """
    asked = next((r for r in kind.readings if r.code == item.code), None)
    general = words.READINGS[item.code]
    if asked is None and general.type != "text":
        codes = ", ".join(dict.fromkeys(r.code for r in kind.readings))
        raise ImpossibleValue(f"{item.code} is no reading of {kind.a_name} ({item.named}): give one of {codes}")
    _check_sort(general.type, item)
    if general.type == "yes_no":
        return ReadingValue(1.0 if item.value else 0.0, "", 1.0 if item.value else 0.0, "", item.text)
    if general.type == "grade":
        return ReadingValue(None, "", None, item.grade, item.text)
    if general.type == "text":
        return ReadingValue(None, "", None, "", item.text)
    low, high = (asked.low, asked.high) if asked else (general.low, general.high)
    return _number(kind, known, item, general.unit, low, high)


def silt_height_in(kind: Kind, known: Mapping[str, Any]) -> float | None:
    """The depth [in] that can hold silt in this part, None where it is not watched or not known."""
    room = kind.silt
    if room is None or (room.only_if and not known.get(room.only_if)):
        return None
    height = known.get(room.dimension)
    return float(height) if isinstance(height, int | float) and height > 0 else None


def known_dimensions(
    kind: Kind, stored: Mapping[str, Any], certainty: Mapping[str, str], version: int
) -> dict[str, Any]:
    """Stored dimensions brought up to date and completed by the kind's assumptions."""
    return dimensions.fill_assumptions(
        kind, dimensions.read_dimensions(kind, stored, certainty, version=version)
    ).values


def left_behind(
    height_in: float | None, stated: float | None, readings: Sequence[tuple[ReadingTaken, ReadingValue]]
) -> float | None:
    """Fill (0 to 1) a cleaning left at a part, None where nothing was said of it.

    Depth left over the height that can hold silt; else the fill stated with the task; else a depth or a grade taken
    after the cleaning.
    """
    for code, any_moment in (("silt_left_in", True), ("", False), ("silt_depth_in", False), ("grade", False)):
        if code == "" and stated is not None:
            return stated
        found = [v for r, v in readings if r.code == code and (any_moment or r.moment == "after")]
        if not found:
            continue
        last = found[-1]
        if last.grade:
            return GRADE_FILL[last.grade]
        if last.canonical is not None and height_in:
            return min(last.canonical / height_in, 1.0)
    return None


def found_fill(height_in: float | None, readings: Sequence[tuple[ReadingTaken, ReadingValue]]) -> float | None:
    """Fill found before the cleaning, None where nothing was measured or graded; may be over 1."""
    for code in ("silt_depth_in", "grade"):
        for taken, value in readings:
            if taken.code != code or taken.moment != "before":
                continue
            if value.grade:
                return GRADE_FILL[value.grade]
            if value.canonical is not None and height_in:
                return value.canonical / height_in
    return None


def _check_sort(sort: str, item: ReadingTaken) -> None:
    where = f"{item.code} at {item.named}"
    is_flag = isinstance(item.value, bool)
    if sort == "number" and (item.value is None or is_flag):
        raise ImpossibleValue(f"{where} has no number: give value, in {words.READINGS[item.code].unit}")
    if sort == "yes_no" and not is_flag:
        raise ImpossibleValue(f"{where} is {item.value!r}: give value true or false")
    if sort == "grade" and item.grade not in words.GRADES:
        raise ImpossibleValue(f"{where} has grade {item.grade!r}: give one of {', '.join(words.GRADES)}")
    if sort == "text" and not item.text:
        raise ImpossibleValue(f"{where} is empty: give text")
    if sort != "grade" and item.grade:
        raise ImpossibleValue(f"{where} has grade {item.grade!r}: report a grade under the code grade")


def _number(
    kind: Kind, known: Mapping[str, Any], item: ReadingTaken, own_unit: str, low: float | None, high: float | None
) -> ReadingValue:
    value, unit = float(item.value or 0.0), item.unit or own_unit
    canonical = _in_unit(item, value, unit, own_unit)
    if (low is not None and canonical < low) or (high is not None and canonical > high):
        raise ImpossibleValue(f"{item.code} at {item.named} is {value:g} {unit}: give {low:g} to {high:g} {own_unit}")
    odd = ""
    height = silt_height_in(kind, known)
    if item.code in ("silt_depth_in", "silt_left_in") and height and canonical > height:
        odd = f"deeper than the {height:g} in that can hold silt here"
    return ReadingValue(value, unit, canonical, "", item.text, odd)


def _in_unit(item: ReadingTaken, value: float, unit: str, own_unit: str) -> float:
    if unit == own_unit:
        return value
    group = next((g for g in (LENGTHS, TIMES) if own_unit in g), frozenset({own_unit}))
    if unit not in group:
        fits = ", ".join(sorted(group))
        raise ImpossibleValue(f"{item.code} at {item.named} is in {unit[:12]!r}: give it in one of {fits}")
    return units.convert(value, unit, own_unit)
