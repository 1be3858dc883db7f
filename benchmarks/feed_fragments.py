"""A calendar feed of 1,000 events: joining kept VEVENT octets against serialising every event anew.

Run from the top of the repository: ``python -m benchmarks.feed_fragments``. Prints one line of JSON: the median
milliseconds of 20 runs of each in the same process, and their ratio. Both choose the window and write the frame;
neither makes an ETag or reads a database. Exits with 1 below the ratio asked for (50).
"""

import json
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from statistics import median
from time import perf_counter
from uuid import NAMESPACE_URL, uuid5

from maintenance.calendar.event import CalendarEvent, event_bytes
from maintenance.calendar.frame import Fragment, calendar_bytes, fit_window

EVENTS = 1000
RUNS = 20
RATIO_WANTED = 50
BASE = "https://calendar.example.org"
TODAY = date(2026, 1, 1)
CHANGED = datetime(2026, 3, 5, 8, tzinfo=UTC)


def make_events() -> list[CalendarEvent]:
    """Invented visits, about 600 octets each with an alarm."""
    return [
        CalendarEvent(
            uid=str(uuid5(NAMESPACE_URL, f"{BASE}/{number}")),
            revision=1,
            sequence=0,
            last_modified=CHANGED,
            created=CHANGED,
            local_date=TODAY + timedelta(days=number % 400),
            local_start=time(8 + number % 8),
            local_end=time(9 + number % 8, 30),
            tzid="America/New_York",
            summary=f"Clean CH-{number % 9} and SB-2",
            url=f"{BASE}/visits/{number}",
            description="Two parts, lids and grates back and fastened; last reading 3½ in of silt.",
            location=f"{number} Example Street, Exampletown",
            geo=(40.1, -75.1),
            categories=("Visit",),
            alarm_minutes=60,
        )
        for number in range(EVENTS)
    ]


def serialise(events: list[CalendarEvent]) -> list[Fragment]:
    return [Fragment(event.local_date, event.uid, event_bytes(event)) for event in events]


def frame(fragments: list[Fragment]) -> bytes:
    return calendar_bytes(
        name="All crews",
        fragments=[fragment.vevent for fragment in fit_window(fragments, TODAY)],
        tzids=["America/New_York"],
        url=f"{BASE}/week",
        source=f"{BASE}/feeds/all.ics",
        refresh=timedelta(hours=1),
        colour="steelblue",
        last_modified=CHANGED,
    )


def median_ms(run: Callable[[], bytes]) -> float:
    """Median milliseconds of RUNS runs after one that is not counted."""
    run()
    taken = []
    for _ in range(RUNS):
        begin = perf_counter()
        run()
        taken.append((perf_counter() - begin) * 1000)
    return median(taken)


def main() -> int:
    events = make_events()
    kept = serialise(events)
    if frame(kept) != frame(serialise(events)):
        print("the two ways give different feeds", file=sys.stderr)
        return 1
    joined = median_ms(lambda: frame(kept))
    anew = median_ms(lambda: frame(serialise(events)))
    result = {
        "events": EVENTS,
        "octets": len(frame(kept)),
        "joined_ms": round(joined, 3),
        "anew_ms": round(anew, 1),
        "ratio": round(anew / joined),
        "ratio_wanted": RATIO_WANTED,
    }
    print(json.dumps(result))
    return 0 if anew >= RATIO_WANTED * joined else 1


if __name__ == "__main__":
    raise SystemExit(main())
