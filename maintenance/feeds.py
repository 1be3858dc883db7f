"""Calendar feeds: secret addresses issued, renewed and revoked one by one, and what is served under them."""

import hmac
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.conf import settings
from django.db.models import Case, DateField, F, Q, QuerySet, When
from django.db.models.functions import Coalesce

from core import clock, company, normalise, tokens
from core.act import Act, by_customer, by_system
from core.history import record_change
from core.models import User
from core.problem import BadInput, Conflict, FieldProblem, NotAllowed
from jobs.models import Customer, Property
from jobs.read import visible as register
from maintenance.calendar.event import ALARM_MINUTES_MAX, event_bytes
from maintenance.calendar.frame import EVENTS_MAX, Fragment, calendar_bytes, entity_tag, fit_window, window
from maintenance.feed_events import Audience, owner_task_events
from maintenance.feed_fragments import fragments_of
from maintenance.models import DueWindow, Feed, Visit, VisitTechnician
from maintenance.read import visible

PREFIX = "slf"
UNUSED_DAYS = 400
FETCH_STEP = timedelta(minutes=10)
REFRESH = {"technician": timedelta(minutes=30), "company": timedelta(minutes=30), "homeowner": timedelta(hours=4)}
COLOURS = {"technician": "steelblue", "company": "slategray", "homeowner": "teal"}
MOST_LIVE = 10
CREW_STATES = (Visit.State.AGREED, Visit.State.BEGUN, Visit.State.DONE, Visit.State.CALLED_OFF)


@dataclass(frozen=True, slots=True)
class Found:
    """A feed whose secret is right; `gone`: it was revoked, or its person has no part in anything any more."""

    feed: Feed
    gone: bool


@dataclass(frozen=True, slots=True)
class Served:
    """The octets of a feed, their weak ETag, and when they last became other ones (aware UTC)."""

    body: bytes
    etag: str
    changed_at: datetime


def address_of(secret: str) -> str:
    """The address readers fetch."""
    return f"{settings.PUBLIC_URL}/feeds/{secret}.ics"


def issue_feed(
    *,
    act: Act,
    kind: str,
    user: User | None = None,
    customer: Customer | None = None,
    label: str = "",
    alarm_minutes: int | None = None,
) -> tuple[Feed, str]:
    """A new feed and its secret, shown once and never stored; `address_of(secret)` is what people copy.

    kind technician needs `user`, homeowner needs `customer` with a role in force. The office issues any; a technician
    and a homeowner their own. `alarm_minutes` 1 to 20,160 before each visit, None for no alarm. Raises BadInput,
    NotAllowed, Conflict beyond 10 live feeds of one person.
    """
    _check_kind(kind, user, customer, alarm_minutes)
    _check_may(act, user, customer)
    if customer is not None and not _has_part(customer, act.at):
        raise Conflict("This person has no part in any property now: no calendar is opened.", code="no_role")
    if Feed.objects.filter(kind=kind, user=user, customer=customer, revoked_at=None).count() >= MOST_LIVE:
        raise Conflict(f"There are {MOST_LIVE} calendar addresses already: end one first.", code="too_many")
    whole, lookup, digest = tokens.new_secret(PREFIX)
    feed = Feed.objects.create(
        kind=kind,
        user=user,
        customer=customer,
        label=normalise.line(label, limit=80),
        alarm_minutes=alarm_minutes,
        lookup=lookup,
        digest=digest,
        created_at=act.at,
    )
    record_change(act=act, noun="feed", uid=feed.uid, action="issue", after={"kind": kind, "holder": _holder(feed)})
    return feed, whole


def revoke_feed(*, act: Act, feed: Feed, why: str = "") -> None:
    """End a feed's address now: readers are told that it is gone. Doing it twice changes nothing."""
    _check_may(act, feed.user, feed.customer)
    if Feed.objects.filter(pk=feed.pk, revoked_at=None).update(revoked_at=act.at):
        record_change(act=act, noun="feed", uid=feed.uid, action="revoke", after={"holder": _holder(feed)}, note=why)
    feed.refresh_from_db()


