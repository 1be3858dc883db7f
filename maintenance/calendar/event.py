"""One entry of a calendar feed: a frozen record and its VEVENT octets, which depend on the record alone.

DTSTAMP is LAST-MODIFIED (RFC 5545 3.8.7.2: without METHOD it is the time of the last revision), so the same record
gives the same octets for ever and the feed can answer "not modified". Octets are kept under ``fragment_key``.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum

from icalendar import Alarm, Event, vText

from maintenance.calendar.lines import absolute_url, escape_text, one_line, plain_text
from maintenance.calendar.zones import find_zone, span_form

FORMAT = 1  # raise it when the octets of an unchanged record change, so that kept fragments are made anew
UID_TEXT = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,254}")
DESCRIPTION_CHARACTERS = 2000
LINE_CHARACTERS = 200
ALARM_MINUTES_MAX = 14 * 24 * 60
LEFT_OUT = "[left out]"

_TAG_OPENING = re.compile(r"<(?=[A-Za-z/!?])")
# Common practice, no source: what a telephone number and a noted code look like in crew notes.
_TELEPHONE = re.compile(
    r"""(?<![\w/.-])(?:
        \+\d[\d\ ().-]{6,17}\d                                              # with a country code
        | (?:1[\ .-])?(?:\(\d{3}\)\ ?|\d{3}[\ .-]?)\d{3}[\ .-]?\d{4}          # area, exchange, line
        | \d{3}-\d{4}                                                        # exchange and line alone
    )(?![\w-])""",
    re.VERBOSE,
)
_ACCESS_CODE = re.compile(
    r"""\b(?:
        (?:(?:gate|door|garage|alarm|access|entry|key\ ?pad|lock\ ?box|key\ ?safe)\s+)?
        (?:code|pin|combo|combination|clave|c[oó]digo)
        | gate|key\ ?pad|lock\ ?box|key\ ?safe
    )\b(?:\s+(?:is|es|de|del|la|el|port[oó]n|puerta))*\s*[:=\#-]?\s*\#?\d{3,10}[*\#]?""",
    re.VERBOSE | re.IGNORECASE,
)
_MAIL_ADDRESS = re.compile(r"[^\s@<>,;:]+@[^\s@<>,;:]+\.[^\s@<>,;:]+|mailto:\S*", re.IGNORECASE)
_GUARDS = (("telephone number", _TELEPHONE), ("access code", _ACCESS_CODE), ("mail address", _MAIL_ADDRESS))


class EventStatus(StrEnum):
    """STATUS of a VEVENT (RFC 5545 3.8.1.11)."""

    TENTATIVE = "TENTATIVE"
    CONFIRMED = "CONFIRMED"
    CANCELLED = "CANCELLED"


@dataclass(frozen=True, slots=True)
class CalendarEvent:
    """One visit or owner task as a feed shows it. Wall times of the property; both or neither (then all day).

    ``revision`` counts every change, ``sequence`` changes of date, time or state (RFC 5545 3.8.7.4).
    ``last_modified`` and ``created`` are aware UTC; ``last_modified`` must grow with every revision by a second at
    least (``next_last_modified``): one phone reader takes a change only then. ``geo`` is latitude and longitude in
    degrees. ``called_off_prefix`` opens the summary of a called-off visit in the reader's language: some desktop
    readers do not look at STATUS. Raises ValueError naming field, value and limit.
    """

    uid: str
    revision: int
    sequence: int
    last_modified: datetime
    created: datetime
    local_date: date
    tzid: str
    summary: str
    url: str
    local_start: time | None = None
    local_end: time | None = None
    description: str = ""
    location: str = ""
    geo: tuple[float, float] | None = None
    status: EventStatus = EventStatus.CONFIRMED
    categories: tuple[str, ...] = ()
    alarm_minutes: int | None = None
    called_off_prefix: str = "Called off: "

    def __post_init__(self) -> None:
        if not UID_TEXT.fullmatch(self.uid):
            raise ValueError(f"uid: {self.uid!r} is not 1 to 255 letters, digits, dots, dashes or underscores")
        for field in ("revision", "sequence"):
            if getattr(self, field) < 0:
                raise ValueError(f"{field}: {getattr(self, field)} is below 0")
        for field in ("last_modified", "created"):
            if getattr(self, field).utcoffset() != timedelta(0):
                raise ValueError(f"{field}: {getattr(self, field)!r} is not an aware time in UTC")
        if not one_line(self.summary):
            raise ValueError("summary: empty; say what will be done")
        find_zone(self.tzid)
        absolute_url("url", self.url)
        self._check_times()
        self._check_numbers()

    def _check_times(self) -> None:
        if (self.local_start is None) != (self.local_end is None):
            raise ValueError("local_start, local_end: give both, or neither for a whole day")
        if self.local_start is not None and self.local_end is not None and self.local_end <= self.local_start:
            raise ValueError(f"local_end: {self.local_end} is not later than local_start {self.local_start}")

    def _check_numbers(self) -> None:
        if self.geo is not None:
            latitude, longitude = self.geo
            if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
                raise ValueError(f"geo: {self.geo} is not latitude -90 to 90, longitude -180 to 180 degrees")
        if self.alarm_minutes is not None and not 1 <= self.alarm_minutes <= ALARM_MINUTES_MAX:
            raise ValueError(f"alarm_minutes: {self.alarm_minutes} is not 1 to {ALARM_MINUTES_MAX} minutes")

    @property
    def is_all_day(self) -> bool:
        """Whether only a day is promised."""
        return self.local_start is None

    @property
    def is_called_off(self) -> bool:
        return self.status is EventStatus.CANCELLED


