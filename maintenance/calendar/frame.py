"""The frame of a calendar feed: VCALENDAR head, VTIMEZONE, joined VEVENT octets, and the window a feed covers.

What the answer over HTTP must be (RFC 9110 unless said; ids are those of ``tests/feedcheck``):
- GET and HEAD only. Any other method: 405 with ``Allow: GET, HEAD`` (H17; before the CSRF check, some readers try PUT
  and PROPFIND). Unknown token: 404. Revoked token: 410, which makes readers stop (H19). Both as problem documents
  (RFC 9457, H20). Too many requests: 429 with Retry-After. Never a redirect to a page, never an empty 200 (H01): it
  empties the reader's calendar.
- ``Content-Type: text/calendar; charset=utf-8`` (H02), without ``method=`` because the body has no METHOD (C04).
- ``ETag``: ``entity_tag(body)``, weak because the same tag serves the compressed body (H03, H15).
- ``Last-Modified``: ``feed_changed_at(...)``, not the newest revision alone: the window moves each night, so entries
  come and go without a revision (H08, H09).
- 304 on If-None-Match, or on If-Modified-Since when there is no If-None-Match (H05 to H10), without a body and with
  the same ETag, Cache-Control and Vary.
- ``Cache-Control: private, no-cache`` (H11), ``Vary: Accept-Encoding`` (H14), no ``Vary: Cookie``, no Set-Cookie (H21),
  ``Content-Disposition: inline; filename="….ics"`` (H22), ``X-Robots-Tag: noindex``, ``Referrer-Policy: no-referrer``.
- Served whatever Accept says or if it is missing (H16); not disallowed in robots.txt (H18): one large poller obeys it.
- The address is at most 255 characters (H24) and appears in no log.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from hashlib import sha256
from zoneinfo import ZoneInfo

from maintenance.calendar.lines import absolute_url, duration_text, escape_text, fold_line, one_line
from maintenance.calendar.zones import local_instant, vtimezone

DAYS_BACK = 90
DAYS_AHEAD = 400
CALLED_OFF_DAYS = 14
EVENTS_MAX = 1000
OCTETS_MAX = 1_000_000
FRAME_OCTETS = 20_000  # room kept for head and zones inside OCTETS_MAX
PRODID = "-//Siltline//Calendar feed 1//EN"
# CSS colour names (RFC 7986 5.9) a feed may carry; quiet ones, legible under black and under white text.
COLOURS = (
    "cadetblue",
    "darkkhaki",
    "darkseagreen",
    "olivedrab",
    "rosybrown",
    "sienna",
    "slategray",
    "steelblue",
    "teal",
)


@dataclass(frozen=True, slots=True)
class Fragment:
    """A kept VEVENT and what decides whether it is in the feed. ``called_off_on``: local day it was called off."""

    local_date: date
    uid: str
    vevent: bytes
    called_off_on: date | None = None


def window(today: date) -> tuple[date, date]:
    """First and last local date a feed covers on ``today``, both included."""
    return today - timedelta(days=DAYS_BACK), today + timedelta(days=DAYS_AHEAD)


def is_shown(local_date: date, today: date, called_off_on: date | None = None) -> bool:
    """Whether an entry is in the feed on ``today``: in the window, and if called off, for 14 days after that.

    A called-off visit stays long enough for slow readers (a day between two fetches is usual) to see it.
    """
    first, last = window(today)
    if called_off_on is not None and today > called_off_on + timedelta(days=CALLED_OFF_DAYS):
        return False
    return first <= local_date <= last


def fit_window(fragments: Iterable[Fragment], today: date) -> list[Fragment]:
    """The fragments a feed shows on ``today``, by date and uid, at most 1,000 and at most 1,000,000 octets together.

    Beyond that one large poller drops entries at random. What is kept: the coming ones, nearest first, then the past
    ones, latest first.
    """
    first, last = window(today)
    inside = (f for f in fragments if first <= f.local_date <= last)
    shown = [f for f in inside if f.called_off_on is None or is_shown(f.local_date, today, f.called_off_on)]
    coming = sorted((f for f in shown if f.local_date >= today), key=_place)
    past = sorted((f for f in shown if f.local_date < today), key=_place, reverse=True)
    kept: list[Fragment] = []
    octets = FRAME_OCTETS
    for fragment in [*coming, *past][:EVENTS_MAX]:
        octets += len(fragment.vevent)
        if octets > OCTETS_MAX:
            break
        kept.append(fragment)
    return sorted(kept, key=_place)


def calendar_bytes(
    *,
    name: str,
    fragments: Sequence[bytes],
    tzids: Iterable[str],
    url: str,
    source: str,
    refresh: timedelta,
    colour: str,
    last_modified: datetime,
) -> bytes:
    """The whole feed as octets. ``fragments`` are VEVENTs in the order shown, ``tzids`` every zone they name.

    ``url`` is the page the feed belongs to, ``source`` the address of the feed itself, ``refresh`` how often readers
    are asked to fetch, ``last_modified`` (aware UTC) the newest revision in it, or the making of an empty feed.
    At least one zone is needed: a VCALENDAR without any component is not valid (RFC 5545 3.6), so an empty feed keeps
    its VTIMEZONE. Raises ValueError naming the field.
    """
    zones = sorted(set(tzids))
    if not zones:
        raise ValueError("tzids: empty; name the company's zone at least")
    if len(fragments) > EVENTS_MAX:
        raise ValueError(f"fragments: {len(fragments)} events, the limit is {EVENTS_MAX}; choose them with fit_window")
    head = _head(name, url, source, refresh, colour, last_modified)
    return b"".join([*head, *(vtimezone(tzid) for tzid in zones), *fragments, b"END:VCALENDAR\r\n"])


def entity_tag(body: bytes) -> str:
    """Weak ETag of a feed's body (RFC 9110 8.8.3)."""
    return f'W/"{sha256(body).hexdigest()[:32]}"'


def feed_changed_at(last_modified: datetime, today: date, zone: ZoneInfo) -> datetime:
    """Last-Modified of the HTTP answer: the newest revision, or the local midnight that moved the window, if later."""
    return max(last_modified, local_instant(today, time(0), zone))


def _place(fragment: Fragment) -> tuple[date, str]:
    return fragment.local_date, fragment.uid


def _head(name: str, url: str, source: str, refresh: timedelta, colour: str, last_modified: datetime) -> list[bytes]:
    title = escape_text(one_line(name))
    if not title:
        raise ValueError("name: empty; readers show it beside the calendar")
    if colour not in COLOURS:
        raise ValueError(f"colour: {colour!r} is not one of {', '.join(COLOURS)}")
    if last_modified.utcoffset() != timedelta(0):
        raise ValueError(f"last_modified: {last_modified!r} is not an aware time in UTC")
    every = duration_text(refresh)
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:{PRODID}",
        "CALSCALE:GREGORIAN",
        # Both names and both refresh times: older readers know only the X- forms.
        f"NAME:{title}",
        f"X-WR-CALNAME:{title}",
        f"LAST-MODIFIED:{last_modified.astimezone(UTC):%Y%m%dT%H%M%SZ}",
        f"URL:{absolute_url('url', url)}",
        f"SOURCE;VALUE=URI:{absolute_url('source', source)}",
        f"REFRESH-INTERVAL;VALUE=DURATION:{every}",
        f"X-PUBLISHED-TTL:{every}",
        f"COLOR:{colour}",
    ]
    return [fold_line(line) for line in lines]