def renew_feed(*, act: Act, feed: Feed) -> tuple[Feed, str]:
    """A new address in place of one that was lost or has come into wrong hands; the old one ends."""
    _check_may(act, feed.user, feed.customer)
    revoke_feed(act=act, feed=feed, why="renewed")
    return issue_feed(
        act=act,
        kind=feed.kind,
        user=feed.user,
        customer=feed.customer,
        label=feed.label,
        alarm_minutes=feed.alarm_minutes,
    )


def end_unused(*, act: Act) -> int:
    """End feeds that nobody has fetched for 400 days (or ever, since they were made). Returns how many."""
    limit = act.at - timedelta(days=UNUSED_DAYS)
    rows = Feed.objects.filter(revoked_at=None).annotate(used=Coalesce("last_fetched_at", "created_at"))
    ended = 0
    for feed in rows.filter(used__lt=limit).select_related("user", "customer").order_by("id"):
        revoke_feed(act=act, feed=feed, why=f"not fetched for {UNUSED_DAYS} days")
        ended += 1
    return ended


def find_feed(secret: str, *, at: datetime) -> Found | None:
    """The feed with this secret, None if there is none. Says `gone` where it was revoked or its person has left."""
    lookup = tokens.lookup_of(secret) if secret.startswith(f"{PREFIX}_") else ""
    if not lookup:
        return None
    feed = Feed.objects.select_related("user", "customer").filter(lookup=lookup).first()
    if feed is None or not hmac.compare_digest(feed.digest, tokens.hashed(secret)):
        return None
    return Found(feed, feed.revoked_at is not None or _has_left(feed, at))


def feed_bytes(feed: Feed, at: datetime, *, source: str = "") -> bytes:
    """The octets of a live feed at an instant. The same records give the same octets.

    `source` is the feed's own address, which only who asks for it knows.
    """
    today = clock.local_date(at, company.at(at).zone)
    audience = Audience(feed.kind, _language(feed), feed.alarm_minutes)
    rows = _in_window(_visits(feed, at), today)
    kept = fragments_of(act=by_system("feeds", at=at), visits=rows, audience=audience)
    own = _own_tasks(feed, today, at)
    chosen = fit_window([*kept.fragments, *(fragment for fragment, _ in own)], today)
    made = feed.created_at.replace(microsecond=0)
    return calendar_bytes(
        name=_name(feed, at),
        fragments=[fragment.vevent for fragment in chosen],
        tzids=kept.zones | {zone for _, zone in own} or {company.at(at).zone},
        url=f"{settings.PUBLIC_URL}/",
        source=source or f"{settings.PUBLIC_URL}/feeds/",
        refresh=REFRESH[feed.kind],
        colour=COLOURS[feed.kind],
        last_modified=max(made, kept.changed_at or made),
    )


def serve(*, act: Act, feed: Feed, source: str = "") -> Served:
    """What to answer a reader with; notes the fetch, at most once in ten minutes, and when the octets change."""
    body = feed_bytes(feed, act.at, source=source)
    tag = entity_tag(body)
    whole = act.at.replace(microsecond=0)
    changed_at = feed.body_changed_at
    if feed.body_tag != tag or changed_at is None:
        changed_at = whole if changed_at is None else max(whole, changed_at + timedelta(seconds=1))
        Feed.objects.filter(pk=feed.pk).exclude(body_tag=tag).update(body_tag=tag, body_changed_at=changed_at)
    if feed.last_fetched_at is None or act.at - feed.last_fetched_at > FETCH_STEP:
        Feed.objects.filter(pk=feed.pk).update(last_fetched_at=act.at)
    return Served(body, tag, min(changed_at, whole))


def _check_kind(kind: str, user: User | None, customer: Customer | None, alarm_minutes: int | None) -> None:
    if kind not in Feed.Kind.values:
        message = f"kind is {kind[:20]!r}: give one of {', '.join(Feed.Kind.values)}."
        raise BadInput(message, fields=(FieldProblem("kind", message, kind[:20]),))
    needs = {"technician": (True, False), "company": (False, False), "homeowner": (False, True)}[kind]
    if (user is not None, customer is not None) != needs:
        raise BadInput(f"A {kind} feed takes {'a user' if needs[0] else 'a customer' if needs[1] else 'nobody'} alone.")
    if alarm_minutes is not None and not 1 <= alarm_minutes <= ALARM_MINUTES_MAX:
        message = f"alarm_minutes is {alarm_minutes}: give 1 to {ALARM_MINUTES_MAX} min, or none."
        raise BadInput(message, fields=(FieldProblem("alarm_minutes", message, alarm_minutes),))


