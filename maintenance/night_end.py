"""What follows a night's refresh: proposals, offers nobody answered, doors of those who have left. Repeatable."""

from __future__ import annotations

from core.act import Act
from maintenance import feeds, house_sold, propose
from maintenance.unanswered import unanswered


def follow(*, act: Act) -> dict[str, int]:
    """How many proposals are new or changed, calls to make, leavers shut out, unused feeds ended."""
    return {
        "proposals": len(propose.propose_visits(act=act)),
        "calls": unanswered(act=act),
        "leavers": house_sold.end_leavers(act=act),
        "unused_feeds": feeds.end_unused(act=act),
    }
