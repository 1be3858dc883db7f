"""One seeded fault a row: what makes a good feed bad. The checker's own tests use them, and those of the pages may.

A seed takes the octets of a good feed with the shapes of the sample feed and returns bad octets.
"""

import re
from collections.abc import Callable

from tests.feedcheck.lines import refold, unfold

Seed = Callable[[bytes], bytes]


def edit(change: Callable[[list[str]], list[str]]) -> Seed:
    """A seed that works on unfolded lines."""
    return lambda body: refold(change(unfold(body)))


def swap(old: str, new: str) -> Seed:
    """The first place ``old`` stands in the unfolded lines becomes ``new``; ValueError where it does not."""

    def change(body: bytes) -> bytes:
        lines = unfold(body)
        text = "\n".join(lines)
        if old not in text:
            raise ValueError(f"the sample has no {old!r} to spoil")
        return refold(text.replace(old, new, 1).split("\n"))

    return change


def drop(pattern: str) -> Seed:
    """The first line that matches is taken out."""

    def change(lines: list[str]) -> list[str]:
        place = next(n for n, line in enumerate(lines) if re.fullmatch(pattern, line))
        return lines[:place] + lines[place + 1 :]

    return edit(change)


def after(pattern: str, *new: str) -> Seed:
    """``new`` lines behind the first line that matches."""

    def change(lines: list[str]) -> list[str]:
        place = next(n for n, line in enumerate(lines) if re.fullmatch(pattern, line))
        return [*lines[: place + 1], *new, *lines[place + 1 :]]

    return edit(change)


def _octets(old: bytes, new: bytes) -> Seed:
    def change(body: bytes) -> bytes:
        if old not in body:
            raise ValueError(f"the sample has no {old!r} to spoil")
        return body.replace(old, new, 1)

    return change


def _zones_last(lines: list[str]) -> list[str]:
    first, last = lines.index("BEGIN:VTIMEZONE"), len(lines) - lines[::-1].index("END:VTIMEZONE")
    return [*lines[:first], *lines[last:-1], *lines[first:last], lines[-1]]


def _without_components(lines: list[str]) -> list[str]:
    return [*lines[: lines.index("BEGIN:VTIMEZONE")], lines[-1]]


def _split_character(body: bytes) -> bytes:
    place = next(n for n, octet in enumerate(body) if octet >= 0xC0)
    return body[: place + 1] + b"\r\n " + body[place + 1 :]


def _many(body: bytes) -> bytes:
    lines = unfold(body)
    first, last = lines.index("BEGIN:VEVENT"), lines.index("END:VEVENT") + 1
    event = [line for line in lines[first:last] if not line.startswith("DESCRIPTION")]
    more = [f"UID:copy-{n}" if line.startswith("UID:") else line for n in range(1000) for line in event]
    return refold([*lines[:last], *more, *lines[last:]])


def _event_twice(lines: list[str]) -> list[str]:
    first, last = lines.index("BEGIN:VEVENT"), lines.index("END:VEVENT") + 1
    return [*lines[:last], *lines[first:last], *lines[last:]]


def _event_line(name: str, new: str | None) -> Seed:
    """The first line ``name`` inside an event is replaced, or taken out for None."""

    def change(lines: list[str]) -> list[str]:
        begin = lines.index("BEGIN:VEVENT")
        place = next(n for n in range(begin, len(lines)) if lines[n].startswith(name))
        return [*lines[:place], *([new] if new is not None else []), *lines[place + 1 :]]

    return edit(change)


EASTERN_START = "DTSTART;TZID=America/New_York:20260309T080000"
EASTERN_END = "DTEND;TZID=America/New_York:20260309T093000"
START_LINE = re.escape(EASTERN_START)

