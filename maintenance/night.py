"""The night's work as one run: learn, windows of the new day, then proposals, calls, doors of those who have left."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Sum

from core import clock, company
from core.act import Act
from maintenance import refresh_run
from maintenance.models import RefreshRun


@dataclass(frozen=True, slots=True)
class Night:
    """What one night did."""

    computed: int
    proposals: int
    calls: int
    leavers: int = 0
    unused_feeds: int = 0


def begin_night(*, act: Act) -> RefreshRun:
    """Begin the night's run; the workers take its pieces. A second call on the same day finds it begun or done."""
    today = clock.local_date(act.at, company.at(act.at).zone)
    done = RefreshRun.objects.filter(as_of=today, state=RefreshRun.State.DONE).first()
    return done or refresh_run.begin(act=act)


def run_night(*, act: Act) -> Night:
    """The whole night here and now. Repeatable: a second one on the same day finds nothing to do."""
    run = begin_night(act=act)
    if run.state == RefreshRun.State.DONE:
        return Night(0, 0, 0)
    while refresh_run.step(act=act):
        pass
    run.refresh_from_db()
    computed = run.pieces.aggregate(sum=Sum("computed"))["sum"] or 0
    made = run.result
    return Night(
        computed, made.get("proposals", 0), made.get("calls", 0), made.get("leavers", 0), made.get("unused_feeds", 0)
    )
