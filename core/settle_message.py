"""What a person decides about a message that may or may not have arrived, or that failed."""

from django.db import transaction

from core.act import Act
from core.history import record_change
from core.models import Message
from core.problem import BadInput, Conflict, FieldProblem, NotAllowed

AGAIN_STATES = (Message.State.UNKNOWN, Message.State.FAILED)
WAYS = ("arrived", "told", "again")


def settle(*, act: Act, message: Message, how: str) -> Message:
    """`how`: "arrived" (the person says they have it), "told" (rung or told otherwise), "again" (send it once more).

    Only what is unknown or failed is settled, once. "again" keeps the Message-ID; it is refused where the message
    would come too late to be of use. Raises NotAllowed, BadInput, Conflict.
    """
    if not act.is_office:
        raise NotAllowed("Only the office settles messages.")
    if how not in WAYS:
        problem = f"how is {how[:20]!r}: give arrived, told or again."
        raise BadInput(problem, fields=(FieldProblem("how", problem, how[:20]),))
    with transaction.atomic():
        before = Message.objects.select_for_update().get(pk=message.pk)
        if before.state not in AGAIN_STATES:
            raise Conflict(f"This message is {before.get_state_display()}: there is nothing to settle.")
        if how == "again" and before.not_after is not None and before.not_after < act.at:
            raise Conflict("It would come too late to be of use now: tell this person otherwise.", code="too_late")
        Message.objects.filter(pk=before.pk).update(**_values(act, before, how))
        record_change(
            act=act,
            noun="message",
            uid=before.uid,
            action="settle",
            before={"state": before.state},
            after={"how": how},
            property_uid=before.property_uid,
        )
    message.refresh_from_db()
    return message


def _values(act: Act, before: Message, how: str) -> dict[str, object]:
    if how == "arrived":
        return {"state": Message.State.SENT, "sent_at": before.closed_at or act.at, "closed_at": act.at}
    if how == "told":
        return {"state": Message.State.SKIPPED, "closed_at": act.at, "last_error": "Told otherwise by the office."}
    return {
        "state": Message.State.PENDING,
        "claim": None,
        "lease_until": None,
        "next_attempt_at": act.at,
        "closed_at": None,
        "attempts": 0,
    }
