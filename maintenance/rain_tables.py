"""Keeps the rain tables systems are judged by: depth by duration and return period, for an area or the whole company.

A change puts a new row in the place of the old one under the same uid: its key is the version. The history holds
before and after. Every change makes windows and ratings stale, and they are computed again.
"""

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any, Final

from django.db import IntegrityError, transaction

from core.act import Act
from core.dispatch import after_commit
from core.history import record_change
from core.problem import BadInput, Conflict, FieldProblem, NotAllowed, StaleVersion
from hydraulics.rain import DepthDurationTable
from hydraulics.units import to_si
from jobs.field_checks import Refused, cleaned, line, number, refuse_field
from jobs.models import Area
from maintenance.models import RainTable

MOST_DURATIONS: Final = 40
MOST_RETURNS: Final = 20
DURATION_MIN: Final = (1.0, 10_080.0)
RETURN_YEARS: Final = (1.0, 1000.0)
DEPTH_IN: Final = (0.0, 78.0)
"""Just under the 2000 mm the computation takes."""

Check = Callable[[str, Any], Any]


def add_rain_table(
    *,
    act: Act,
    name: str,
    durations_min: Sequence[float],
    return_years: Sequence[float],
    depths_in: Sequence[Sequence[float]],
    source: str,
    area: Area | None = None,
) -> RainTable:
    """Record the table of an area, or without one the company's. `depths_in[i][j]`: duration i, return period j.

    Raises NotAllowed, BadInput naming what is wrong with which number, and Conflict where there is a table already.
    Of two company tables made at the same moment the newer governs.
    """
    given = {"name": name, "durations_min": durations_min, "return_years": return_years, "depths_in": depths_in}
    values = _checked(act, {**given, "source": source})
    where = area.name if area else "the whole company"
    taken = Conflict(f"There is a rain table for {where} already: change that one.", code="rain_table_exists")
    with transaction.atomic():
        if RainTable.objects.filter(area=area).exists():
            raise taken
        try:
            with transaction.atomic():
                row = RainTable.objects.create(area=area, recorded_at=act.at, **values)
        except IntegrityError as error:
            raise taken from error
        record_change(act=act, noun="rain_table", uid=row.uid, action="create", after=_facts(row))
        after_commit("maintenance.tasks.refresh_stale", queue="pulse")
    return row


def change_rain_table(*, act: Act, table: RainTable, version_id: int, **fields: Any) -> RainTable:
    """Change some of a table, never its area, if it still is the version seen; returns the row that now stands for it.

    Raises NotAllowed, BadInput, and StaleVersion where someone else was here.
    """
    present = {name: getattr(table, name) for name in _TABLE}
    values = _checked(act, {**present, **fields})
    with transaction.atomic():
        seen = RainTable.objects.select_for_update().filter(pk=version_id, uid=table.uid).first()
        if seen is None:
            raise StaleVersion("Someone else changed this rain table meanwhile.")
        if all(getattr(seen, name) == value for name, value in values.items()):
            return seen
        before = _facts(seen)
        seen.delete()
        row = RainTable.objects.create(uid=table.uid, area=table.area, recorded_at=act.at, **values)
        record_change(act=act, noun="rain_table", uid=row.uid, action="change", before=before, after=_facts(row))
        after_commit("maintenance.tasks.refresh_stale", queue="pulse")
    return row


def remove_rain_table(*, act: Act, table: RainTable) -> None:
    """Take a table away: its area is judged by the company's again; without one nothing is rated. Raises NotAllowed."""
    _only_office(act)
    with transaction.atomic():
        if RainTable.objects.filter(uid=table.uid).delete()[0]:
            record_change(act=act, noun="rain_table", uid=table.uid, action="remove", before=_facts(table))
            after_commit("maintenance.tasks.refresh_stale", queue="pulse")


def _only_office(act: Act) -> None:
    if not (act.is_office or act.role == "system"):
        raise NotAllowed("Only the office keeps rain tables.")


def _facts(row: RainTable) -> dict[str, Any]:
    names = ("name", "durations_min", "return_years", "depths_in", "source")
    return {"area": str(row.area.uid) if row.area else None, **{name: getattr(row, name) for name in names}}


def _rising(low: float, high: float, unit: str, most: int) -> Check:
    """1 to `most` rising numbers from `low` to `high`."""
    one = number(low, high, unit, required=True)

    def check(name: str, value: Any) -> list[float]:
        if not isinstance(value, list | tuple) or not 1 <= len(value) <= most:
            raise Refused(f"{name}: give a list of 1 to {most} numbers in {unit}, rising.")
        numbers = [one(f"{name}[{place}]", item) for place, item in enumerate(value)]
        for before, after in pairwise(numbers):
            if after <= before:
                raise Refused(f"{name} must rise: {after:g} {unit} follows {before:g} {unit}.")
        return numbers

    return check


def _depths(name: str, value: Any) -> list[list[float]]:
    """One row a duration, one depth a return period, each more than 0 in."""
    if not isinstance(value, list | tuple) or not 1 <= len(value) <= MOST_DURATIONS:
        raise Refused(f"{name}: give a list of 1 to {MOST_DURATIONS} rows, one for each duration.")
    row_of = _rising(*DEPTH_IN, "in", MOST_RETURNS)
    rows: list[list[float]] = [row_of(f"{name}[{place}]", row) for place, row in enumerate(value)]
    for place, row in enumerate(rows):
        if row[0] <= 0:
            raise Refused(f"{name}[{place}][0] is {row[0]:g} in: give more than 0 in.")
    return rows


_TABLE: Final[dict[str, Check]] = {
    "name": line(80, required=True),
    "durations_min": _rising(*DURATION_MIN, "min", MOST_DURATIONS),
    "return_years": _rising(*RETURN_YEARS, "years", MOST_RETURNS),
    "depths_in": _depths,
    "source": line(300, required=True),
}


def _checked(act: Act, given: dict[str, Any]) -> dict[str, Any]:
    """The values as they are stored: what the computation could not load is never kept."""
    _only_office(act)
    values = cleaned("rain table", _TABLE, given)
    durations, returns, depths = values["durations_min"], values["return_years"], values["depths_in"]
    if len(depths) != len(durations) or any(len(row) != len(returns) for row in depths):
        refuse_field(
            "depths_in",
            f"depths_in must have {len(durations)} rows, one for each duration, of {len(returns)} depths, "
            f"one for each return period.",
        )
    for place, (before, after) in enumerate(pairwise(depths)):
        for j, (shorter, longer) in enumerate(zip(before, after, strict=True)):
            if longer <= shorter:
                refuse_field(
                    "depths_in",
                    f"depths_in must rise with duration: {longer:g} in at {durations[place + 1]:g} min follows "
                    f"{shorter:g} in at {durations[place]:g} min ({returns[j]:g} years).",
                )
    try:
        DepthDurationTable(durations, returns, to_si(depths, "in") * 1000.0, values["source"])
    except ValueError as error:
        raise BadInput(str(error), fields=(FieldProblem("depths_in", str(error)),)) from error
    return values
