"""Reads a rain gauge's file: the government's daily-summaries layout, plain `date,rain`, or hourly rows.

The unit is stated by the caller, never guessed; so is the order of a date (year first). Every row that cannot be taken
is reported by its number, as are gaps, repeated days and hours, traces and values that were left out.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Final, Literal, get_args
from zoneinfo import ZoneInfo

Unit = Literal["in", "mm", "tenth-mm"]
UNITS: Final[tuple[str, ...]] = get_args(Unit)
MM_PER_UNIT: Final[dict[str, float]] = {"in": 25.4, "mm": 1.0, "tenth-mm": 0.1}

DAILY: Final = -1
"""`hour` of a value that stands for the whole day."""

# Greatest rain on record: 1,825 mm in 24 h and 305 mm in 42 min (World Meteorological Organization archive of weather
# extremes; values from memory). Anything above these, rounded up, is a wrong unit or a typing error.
MOST_MM: Final[dict[str, float]] = {"day": 1900.0, "hour": 450.0}

MISSING_MARKS: Final = frozenset({"", "m", "na", "nan", "null", "-9999", "-9999.0", "9999.9", "99.99"})
_DATE_NAMES: Final = ("date", "day", "timestamp", "datetime", "time")
_RAIN_NAMES: Final = ("prcp", "rain", "precipitation", "precip", "depth", "rain_in", "rain_mm")
_NAMED_UNIT: Final = {"rain_in": "in", "rain_mm": "mm"}


@dataclass(frozen=True, slots=True)
class RainValue:
    """Rain of one local day (`hour` -1) or of the local hour beginning at `hour`; `row` is its line in the file."""

    row: int
    day: date
    hour: int
    depth_mm: float
    flag: str = ""


@dataclass(frozen=True, slots=True)
class RowReport:
    """Something to say about one row: an error keeps the row out, a note does not."""

    row: int
    column: str
    value: str
    message: str
    error: bool = True


@dataclass(frozen=True, slots=True)
class RainFile:
    """What a file holds. `gaps`: first and last day of each run of days without a value, inside the record."""

    layout: str
    values: tuple[RainValue, ...]
    reports: tuple[RowReport, ...]
    gaps: tuple[tuple[date, date], ...]
    rows: int

    @property
    def errors(self) -> tuple[RowReport, ...]:
        """The reports that keep a row out."""
        return tuple(report for report in self.reports if report.error)

    @property
    def gap_days(self) -> int:
        """Days without a value between the first and the last day of the record."""
        return sum((last - first).days + 1 for first, last in self.gaps)


@dataclass(frozen=True, slots=True)
class _Columns:
    date: int
    rain: int
    hour: int | None
    station: int | None
    attributes: int | None
    names: tuple[str, ...]


class RainFileError(ValueError):
    """The file as a whole cannot be read; the message says what to give instead."""


def read_rain(data: bytes, *, unit: str, zone: str, today: date, station: str = "") -> RainFile:
    """Read a file's bytes (CSV, UTF-8). `zone`: the gauge's IANA zone; days after `today` are refused.

    Raises RainFileError where the unit is not one of in, mm, tenth-mm, the text is not UTF-8, a needed column is
    missing, or several stations are in the file and none is named.
    """
    if unit not in UNITS:
        raise RainFileError(f"unit is {unit!r}: give one of {', '.join(UNITS)}; it is never guessed.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise RainFileError(f"The file is not UTF-8 text (byte {error.start}): save it as CSV in UTF-8.") from error
    try:
        numbered = enumerate(csv.reader(io.StringIO(text, newline="")), 1)
        table = [(number, cells) for number, cells in numbered if any(cell.strip() for cell in cells)]
    except csv.Error as error:
        raise RainFileError(f"The file cannot be read as CSV: {error}.") from error
    if not table:
        raise RainFileError("The file holds no rows.")
    columns, body = _columns(table, unit)
    body = _one_station(body, columns, station)
    reader = _Reader(columns, unit, zone, today)
    found = [value for row, cells in body if (value := reader.value(row, cells)) is not None]
    values = _without_repeats(found, reader.reports, zone)
    hourly = any(value.hour != DAILY for value in values)
    layout = "hourly" if hourly else ("daily summaries" if columns.station is not None else "date and rain")
    gaps = _gaps({value.day for value in values})
    if hourly:
        reader.reports.extend(_missing_hours(values, zone))
    reports = sorted(reader.reports, key=lambda report: (report.row, report.column))
    return RainFile(layout, tuple(values), tuple(reports), gaps, len(body))


def _columns(table: list[tuple[int, list[str]]], unit: str) -> tuple[_Columns, list[tuple[int, list[str]]]]:
    names = tuple(cell.strip().lower() for cell in table[0][1])
    if _moment(names[0]) is not None and len(names) in (2, 3):
        plain = ("date", "rain") if len(names) == 2 else ("date", "hour", "rain")
        return _Columns(0, len(names) - 1, 1 if len(names) == 3 else None, None, None, plain), table
    places = {name: i for i, name in reversed(list(enumerate(names)))}
    day = next((places[name] for name in _DATE_NAMES if name in places), None)
    rain = [name for name in _RAIN_NAMES if name in places]
    if day is None or not rain:
        wanted = "a date column (date) and a rain column (PRCP or rain)"
        raise RainFileError(f"The first row has the columns {', '.join(names[:12])}: {wanted} are needed.")
    if len(rain) > 1:
        raise RainFileError(f"Several columns could be the rain: {', '.join(rain)}. Keep one.")
    named = _NAMED_UNIT.get(rain[0])
    if named is not None and named != unit:
        raise RainFileError(f"The column is named {rain[0]} but the unit given is {unit}: one of the two is wrong.")
    columns = _Columns(
        day, places[rain[0]], places.get("hour"), places.get("station"), places.get(f"{rain[0]}_attributes"), names
    )
    return columns, table[1:]


def _one_station(body: list[tuple[int, list[str]]], columns: _Columns, station: str) -> list[tuple[int, list[str]]]:
    if columns.station is None:
        return body
    at = columns.station
    stations = sorted({_cell(cells, at) for _, cells in body})
    if station:
        if station not in stations:
            raise RainFileError(f"Station {station!r} is not in the file: it holds {', '.join(stations[:12])}.")
        return [(row, cells) for row, cells in body if _cell(cells, at) == station]
    if len(stations) > 1:
        raise RainFileError(f"The file holds {len(stations)} stations: {', '.join(stations[:12])}. Name one.")
    return body


class _Refused(Exception):
    """This row cannot be taken."""

    def __init__(self, column: str, value: str, message: str) -> None:
        super().__init__(message)
        self.column, self.value, self.message = column, value[:60], message


class _Reader:
    """Turns rows into values and collects what is to be said about them."""

    def __init__(self, columns: _Columns, unit: str, zone: str, today: date) -> None:
        self.columns, self.unit, self.zone, self.today = columns, unit, zone, today
        self.reports: list[RowReport] = []

    def value(self, row: int, cells: list[str]) -> RainValue | None:
        """The row's value, or None with a report."""
        try:
            day, hour = self._when(cells)
            text = _cell(cells, self.columns.rain)
            attributes = "" if self.columns.attributes is None else _cell(cells, self.columns.attributes)
            if text.lower() == "t" or attributes[:1].upper() == "T":
                self.reports.append(RowReport(row, "rain", text[:60], "A trace: counted as 0.", error=False))
                return RainValue(row, day, hour, 0.0, "trace")
            if text.lower() in MISSING_MARKS:
                message = "No value: a gap, the climate's mean stands in."
                self.reports.append(RowReport(row, "rain", text[:60], message, error=False))
                return None
            return RainValue(row, day, hour, self._depth(text, "day" if hour == DAILY else "hour"))
        except _Refused as refused:
            self.reports.append(RowReport(row, refused.column, refused.value, refused.message))
            return None

    def _when(self, cells: list[str]) -> tuple[date, int]:
        text = _cell(cells, self.columns.date)
        moment = _moment(text)
        if moment is None:
            raise _Refused("date", text, "Not a date: give YYYY-MM-DD, or YYYY-MM-DD HH:MM for an hour.")
        if isinstance(moment, datetime):
            local = moment if moment.tzinfo is None else moment.astimezone(ZoneInfo(self.zone))
            if local.minute or local.second:
                raise _Refused("date", text, "Hourly rows begin at the full hour: give minutes 00.")
            day, hour = local.date(), local.hour
        else:
            day, hour = moment, self._stated_hour(cells)
        if day > self.today:
            raise _Refused("date", text, f"Lies after {self.today.isoformat()}: rain is recorded when it fell.")
        return day, hour

    def _stated_hour(self, cells: list[str]) -> int:
        if self.columns.hour is None:
            return DAILY
        stated = _cell(cells, self.columns.hour)
        if not (stated.isascii() and stated.isdigit() and int(stated) <= 23):
            raise _Refused("hour", stated, "Not an hour: give 0 to 23, the hour in which the rain began.")
        return int(stated)

    def _depth(self, text: str, span: str) -> float:
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise _Refused("rain", text, f"Not a number: give the rain in {self.unit}, or leave it empty.")
        if number < 0:
            raise _Refused("rain", text, f"Less than 0 {self.unit}: give 0 or more, or leave it empty.")
        depth = number * MM_PER_UNIT[self.unit]
        if depth > MOST_MM[span]:
            most = MOST_MM[span] / MM_PER_UNIT[self.unit]
            raise _Refused("rain", text, f"More than {most:g} {self.unit} in one {span}: check the unit.")
        return round(depth, 4)


