"""Rows E01 to E24: each VEVENT."""

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

from dateutil.rrule import rrulestr

from tests.feedcheck.feed import Feed, date_time, duration, moment_of, row, uid_of, utc_time, zone_named
from tests.feedcheck.head import is_absolute
from tests.feedcheck.lines import Component, Line, unescape

TIME_PROPERTIES = ("DTSTART", "DTEND", "RECURRENCE-ID", "EXDATE", "RDATE")
SINGLE = {
    *("DTSTAMP", "UID", "DTSTART", "CLASS", "CREATED", "DESCRIPTION", "GEO", "LAST-MODIFIED", "LOCATION", "ORGANIZER"),
    *("PRIORITY", "SEQUENCE", "STATUS", "SUMMARY", "TRANSP", "URL", "RECURRENCE-ID", "DTEND", "DURATION", "COLOR"),
}
DESCRIPTION_MAX = 8000


def _is_date(line: Line) -> bool:
    return line.params.get("VALUE", "").upper() == "DATE"


def _shape(line: Line) -> tuple[bool, str, bool]:
    """DATE or not, zone, UTC or not: two times of one event must agree in it."""
    return _is_date(line), line.params.get("TZID", ""), line.value.endswith("Z")


def _instant(moment: date | datetime) -> datetime:
    """Comparable instant; a DATE counts as midnight UTC, a floating time as UTC."""
    if not isinstance(moment, datetime):
        moment = datetime(moment.year, moment.month, moment.day, tzinfo=UTC)
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).astimezone(UTC)


def _times(feed: Feed) -> Iterator[tuple[str, Line]]:
    for event in feed.events:
        for name in TIME_PROPERTIES:
            for line in event.all(name):
                yield uid_of(event), line


