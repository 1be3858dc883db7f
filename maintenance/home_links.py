"""A homeowner's link: used once to open a session, and a new one by mail to the address on file."""

from datetime import datetime, timedelta

from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import gettext as _

from core import company, normalise, outbox, tokens
from core.act import Act, by_customer
from core.history import record_change
from core.models import Message, Token
from jobs.models import Customer
from jobs.read import visible
from maintenance.messages import links
from maintenance.messages.render import Wording

KIND = "home_link"
STEP_MINUTES = 15
USABLE = timedelta(hours=2)


def find_holder(secret: str, *, at: datetime) -> tuple[Token, Customer] | None:
    """The unused link with this secret and whose it is; None where it is unknown, used, old, or its person has left."""
    token = tokens.find(secret, kind=Token.Kind.LINK, at=at)
    if token is None or token.used_at is not None or token.holder_uid is None:
        return None
    customer = Customer.objects.filter(uid=token.holder_uid, erased_at=None).first()
    if customer is None or not visible.properties(by_customer(customer, at=at)).exists():
        return None
    return token, customer


def use_link(*, act: Act, secret: str) -> tuple[Token, Customer] | None:
    """Use a link up: the first who asks gets its token, to open a session with; everybody later gets None."""
    found = find_holder(secret, at=act.at)
    if found is None:
        return None
    token, customer = found
    won = Token.objects.filter(pk=token.pk, used_at=None).update(used_at=act.at, last_used_at=act.at)
    if not won:
        return None
    token.refresh_from_db()
    record_change(act=act, noun="customer", uid=customer.uid, action="link_used", after={"link": token.lookup})
    return token, customer


def mail_new_link(*, act: Act, address: str) -> int:
    """Queue a new link to everyone with this address who has a part in a property; the caller says nothing of it.

    At most one a person in 15 minutes. Returns how many were queued.
    """
    wanted = normalise.line(address, limit=254)
    if "@" not in wanted:
        return 0
    people = Customer.objects.filter(email__iexact=wanted, erased_at=None).order_by("id")[:5]
    return sum(_queue(act, customer) for customer in people)


def _queue(act: Act, customer: Customer) -> bool:
    if not visible.properties(by_customer(customer, at=act.at)).exists():
        return False
    slot = int(act.at.timestamp()) // (STEP_MINUTES * 60)
    subject, text, html = _render(act, customer)
    return outbox.queue(
        act=act,
        key=f"{KIND}:{customer.uid}:{slot}",
        kind=KIND,
        to_address=customer.email,
        subject=subject,
        text=text,
        html=html,
        due_at=act.at,
        not_after=act.at + USABLE,
        policy=Message.Policy.AT_MOST_ONCE,
        holder_uid=customer.uid,
    )


def _render(act: Act, customer: Customer) -> tuple[str, str, str]:
    settings = company.at(act.at)
    with translation.override(customer.language):
        wording = Wording(
            subject=_("Your link to the page of your drains"),
            lines=(_("Someone, most likely you, asked for a new link to the page of your drains."),),
            button=_("Open the page of your drains"),
        )
        context = {
            "w": wording,
            "company": settings,
            "greeting": _("Hello %(name)s,") % {"name": customer.name},
            "link": links.LINK,
            "language": customer.language,
        }
        return (
            wording.subject,
            render_to_string("mail/home_link.txt", context),
            render_to_string("mail/home_link.html", context),
        )