def _cell(cells: list[str], place: int) -> str:
    return cells[place].strip() if place < len(cells) else ""


def _moment(text: str) -> date | datetime | None:
    """A date with its year first, or a date with an hour (ISO 8601, a blank allowed for the T)."""
    text = text.strip().replace("/", "-")
    if len(text) == 8 and text.isascii() and text.isdigit():
        text = f"{text[:4]}-{text[4:6]}-{text[6:]}"
    try:
        if len(text) == 10:
            return date.fromisoformat(text)
        return datetime.fromisoformat(text) if len(text) > 10 else None
    except ValueError:
        return None


def _without_repeats(found: list[RainValue], reports: list[RowReport], zone: str) -> list[RainValue]:
    """One value a day or hour. The hour a clock change repeats is added up; any other repeat is reported."""
    kept: dict[tuple[date, int], RainValue] = {}
    for value in found:
        first = kept.get((value.day, value.hour))
        if first is None:
            kept[value.day, value.hour] = value
            continue
        span = "day" if value.hour == DAILY else "hour"
        shown = value.day.isoformat() if value.hour == DAILY else f"{value.day.isoformat()} {value.hour:02d}:00"
        if value.hour != DAILY and first.flag != "repeated hour" and _repeated_by_clock(value.day, value.hour, zone):
            message = f"The clocks went back: this hour came twice (row {first.row}); both are added."
            reports.append(RowReport(value.row, "date", shown, message, error=False))
            total = round(first.depth_mm + value.depth_mm, 4)
            kept[value.day, value.hour] = RainValue(first.row, value.day, value.hour, total, "repeated hour")
        elif abs(first.depth_mm - value.depth_mm) < 1e-9:
            message = f"The same {span} and value as row {first.row}: counted once."
            reports.append(RowReport(value.row, "date", shown, message, error=False))
        else:
            message = f"The same {span} as row {first.row} with another value: keep one of the two."
            reports.append(RowReport(value.row, "date", shown, message))
    return sorted(kept.values(), key=lambda value: (value.day, value.hour))


