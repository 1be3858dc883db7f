"""Rows S01 to S05: two answers of the same feed, the older first."""

from datetime import UTC, date, datetime

from tests.feedcheck.feed import Feed, moment_of, utc_time
from tests.feedcheck.lines import Component

RAISES_SEQUENCE = ("DTSTART", "DTEND", "DURATION", "RRULE", "RDATE", "EXDATE", "STATUS")
SERIES_ROWS = ("S01", "S02", "S03", "S04", "S05")


def _by_uid(feed: Feed) -> dict[tuple[str, str], Component]:
    return {(event.value("UID"), event.value("RECURRENCE-ID")): event for event in feed.events}


def _content(event: Component, *leave_out: str) -> list[str]:
    own = [
        f"{line.name} {sorted(line.params.items())} {line.value}" for line in event.lines if line.name not in leave_out
    ]
    return sorted(own) + [str(child) for child in event.children]


def _differ(old: Component, new: Component, names: tuple[str, ...]) -> bool:
    return any([(x.params, x.value) for x in old.all(n)] != [(x.params, x.value) for x in new.all(n)] for n in names)


def _is_coming(event: Component, now: datetime) -> bool:
    start = event.one("DTSTART")
    moment = moment_of(start) if start else None
    if isinstance(moment, datetime):
        return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)) > now
    return isinstance(moment, date) and moment > now.date()


def _number(event: Component) -> int:
    text = event.value("SEQUENCE")
    return int(text) if text.isdigit() else -1


def _sequence_is_wrong(old: Component, new: Component) -> bool:
    grew = _number(new) - _number(old)
    return grew < 0 or (grew == 0 and _differ(old, new, RAISES_SEQUENCE))


def _revision_is_wrong(old: Component, new: Component) -> bool:
    changed = _content(old) != _content(new)
    for name in ("LAST-MODIFIED", "DTSTAMP"):
        before, after = utc_time(old.one(name)), utc_time(new.one(name))
        if before is None or after is None or after < before or (changed and after == before):
            return True
    return False


def check_series(
    old: bytes, new: bytes, *, now: datetime | None = None, etags: tuple[str, str] | None = None
) -> list[str]:
    """Ids of the S rows that fail between two fetches. ``etags``: those of the two answers, where known."""
    moment = now or datetime.now(UTC)
    before, after = _by_uid(Feed(old, moment)), _by_uid(Feed(new, moment))
    stamps = ("UID", "DTSTAMP", "LAST-MODIFIED", "SEQUENCE")
    gone = [event for key, event in before.items() if key not in after]
    come = [_content(event, *stamps) for key, event in after.items() if key not in before]
    both = [(before[key], after[key]) for key in before if key in after]
    failed = []
    if any(_content(event, *stamps) in come for event in gone):
        failed.append("S01")
    if any(_sequence_is_wrong(*pair) for pair in both):
        failed.append("S02")
    if any(_revision_is_wrong(*pair) for pair in both):
        failed.append("S03")
    if any(_is_coming(event, moment) and event.value("STATUS") != "CANCELLED" for event in gone):
        failed.append("S04")
    if etags is not None:
        first, second = (tag.removeprefix("W/") for tag in etags)
        if (first == second) != (old == new):
            failed.append("S05")
    return failed
