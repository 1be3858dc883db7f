"""Writes rows of named cells as CSV (UTF-8) or XLSX. Text that a spreadsheet would run gets an apostrophe before it."""

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any, Final

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from jobs.exchange.cells import Raw
from jobs.exchange.columns import Column
from jobs.exchange.xlsx_table import SHEET

_RUNS: Final = re.compile(r"'*[=+\-@]")
FIRST_SHEET_DAY: Final = date(1900, 3, 1)
"""Before it spreadsheets disagree about the day of a serial number, so that earlier days are written as text."""


def guarded(text: str) -> str:
    """Text with an apostrophe before it where it starts with = + - or @ (or would read so after one is taken off)."""
    return "'" + text if _RUNS.match(text) else text


def csv_bytes(columns: Sequence[Column], rows: Iterable[Mapping[str, Raw]]) -> bytes:
    """CSV with a header row, commas, CRLF as RFC 4180 has it."""
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([column.name for column in columns])
    for row in rows:
        writer.writerow([as_csv(row.get(column.name, "")) for column in columns])
    return buffer.getvalue().encode("utf-8")


def as_csv(value: Raw) -> str:
    """One cell of a CSV file; a number keeps its sign, text is guarded."""
    if isinstance(value, str):
        return guarded(value)
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    return value.isoformat() if isinstance(value, date) else str(value)


def xlsx_bytes(
    columns: Sequence[Column],
    rows: Iterable[Mapping[str, Raw]],
    *,
    second_sheet: tuple[str, Iterable[Sequence[Any]]] | None = None,
) -> bytes:
    """A workbook with the sheet `register` (header frozen) and, if given, a second one of plain text."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet(SHEET)
    sheet.freeze_panes = "A2"
    sheet.append([column.name for column in columns])
    for row in rows:
        sheet.append([_xlsx_cell(sheet, row.get(column.name, "")) for column in columns])
    if second_sheet is not None:
        other = book.create_sheet(second_sheet[0])
        other.freeze_panes = "A2"
        for line in second_sheet[1]:
            other.append([_xlsx_cell(other, value) for value in line])
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def _xlsx_cell(sheet: Any, value: Raw) -> Any:
    if value == "":
        return None
    text = _as_sheet_text(value)
    cell = WriteOnlyCell(sheet, value=None)
    if text is not None:
        # Kept as text when someone edits it: tags like 1-2 must not become dates.
        cell.value = text
        cell.data_type, cell.number_format = "s", "@"
    else:
        cell.value = value
        if isinstance(value, date):
            cell.number_format = "yyyy-mm-dd"
    return cell


def _as_sheet_text(value: Raw) -> str | None:
    """What a sheet must keep as text: text, times, early days, and numbers of more digits than its 15."""
    if isinstance(value, str):
        return guarded(value)
    too_early = isinstance(value, date) and (isinstance(value, datetime) or value < FIRST_SHEET_DAY)
    too_long = isinstance(value, float) and float(f"{value:.15g}") != value
    return as_csv(value) if too_early or too_long else None