def _repeated_by_clock(day: date, hour: int, zone: str) -> bool:
    local = datetime(day.year, day.month, day.day, hour, tzinfo=ZoneInfo(zone))
    return local.utcoffset() != local.replace(fold=1).utcoffset() and _exists(local)


def _exists(local: datetime) -> bool:
    return local.astimezone(UTC).astimezone(local.tzinfo).replace(tzinfo=None) == local.replace(tzinfo=None)


def _missing_hours(values: Iterable[RainValue], zone: str) -> list[RowReport]:
    """A note for each day that lacks hours; an hour the clocks skipped is not missing."""
    hours: dict[date, set[int]] = {}
    rows: dict[date, int] = {}
    for value in values:
        hours.setdefault(value.day, set()).add(value.hour)
        rows[value.day] = value.row
    reports = []
    for day, have in hours.items():
        if DAILY in have:
            continue
        lacking = [
            h for h in range(24) if h not in have and _exists(datetime(*day.timetuple()[:3], h, tzinfo=ZoneInfo(zone)))
        ]
        if lacking:
            message = f"{len(lacking)} of its hours have no value: the day is a gap unless they follow."
            reports.append(RowReport(rows[day], "date", day.isoformat(), message, error=False))
    return reports


def _gaps(days: set[date]) -> tuple[tuple[date, date], ...]:
    ordered = sorted(days)
    one = timedelta(days=1)
    return tuple((a + one, b - one) for a, b in pairwise(ordered) if b - a > one)
