"""The night's work: every due window of the new day, the proposals that follow from them, offers nobody answered."""

from __future__ import annotations

from dataclasses import dataclass

from core.act import Act
from maintenance import propose, refresh
from maintenance.unanswered import unanswered


@dataclass(frozen=True, slots=True)
class Night:
    """What one night did."""

    computed: int
    proposals: int
    calls: int


def run_night(*, act: Act) -> Night:
    """Repeatable: a second run on the same day finds nothing to do."""
    computed = refresh.refresh_all(act=act)
    proposals = propose.propose_visits(act=act)
    return Night(computed, len(proposals), unanswered(act=act))
