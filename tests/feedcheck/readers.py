"""Rows R01 and R02: independent readers see the events that are written. (R03, R04 need Node and are not here.)"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import icalendar
import recurring_ical_events

from tests.feedcheck.feed import Feed, duration, moment_of, row
from tests.feedcheck.lines import Component, unescape

Seen = tuple[str, str, str, str]
DAY = timedelta(days=1)


def as_text(moment: date | datetime) -> str:
    """UTC for an instant, the bare date for a whole day."""
    if isinstance(moment, datetime):
        return (moment.astimezone(UTC) if moment.tzinfo else moment).isoformat()
    return moment.isoformat()


def written(feed: Feed) -> list[Seen]:
    """uid, start, end and summary of each event as its lines say, without any library."""
    return sorted(_written(event) for event in feed.events)


def _written(event: Component) -> Seen:
    start, end = event.one("DTSTART"), event.one("DTEND")
    begins = moment_of(start) if start else None
    ends = moment_of(end) if end else None
    if ends is None and isinstance(begins, datetime) and event.one("DURATION"):
        ends = begins + (duration(event.value("DURATION")) or timedelta(0))
    texts = [as_text(moment) if moment is not None else "" for moment in (begins, ends)]
    return event.value("UID"), texts[0], texts[1], unescape(event.value("SUMMARY"))


def _library_seen(event: icalendar.Event) -> Seen:
    return str(event["UID"]), as_text(event.start), as_text(event.end), str(event.get("SUMMARY", ""))


def read_with_icalendar(body: bytes) -> list[Seen]:
    """Events as icalendar reads them. Raises ValueError where it cannot or reports an error."""
    calendar = icalendar.Calendar.from_ical(body)
    errors = [f"{part.name} {name}: {text}" for part in calendar.walk() for name, text in part.errors]
    if errors:
        raise ValueError("; ".join(errors))
    return sorted(_library_seen(event) for event in calendar.walk("VEVENT"))


def read_occurrences(body: bytes, first: date, last: date) -> list[Seen]:
    """Occurrences as recurring_ical_events gives them from ``first`` to before ``last``."""
    calendar = icalendar.Calendar.from_ical(body)
    return sorted(_library_seen(event) for event in recurring_ical_events.of(calendar).between(first, last))


@row("R01")
def icalendar_reads_it(feed: Feed) -> Iterator[str]:
    try:
        seen = read_with_icalendar(feed.body)
    except (ValueError, KeyError, TypeError, AttributeError, icalendar.error.IncompleteComponent) as error:
        yield f"{type(error).__name__}: {error}"
        return
    if seen != written(feed):
        yield "icalendar sees other events"


@row("R02")
def occurrences_are_the_events(feed: Feed) -> Iterator[str]:
    """For feeds without RRULE, as ours are: the occurrences are the events themselves."""
    if any(event.one("RRULE") for event in feed.events):
        return
    days = [moment_of(line) for event in feed.events if (line := event.one("DTSTART"))]
    known = [day.date() if isinstance(day, datetime) else day for day in days if day is not None]
    if not known:
        return
    try:
        seen = read_occurrences(feed.body, min(known) - DAY, max(known) + 3 * DAY)
    except (ValueError, KeyError, TypeError, AttributeError, icalendar.error.IncompleteComponent) as error:
        yield f"{type(error).__name__}: {error}"
        return
    if seen != written(feed):
        yield "recurring_ical_events sees other occurrences"
