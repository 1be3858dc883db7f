"""When a house is sold or a tenant leaves: the role ends, and with it links, feeds and the mail that still waits."""

from datetime import date

from django.db import transaction
from django.db.models import Exists, OuterRef

from core import clock, outbox, tokens
from core.act import Act, by_customer
from core.history import record_change
from core.models import Token
from jobs import people
from jobs.models import Customer, PropertyRole
from jobs.read import visible
from maintenance.models import Feed

WHY = "The role at this property ended."


def end_role(*, act: Act, role: PropertyRole, until_date: date) -> PropertyRole:
    """End a role on `until_date`, the first day without it, and all that hangs on it, in one transaction.

    Mail that waits about this property is taken back where the person has no other role there. Links and feeds end
    where the person has no role left at all. A day to come ends them by itself: they are asked again at each use, and
    `end_leavers` then revokes them. Raises BadInput, Conflict.
    """
    with transaction.atomic():
        ended = people.end_role(act=act, role=role, until_date=until_date)
        if until_date <= clock.local_date(act.at, ended.property.zone):
            _take_back_mail(act, ended)
            if not has_part(act, ended.customer):
                end_doors(act=act, customer=ended.customer)
    return ended


def end_leavers(*, act: Act) -> int:
    """Revoke links and feeds of customers who have no role in force any more. Repeatable. Returns how many people."""
    day = visible.today(act)
    in_force = PropertyRole.objects.filter(visible.in_force(day), customer=OuterRef("pk"))
    links = Token.objects.filter(kind=Token.Kind.LINK, revoked_at=None, holder_uid=OuterRef("uid"))
    live = Feed.objects.filter(customer=OuterRef("pk"), revoked_at=None)
    gone = Customer.objects.filter(~Exists(in_force)).filter(Exists(links) | Exists(live)).order_by("id")
    for customer in gone:
        with transaction.atomic():
            end_doors(act=act, customer=customer)
    return len(gone)


def end_doors(*, act: Act, customer: Customer) -> None:
    """Revoke every link of a customer, with it the sessions it opened, and every feed."""
    links = Token.objects.filter(kind=Token.Kind.LINK, holder_uid=customer.uid, revoked_at=None)
    ended = 0
    for token in links:
        tokens.revoke(act=act, token=token)
        ended += 1
    live = Feed.objects.filter(customer=customer, revoked_at=None).select_related("user", "customer")
    for feed in live:
        # The end of the role ends them, whoever may have entered it.
        if Feed.objects.filter(pk=feed.pk, revoked_at=None).update(revoked_at=act.at):
            after = {"holder": f"customer:{customer.uid}"}
            record_change(act=act, noun="feed", uid=feed.uid, action="revoke", after=after, note=WHY)
    if ended:
        record_change(act=act, noun="customer", uid=customer.uid, action="links_ended", after={"links": ended})


def has_part(act: Act, customer: Customer) -> bool:
    """Whether this person has a role in force anywhere at the instant of the act."""
    return visible.properties(by_customer(customer, at=act.at)).exists()


def _take_back_mail(act: Act, role: PropertyRole) -> None:
    day = clock.local_date(act.at, role.property.zone)
    others = PropertyRole.objects.filter(visible.in_force(day), property=role.property_id, customer=role.customer_id)
    if others.exists():
        return
    outbox.skip(act=act, holder_uid=role.customer.uid, property_uid=role.property.uid, why=WHY)
