"""What is wrong with a register file, cell by cell, and what was noticed about the whole of it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from core.problem import BadInput, FieldProblem
from jobs.field_checks import shown

MOST_LISTED: Final = 1000


class NotATable(ValueError):
    """The file cannot be read as a table at all; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class CellProblem:
    """One problem: `row` as the spreadsheet counts (the header is 1; 0 is the file), column by name and letter."""

    row: int
    column: str
    message: str
    value: Any = None
    limit: str = ""
    unit: str = ""
    letter: str = ""

    @property
    def where(self) -> str:
        """'row 12, column inside_depth_in (AF)'."""
        column = f", column {self.column}" + (f" ({self.letter})" if self.letter else "") if self.column else ""
        return f"row {self.row}{column}" if self.row else "the file"

    def as_json(self) -> dict[str, Any]:
        """For the API and for `--json`."""
        return {
            "row": self.row,
            "column": self.column,
            "letter": self.letter,
            "value": self.value,
            "limit": self.limit,
            "unit": self.unit,
            "message": self.message,
        }


@dataclass
class Problems:
    """Every problem is counted; the first MOST_LISTED by row are listed. `letters`: column letter by column name."""

    letters: Mapping[str, str] = field(default_factory=dict)
    bad_rows: set[int] = field(default_factory=set)
    _kept: list[CellProblem] = field(default_factory=list)

    def add(self, row: int, column: str, message: str, value: Any = None, *, limit: str = "", unit: str = "") -> None:
        """Note one problem."""
        self.bad_rows.add(row)
        letter = self.letters.get(column, "")
        self._kept.append(CellProblem(row, column, message, shown(value), limit, unit, letter))

    def add_refused(
        self, row: int, error: BadInput, columns: Mapping[str, str], values: Mapping[str, Any] | None = None
    ) -> None:
        """Note what a check of the register refused; `columns` turns its field names into column names."""
        for item in error.fields or (FieldProblem("", error.detail),):
            name = item.field.removeprefix("dimensions.")
            column = columns.get(name, name)
            self.add(row, column, item.message, item.value if item.value is not None else (values or {}).get(name))

    def __len__(self) -> int:
        return len(self._kept)

    def listed(self) -> tuple[CellProblem, ...]:
        """The first MOST_LISTED by row, in the order they were found within a row."""
        return tuple(sorted(self._kept, key=lambda problem: problem.row)[:MOST_LISTED])

    def __iter__(self) -> Iterator[CellProblem]:
        return iter(self._kept)
