"""The night's work: due windows of the new day, proposals, offers nobody answered, doors of those who have left."""

from __future__ import annotations

from dataclasses import dataclass

from core.act import Act
from maintenance import feeds, house_sold, propose, refresh
from maintenance.unanswered import unanswered


@dataclass(frozen=True, slots=True)
class Night:
    """What one night did."""

    computed: int
    proposals: int
    calls: int
    leavers: int = 0
    unused_feeds: int = 0


def run_night(*, act: Act) -> Night:
    """Repeatable: a second run on the same day finds nothing to do."""
    computed = refresh.refresh_all(act=act)
    proposals = propose.propose_visits(act=act)
    calls = unanswered(act=act)
    return Night(computed, len(proposals), calls, house_sold.end_leavers(act=act), feeds.end_unused(act=act))
