"""Time zones of the calendar feed: VTIMEZONE text, wall time to instant, the form a start and an end are written in.

Rules (RFC 5545 3.3.5, 3.6.5 and what readers do):
- a wall time inside the spring gap does not exist: the first instant after the gap is meant;
- a wall time inside the repeated autumn hour means the first of the two, but readers disagree about which, so it is
  never written as wall time: UTC form instead;
- a VTIMEZONE is one STANDARD and at most one DAYLIGHT with yearly rules, because several desktop readers take lists of
  single dates one hour wrong. Zones that no yearly rule describes over ``FIRST_DAY`` to ``LAST_DAY`` get the list of
  dates, and their events are written in UTC form, so that no reader depends on that list.

Zone data: the ``tzdata`` package (POSIX rule in the footer of the zone file) and ``zoneinfo``. Everything is cached for
the life of the process. A new ``tzdata`` may move the UTC of a stored wall time: that is a new revision of the visit.
"""

import re
from bisect import bisect_right
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from importlib import resources
from itertools import pairwise
from typing import NamedTuple
from zoneinfo import ZoneInfo

from dateutil.rrule import rrulestr

FIRST_DAY = date(2025, 1, 1)
LAST_DAY = date(2040, 1, 1)
ONE_SECOND = timedelta(seconds=1)
_DAYS = (LAST_DAY - FIRST_DAY).days

_NAME = r"(?:<[A-Za-z0-9+\-]+>|[A-Za-z]{3,})"
_OFFSET = r"[+\-]?\d{1,3}(?::\d{2}){0,2}"
_CHANGE = rf"M(\d{{1,2}})\.(\d)\.(\d)(?:/({_OFFSET}))?"
_POSIX_RULE = re.compile(rf"({_NAME})({_OFFSET})(?:({_NAME})({_OFFSET})?,{_CHANGE},{_CHANGE})?")
_WEEKDAYS = ("SU", "MO", "TU", "WE", "TH", "FR", "SA")


class UnknownZone(ValueError):
    """The name is not in the zone database."""


class NoYearlyRule(ValueError):
    """The zone's changes are not one yearly rule over the years a feed covers."""


class Change(NamedTuple):
    """Yearly change of the clock: the ``week``-th (5 = last) ``weekday`` (0 = Sunday) of ``month``, wall seconds."""

    month: int
    week: int
    weekday: int
    second_of_day: int


class Observance(NamedTuple):
    """One STANDARD or DAYLIGHT block; offsets in seconds east of UTC, ``change`` None where the clock never changes."""

    kind: str
    name: str
    offset_from_s: int
    offset_to_s: int
    change: Change | None


@cache
def find_zone(tzid: str) -> ZoneInfo:
    """The zone of an IANA name. Raises UnknownZone naming the value."""
    try:
        return ZoneInfo(tzid)
    except (KeyError, ValueError, OSError) as error:  # not found, a path out of the database, a folder of it
        raise UnknownZone(f"tzid: {tzid!r} is no name in the time zone database, such as America/New_York") from error


