"""Tells people about visits: once per occasion and person, in the transaction that made the occasion."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Q

from core import clock, company, health, outbox
from core.act import Act, by_customer
from core.company import Company
from core.history import record_change
from core.models import Message
from jobs.models import Component, Customer, Property, PropertyRole
from maintenance.decide.occasions import OCCASIONS, Occasion, hears
from maintenance.messages import links, render, when
from maintenance.messages.render import Chore, VisitFacts
from maintenance.models import CallToMake, MessageChoice, Visit

FROM_STATE = {
    "offered": "visit_offered",
    "notice": "visit_notice",
    "agreed": "visit_agreed",
    "moved": "visit_moved",
    "called_off": "visit_called_off",
    "done": "visit_done",
}
BEFORE_THE_VISIT = ("visit_offered", "visit_notice", "visit_agreed", "visit_moved", "day_before")


@dataclass(frozen=True, slots=True)
class Telling:
    """One occasion about to be told: what, about which visit, by whom, when it is due and when pointless."""

    act: Act
    occasion: Occasion
    visit: Visit
    facts: VisitFacts
    settings: Company
    due: datetime
    pointless_from: datetime | None
    created_at: datetime


def queue_occasion(*, act: Act, occasion: str, visit: Visit, extra: dict | None = None) -> int:
    """Queue one message per person for `occasion` (offered, notice, agreed, moved, called_off, done).

    Call it inside the transaction that changed the visit. What still waits about an earlier state of the visit is
    taken back. Returns how many messages were queued; whoever has no address becomes a call to make.
    """
    kind = FROM_STATE[occasion]
    outbox.skip(
        act=act,
        visit_uid=visit.uid,
        kinds=BEFORE_THE_VISIT,
        but_keys_ending=f":{visit.sequence}",
        why=f"The visit is {visit.get_state_display()}.",
    )
    if kind == "visit_called_off" and visit.offered_at is None and visit.agreed_at is None:
        return 0
    telling = Telling(
        act=act,
        occasion=OCCASIONS[kind],
        visit=visit,
        facts=visit_facts(visit, extra or {}),
        settings=company.at(act.at),
        due=act.at,
        pointless_from=visit.starts_at if kind in BEFORE_THE_VISIT else None,
        created_at=act.at,
    )
    return tell_all(telling)


def visit_facts(visit: Visit, extra: dict) -> VisitFacts:
    """What a message may say about a visit; no gate code, no phone number."""
    tasks = visit.tasks.select_related("component__part_of").order_by("id")
    return VisitFacts(
        address=visit.property.address,
        local_date=visit.local_date,
        local_start=visit.local_start,
        span_minutes=visit.span_minutes,
        tasks=tuple(Chore(t.task, t.component.kind, tag_of(t.component)) for t in tasks),
        offered=tuple(visit.offered_days.values_list("local_date", flat=True)),
        answer_by=visit.answer_by,
        why=extra.get("why", visit.called_off_why),
        found=tuple(extra.get("found", ())),
        next_words=extra.get("next", ""),
    )


def tag_of(component: Component) -> str:
    """The tag people read on the part; a sub-part goes by that of what it belongs to."""
    return component.tag or (component.part_of.tag if component.part_of else "")


def people_of(property_id: int, *, on: date) -> list[PropertyRole]:
    """Roles in force at a property on a local date whose holders get messages, one row a person."""
    rows = (
        PropertyRole.objects.filter(property_id=property_id, gets_messages=True, from_date__lte=on)
        .filter(Q(until_date=None) | Q(until_date__gt=on), customer__erased_at=None)
        .select_related("customer")
        .order_by("customer_id", "-approves_cost", "id")
    )
    first: dict[int, PropertyRole] = {}
    for row in rows:
        first.setdefault(row.customer_id, row)
    return list(first.values())


def tell_all(telling: Telling) -> int:
    """Queue one message per person who hears of this occasion."""
    visit = telling.visit
    today = clock.local_date(telling.act.at, visit.zone)
    return sum(_tell_one(telling, customer) for customer in _hearers(visit.property_id, telling.occasion, today))


def _hearers(property_id: int, occasion: Occasion, today: date) -> list[Customer]:
    roles = people_of(property_id, on=today)
    if occasion.asks:
        roles = [role for role in roles if role.agrees_days]
    choices = dict(
        MessageChoice.objects.filter(
            kind=occasion.kind, customer_id__in=[role.customer_id for role in roles]
        ).values_list("customer_id", "wanted")
    )
    return [role.customer for role in roles if hears(occasion, choices.get(role.customer_id))]


def _call_instead(telling: Telling, customer: Customer, key: str) -> None:
    CallToMake.objects.get_or_create(
        key=key,
        defaults={
            "property_id": telling.visit.property_id,
            "customer": customer,
            "visit": telling.visit,
            "reason": CallToMake.Reason.NO_CHANNEL,
            "note": f"Tell by phone: {telling.occasion.words}.",
            "since": telling.act.at,
        },
    )


def _tell_one(telling: Telling, customer: Customer) -> bool:
    visit, occasion = telling.visit, telling.occasion
    key = f"{occasion.kind}:{visit.uid}:{visit.local_date or 'open'}:{customer.uid}:{visit.sequence}"
    if not customer.email:
        _call_instead(telling, customer, key)
        return False
    settings = telling.settings
    plan = when.plan(
        occasion.timing,
        due=telling.due,
        pointless_from=telling.pointless_from,
        created_at=telling.created_at,
        now=telling.act.at,
        zone=ZoneInfo(visit.zone),
        quiet=when.QuietHours(settings.quiet_from, settings.quiet_until),
    )
    if plan.send_at is None or plan.not_after is None:
        return False
    letter = Letter(key, visit.property, visit.uid, plan.send_at, plan.not_after, {"sequence": visit.sequence})
    return _queue(telling.act, occasion, customer, telling.facts, settings, letter)


def tell_owner_tasks(*, act: Act, prop: Property, facts: VisitFacts, settings: Company, quarter: date) -> int:
    """One combined mail a person and quarter with the owner's own tasks. Returns how many were queued."""
    occasion = OCCASIONS["owner_tasks"]
    queued = 0
    for customer in _hearers(prop.pk, occasion, clock.local_date(act.at, prop.zone)):
        plan = when.plan(
            occasion.timing,
            due=act.at,
            pointless_from=None,
            created_at=act.at,
            now=act.at,
            zone=ZoneInfo(prop.zone),
            quiet=when.QuietHours(settings.quiet_from, settings.quiet_until),
        )
        if not customer.email or plan.send_at is None or plan.not_after is None:
            continue
        key = f"owner_tasks:{prop.uid}:{quarter}:{customer.uid}"
        letter = Letter(key, prop, None, plan.send_at, plan.not_after, {})
        queued += _queue(act, occasion, customer, facts, settings, letter)
    return queued


