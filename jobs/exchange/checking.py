"""What every step of the check shares: the act, the problems so far, and how a cell becomes a checked value."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from core import normalise
from core.act import Act
from core.problem import BadInput
from jobs import field_checks as checks
from jobs.exchange import columns
from jobs.exchange.cells import Cell, CellError, Cleared, Fault, Raw, read_cell
from jobs.exchange.columns import Column
from jobs.exchange.drafts import Draft, Said
from jobs.exchange.found import Problems


@dataclass
class Checking:
    """One check of one file. `today` is the company's day."""

    act: Act
    problems: Problems
    today: date
    zone: str
    draft: Draft = field(default_factory=Draft)

    def refuse(self, row: int, column: str, message: str, value: Any = None) -> None:
        """Note a problem of a cell, with the limit and unit of its column."""
        known = columns.find(column)
        if column == "gate_code":
            message, value = (
                "gate_code (not shown here): give one of at most 40 characters, the same on all rows.",
                None,
            )
        limit, unit = (known.expects(), known.unit) if known is not None else ("", "")
        self.problems.add(row, column, message, value, limit=limit, unit=unit)


def column_of(name: str) -> Column:
    """The column of a name the table reader let through."""
    found = columns.find(name)
    if found is None:
        raise KeyError(name)
    return found


def read_one(checking: Checking, name: str, raw: Raw | Fault, row: int) -> Cell | None:
    """A cell read, or None with the problem noted."""
    column = column_of(name)
    try:
        return read_cell(column, raw, may_be_assumed=column.may_be_assumed)
    except CellError as error:
        checking.refuse(row, name, str(error), raw.shown if isinstance(raw, Fault) else raw)
        return None


def read_said(checking: Checking, said: Said, names: Iterable[str]) -> dict[str, tuple[Cell, int]]:
    """The cells of these columns that could be read, by column name, with their row."""
    found = {}
    for name in names:
        raw, row = said[name]
        cell = read_one(checking, name, raw, row)
        if cell is not None:
            found[name] = (cell, row)
    return found


def checked(
    checking: Checking, noun: str, table: Mapping[str, checks.Check], read: Mapping[str, tuple[Cell, int]]
) -> dict[str, Any]:
    """Values by field as the register may store them; each refusal is noted at its cell."""
    values: dict[str, Any] = {}
    for name, (cell, row) in read.items():
        wanted = column_of(name).field
        given = None if cell.value is Cleared.UNKNOWN else cell.value
        try:
            values |= checks.cleaned(noun, table, {wanted: given})
        except BadInput as error:
            for item in error.fields:
                shown = "unknown" if given is None else item.value
                checking.refuse(row, name, renamed(item.message, wanted, name), shown)
    return values


def keep_spelling(values: dict[str, Any], record: Any, *fields: str) -> None:
    """Leave out names by which a record was found where they differ from its own only in case, accents or spaces.

    To spell a name anew, give the uid: then the record is found by that.
    """
    for name in fields:
        if name in values and normalise.folded(values[name]) == normalise.folded(getattr(record, name)):
            values.pop(name)


def renamed(message: str, field: str, column: str) -> str:
    """The message with the column's name where it began with the field's."""
    return column + message[len(field) :] if message.startswith(field) else message
