"""A refresh of the whole register in pieces that several workers take; it can be stopped, resumed and killed anywhere.

A piece is taken by a conditional UPDATE with a lease and is repeatable: a worker that dies leaves it to be taken again
when the lease is over, and a piece done twice changes nothing the second time. The bells that wake workers may be lost;
a sweep rings again.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final
from uuid import UUID, uuid4

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import F, Q

from core import clock, company
from core.act import Act
from core.dispatch import after_commit
from core.problem import Conflict
from jobs.models import Property
from maintenance import learning, night_end, refresh
from maintenance.models import RefreshPiece, RefreshRun
from maintenance.read.stale import rules_stamp, stale

log = logging.getLogger(__name__)

PIECE: Final = 100
"""Properties of one piece: about 1,000 components, a few seconds."""
MOST_TRIES: Final = 3
LEARN, COMPUTE, FOLLOW = range(3)
_STEP: Final = "maintenance.tasks.refresh_step"


class LeaseLost(Exception):
    """Someone else has taken the piece meanwhile: what is not written yet is left to them."""


def begin(*, act: Act) -> RefreshRun:
    """Begin a run over every open property: learn, compute what is stale, then what follows a night.

    While one of today is open it is returned as it is, running or stopped; one of an earlier day is closed unfinished,
    as today's covers the same properties.
    """
    as_of = clock.local_date(act.at, company.at(act.at).zone)
    try:
        with transaction.atomic():
            present = RefreshRun.objects.select_for_update().filter(open=1).first()
            if present is not None:
                if present.as_of >= as_of:
                    return present
                _close(present.pk, act, RefreshRun.State.STOPPED)
            run = RefreshRun.objects.create(
                as_of=as_of,
                started_at=act.at,
                started_by=act.who,
                started_by_name=act.name[:80],
                changed_at=act.at,
                changed_by=act.who,
            )
            pieces = list(_pieces(run))
            RefreshPiece.objects.bulk_create(pieces, batch_size=500)
            run.properties = sum(piece.properties for piece in pieces)
            run.save(update_fields=["properties"])
            _ring()
    except IntegrityError:
        # Begun by two at once: the other one's is there now.
        return RefreshRun.objects.get(open=1)
    return run


def _pieces(run: RefreshRun) -> Iterator[RefreshPiece]:
    keys = list(Property.objects.filter(closed_at=None).order_by("id").values_list("id", flat=True))
    yield RefreshPiece(run=run, number=0, stage=LEARN)
    number = 0
    for start in range(0, len(keys), PIECE):
        some = keys[start : start + PIECE]
        number += 1
        yield RefreshPiece(
            run=run, number=number, stage=COMPUTE, first_id=some[0], last_id=some[-1], properties=len(some)
        )
    yield RefreshPiece(run=run, number=number + 1, stage=FOLLOW)


def _ring() -> None:
    for _ in range(settings.REFRESH_HANDS):
        after_commit(_STEP, queue="planning")


# --- stop, resume --------------------------------------------------------------------------------------------------


def stop(*, act: Act, run: RefreshRun) -> RefreshRun:
    """No further piece is taken; those under way are finished. Stopping twice is stopping once.

    Raises Conflict where the run is over.
    """
    return _turn(act, run, RefreshRun.State.RUNNING, RefreshRun.State.STOPPED)


def resume(*, act: Act, run: RefreshRun) -> RefreshRun:
    """Go on with what is not done. Raises Conflict where the run is over."""
    with transaction.atomic():
        found = _turn(act, run, RefreshRun.State.STOPPED, RefreshRun.State.RUNNING)
        _ring()
    return found


def _turn(act: Act, run: RefreshRun, before: str, after: str) -> RefreshRun:
    rows = RefreshRun.objects.filter(pk=run.pk, open=1, state=before)
    rows.update(state=after, changed_at=act.at, changed_by=act.who)
    present = RefreshRun.objects.get(pk=run.pk)
    if present.state != after:
        raise Conflict("This refresh is over: begin another one.", code="run_over")
    return present


def keep_going(*, act: Act) -> int:
    """Ring again where a run has pieces nobody holds: its bells were lost, or their workers. Returns pieces waiting."""
    run = RefreshRun.objects.filter(open=1, state=RefreshRun.State.RUNNING).first()
    if run is None:
        return 0
    waiting = _free(run.pk, act.at).count()
    if waiting or not RefreshPiece.objects.filter(run=run, done_at=None).exists():
        _ring()
    return waiting


# --- one piece -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Taken:
    """A piece in hand: its claim is what finishing it depends on."""

    piece: RefreshPiece
    run: RefreshRun
    claim: UUID


def step(*, act: Act) -> bool:
    """Take one piece of the run that is open, if any is free, and do it. Rings for the next.

    False where there was nothing to take: no run, a stopped one, or all that is left is in other hands.
    """
    taken = _take(act)
    if taken is None:
        return False
    last_of_stage = _do(act, taken)
    if not _end(act, taken.run):
        if last_of_stage:
            _ring()
        else:
            after_commit(_STEP, queue="planning")
    return True


def _free(run_id: int, now: datetime) -> Any:
    """Pieces of the stage under way that nobody holds."""
    undone = RefreshPiece.objects.filter(run_id=run_id, done_at=None)
    stage = undone.order_by("stage").values("stage")[:1]
    return undone.filter(Q(claim=None) | Q(lease_until__lt=now), stage=stage).order_by("number")


def _take(act: Act) -> _Taken | None:
    run = RefreshRun.objects.filter(open=1, state=RefreshRun.State.RUNNING).first()
    if run is None:
        return None
    now = clock.now()
    for _ in range(1000):
        piece = _free(run.pk, now).first()
        if piece is None:
            return None
        claim = uuid4()
        # Nothing but the row's own columns decides: PostgreSQL looks at them again when it had to wait.
        free = RefreshPiece.objects.filter(Q(claim=None) | Q(lease_until__lt=now), pk=piece.pk, done_at=None)
        if free.update(claim=claim, lease_until=now + _lease(), tries=F("tries") + 1):
            piece.refresh_from_db()
            return _Taken(piece, run, claim)
    return None


def _lease() -> timedelta:
    return timedelta(seconds=settings.REFRESH_LEASE_S)


def _still(taken: _Taken) -> None:
    """Keep the lease of a long piece. Raises LeaseLost where it is another's already."""
    mine = RefreshPiece.objects.filter(pk=taken.piece.pk, claim=taken.claim, done_at=None)
    if not mine.update(lease_until=clock.now() + _lease()):
        raise LeaseLost(f"piece {taken.piece.number} of run {taken.run.pk}")