@dataclass(frozen=True, slots=True)
class Letter:
    """Envelope of one message: its key, what it is about, when it leaves and until when it is of use."""

    key: str
    property: Property
    visit_uid: UUID | None
    send_at: datetime
    not_after: datetime
    context: dict


def _queue(
    act: Act, occasion: Occasion, customer: Customer, facts: VisitFacts, settings: Company, letter: Letter
) -> bool:
    rendered = render.render(
        occasion.kind,
        facts,
        company=settings,
        language=customer.language,
        name=customer.name,
        stop=links.unsubscribe_address(customer.uid, occasion.kind),
    )
    return outbox.queue(
        act=act,
        key=letter.key,
        kind=occasion.kind,
        to_address=customer.email,
        subject=rendered.subject,
        text=rendered.text,
        html=rendered.html,
        due_at=letter.send_at,
        not_after=letter.not_after,
        policy=Message.Policy.AT_LEAST_ONCE if occasion.repeats else Message.Policy.AT_MOST_ONCE,
        holder_uid=customer.uid,
        property_uid=letter.property.uid,
        visit_uid=letter.visit_uid,
        headers=links.mail_headers(customer.uid, occasion.kind, settings.reply_to),
        context={"language": customer.language, **letter.context},
    )


def why_not_wanted(message: Message, at: datetime) -> str:
    """Asked again as a message leaves: the visit, the person's role and wish may have changed since."""
    visit = Visit.objects.filter(uid=message.visit_uid).first() if message.visit_uid else None
    if visit is not None and message.kind in BEFORE_THE_VISIT and visit.sequence != message.context.get("sequence"):
        return "The visit changed meanwhile."
    customer = (
        Customer.objects.filter(uid=str(message.holder_uid), erased_at=None).first() if message.holder_uid else None
    )
    if customer is None:
        return "This person is no longer a customer."
    if visit is not None:
        today = clock.local_date(at, visit.zone)
        if not any(role.customer_id == customer.pk for role in people_of(visit.property_id, on=today)):
            return "This person has no part in the property any more."
    choice = MessageChoice.objects.filter(customer=customer, kind=message.kind).values_list("wanted", flat=True).first()
    occasion = OCCASIONS.get(message.kind)
    if occasion is not None and not hears(occasion, choice):
        return "This person stopped messages of this kind."
    return ""


def finish(message: Message, at: datetime) -> tuple[str, str]:
    """Text and HTML as they leave: a fresh secret link, and "tomorrow" told as of now."""
    visit = Visit.objects.filter(uid=message.visit_uid).first() if message.visit_uid else None
    told = ""
    if visit is not None and visit.local_date is not None:
        left = when.days_left(at, visit.local_date, ZoneInfo(visit.zone))
        told = render.when_words(left, visit.local_date, message.context.get("language", "en"))
    return links.finish(message, at, told)


def send_due(*, act: Act, limit: int = 20) -> int:
    """Send what is due now, and show that mail works."""
    sent = outbox.pump(at=act.at, now=clock.now, still_wanted=why_not_wanted, finish=finish, limit=limit)
    health.beat("outbox", at=act.at)
    return sent


def choose(*, act: Act, customer: Customer, kind: str, wanted: bool) -> None:
    """Record a person's wish about one kind of message; what waits of it is taken back."""
    with transaction.atomic():
        MessageChoice.objects.update_or_create(
            customer=customer, kind=kind, defaults={"wanted": wanted, "since": act.at}
        )
        if not wanted:
            outbox.skip(
                act=act, holder_uid=customer.uid, kinds=(kind,), why="This person stopped messages of this kind."
            )
        record_change(
            act=act,
            noun="customer",
            uid=customer.uid,
            action="messages",
            after={kind: "wanted" if wanted else "stopped"},
        )


def stop_by_link(*, at: datetime, customer_uid: UUID | str, kind: str) -> bool:
    """One-click unsubscribe. False where the person is not known; doing it twice changes nothing."""
    customer = Customer.objects.filter(uid=customer_uid).first()
    if customer is None:
        return False
    choose(act=by_customer(customer, at=at), customer=customer, kind=kind, wanted=False)
    return True