@row("E01")
def uid_is_one_and_clean(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        found = [line.value for line in event.all("UID")]
        if len(found) != 1 or not 1 <= len(found[0].encode()) <= 255 or "@" in found[0]:
            yield f"UID {found}"


@row("E02")
def uid_is_unique(feed: Feed) -> Iterator[str]:
    seen = set()
    for event in feed.events:
        key = (event.value("UID"), event.value("RECURRENCE-ID"))
        if key in seen:
            yield f"{key} twice"
        seen.add(key)


@row("E03")
def dtstamp_is_utc(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        if len(event.all("DTSTAMP")) != 1 or utc_time(event.one("DTSTAMP")) is None:
            yield uid_of(event)


@row("E04")
def dtstamp_is_last_revision(feed: Feed) -> Iterator[str]:
    if feed.calendar.one("METHOD"):
        return
    yield from (uid_of(e) for e in feed.events if e.value("DTSTAMP") != e.value("LAST-MODIFIED"))


@row("E05")
def dtstart_is_real(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        found = event.all("DTSTART")
        if len(found) != 1 or moment_of(found[0]) is None:
            yield f"{uid_of(event)}: DTSTART {[line.value for line in found]}"


@row("E06")
def end_is_after_start(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        start, end, length = event.one("DTSTART"), event.one("DTEND"), event.one("DURATION")
        if (end is None) == (length is None):
            yield f"{uid_of(event)}: DTEND and DURATION, or neither"
        if length is not None and (duration(length.value) or timedelta(0)) <= timedelta(0):
            yield f"{uid_of(event)}: DURATION {length.value}"
        if start is None or end is None:
            continue
        begins, ends = moment_of(start), moment_of(end)
        if _is_date(start) != _is_date(end) or begins is None or ends is None or _instant(ends) <= _instant(begins):
            yield f"{uid_of(event)}: {start.value} to {end.value}"


@row("E07")
def times_are_not_floating(feed: Feed) -> Iterator[str]:
    for uid, line in _times(feed):
        if not _is_date(line) and "TZID" not in line.params and not line.value.endswith("Z"):
            yield f"{uid}: {line.name} {line.value}"


@row("E08")
def zones_are_declared(feed: Feed) -> Iterator[str]:
    declared = {zone.value("TZID") for zone in feed.zones}
    for uid, line in _times(feed):
        if "TZID" in line.params and line.params["TZID"] not in declared:
            yield f"{uid}: {line.params['TZID']}"


@row("E09")
def zone_only_on_wall_times(feed: Feed) -> Iterator[str]:
    for uid, line in _times(feed):
        if "TZID" in line.params and (_is_date(line) or line.value.endswith("Z")):
            yield f"{uid}: {line.name}"


def _walls(feed: Feed) -> Iterator[tuple[str, datetime, datetime]]:
    """Wall times whose zone is known: uid, first and second reading as UTC."""
    for uid, line in _times(feed):
        zone, wall = zone_named(line.params.get("TZID", "")), date_time(line.value)
        if zone is not None and wall is not None and wall.tzinfo is None:
            yield uid, wall.replace(tzinfo=zone, fold=0), wall.replace(tzinfo=zone, fold=1)


@row("E10")
def wall_times_exist(feed: Feed) -> Iterator[str]:
    for uid, first, _ in _walls(feed):
        if first.astimezone(UTC).astimezone(first.tzinfo).replace(tzinfo=None) != first.replace(tzinfo=None):
            yield f"{uid}: {first}"


@row("E11")
def sequence_counts(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        found = [line.value for line in event.all("SEQUENCE")]
        if len(found) != 1 or not re.fullmatch(r"\d+", found[0]):
            yield f"{uid_of(event)}: SEQUENCE {found}"


@row("E12")
def last_modified_is_past_utc(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        moment = utc_time(event.one("LAST-MODIFIED"))
        if moment is None or moment > feed.now:
            yield f"{uid_of(event)}: {event.value('LAST-MODIFIED')}"


@row("E13")
def status_is_known(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        for line in event.all("STATUS"):
            if line.value not in ("TENTATIVE", "CONFIRMED", "CANCELLED"):
                yield f"{uid_of(event)}: {line.value}"


@row("E14")
def cancelled_says_so(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        if event.value("STATUS") != "CANCELLED":
            continue
        says = unescape(event.value("SUMMARY")).startswith(feed.cancelled_words)
        if not says or event.value("TRANSP") != "TRANSPARENT" or event.kind("VALARM"):
            yield uid_of(event)


@row("E15")
def summary_is_there(feed: Feed) -> Iterator[str]:
    yield from (uid_of(event) for event in feed.events if not event.value("SUMMARY").strip())


@row("E16")
def singles_occur_once(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        for name in SINGLE:
            if len(event.all(name)) > 1:
                yield f"{uid_of(event)}: {name}"


@row("E17")
def rule_is_valid(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        start = event.one("DTSTART")
        for line in event.all("RRULE"):
            try:
                rrulestr(line.value, dtstart=datetime(2026, 1, 1, tzinfo=UTC))
            except (ValueError, KeyError) as error:
                # dateutil wants UNTIL aware here; a DATE form is judged below.
                if "UNTIL" not in str(error):
                    yield f"{uid_of(event)}: {line.value}"
                    continue
            until = re.search(r"UNTIL=([^;]+)", line.value)
            if until and start is not None:
                is_right = re.fullmatch(r"\d{8}", until[1]) if _is_date(start) else date_time(until[1])
                wants_utc = "TZID" in start.params or start.value.endswith("Z")
                if not is_right or (wants_utc and not until[1].endswith("Z")):
                    yield f"{uid_of(event)}: UNTIL={until[1]}"


@row("E18")
def exceptions_match_start(feed: Feed) -> Iterator[str]:
    masters = {e.value("UID"): e.one("DTSTART") for e in feed.events if not e.one("RECURRENCE-ID")}
    for event in feed.events:
        start = masters.get(event.value("UID")) or event.one("DTSTART")
        for line in event.all("RECURRENCE-ID") + event.all("EXDATE"):
            if start is not None and _shape(line) != _shape(start):
                yield f"{uid_of(event)}: {line.name} {line.value}"


def _alarm_faults(alarm: Component) -> Iterator[str]:
    action, triggers = alarm.value("ACTION"), alarm.all("TRIGGER")
    if len(alarm.all("ACTION")) != 1 or len(triggers) != 1:
        yield "ACTION and TRIGGER once each"
    needed = {"DISPLAY": ("DESCRIPTION",), "EMAIL": ("DESCRIPTION", "SUMMARY", "ATTENDEE"), "AUDIO": ()}
    yield from (f"{action} without {name}" for name in needed.get(action, ()) if not alarm.value(name))
    if action not in needed:
        yield f"ACTION {action}"
    for trigger in triggers:
        is_absolute_time = trigger.params.get("VALUE", "").upper() == "DATE-TIME"
        if (utc_time(trigger) if is_absolute_time else duration(trigger.value)) is None:
            yield f"TRIGGER {trigger.value}"


@row("E19")
def alarms_are_whole(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        for alarm in event.kind("VALARM"):
            yield from (f"{uid_of(event)}: {fault}" for fault in _alarm_faults(alarm))


@row("E20")
def alarms_are_few(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        alarms = event.kind("VALARM")
        if len(alarms) > 1:
            yield f"{uid_of(event)}: {len(alarms)} alarms"
        for alarm in alarms:
            trigger = alarm.one("TRIGGER")
            is_past_only = trigger is not None and trigger.params.get("VALUE", "").upper() == "DATE-TIME"
            if alarm.value("ACTION") != "DISPLAY" or is_past_only:
                yield f"{uid_of(event)}: {alarm.value('ACTION')} {trigger}"


@row("E21")
def description_is_plain(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        text = unescape(event.value("DESCRIPTION"))
        if len(text) > DESCRIPTION_MAX or re.search(r"<[A-Za-z/!?][^>]*>|&(?:amp|lt|gt|nbsp|#\d+);", text):
            yield uid_of(event)


@row("E22")
def values_are_well_formed(feed: Feed) -> Iterator[str]:
    for event in feed.events:
        for line in event.all("DURATION"):
            if duration(line.value) is None:
                yield f"{uid_of(event)}: DURATION {line.value}"
        for line in event.all("URL"):
            if not is_absolute(line.value):
                yield f"{uid_of(event)}: URL {line.value}"
        for line in event.all("GEO"):
            pair = re.fullmatch(r"([+-]?\d+(?:\.\d+)?);([+-]?\d+(?:\.\d+)?)", line.value)
            if pair is None or abs(float(pair[1])) > 90 or abs(float(pair[2])) > 180:
                yield f"{uid_of(event)}: GEO {line.value}"


@row("E23")
def nothing_private(feed: Feed) -> Iterator[str]:
    text = "\n".join(feed.lines)
    unescaped = unescape(text).casefold()
    for event in feed.events:
        if event.all("ATTENDEE"):
            yield f"{uid_of(event)}: ATTENDEE"
    if "mailto:" in text.casefold():
        yield "mailto:"
    # The texts themselves are secrets, so a fault does not repeat them.
    yield from ("a forbidden text" for secret in feed.forbid if secret and secret.casefold() in unescaped)


@row("E24")
def not_in_the_repeated_hour(feed: Feed) -> Iterator[str]:
    for uid, first, second in _walls(feed):
        earlier, later = first.astimezone(UTC), second.astimezone(UTC)
        exists = earlier.astimezone(first.tzinfo).replace(tzinfo=None) == first.replace(tzinfo=None)
        if exists and earlier != later:
            yield f"{uid}: {first}"
