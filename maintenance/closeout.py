"""Closeouts: received byte for byte first, then applied, then the property's windows computed again.

Two steps with a transaction each, so that what a phone has delivered is never lost to a mistake in what it means.
"""

import hashlib
import logging
from datetime import datetime, timedelta
from typing import NamedTuple
from uuid import UUID

from django.db import IntegrityError, transaction

from core import limits
from core.act import Act
from core.history import record_change
from core.problem import BadInput, Conflict, NotAllowed, Problem
from maintenance import closeout_apply
from maintenance.closeout_after import recompute
from maintenance.closeout_hold import Waits, hold, raise_flag
from maintenance.decide.closeout_meaning import NotUnderstood, is_json, read_closeout
from maintenance.decide.closeout_values import ImpossibleValue, skew_seconds
from maintenance.models import Closeout, CloseoutReceived

log = logging.getLogger(__name__)

State = CloseoutReceived.State
SWEEP_AFTER = timedelta(minutes=1)
MOST_TRIES = 5


class TooLarge(Problem):
    """The body is over the limit."""

    status = 413
    title = "Too large"


class Closed(NamedTuple):
    """What became of a closeout: the row kept, whether it is new, and what it meant (None while it waits)."""

    received: CloseoutReceived
    created: bool
    closeout: Closeout | None


def close(*, act: Act, uid: UUID, body: bytes, digest: str, phone_at: datetime | None = None) -> Closed:
    """Receive a closeout, apply it, compute the property again. Safe to repeat with the same bytes.

    Refused only as `receive_closeout` says; everything else is kept, and waits for the office where it must.
    """
    received, created = receive_closeout(act=act, uid=uid, body=body, digest=digest, phone_at=phone_at)
    if received.state != State.RECEIVED:
        return Closed(received, created, Closeout.objects.filter(received=received).first())
    closeout = apply_closeout(act=act, received=received)
    if closeout is not None:
        recompute(act=act, property_id=closeout.visit.property_id)
    return Closed(received, created, closeout)


def receive_closeout(
    *, act: Act, uid: UUID, body: bytes, digest: str, phone_at: datetime | None = None
) -> tuple[CloseoutReceived, bool]:
    """Keep the exact bytes with digest, sender and both times, in a transaction of its own. (row, True if new).

    `digest`: SHA-256 of `body` in hexadecimal. `phone_at`: the phone's clock as it sends. The same id and bytes again
    give the same row. Raises NotAllowed (not of the company), TooLarge, BadInput (digest, no JSON), and Conflict where
    the id came with other bytes before: both are kept, up to five.
    """
    _check_bytes(act, body, digest)
    digest = digest.lower()
    row, created = _keep(act, uid, body, digest, phone_at)
    if row is None or row.body_no > 1:
        raise Conflict(
            "This closeout was sent before with another content. The office sees both; nothing is lost.",
            code="closeout_other_body",
        )
    return row, created


def apply_closeout(*, act: Act, received: CloseoutReceived, accepted: bool = False) -> Closeout | None:
    """Write what a received closeout means, all of it or nothing; repeatable. None where it waits for the office.

    `accepted`: a person decided that it is to be taken although its sender was not on the visit, may not see the
    property, or had closed the visit before. `received` is brought up to date.
    """
    if received.body_no > 1 or received.state == State.SET_ASIDE:
        return None
    try:
        body = read_closeout(bytes(received.body), received.uid)
        with transaction.atomic():
            closeout = closeout_apply.write(act=act, received_id=received.pk, body=body, accepted=accepted)
    except NotUnderstood as error:
        problems = [{"field": field, "message": message} for field, message in error.problems]
        hold(act, received, Waits("not_understood", str(error), {"problems": problems}))
        return None
    except Waits as wait:
        hold(act, received, wait)
        return None
    except (Problem, ImpossibleValue) as error:
        words = error.detail if isinstance(error, Problem) else str(error)
        hold(act, received, Waits("not_understood", words, {"problems": [{"field": "", "message": words}]}))
        return None
    except IntegrityError as error:
        # A client-made id that belongs to something else: kept for a person, never lost.
        log.warning("closeout %s could not be written: %s", received.uid, error)
        words = "It names a new part or photo under an id that something else has already."
        hold(act, received, Waits("not_understood", words, {"problems": [{"field": "", "message": words}]}))
        return None
    received.refresh_from_db()
    return closeout


def apply_waiting(*, act: Act, limit: int = 50) -> int:
    """Apply what was received but not applied: the server stopped in between. Returns how many were taken."""
    rows = CloseoutReceived.objects.filter(
        state=State.RECEIVED, body_no=1, received_at__lte=act.at - SWEEP_AFTER, tries__lt=MOST_TRIES
    ).order_by("id")[:limit]
    taken = 0
    for received in rows:
        CloseoutReceived.objects.filter(pk=received.pk).update(tries=received.tries + 1)
        closeout = apply_closeout(act=act, received=received)
        if closeout is not None:
            recompute(act=act, property_id=closeout.visit.property_id)
            taken += 1
    return taken


def _check_bytes(act: Act, body: bytes, digest: str) -> None:
    if act.role not in ("crew", "office") or act.user_id is None:
        raise NotAllowed("Only the crew or the office may send closeouts.")
    if len(body) > limits.CLOSEOUT_BYTES:
        raise TooLarge(f"The closeout has {len(body)} bytes: send {limits.CLOSEOUT_BYTES} at most.")
    if hashlib.sha256(body).hexdigest() != digest.lower():
        raise BadInput("The digest is not that of the bytes received: send it again.", code="digest")
    if not is_json(body):
        raise BadInput("The closeout is no JSON in UTF-8.", code="not_json")


def _keep(
    act: Act, uid: UUID, body: bytes, digest: str, phone_at: datetime | None
) -> tuple[CloseoutReceived | None, bool]:
    """The row of these bytes, made if need be; None where five bodies of this id are kept already."""
    for _ in range(CloseoutReceived.MOST_BODIES + 1):
        rows = list(CloseoutReceived.objects.filter(uid=uid).order_by("body_no"))
        same = next((row for row in rows if row.digest == digest), None)
        if same is not None or len(rows) >= CloseoutReceived.MOST_BODIES:
            return same, False
        try:
            with transaction.atomic():
                return _insert(act, rows, uid, body, digest, phone_at), True
        except IntegrityError:
            # Another send of this id came in between: read again. Asking first and then writing is not enough.
            continue
    return CloseoutReceived.objects.filter(uid=uid, digest=digest).first(), False


def _insert(
    act: Act, others: list[CloseoutReceived], uid: UUID, body: bytes, digest: str, phone_at: datetime | None
) -> CloseoutReceived:
    first = others[0] if others else None
    row = CloseoutReceived.objects.create(
        uid=uid,
        body_no=len(others) + 1,
        digest=digest,
        body=body,
        sender_id=act.user_id,
        received_at=act.at,
        phone_at=phone_at,
        skew_s=skew_seconds(phone_at, None, act.at),
        via=act.via,
        state=State.NEEDS_OFFICE if first else State.RECEIVED,
        state_note="Another closeout came under this id before." if first else "",
    )
    if first is not None:
        sides = {
            "first": {"received_at": first.received_at.isoformat(), "digest": first.digest},
            "other": {"received_at": act.at.isoformat(), "digest": digest},
        }
        raise_flag(act, row, "other_body", "The same id came with another content; the first counts.", sides)
    record_change(act=act, noun="closeout", uid=uid, action="receive", after={"digest": digest, "body_no": row.body_no})
    return row