BODY_SEEDS: dict[str, list[Seed]] = {
    "F01": [_octets(b"VERSION:2.0\r\n", b"VERSION:2.0\n"), lambda body: body.removesuffix(b"\r\n")],
    "F02": [_octets(b"END:VCALENDAR", b"X-LONG:" + b"a" * 80 + b"\r\nEND:VCALENDAR")],
    "F03": [lambda body: body.decode().encode("latin-1", "replace")],
    "F04": [_split_character],
    "F05": [swap("SUMMARY:Clean", "SUMMARY:\x07Clean")],
    "F06": [
        lambda body: b"\xef\xbb\xbf" + body,
        _octets(b"END:VEVENT\r\n", b"END:VEVENT\r\n\r\n"),
        lambda b: b + b"X:1\r\n",
    ],
    "F07": [drop("END:VEVENT"), swap("BEGIN:VALARM", "BEGIN:VBELL")],
    "F08": [after("VERSION:2.0", "NO COLON HERE"), swap("DTSTART;TZID=America", "DTSTART;TZID:America")],
    "F09": [swap("CH-1 and SB-2", "CH-1, SB-2"), swap("CH-1 and", "CH-1; and"), swap("C:\\\\Notes", "C:\\Xotes")],
    "C01": [drop("PRODID:.*"), after("VERSION:2.0", "PRODID:-//Second//EN")],
    "C02": [swap("VERSION:2.0", "VERSION:1.0"), drop("VERSION:.*")],
    "C03": [edit(_without_components)],
    "C04": [after("VERSION:2.0", "METHOD:PUBLISH"), after("VERSION:2.0", "METHOD:REQUEST")],
    "C05": [drop("NAME:.*"), swap("X-WR-CALNAME:", "X-WR-CALNAME:Other ")],
    "C06": [
        swap("DURATION:PT1H", "DURATION:PT0S"),
        swap("X-PUBLISHED-TTL:PT1H", "X-PUBLISHED-TTL:PT2H"),
        swap("REFRESH-INTERVAL;VALUE=DURATION:", "REFRESH-INTERVAL:"),
        swap("DURATION:PT1H", "DURATION:1H"),
    ],
    "C07": [swap("COLOR:steelblue", "COLOR:#4682b4"), swap("COLOR:steelblue", "COLOR:steelbleu")],
    "C08": [swap("\nURL:https://calendar.example.org", "\nURL:"), swap("SOURCE;VALUE=URI:", "SOURCE:")],
    "C09": [drop("REFRESH-INTERVAL.*")],
    "C10": [after("VERSION:2.0", "UID:calendar-1")],
    "C11": [_many, after("VERSION:2.0", "X-FILL:" + "a" * 1_000_000)],
    "E01": [drop("UID:.*"), swap("\nUID:", "\nUID:someone@"), swap("\nUID:", "\nUID:" + "a" * 250)],
    "E02": [edit(_event_twice)],
    "E03": [drop("DTSTAMP:.*"), swap("DTSTAMP:20260305T080000Z", "DTSTAMP:20260305T080000")],
    "E04": [swap("DTSTAMP:20260305T080000Z", "DTSTAMP:20260306T115900Z")],
    "E05": [drop(START_LINE), swap(EASTERN_START, "DTSTART;TZID=America/New_York:20260230T080000")],
    "E06": [
        swap(EASTERN_END, EASTERN_START.replace("DTSTART", "DTEND")),
        after(START_LINE, "DURATION:PT1H"),
        drop(re.escape(EASTERN_END)),
        swap("DTEND;VALUE=DATE:20260414", "DTEND;VALUE=DATE:20260413"),
        swap(EASTERN_END, "DTEND;VALUE=DATE:20260310"),
    ],
    "E07": [swap(EASTERN_START, "DTSTART:20260309T080000")],
    "E08": [swap("\nTZID:America/New_York", "\nTZID:America/Old_York")],
    "E09": [
        swap("DTSTART:20261101T051500Z", "DTSTART;TZID=America/New_York:20261101T051500Z"),
        swap("DTSTART;VALUE=DATE:", "DTSTART;TZID=America/New_York;VALUE=DATE:"),
    ],
    "E10": [swap("20260308T010000", "20260308T023000")],
    "E11": [swap("SEQUENCE:0", "SEQUENCE:-1"), drop("SEQUENCE:.*"), swap("SEQUENCE:0", "SEQUENCE:1.5")],
    "E12": [_event_line("LAST-MODIFIED", None), _event_line("LAST-MODIFIED", "LAST-MODIFIED:20990101T000000Z")],
    "E13": [swap("STATUS:CONFIRMED", "STATUS:BOOKED")],
    "E14": [
        swap("SUMMARY:Called off: ", "SUMMARY:"),
        swap("STATUS:TENTATIVE", "STATUS:CANCELLED"),
        swap("STATUS:CANCELLED\nTRANSP:TRANSPARENT", "STATUS:CANCELLED\nTRANSP:OPAQUE"),
    ],
    "E15": [swap("SUMMARY:Clean CH-1 and SB-2", "SUMMARY:"), drop("SUMMARY:.*")],
    "E16": [after(START_LINE, "SUMMARY:Second"), after(START_LINE, "LOCATION:Second")],
    "E17": [after(START_LINE, "RRULE:FREQ=FORTNIGHTLY"), after(START_LINE, "RRULE:FREQ=WEEKLY;UNTIL=20260401T080000")],
    "E18": [after(START_LINE, "EXDATE:20260316T120000Z"), after(START_LINE, "RECURRENCE-ID;VALUE=DATE:20260309")],
    "E19": [
        drop("TRIGGER.*"),
        drop("ACTION:.*"),
        swap("TRIGGER:-PT1H", "TRIGGER:-1H"),
        swap("ACTION:DISPLAY", "ACTION:EMAIL"),
    ],
    "E20": [
        after("END:VALARM", "BEGIN:VALARM", "ACTION:DISPLAY", "DESCRIPTION:x", "TRIGGER:-PT5M", "END:VALARM"),
        swap("ACTION:DISPLAY", "ACTION:AUDIO"),
        swap("TRIGGER:-PT1H", "TRIGGER;VALUE=DATE-TIME:20260309T110000Z"),
    ],
    "E21": [
        swap("DESCRIPTION:Two parts.", "DESCRIPTION:<b>Two</b> parts."),
        swap("DESCRIPTION:Two", "DESCRIPTION:" + "a" * 9000),
    ],
    "E22": [
        swap("GEO:40.123456;-75.000000", "GEO:1e-05;-75.0"),
        swap("GEO:40.1", "GEO:95.1"),
        swap("URL:https://calendar.example.org/visits/1", "URL:/visits/1"),
    ],
    "E23": [
        after(START_LINE, "ATTENDEE:https://example.org/a"),
        swap("DESCRIPTION:Two", "DESCRIPTION:mailto:a@b.example Two"),
        swap("DESCRIPTION:Two parts", "DESCRIPTION:Gate 4471 two parts"),
    ],
    "E24": [swap("DTSTART:20261101T051500Z", "DTSTART;TZID=America/New_York:20261101T011500")],
    "T01": [drop("TZOFFSETTO:.*"), drop("TZID:.*"), swap("\nTZID:Europe/Lisbon", "\nTZID:America/New_York")],
    "T02": [swap("TZOFFSETTO:+0000", "TZOFFSETTO:-0000"), swap("TZOFFSETTO:-0500", "TZOFFSETTO:-05:00")],
    "T03": [swap("BYDAY=2SU;BYMONTH=3", "BYDAY=3SU;BYMONTH=3"), swap("TZOFFSETTO:-0400", "TZOFFSETTO:-0300")],
    "T04": [
        swap("BYDAY=1SU;BYMONTH=11", "BYMONTH=11"),
        swap("RRULE:FREQ=YEARLY;BYDAY=2SU;BYMONTH=3", "RDATE:20260308T020000,20270314T020000"),
    ],
    "T05": [edit(_zones_last)],
    "R01": [swap(EASTERN_START, "DTSTART;TZID=America/New_York:20260309T0800"), swap("TRIGGER:-PT1H", "TRIGGER:soon")],
    "R02": [
        edit(_event_twice),
        lambda body: after("VERSION:2.0", "X-WR-TIMEZONE:Asia/Tokyo")(
            swap(EASTERN_START, "DTSTART:20260309T080000")(body)
        ),
    ],
}