class _Finished(vText):
    """A value whose octets are written as they are; the library still folds the line."""

    def to_ical(self) -> bytes:
        return str(self).encode()


def next_last_modified(previous: datetime | None, at: datetime) -> datetime:
    """The LAST-MODIFIED of a new revision made at ``at``: whole seconds, always after ``previous``."""
    whole = at.astimezone(UTC).replace(microsecond=0)
    return whole if previous is None else max(whole, previous.replace(microsecond=0) + timedelta(seconds=1))


def fragment_key(event: CalendarEvent, language: str) -> str:
    """Key under which the octets of a revision are kept. When not to use it: for records that differ by reader."""
    return f"vevent:{FORMAT}:{event.uid}:{event.revision}:{language}"


def forbidden_text(text: str, secrets: Iterable[str] = ()) -> list[str]:
    """What in ``text`` must not leave in a feed, as kinds only (the value itself is never repeated), [] if nothing.

    ``secrets`` are the property's own codes and numbers, found wherever they stand as a word of their own.
    """
    found = [kind for kind, pattern in _GUARDS if pattern.search(text)]
    return found + ["secret of the property"] * any(p.search(text) for p in _secret_patterns(secrets))


def without_forbidden(text: str, secrets: Iterable[str] = ()) -> str:
    """``text`` with telephone numbers, access codes, mail addresses and ``secrets`` replaced by ``[left out]``."""
    for pattern in [*_secret_patterns(secrets), *(pattern for _, pattern in _GUARDS)]:
        text = pattern.sub(LEFT_OUT, text)
    return text


def event_bytes(event: CalendarEvent, secrets: Iterable[str] = ()) -> bytes:
    """The VEVENT of ``event`` as folded content lines with CRLF.

    Texts are cleaned of control characters, of tags and of what ``without_forbidden`` names. ``secrets`` are not looked
    for in the location: a code that happens to equal the house number must not hide the address.
    """
    secrets = tuple(secrets)
    summary = without_forbidden(one_line(event.summary), secrets)
    if event.is_called_off:
        summary = event.called_off_prefix + summary
    summary = _clipped(summary, LINE_CHARACTERS)
    vevent = Event()
    vevent["UID"] = _Finished(event.uid)
    for name in ("DTSTAMP", "LAST-MODIFIED"):
        vevent[name] = _Finished(_utc_text(event.last_modified))
    vevent["CREATED"] = _Finished(_utc_text(event.created))
    vevent.add("SEQUENCE", event.sequence)
    _add_times(vevent, event)
    vevent["SUMMARY"] = _Finished(escape_text(summary))
    vevent["DESCRIPTION"] = _Finished(escape_text(_description(event, secrets)))
    vevent["URL"] = _Finished(event.url)
    vevent["STATUS"] = _Finished(event.status)
    _add_optional(vevent, event, secrets)
    if event.alarm_minutes is not None and not event.is_called_off:
        vevent.add_component(_alarm(summary, event.alarm_minutes))
    return vevent.to_ical()


def _secret_patterns(secrets: Iterable[str]) -> list[re.Pattern[str]]:
    return [re.compile(rf"(?<!\w){re.escape(s.strip())}(?!\w)", re.IGNORECASE) for s in secrets if s.strip()]


def _utc_text(moment: datetime) -> str:
    return f"{moment:%Y%m%dT%H%M%SZ}"


def _clipped(text: str, limit: int) -> str:
    return text if len(text) <= limit else text[: limit - 1].rstrip() + "…"


def _description(event: CalendarEvent, secrets: tuple[str, ...]) -> str:
    """Plain words, then the address of the page. Tags would be drawn by some readers, so their bracket is replaced."""
    words = _TAG_OPENING.sub("‹", without_forbidden(plain_text(event.description), secrets))
    return "\n".join(part for part in (_clipped(words, DESCRIPTION_CHARACTERS), event.url) if part)


def _add_times(vevent: Event, event: CalendarEvent) -> None:
    if event.local_start is None or event.local_end is None:
        vevent.add("DTSTART", event.local_date)
        vevent.add("DTEND", event.local_date + timedelta(days=1))  # the end of a DATE is exclusive
        vevent["TRANSP"] = _Finished("TRANSPARENT")
        return
    start, end = span_form(event.local_date, event.local_start, event.local_end, event.tzid)
    vevent.add("DTSTART", start)
    vevent.add("DTEND", end)
    vevent["TRANSP"] = _Finished("TRANSPARENT" if event.is_called_off else "OPAQUE")


def _add_optional(vevent: Event, event: CalendarEvent, secrets: tuple[str, ...]) -> None:
    if location := without_forbidden(one_line(event.location)):
        vevent["LOCATION"] = _Finished(escape_text(_clipped(location, LINE_CHARACTERS)))
    if event.geo is not None:
        vevent["GEO"] = _Finished(";".join(f"{degrees:.6f}" for degrees in event.geo))
    names = [without_forbidden(one_line(name), secrets) for name in event.categories]
    if written := ",".join(escape_text(name) for name in names if name):
        vevent["CATEGORIES"] = _Finished(written)


def _alarm(words: str, minutes: int) -> Alarm:
    alarm = Alarm()
    alarm["ACTION"] = _Finished("DISPLAY")
    alarm["DESCRIPTION"] = _Finished(escape_text(words))
    alarm.add("TRIGGER", -timedelta(minutes=minutes))
    return alarm