def local_instant(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The UTC instant of a wall time. In the gap: the first instant after it. Repeated: the first of the two.

    >>> local_instant(date(2026, 3, 8), time(2, 30), ZoneInfo("America/New_York")).isoformat()
    '2026-03-08T07:00:00+00:00'
    >>> local_instant(date(2026, 11, 1), time(1, 30), ZoneInfo("America/New_York")).isoformat()
    '2026-11-01T05:30:00+00:00'
    """
    wall = datetime.combine(day, at.replace(tzinfo=None))
    first = wall.replace(tzinfo=zone, fold=0).astimezone(UTC)
    if _wall(first, zone) == wall:
        return first
    # Read with the offset before the gap the time lands after it, read with the offset after it lands before.
    return _change_between(wall.replace(tzinfo=zone, fold=1).astimezone(UTC), first, zone)


def is_repeated(day: date, at: time, zone: ZoneInfo) -> bool:
    """Whether the wall time happens twice on that day (the hour the clock is set back)."""
    wall = datetime.combine(day, at.replace(tzinfo=None))
    first, second = (wall.replace(tzinfo=zone, fold=f).astimezone(UTC) for f in (0, 1))
    return first != second and _wall(first, zone) == wall


def span_form(day: date, start: time, end: time, tzid: str) -> tuple[datetime, datetime]:
    """DTSTART and DTEND of a visit on one local day: both in the zone (TZID form) or both in UTC (Z form).

    ``end`` must be later than ``start`` on the clock. The result never lies in the gap and never in the repeated hour
    as wall time; its end is always later than its start. Raises ValueError otherwise, UnknownZone for a bad ``tzid``.
    """
    if end <= start:
        raise ValueError(f"local_end: {end} is not later than local_start {start}")
    zone = find_zone(tzid)
    begins, ends = local_instant(day, start, zone), local_instant(day, end, zone)
    if ends <= begins:  # both in the gap, or across a repeated hour: the length the clock shows is what was promised
        ends = begins + (datetime.combine(day, end) - datetime.combine(day, start))
    walls = (begins.astimezone(zone), ends.astimezone(zone))
    if not has_yearly_rule(tzid) or any(is_repeated(w.date(), w.time(), zone) for w in walls):
        return begins, ends
    return walls


@cache
def has_yearly_rule(tzid: str) -> bool:
    """Whether one yearly rule describes the zone exactly from FIRST_DAY to LAST_DAY."""
    try:
        observances = _observances(tzid)
    except NoYearlyRule:
        return False
    return _is_exact(observances, find_zone(tzid))


@cache
def vtimezone(tzid: str) -> bytes:
    """The VTIMEZONE component of an IANA zone as content lines with CRLF. Raises UnknownZone."""
    zone = find_zone(tzid)
    if has_yearly_rule(tzid):
        blocks = [line for observance in _observances(tzid) for line in _observance_lines(observance)]
    else:
        blocks = _dated_lines(zone)
    return ("\r\n".join(["BEGIN:VTIMEZONE", f"TZID:{tzid}", *blocks, "END:VTIMEZONE"]) + "\r\n").encode()


def _wall(instant: datetime, zone: ZoneInfo) -> datetime:
    return instant.astimezone(zone).replace(tzinfo=None, fold=0)


def _offset(instant: datetime, zone: ZoneInfo) -> timedelta:
    return instant.astimezone(zone).utcoffset() or timedelta(0)


def _change_between(before: datetime, after: datetime, zone: ZoneInfo) -> datetime:
    """First whole second in (before, after] whose offset differs from that at ``before``."""
    old_offset = _offset(before, zone)
    low, high = 0, int((after - before).total_seconds())
    while high - low > 1:
        middle = (low + high) // 2
        if _offset(before + timedelta(seconds=middle), zone) == old_offset:
            low = middle
        else:
            high = middle
    return before + timedelta(seconds=high)


def _posix_footer(tzid: str) -> str:
    """Last line of the zone file (RFC 8536 3.3), for example ``EST5EDT,M3.2.0,M11.1.0``."""
    path = resources.files("tzdata") / "zoneinfo"
    for part in tzid.split("/"):
        path = path / part
    return path.read_bytes().rstrip(b"\n").rsplit(b"\n", 1)[1].decode()


def _offset_seconds(text: str) -> int:
    sign = -1 if text[0] == "-" else 1
    hours, minutes, seconds = ([int(p) for p in text.lstrip("+-").split(":")] + [0, 0])[:3]
    return sign * (hours * 3600 + minutes * 60 + seconds)


def _observances(tzid: str) -> list[Observance]:
    """STANDARD, then DAYLIGHT where there is one. Raises NoYearlyRule."""
    match = _POSIX_RULE.fullmatch(_posix_footer(tzid))
    if match is None:
        raise NoYearlyRule(tzid)
    name, offset, summer_name, summer_offset, *rule = match.groups()
    base_s = -_offset_seconds(offset)  # POSIX counts west of Greenwich as positive
    if summer_name is None:
        return [Observance("STANDARD", name, base_s, base_s, None)]
    summer_s = -_offset_seconds(summer_offset) if summer_offset else base_s + 3600
    to_summer, to_base = _change(tzid, rule[:4]), _change(tzid, rule[4:])
    pair = [(name, base_s, to_base), (summer_name, summer_s, to_summer)]
    # Where the "summer" of the file is the smaller offset, readers still expect DAYLIGHT to be the larger.
    (low_name, low_s, to_low), (high_name, high_s, to_high) = sorted(pair, key=lambda item: item[1])
    return [
        Observance("STANDARD", low_name, high_s, low_s, to_low),
        Observance("DAYLIGHT", high_name, low_s, high_s, to_high),
    ]


def _change(tzid: str, rule: list[str | None]) -> Change:
    month, week, weekday, clock = rule
    second = _offset_seconds(clock or "2")
    if not 0 <= second < 86400:  # the weekday of the change would depend on the year
        raise NoYearlyRule(tzid)
    return Change(int(month or 0), int(week or 0), int(weekday or 0), second)


def _first_onset(change: Change) -> datetime:
    """Wall time of the change in 1970, the year every block starts from."""
    first = date(1970, change.month, 1)
    day = first + timedelta(days=(change.weekday - first.isoweekday()) % 7 + 7 * (change.week - 1))
    while day.month != change.month:
        day -= timedelta(days=7)
    return datetime.combine(day, time()) + timedelta(seconds=change.second_of_day)


def _rule_text(change: Change) -> str:
    week = -1 if change.week == 5 else change.week
    return f"FREQ=YEARLY;BYDAY={week}{_WEEKDAYS[change.weekday]};BYMONTH={change.month}"


def _dated_lines(zone: ZoneInfo) -> list[str]:
    """The changes from FIRST_DAY to LAST_DAY one by one: a block for each pair of offsets, its dates as RDATE.

    Made here and not by the library, whose list puts each change to a larger offset an hour late: an onset is a wall
    time of the clock before the change (RFC 5545 3.6.5).
    """
    noons = [datetime.combine(FIRST_DAY, time(12), tzinfo=UTC) + timedelta(days=n) for n in range(_DAYS)]
    first = noons[0].astimezone(zone)
    dated: dict[tuple[timedelta, timedelta, str], list[datetime]] = {}
    for before, after in pairwise(noons):
        if _offset(before, zone) != _offset(after, zone):
            at = _change_between(before, after, zone)
            old, new = _offset(before, zone), _offset(at, zone)
            name = at.astimezone(zone).tzname() or ""
            dated.setdefault((old, new, name), []).append(at.replace(tzinfo=None) + old)
    start = _offset(noons[0], zone)
    lines = _block("STANDARD", [datetime(1970, 1, 1)], start, start, first.tzname() or "")
    for (old, new, name), walls in dated.items():
        lines += _block("DAYLIGHT" if new > old else "STANDARD", walls, old, new, name)
    return lines


def _block(kind: str, walls: list[datetime], old: timedelta, new: timedelta, name: str, rule: str = "") -> list[str]:
    """One STANDARD or DAYLIGHT: onsets as wall times of the clock before the change, a yearly rule or single dates."""
    offsets = [_offset_text(int(offset.total_seconds())) for offset in (old, new)]
    return [
        f"BEGIN:{kind}",
        f"DTSTART:{walls[0]:%Y%m%dT%H%M%S}",
        *([f"RRULE:{rule}"] if rule else []),
        *(f"RDATE:{wall:%Y%m%dT%H%M%S}" for wall in walls[1:]),
        f"TZNAME:{name}",
        f"TZOFFSETFROM:{offsets[0]}",
        f"TZOFFSETTO:{offsets[1]}",
        f"END:{kind}",
    ]


def _offset_text(offset_s: int) -> str:
    """UTC-OFFSET value (RFC 5545 3.3.14): seconds only where there are any, zero is +0000."""
    sign, size = ("-" if offset_s < 0 else "+"), abs(offset_s)
    seconds = f"{size % 60:02d}" if size % 60 else ""
    return f"{sign}{size // 3600:02d}{size % 3600 // 60:02d}{seconds}"


def _observance_lines(observance: Observance) -> list[str]:
    change = observance.change
    old, new = (timedelta(seconds=s) for s in (observance.offset_from_s, observance.offset_to_s))
    onset = _first_onset(change) if change else datetime(1970, 1, 1)
    rule = _rule_text(change) if change else ""
    return _block(observance.kind, [onset], old, new, observance.name.strip("<>"), rule)


def _is_exact(observances: list[Observance], zone: ZoneInfo) -> bool:
    """Do the rules as written give zoneinfo's offset at each change (the second before too) and each day between?"""
    onsets: list[tuple[datetime, int]] = []
    for seen in observances:
        if seen.change is None:
            onsets.append((datetime(1970, 1, 1, tzinfo=UTC), seen.offset_to_s))
            continue
        rule = rrulestr(_rule_text(seen.change), dtstart=_first_onset(seen.change))
        walls = rule.between(datetime(FIRST_DAY.year - 2, 1, 1), datetime(LAST_DAY.year + 1, 1, 1))
        shift = timedelta(seconds=seen.offset_from_s)
        onsets += [((wall - shift).replace(tzinfo=UTC), seen.offset_to_s) for wall in walls]
    onsets.sort()
    noon = datetime.combine(FIRST_DAY, time(12), tzinfo=UTC)
    probes = [noon + timedelta(days=n) for n in range(_DAYS)]
    within = [at for at, _ in onsets if FIRST_DAY <= at.date() < LAST_DAY]
    probes += within + [at - ONE_SECOND for at in within]
    moments = [at for at, _ in onsets]
    written = (timedelta(seconds=onsets[bisect_right(moments, probe) - 1][1]) for probe in probes)
    return all(offset == _offset(probe, zone) for offset, probe in zip(written, probes, strict=True))
