"""The one place that reads the clock. An operation reads it once and passes the instant down as `at`."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


def now() -> datetime:
    """The present instant, aware, UTC."""
    return datetime.now(UTC)


def local_date(at: datetime, zone: str) -> date:
    """Calendar day of the instant `at` in the IANA zone `zone`."""
    return at.astimezone(ZoneInfo(zone)).date()


def end_of_day(day: date, zone: str) -> datetime:
    """First instant after `day` in `zone`, UTC: what was recorded before it was known on that day."""
    return datetime.combine(day + timedelta(days=1), time(0), tzinfo=ZoneInfo(zone)).astimezone(UTC)
