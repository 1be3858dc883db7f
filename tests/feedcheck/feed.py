"""What one feed is to the rules: its octets, its tree, its events, and the moment and the limits it is judged by."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from tests.feedcheck.lines import Component, Line, build_tree, unfold

CANCELLED_WORDS = ("Called off:", "Cancelled:", "Cancelada:", "Cancelado:")
_DATE_TIME = re.compile(r"(\d{4})(\d\d)(\d\d)T(\d\d)(\d\d)(\d\d)(Z?)")
_DATE = re.compile(r"(\d{4})(\d\d)(\d\d)")
_CLOCK = r"T(?:\d+H(?:\d+M(?:\d+S)?)?|\d+M(?:\d+S)?|\d+S)"
_DURATION = re.compile(rf"[+-]?P(?:\d+W|\d+D(?:{_CLOCK})?|{_CLOCK})")


@dataclass
class Feed:
    """The body under test. ``media_type`` is the Content-Type it came with, None if unknown."""

    body: bytes
    now: datetime = field(default_factory=lambda: datetime.now(UTC))
    media_type: str | None = None
    forbid: tuple[str, ...] = ()
    cancelled_words: tuple[str, ...] = CANCELLED_WORDS

    @cached_property
    def lines(self) -> list[str]:
        return unfold(self.body)

    @cached_property
    def _tree(self) -> tuple[Component, list[str]]:
        return build_tree(self.lines)

    @property
    def root(self) -> Component:
        return self._tree[0]

    @property
    def unbalanced(self) -> list[str]:
        return self._tree[1]

    @cached_property
    def calendar(self) -> Component:
        """The first VCALENDAR, an empty one if there is none."""
        return next(iter(self.root.kind("VCALENDAR")), Component("VCALENDAR"))

    @property
    def events(self) -> list[Component]:
        return self.calendar.kind("VEVENT")

    @property
    def zones(self) -> list[Component]:
        return self.calendar.kind("VTIMEZONE")


Rule = Callable[[Feed], Iterator[str]]
RULES: dict[str, Rule] = {}


def row(row_id: str) -> Callable[[Rule], Rule]:
    """Registers the rule of one row; it yields a message for each fault."""

    def register(rule: Rule) -> Rule:
        if row_id in RULES:
            raise ValueError(f"{row_id} is registered twice")
        RULES[row_id] = rule
        return rule

    return register


def uid_of(event: Component) -> str:
    return event.value("UID") or "(no UID)"


def date_time(value: str) -> datetime | None:
    """A DATE-TIME value: aware UTC for the Z form, naive for a wall time, None if it is not one."""
    match = _DATE_TIME.fullmatch(value)
    if match is None:
        return None
    try:
        wall = datetime(*(int(part) for part in match.groups()[:6]))  # type: ignore[arg-type]
    except ValueError:
        return None
    return wall.replace(tzinfo=UTC) if match[7] else wall


def utc_time(line: Line | None) -> datetime | None:
    """The value of a line that must be in UTC, None if it is missing or is not."""
    moment = date_time(line.value) if line else None
    return moment if moment is not None and moment.tzinfo is UTC else None


def date_value(value: str) -> date | None:
    match = _DATE.fullmatch(value)
    if match is None:
        return None
    try:
        return date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError:
        return None


def moment_of(line: Line) -> date | datetime | None:
    """A DATE for VALUE=DATE, else the date-time, made aware by its TZID where the zone is known."""
    if line.params.get("VALUE", "DATE-TIME").upper() == "DATE":
        return date_value(line.value)
    moment = date_time(line.value)
    zone = zone_named(line.params.get("TZID", ""))
    if moment is not None and moment.tzinfo is None and zone is not None:
        return moment.replace(tzinfo=zone)
    return moment


def zone_named(tzid: str) -> ZoneInfo | None:
    try:
        return ZoneInfo(tzid) if tzid else None
    except (KeyError, ValueError, OSError):
        return None


def duration(value: str) -> timedelta | None:
    """A DURATION value (RFC 5545 3.3.6), None if it is not one."""
    if _DURATION.fullmatch(value) is None:
        return None
    amounts = {unit: int(number) for number, unit in re.findall(r"(\d+)([WDHMS])", value)}
    length = timedelta(
        weeks=amounts.get("W", 0),
        days=amounts.get("D", 0),
        hours=amounts.get("H", 0),
        minutes=amounts.get("M", 0),
        seconds=amounts.get("S", 0),
    )
    return -length if value.startswith("-") else length
