"""Works out again when visits start, after a zone's rules changed: the wall time stands, the instant moves."""

from core.act import Act
from core.problem import Conflict
from maintenance.decide import visit_moves
from maintenance.models import Visit
from maintenance.visit_change import Step, take_step, when_of

AHEAD = (Visit.State.AGREED, Visit.State.BEGUN)


def recompute_starts(*, act: Act) -> int:
    """Bring `starts_at` of coming visits in line with the zone data in use. Returns how many moved.

    Each is a new revision without a new SEQUENCE: date, time and state are as agreed. Repeatable; one that someone
    changes at the same moment is left to the next run.
    """
    moved = 0
    coming = Visit.objects.filter(state__in=AHEAD, local_start__isnull=False, local_date__gte=act.at.date())
    for visit in coming.order_by("id").iterator(chunk_size=500):
        starts_at = visit_moves.starts_at(when_of(visit))
        if starts_at == visit.starts_at:
            continue
        try:
            take_step(act=act, visit=visit, step=Step("zone_rules", visit.state, fields={"starts_at": starts_at}))
        except Conflict:
            continue
        moved += 1
    return moved