def _check_may(act: Act, user: User | None, customer: Customer | None) -> None:
    own_user = act.role == "crew" and user is not None and user.pk == act.user_id
    own_customer = act.role == "homeowner" and customer is not None and customer.pk == act.customer_id
    if not (act.is_office or own_user or own_customer):
        raise NotAllowed("A calendar address is made and ended by the office, or by the person it is for.")


def _holder(feed: Feed) -> str:
    if feed.user is not None:
        return f"user:{feed.user.uid}"
    return f"customer:{feed.customer.uid}" if feed.customer is not None else "company"


def _has_part(customer: Customer, at: datetime) -> bool:
    return customer.erased_at is None and register.properties(by_customer(customer, at=at)).exists()


def _has_left(feed: Feed, at: datetime) -> bool:
    if feed.user is not None:
        return not feed.user.is_active
    return feed.customer is not None and not _has_part(feed.customer, at)


def _language(feed: Feed) -> str:
    return feed.customer.language if feed.customer is not None else "en"


def _visits(feed: Feed, at: datetime) -> QuerySet[Any]:
    """The visits of a feed, annotated with the day each is shown on."""
    if feed.kind == Feed.Kind.HOMEOWNER and feed.customer is not None:
        rows = visible.visits(by_customer(feed.customer, at=at))
        # An offer is shown on the day by which it is to be answered; a day settled before it counts no more.
        return rows.annotate(shown_on=Coalesce(_answer_day(), F("local_date"), F("answer_by")))
    rows = Visit.objects.filter(Q(state__in=CREW_STATES) | Q(state__in=_TAKEN_BACK, sequence__gt=0))
    if feed.kind == Feed.Kind.TECHNICIAN:
        rows = rows.filter(pk__in=VisitTechnician.objects.filter(user=feed.user_id).values("visit"))
    return rows.annotate(shown_on=F("local_date"))


_TAKEN_BACK = (Visit.State.OFFERED, Visit.State.PROPOSED)


def _answer_day() -> Case:
    return Case(When(state=Visit.State.OFFERED, then=F("answer_by")), output_field=DateField())


def _in_window(rows: QuerySet[Any], today: date) -> QuerySet[Any]:
    """All within the window, or as many as a feed can hold: the coming ones, nearest first, then the latest past."""
    first, last = window(today)
    inside = rows.filter(shown_on__gte=first, shown_on__lte=last)
    if inside.count() <= EVENTS_MAX:
        return inside
    coming = rows.filter(shown_on__gte=today, shown_on__lte=last).order_by("shown_on", "uid")
    keys = list(coming.values_list("pk", flat=True)[:EVENTS_MAX])
    if len(keys) < EVENTS_MAX:
        past = rows.filter(shown_on__gte=first, shown_on__lt=today).order_by("-shown_on", "uid")
        keys += past.values_list("pk", flat=True)[: EVENTS_MAX - len(keys)]
    return rows.filter(pk__in=keys)


def _own_tasks(feed: Feed, today: date, at: datetime) -> list[tuple[Fragment, str]]:
    """The owner's own tasks at the properties of a homeowner, with their zones."""
    if feed.kind != Feed.Kind.HOMEOWNER or feed.customer is None:
        return []
    first, last = window(today)
    rows = (
        DueWindow.objects.filter(
            property__in=register.properties(by_customer(feed.customer, at=at)),
            who="owner",
            best_on__gte=first,
            best_on__lte=last,
        )
        .select_related("component", "property")
        .order_by("best_on", "id")[:EVENTS_MAX]
    )
    events = owner_task_events(rows, _language(feed), feed.alarm_minutes)
    return [(Fragment(event.local_date, event.uid, event_bytes(event)), event.tzid) for event in events]


def _name(feed: Feed, at: datetime) -> str:
    called = company.at(at).name
    if feed.user is not None:
        return f"{called}: {feed.user.display_name}"
    if feed.customer is None:
        return called
    places = Property.objects.filter(pk__in=register.properties(by_customer(feed.customer, at=at))).order_by("address")
    addresses = list(places.values_list("address", flat=True)[:3])
    return ", ".join(addresses) or called
