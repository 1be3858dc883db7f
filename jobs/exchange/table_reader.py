"""Reads a register file, CSV or XLSX, into rows of named cells; the header must hold known columns, each once."""

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from core import limits
from core.problem import BadInput
from jobs.exchange import columns as known
from jobs.exchange.cells import Fault, Raw
from jobs.exchange.columns import Column
from jobs.exchange.csv_table import read_csv
from jobs.exchange.found import NotATable, Problems
from jobs.exchange.xlsx_table import read_xlsx

MOST_ROWS: Final = 50_000
MOST_COLUMNS: Final = 1_000


@dataclass(frozen=True, slots=True)
class Row:
    """One row by its number in the spreadsheet, with the cells that are not empty by column name."""

    number: int
    cells: dict[str, Raw | Fault]


@dataclass(frozen=True)
class Table:
    """A file read: known columns by name, rows that hold anything, notes on how it was read."""

    columns: dict[str, Column]
    rows: tuple[Row, ...]
    notes: tuple[str, ...]


def read_table(data: bytes, *, problems: Problems) -> Table:
    """Read `data`; whether CSV or XLSX is told by the bytes. Raises BadInput where it is no table at all."""
    try:
        if len(data) > limits.FILE_BYTES:
            raise NotATable(
                f"The file has {len(data):,} bytes: give at most {limits.FILE_BYTES:,} bytes, or split it by property."
            )
        lines, notes = read_xlsx(data) if data[:4] == b"PK\x03\x04" else read_csv(data)
        return _named(lines, tuple(notes), problems)
    except NotATable as error:
        raise BadInput(str(error), code="not_a_table") from None


def letter(place: int) -> str:
    """The spreadsheet's letter of the column at `place`, from 0: 0 -> A, 26 -> AA."""
    name = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def folded_name(header: str) -> str:
    """A header as compared: lower case, runs of anything but letters and digits as one underscore."""
    return re.sub(r"[^a-z0-9]+", "_", header.casefold()).strip("_")


def _named(
    lines: Iterable[tuple[int, Sequence[Raw | Fault | None]]], notes: tuple[str, ...], problems: Problems
) -> Table:
    rows: list[Row] = []
    header: list[str | None] = []
    columns: dict[str, Column] = {}
    nameless: set[int] = set()
    for number, cells in lines:
        filled = {place: value for place, value in enumerate(cells) if value is not None and not _empty(value)}
        if not filled:
            continue
        if not columns:
            header, columns = _header(number, filled, problems)
            continue
        if len(rows) == MOST_ROWS:
            raise NotATable(f"The file has more than {MOST_ROWS:,} rows: split it by property.")
        named = {}
        for place, value in filled.items():
            name = header[place] if place < len(header) else None
            if name:
                named[name] = value
            elif name is None and place not in nameless:
                nameless.add(place)
                _stray(number, place, value, problems)
        if named:
            rows.append(Row(number, named))
    if not columns:
        raise NotATable("The file is empty: give a header row and a row for each part (see the template).")
    return Table(columns, tuple(rows), notes)


def _empty(value: Raw | Fault) -> bool:
    return isinstance(value, str) and not value.strip()


def _stray(number: int, place: int, value: Raw | Fault, problems: Problems) -> None:
    name = letter(place)
    shown = value.shown if isinstance(value, Fault) else value
    message = f"column {name} has the value {str(shown)[:60]!r} but no header: name the column or empty it."
    problems.add(number, name, message, shown)


def _header(
    number: int, filled: dict[int, Raw | Fault], problems: Problems
) -> tuple[list[str | None], dict[str, Column]]:
    """Names by place ("" where refused, None where empty) and columns by name. Raises NotATable."""
    if max(filled) >= MOST_COLUMNS:
        raise NotATable(f"The header has more than {MOST_COLUMNS:,} columns: leave out those that are not needed.")
    header: list[str | None] = [None] * (max(filled) + 1)
    found: dict[str, Column] = {}
    letters: dict[str, str] = {}
    refused: list[tuple[str, str]] = []
    for place, value in sorted(filled.items()):
        given = value.shown if isinstance(value, Fault) else str(value)
        header[place] = ""
        column = known.find(folded_name(given))
        if column is None:
            refused.append((given, letter(place)))
            letters.setdefault(given, letter(place))
        elif column.name in found:
            label = f"{column.name} again"
            refused.append((label, letter(place)))
            letters.setdefault(label, letter(place))
        else:
            header[place] = column.name
            found[column.name] = column
            letters[column.name] = letter(place)
    if not found:
        raise NotATable(
            f"Row {number} holds no known column ({', '.join(name for name, _ in refused[:5])}): the first row must "
            "name the columns, as `import_register --template csv` writes them."
        )
    problems.letters = letters
    for given, _ in refused:
        problems.add(number, given, _refusal(given, found), given)
    _require(number, found, problems)
    return header, found


def _refusal(given: str, found: dict[str, Column]) -> str:
    if given.endswith(" again"):
        return f"{given.removesuffix(' again')} is the header of two columns: keep one of them."
    close = difflib.get_close_matches(folded_name(given)[:80], known.all_names(), n=1)
    hint = f"did you mean {close[0]}? " if close and close[0] not in found else ""
    return f"{given[:60]!r} is no column of a register: {hint}rename or delete it; the template lists all columns."


def _require(number: int, found: dict[str, Column], problems: Problems) -> None:
    if "address" not in found and "property_uid" not in found:
        problems.add(number, "address", "There is no column address: add it; every row needs the property's address.")
