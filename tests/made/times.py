"""The instant at which made things happen: a Monday morning."""

from datetime import UTC, date, datetime

AT = datetime(2026, 5, 4, 13, 0, tzinfo=UTC)
TODAY = date(2026, 5, 4)
ZONE = "America/New_York"
