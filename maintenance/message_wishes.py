"""A person's wishes about every kind of message at once, as a page asks for them."""

from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from core.act import Act
from core.problem import BadInput, NotAllowed
from jobs.models import Customer
from maintenance import reminders
from maintenance.decide.occasions import OCCASIONS, hears
from maintenance.models import MessageChoice


@dataclass(frozen=True, slots=True)
class Wish:
    """One kind of message, in words, and whether this person gets it."""

    kind: str
    words: str
    wanted: bool


def wishes_of(customer: Customer) -> tuple[Wish, ...]:
    """Every kind there is, as it stands for this person. One query."""
    chosen = dict(MessageChoice.objects.filter(customer=customer).values_list("kind", "wanted"))
    return tuple(Wish(o.kind, _(o.words), hears(o, chosen.get(o.kind))) for o in OCCASIONS.values())


def keep_wishes(*, act: Act, customer: Customer, wanted: frozenset[str]) -> int:
    """Make exactly these kinds wanted; only what differs is written. Returns how many changed.

    Raises NotAllowed for another person's wishes, BadInput naming an unknown kind.
    """
    if not act.is_office and act.customer_id != customer.pk:
        raise NotAllowed("Only the person themselves, or the office, may choose their messages.")
    if unknown := sorted(wanted - OCCASIONS.keys()):
        raise BadInput(f"{unknown[0][:30]!r} is no kind of message.")
    changed = [wish for wish in wishes_of(customer) if wish.wanted != (wish.kind in wanted)]
    with transaction.atomic():
        for wish in changed:
            reminders.choose(act=act, customer=customer, kind=wish.kind, wanted=wish.kind in wanted)
    return len(changed)