def _do(act: Act, taken: _Taken) -> bool:
    """Do a piece and say so; True if it was the last of its stage. One that fails three times is left, and says why."""
    piece = taken.piece
    mine = RefreshPiece.objects.filter(pk=piece.pk, claim=taken.claim, done_at=None)
    try:
        if piece.tries > MOST_TRIES:
            raise RuntimeError(piece.failed or "its worker died each time")
        computed, result = _work(act, taken)
    except LeaseLost:
        log.warning("the lease of piece %s of run %s was lost", piece.number, taken.run.pk)
        return False
    except Exception as error:
        # Whatever it is: the other pieces go on, this one is tried again by whoever comes next.
        log.exception("piece %s of run %s failed", piece.number, taken.run.pk)
        over = piece.tries >= MOST_TRIES
        words = f"{type(error).__name__}: {error}"[:300]
        mine.update(claim=None, lease_until=None, failed=words, done_at=clock.now() if over else None)
        return over and _stage_done(piece)
    with transaction.atomic():
        if not mine.update(done_at=clock.now(), computed=computed, failed=""):
            return False
        if result:
            run = RefreshRun.objects.select_for_update().get(pk=taken.run.pk)
            run.result = {**run.result, **result}
            run.save(update_fields=["result"])
    return _stage_done(piece)


def _stage_done(piece: RefreshPiece) -> bool:
    return not RefreshPiece.objects.filter(run_id=piece.run_id, stage=piece.stage, done_at=None).exists()


def _work(act: Act, taken: _Taken) -> tuple[int, dict[str, int]]:
    """What a piece does: properties computed, and what goes into the run's result."""
    piece = taken.piece
    if piece.stage == LEARN:
        made = learning.learn(act=act, run=taken.run.uid, still=lambda: _still(taken))
        return 0, {"groups": made.groups, "groups_learned": made.groups_learned, "kinds_learned": made.kinds_learned}
    if piece.stage == FOLLOW:
        return 0, night_end.follow(act=act)
    today = clock.local_date(act.at, company.at(act.at).zone)
    found = stale(today, rules_stamp()).filter(id__gte=piece.first_id, id__lte=piece.last_id)
    keys = list(found.values_list("id", flat=True))
    return (refresh.refresh_properties(act=act, property_ids=keys) if keys else 0), {}


def _end(act: Act, run: RefreshRun) -> bool:
    """Close the run where nothing is left to do; True if it is over."""
    if RefreshPiece.objects.filter(run=run, done_at=None).exists():
        return False
    _close(run.pk, act, RefreshRun.State.DONE)
    return True


def _close(run_id: int, act: Act, state: str) -> None:
    now = clock.now()
    RefreshRun.objects.filter(pk=run_id, open=1).update(
        open=None, state=state, finished_at=now, changed_at=now, changed_by=act.who
    )
