"""When a message leaves: calendar days in the property's zone, quiet hours by the wall clock, and what is late.

"7 days before at 09:00" is arithmetic on local dates, never a ``timedelta`` on UTC: that is an hour wrong across both
changes of the clock. Everything comes out as aware UTC; the one reading of the clock comes in as ``now``.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple
from zoneinfo import ZoneInfo

from maintenance.calendar.zones import local_instant


class OccasionKind(StrEnum):
    """What a message is about."""

    VISIT_OFFERED = "visit_offered"
    VISIT_AGREED = "visit_agreed"
    VISIT_MOVED = "visit_moved"
    VISIT_CALLED_OFF = "visit_called_off"
    WEEK_BEFORE = "week_before"
    DAY_BEFORE = "day_before"
    ON_THE_WAY = "on_the_way"
    VISIT_DONE = "visit_done"
    OWNER_TASKS = "owner_tasks"
    BEFORE_STORM = "before_storm"
    WARRANTY_ENDING = "warranty_ending"
    YEARLY_SUMMARY = "yearly_summary"


class QuietHours(NamedTuple):
    """No message leaves from ``start`` (included) to ``end`` (excluded) by the wall clock; equal = no quiet hours."""

    start: time = time(20)
    end: time = time(8)


DEFAULT_QUIET = QuietHours()


class CatchUp(NamedTuple):
    """What happens when a message could not leave in time, for one kind of occasion.

    ``max_late``: later than this after its due time it is dropped. ``because``: why, in words for the office.
    ``skips_late_booking``: dropped when the occasion came into being after the due time.
    ``must_be_told``: quiet hours give way when waiting for their end would make it pointless.
    ``ignores_quiet``: leaves at any hour.
    """

    max_late: timedelta
    because: str
    skips_late_booking: bool = False
    must_be_told: bool = False
    ignores_quiet: bool = False


_NEXT_WILL_COME = "too late to be of use; the message of the day before follows"
CATCH_UP = MappingProxyType(
    {
        OccasionKind.VISIT_OFFERED: CatchUp(timedelta(days=3), "the offer has waited too long: make a call instead"),
        OccasionKind.VISIT_AGREED: CatchUp(timedelta(days=3), "agreed more than 3 days ago: the reminder is enough"),
        OccasionKind.VISIT_MOVED: CatchUp(timedelta(days=14), "moved more than 14 days ago", must_be_told=True),
        OccasionKind.VISIT_CALLED_OFF: CatchUp(
            timedelta(days=14), "called off more than 14 days ago", must_be_told=True
        ),
        OccasionKind.WEEK_BEFORE: CatchUp(timedelta(hours=36), _NEXT_WILL_COME, skips_late_booking=True),
        # As long as the visit has not begun it is worth saying, in words that fit the day it leaves.
        OccasionKind.DAY_BEFORE: CatchUp(timedelta(hours=36), "the visit's day is over", skips_late_booking=True),
        OccasionKind.ON_THE_WAY: CatchUp(timedelta(minutes=30), "the technician has arrived", ignores_quiet=True),
        OccasionKind.VISIT_DONE: CatchUp(timedelta(days=7), "done more than a week ago: the page shows it"),
        OccasionKind.OWNER_TASKS: CatchUp(timedelta(days=14), "the season for it is under way; the page shows it"),
        OccasionKind.BEFORE_STORM: CatchUp(timedelta(hours=48), "the storm is over", must_be_told=True),
        OccasionKind.WARRANTY_ENDING: CatchUp(timedelta(days=14), "told too close to the end"),
        OccasionKind.YEARLY_SUMMARY: CatchUp(timedelta(days=30), "the year it sums up is too far back"),
    }
)


@dataclass(frozen=True, slots=True)
class Plan:
    """When one message leaves, or why it does not.

    ``send_at`` and ``not_after`` are aware UTC, both None when it is skipped; then ``why`` says why. A message not
    accepted by ``not_after`` is dropped. ``is_late``: it leaves on a later local day than planned, so words such as
    "tomorrow" must be chosen by ``days_left`` on the day it leaves.
    """

    send_at: datetime | None
    not_after: datetime | None
    is_late: bool
    why: str

    @property
    def is_sent(self) -> bool:
        return self.send_at is not None


def remind_at(local_date: date, zone: ZoneInfo, days: int, at: time) -> datetime:
    """UTC instant of wall time ``at``, ``days`` calendar days before ``local_date`` in ``zone``.

    >>> remind_at(date(2026, 3, 12), ZoneInfo("America/New_York"), 7, time(9)).isoformat()
    '2026-03-05T14:00:00+00:00'
    """
    return local_instant(local_date - timedelta(days=days), at, zone)


def quiet_until(moment: datetime, zone: ZoneInfo, quiet: QuietHours = DEFAULT_QUIET) -> datetime | None:
    """UTC end of the quiet hours ``moment`` lies in, None if a message may leave then.

    By the wall clock: quiet to 08:00 ends at 08:00 also on the night the clock changes.
    """
    local = moment.astimezone(zone)
    clock = local.time()
    if quiet.start <= quiet.end:
        is_quiet, ends_on = quiet.start <= clock < quiet.end, local.date()
    else:
        is_evening = clock >= quiet.start
        is_quiet = is_evening or clock < quiet.end
        ends_on = local.date() + timedelta(days=1 if is_evening else 0)
    if not is_quiet:
        return None
    ends = local_instant(ends_on, quiet.end, zone)
    # Where the end falls into a repeated hour its first passing may already lie behind.
    return ends if ends > moment else None


def days_left(moment: datetime, local_date: date, zone: ZoneInfo) -> int:
    """Calendar days from the local day of ``moment`` to ``local_date``: 0 is today, 1 tomorrow, below 0 past."""
    return (local_date - moment.astimezone(zone).date()).days


def plan(
    kind: OccasionKind,
    *,
    due: datetime,
    pointless_from: datetime | None,
    created_at: datetime,
    now: datetime,
    zone: ZoneInfo,
    quiet: QuietHours = DEFAULT_QUIET,
) -> Plan:
    """What becomes of one message at ``now``, also after an outage. All times aware.

    ``due``: when it should leave (``remind_at``, or the moment of the occasion). ``pointless_from``: from then on it
    says nothing (a visit's start, the storm's end, the end of the warranty), None if there is no such moment.
    ``created_at``: when the occasion came into being; a moved visit is a new occasion, made when it was moved.
    """
    rule = CATCH_UP[kind]
    latest = due + rule.max_late
    not_after = latest if pointless_from is None else min(latest, pointless_from)
    if pointless_from is not None and pointless_from <= now:
        return _skipped("past: what it was about has begun or is over")
    if rule.skips_late_booking and created_at > due:
        return _skipped("made after the message was due: the one that told of it says it all")
    if now > latest:
        return _skipped(rule.because)
    wanted = max(due, now)
    waits_until = None if rule.ignores_quiet else quiet_until(wanted, zone, quiet)
    leaves = waits_until or wanted
    if waits_until is not None and pointless_from is not None and waits_until >= pointless_from:
        if not rule.must_be_told:
            return _skipped("quiet hours last until it is pointless")
        leaves = wanted
    if pointless_from is not None and leaves >= pointless_from:
        return _skipped("planned for a moment when it is pointless")
    is_late = leaves.astimezone(zone).date() > due.astimezone(zone).date()
    return Plan(leaves.astimezone(UTC), max(not_after, leaves).astimezone(UTC), is_late, "")


def _skipped(why: str) -> Plan:
    return Plan(None, None, False, why)
