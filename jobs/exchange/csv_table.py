"""Reads CSV bytes: UTF-8 with or without its mark, UTF-16, else Latin-1, which is said; separators , ; and tab."""

import codecs
import csv
import io
from collections.abc import Iterator, Sequence
from typing import Final

from jobs.exchange.found import NotATable

_SEPARATORS: Final = {",": "commas", ";": "semicolons", "\t": "tabs"}
_HEADER_CHARACTERS: Final = 100_000
LONGEST_CELL: Final = 131_072


def read_csv(data: bytes) -> tuple[Iterator[tuple[int, Sequence[str]]], list[str]]:
    """(rows with their number from 1, notes on how the bytes were read). Raises NotATable, while iterating too."""
    text, notes = _decoded(data)
    first = text[:5].casefold()
    skip = 0
    if first.startswith("sep=") and len(text) > 4 and text[4] in _SEPARATORS:
        separator, skip = text[4], 1
    else:
        separator = _separator(text)
    if separator != ",":
        notes.append(f"The columns are separated by {_SEPARATORS[separator]}.")
    return _rows(text, separator, skip), notes


def _decoded(data: bytes) -> tuple[str, list[str]]:
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return data.decode("utf-16"), ["The file was read as UTF-16."]
        except UnicodeDecodeError:
            raise NotATable("The file begins as UTF-16 but is broken: save it again as CSV UTF-8.") from None
    try:
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError as error:
        first_row = data[: error.start].count(b"\n") + 1
    if b"\x00" in data:
        raise NotATable("The file is not text: save it as CSV UTF-8 or as XLSX.")
    try:
        text, name = data.decode("cp1252"), "Latin-1 (Windows-1252)"
    except UnicodeDecodeError:
        text, name = data.decode("latin-1"), "Latin-1"
    note = (
        f"The file is not UTF-8 (first seen in line {first_row}); it was read as {name}. Look at names with accents "
        "before applying it, or save it as CSV UTF-8."
    )
    return text, [note]


def _separator(text: str) -> str:
    """The separator that splits the header into most cells; quoted text does not count."""
    header = text[:_HEADER_CHARACTERS].lstrip("\r\n")
    counts = {}
    for separator in _SEPARATORS:
        try:
            cells = next(csv.reader(io.StringIO(header, newline=""), delimiter=separator), [])
        except csv.Error:
            cells = []
        counts[separator] = len(cells)
    return max(counts, key=lambda separator: counts[separator])


def _rows(text: str, separator: str, skip: int) -> Iterator[tuple[int, Sequence[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    number = 0
    try:
        for number, cells in enumerate(reader, start=1):
            if number > skip:
                yield number, cells
    except csv.Error as error:
        long = "field larger" in str(error)
        why = f"a cell of more than {LONGEST_CELL:,} characters" if long else f"broken quoting ({error})"
        raise NotATable(
            f"Row {number + 1} (line {reader.line_num}) has {why}: mend that row; a quotation mark inside a quoted "
            "cell is written twice."
        ) from None
