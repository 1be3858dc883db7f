"""Rows T01 to T05: VTIMEZONE, evaluated here by RFC 5545 3.6.5 and compared with the zone database."""

import re
from bisect import bisect_right
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from dateutil.rrule import rrulestr

from tests.feedcheck.feed import Feed, date_time, moment_of, row, uid_of, zone_named
from tests.feedcheck.lines import Component

_OFFSET = re.compile(r"([+-])(\d\d)([0-5]\d)([0-5]\d)?")
TIME_PROPERTIES = ("DTSTART", "DTEND", "RECURRENCE-ID", "EXDATE")


def utc_offset(value: str) -> timedelta | None:
    """A UTC-OFFSET value (RFC 5545 3.3.14), None if it is not one; -0000 is not one."""
    match = _OFFSET.fullmatch(value)
    if match is None or re.fullmatch(r"-0+", value):
        return None
    size = timedelta(hours=int(match[2]), minutes=int(match[3]), seconds=int(match[4] or 0))
    return -size if match[1] == "-" else size


def observances(zone: Component) -> list[Component]:
    return zone.kind("STANDARD") + zone.kind("DAYLIGHT")


def onsets(zone: Component, last: datetime) -> list[tuple[datetime, timedelta]]:
    """UTC moments at which an offset begins, up to ``last`` (aware), sorted; what does not parse is left out."""
    found = []
    for block in observances(zone):
        start = date_time(block.value("DTSTART"))
        before, after = utc_offset(block.value("TZOFFSETFROM")), utc_offset(block.value("TZOFFSETTO"))
        if start is None or before is None or after is None:
            continue
        walls = [start, *(w for line in block.all("RDATE") for v in line.value.split(",") if (w := date_time(v)))]
        if rule := block.value("RRULE"):
            walls += rrulestr(rule, dtstart=start).between(start, last.replace(tzinfo=None), inc=False)
        found += [((wall - before).replace(tzinfo=UTC), after) for wall in walls]
    return sorted(found, key=lambda pair: pair[0])


def offset_at(changes: list[tuple[datetime, timedelta]], moment: datetime) -> timedelta | None:
    """The offset a VTIMEZONE gives at a UTC moment, None before its first onset."""
    place = bisect_right([at for at, _ in changes], moment)
    return changes[place - 1][1] if place else None


@row("T01")
def zones_are_whole(feed: Feed) -> Iterator[str]:
    names = [zone.value("TZID") for zone in feed.zones]
    if len(set(names)) != len(names) or "" in names:
        yield f"TZID {names}"
    for zone in feed.zones:
        if len(zone.all("TZID")) != 1 or not observances(zone):
            yield f"{zone.value('TZID')}: TZID once, one observance at least"
        for block in observances(zone):
            for name in ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO"):
                if len(block.all(name)) != 1:
                    yield f"{zone.value('TZID')}: {name}"


@row("T02")
def offsets_are_well_formed(feed: Feed) -> Iterator[str]:
    for zone in feed.zones:
        for block in observances(zone):
            for line in block.all("TZOFFSETFROM") + block.all("TZOFFSETTO"):
                if utc_offset(line.value) is None:
                    yield f"{zone.value('TZID')}: {line.value}"


@row("T03")
def offsets_are_true(feed: Feed) -> Iterator[str]:
    declared = {zone.value("TZID"): zone for zone in feed.zones}
    changes: dict[str, list[tuple[datetime, timedelta]]] = {}
    last = feed.now + timedelta(days=366 * 15)
    for event in feed.events:
        for line in (line for name in TIME_PROPERTIES for line in event.all(name)):
            tzid, moment = line.params.get("TZID", ""), moment_of(line)
            if tzid not in declared or not isinstance(moment, datetime):
                continue
            if zone_named(tzid) is None:
                yield f"{uid_of(event)}: {tzid} is not in the zone database"
                continue
            if tzid not in changes:
                changes[tzid] = onsets(declared[tzid], last)
            if offset_at(changes[tzid], moment.astimezone(UTC)) != moment.utcoffset():
                yield f"{uid_of(event)}: {tzid} at {line.value}"


@row("T04")
def zones_are_simple(feed: Feed) -> Iterator[str]:
    # A zone no event names cannot mislead anybody: an empty feed may keep one that needs a list of dates.
    used = {line.params.get("TZID") for event in feed.events for name in TIME_PROPERTIES for line in event.all(name)}
    for zone in feed.zones:
        if zone.value("TZID") not in used:
            continue
        if len(zone.kind("STANDARD")) != 1 or len(zone.kind("DAYLIGHT")) > 1:
            yield f"{zone.value('TZID')}: number of observances"
        for block in observances(zone):
            rules = [line.value for line in block.all("RRULE")]
            simple = all(re.fullmatch(r"FREQ=YEARLY;BYDAY=-?[1-5][A-Z]{2};BYMONTH=\d{1,2}", rule) for rule in rules)
            if block.all("RDATE") or len(rules) > 1 or not simple or (zone.kind("DAYLIGHT") and not rules):
                yield f"{zone.value('TZID')}: {rules}"


@row("T05")
def zones_come_first(feed: Feed) -> Iterator[str]:
    kinds = [child.name for child in feed.calendar.children]
    if "VEVENT" in kinds and "VTIMEZONE" in kinds[kinds.index("VEVENT") :]:
        yield "a VTIMEZONE after a VEVENT"
