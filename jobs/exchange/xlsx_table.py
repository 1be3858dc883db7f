"""Reads the register sheet of an XLSX workbook, row by row, with limits on what it may unpack to."""

import io
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any, Final
from xml.etree.ElementTree import ParseError

import openpyxl
from defusedxml import DefusedXmlException
from openpyxl.utils.exceptions import InvalidFileException

from jobs.exchange.cells import Fault, Raw
from jobs.exchange.found import NotATable

SHEET: Final = "register"
MOST_UNPACKED_BYTES: Final = 200_000_000
MOST_MEMBERS: Final = 2_000
MOST_SHEET_ROWS: Final = 1_048_576
MOST_CELLS: Final = 10_000_000
_BROKEN: Final = (
    ParseError,
    zipfile.BadZipFile,
    InvalidFileException,
    KeyError,
    IndexError,
    ValueError,
    TypeError,
    AttributeError,
    OSError,
    EOFError,
)
"""What openpyxl raises for workbooks that are not what they claim; it has no error of its own for them."""


def read_xlsx(data: bytes) -> tuple[Iterator[tuple[int, Sequence[Raw | Fault | None]]], list[str]]:
    """(rows with their number from 1, notes). Raises NotATable, while iterating too."""
    if not openpyxl.DEFUSEDXML:
        raise NotATable("Spreadsheets cannot be read safely here: defusedxml is switched off.")
    _refuse_bombs(data)
    notes: list[str] = []
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=False, keep_links=False)
            sheets = book.worksheets
            if not sheets:
                raise NotATable("The workbook has no sheet: give one named register.")
            sheet = next((one for one in sheets if one.title.casefold() == SHEET), sheets[0])
            sheet.reset_dimensions()
    except _BROKEN as error:
        raise _refusal(error, "The file is a broken workbook") from None
    if len(sheets) > 1 and sheet.title.casefold() != SHEET:
        notes.append(f"The workbook has {len(sheets)} sheets and none is named register: the first was read.")
    return _rows(book, sheet), notes


def _refusal(error: BaseException, what: str) -> NotATable:
    """The error to show: our own as it is, a forbidden declaration by name, anything else as a broken file."""
    if isinstance(error, NotATable):
        return error
    for cause in (error, error.__cause__):
        if isinstance(cause, DefusedXmlException):
            return NotATable(f"The workbook holds declarations that are not taken ({type(cause).__name__}).")
    return NotATable(f"{what} ({type(error).__name__}): save it again as XLSX.")


def _refuse_bombs(data: bytes) -> None:
    """Count what the archive says it unpacks to; the reader itself stops at that size, so that a lie breaks it."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise NotATable(f"The file is a broken workbook ({type(error).__name__}): save it again as XLSX.") from None
    total = sum(member.file_size for member in members)
    if len(members) > MOST_MEMBERS or total > MOST_UNPACKED_BYTES:
        raise NotATable(
            f"The workbook unpacks to {total:,} bytes in {len(members):,} files: give at most "
            f"{MOST_UNPACKED_BYTES:,} bytes in {MOST_MEMBERS:,} files; save the register sheet alone."
        )
    if not any(member.filename == "[Content_Types].xml" for member in members):
        raise NotATable("The file is a zip archive but no XLSX workbook: save the register sheet as XLSX or CSV.")


def _rows(book: Any, sheet: Any) -> Iterator[tuple[int, Sequence[Raw | Fault | None]]]:
    seen = number = 0
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for number, cells in enumerate(sheet.iter_rows(), start=1):
                seen += len(cells)
                if number > MOST_SHEET_ROWS or seen > MOST_CELLS:
                    raise NotATable(f"The sheet has more than {MOST_CELLS:,} cells: delete what is not needed.")
                yield number, [_value(cell) for cell in cells]
    except _BROKEN as error:
        raise _refusal(error, f"Row {number + 1} cannot be read") from None
    finally:
        book.close()


def _value(cell: Any) -> Raw | Fault | None:
    kind, value = cell.data_type, cell.value
    if kind == "f":
        return Fault("a formula: copy the column and paste it as values", str(value)[:60])
    if kind == "e":
        return Fault(f"the error {value}: mend it in the spreadsheet", str(value)[:60])
    if value is None or isinstance(value, str | bool | int | float | date):
        return value
    return Fault(f"{type(value).__name__} {value}, which is no value of a register: format it as text", str(value))
