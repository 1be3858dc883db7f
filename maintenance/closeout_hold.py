"""Keeps a closeout waiting for a person, and raises the flags that say why."""

from typing import Any

from django.db import transaction

from core.act import Act
from core.history import record_change
from core.normalise import storable
from core.problem import Conflict
from maintenance.decide.closeout_flags import FLAGS
from maintenance.models import CloseoutFlag, CloseoutReceived

State = CloseoutReceived.State


class Waits(Exception):
    """The closeout is not applied until a person acts; `sides` are what there is to compare."""

    def __init__(self, code: str, words: str, sides: dict[str, Any] | None = None) -> None:
        super().__init__(words)
        self.code = code
        self.words = storable(words)
        self.sides = storable(sides or {})


def raise_flag(
    act: Act, received: CloseoutReceived, code: str, words: str, sides: dict[str, Any] | None = None
) -> CloseoutFlag:
    """One flag of this kind with these words on a closeout; raising it again changes nothing."""
    FLAGS[code]
    flag, _ = CloseoutFlag.objects.get_or_create(
        received=received,
        code=code,
        words=storable(words)[:400],
        defaults={"sides": storable(sides or {}), "raised_at": act.at},
    )
    return flag


def hold(act: Act, received: CloseoutReceived, wait: Waits) -> None:
    """Leave `received` waiting for the office (or unmatched) with its reason. `received` is brought up to date."""
    state = State.UNMATCHED if wait.code == "unmatched" else State.NEEDS_OFFICE
    with transaction.atomic():
        held = CloseoutReceived.objects.filter(pk=received.pk).exclude(state__in=(State.APPLIED, State.SET_ASIDE))
        if held.update(state=state, state_note=wait.words[:400]):
            # A flag that was cleared to try again and failed again for the same reason is open once more.
            flag = raise_flag(act, received, wait.code, wait.words, wait.sides)
            CloseoutFlag.objects.filter(pk=flag.pk).update(cleared_at=None, cleared_by="", cleared_how="")
            record_change(
                act=act, noun="closeout", uid=received.uid, action="wait", after={"state": state, "why": wait.words}
            )
    received.refresh_from_db()


def tick(act: Act, flag: CloseoutFlag, how: str) -> None:
    """Clear a flag, once. Raises Conflict where someone cleared it before."""
    open_flag = CloseoutFlag.objects.filter(pk=flag.pk, cleared_at=None)
    if not open_flag.update(cleared_at=act.at, cleared_by=act.who, cleared_how=how[:200]):
        raise Conflict("Someone has dealt with this already.", code="flag_cleared")
    record_change(
        act=act,
        noun="closeout",
        uid=flag.received.uid,
        action="clear_flag",
        after={"flag": flag.code, "how": how},
    )
