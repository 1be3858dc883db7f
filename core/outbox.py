"""The outbox: queue once per occasion, claim with a lease, mark "sending" before the first byte, then send.

A reminder goes at most once: what was being sent when a worker died becomes "unknown" and is shown to a person.
Cancelled and moved visits go at least once: they are sent again, always with the same Message-ID.
"""

import logging
import random
import smtplib
import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from email.utils import parseaddr

from django.conf import settings
from django.core.mail import EmailMultiAlternatives, get_connection
from django.db import IntegrityError, transaction
from django.db.models import Q

from core import normalise
from core.act import Act
from core.models import Message, Suppression

log = logging.getLogger(__name__)

LEASE = timedelta(seconds=180)
RETRY_MINUTES = (1, 5, 15, 60, 240)
State = Message.State
StillWanted = Callable[[Message, datetime], str]
"""Says why a message is no longer wanted, "" where it still is."""
Finish = Callable[[Message, datetime], tuple[str, str]]
"""Text and HTML of a message as they leave."""


def message_id(key: str) -> str:
    """Stable Message-ID of an occasion, so that a repeat is recognisable (RFC 5322 3.6.4)."""
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2] or "siltline.invalid"
    return f"<{uuid.uuid5(uuid.NAMESPACE_URL, key).hex}@{domain}>"


def queue(
    *,
    act: Act,
    key: str,
    kind: str,
    to_address: str,
    subject: str,
    text: str,
    html: str = "",
    due_at: datetime,
    policy: str = Message.Policy.AT_MOST_ONCE,
    not_after: datetime | None = None,
    holder_uid: uuid.UUID | None = None,
    property_uid: uuid.UUID | None = None,
    visit_uid: uuid.UUID | None = None,
    headers: dict[str, str] | None = None,
    context: dict | None = None,
) -> bool:
    """Put one message in the outbox. False where this occasion's key is there already: nothing is queued twice."""
    if Message.objects.filter(key=key).exists():
        return False
    try:
        with transaction.atomic():
            Message.objects.create(
                key=key,
                kind=kind,
                policy=policy,
                to_address=to_address,
                holder_uid=holder_uid,
                property_uid=property_uid,
                visit_uid=visit_uid,
                context=context or {},
                subject=normalise.line(subject),
                text=text,
                html=html,
                headers=headers or {},
                message_id=message_id(key),
                created_at=act.at,
                due_at=due_at,
                next_attempt_at=due_at,
                not_after=not_after,
            )
    except IntegrityError:
        return False
    return True


def skip(
    *,
    act: Act,
    why: str,
    visit_uid: uuid.UUID | None = None,
    holder_uid: uuid.UUID | None = None,
    property_uid: uuid.UUID | None = None,
    kinds: tuple[str, ...] | None = None,
    but_keys_ending: str = "",
) -> int:
    """Take back what still waits for this visit, or this person at this property. Returns how many rows.

    `but_keys_ending` spares what was queued for the present state of the visit, so that a repeat is harmless.
    """
    rows = Message.objects.filter(state__in=[State.PENDING, State.CLAIMED])
    if visit_uid is None and holder_uid is None:
        raise ValueError("name a visit or a person")
    for name, value in (("visit_uid", visit_uid), ("holder_uid", holder_uid), ("property_uid", property_uid)):
        if value is not None:
            rows = rows.filter(**{name: value})
    if kinds is not None:
        rows = rows.filter(kind__in=kinds)
    if but_keys_ending:
        rows = rows.exclude(key__endswith=but_keys_ending)
    return rows.update(state=State.SKIPPED, closed_at=act.at, last_error=why[:500], claim=None, lease_until=None)


def settle_lost(*, at: datetime) -> int:
    """Messages that were being sent when their worker died: unknown, or queued again where repeats are right."""
    lost = Message.objects.filter(state=State.SENDING, lease_until__lt=at)
    unknown = lost.filter(policy=Message.Policy.AT_MOST_ONCE).update(
        state=State.UNKNOWN,
        claim=None,
        lease_until=None,
        last_error="The worker stopped while sending: it may or may not have arrived.",
    )
    again = lost.filter(policy=Message.Policy.AT_LEAST_ONCE).update(
        state=State.PENDING, claim=None, lease_until=None, next_attempt_at=at
    )
    return unknown + again


def claim(*, at: datetime, limit: int = 20) -> list[Message]:
    """Take up to `limit` due messages for this worker by conditional update, row by row."""
    due = Q(state=State.PENDING) | Q(state=State.CLAIMED, lease_until__lt=at)
    ids = list(
        Message.objects.filter(due, next_attempt_at__lte=at).order_by("next_attempt_at", "id").values_list("id")[:limit]
    )
    token = uuid.uuid4()
    taken = []
    for (pk,) in ids:
        won = Message.objects.filter(due, pk=pk, next_attempt_at__lte=at).update(
            state=State.CLAIMED, claim=token, lease_until=at + LEASE
        )
        if won:
            taken.append(pk)
    return list(Message.objects.filter(pk__in=taken, claim=token).order_by("next_attempt_at", "id"))


def _close(message: Message, state: str, at: datetime, why: str = "") -> None:
    Message.objects.filter(pk=message.pk, claim=message.claim).update(
        state=state,
        closed_at=at,
        sent_at=at if state == State.SENT else None,
        last_error=why[:500],
        claim=None,
        lease_until=None,
    )


def _start(message: Message, at: datetime) -> bool:
    """Commit "sending" before the first byte; False where another worker took the row meanwhile."""
    return bool(
        Message.objects.filter(pk=message.pk, claim=message.claim, state=State.CLAIMED, lease_until__gt=at).update(
            state=State.SENDING, attempts=message.attempts + 1, lease_until=at + LEASE
        )
    )


def _later(message: Message, at: datetime, why: str) -> None:
    step = RETRY_MINUTES[min(message.attempts, len(RETRY_MINUTES) - 1)]
    next_at = at + timedelta(minutes=step * random.uniform(0.8, 1.2))
    if message.attempts + 1 > len(RETRY_MINUTES) or (message.not_after and next_at > message.not_after):
        _close(message, State.FAILED, at, f"Given up after {message.attempts + 1} tries: {why}")
        return
    Message.objects.filter(pk=message.pk, claim=message.claim).update(
        state=State.PENDING, claim=None, lease_until=None, next_attempt_at=next_at, last_error=why[:500]
    )


def verdict(error: Exception) -> str:
    """What an error while sending means: stop (nobody can send now), later, never, or unknown (it may have gone)."""
    if isinstance(error, smtplib.SMTPAuthenticationError):
        return "stop"
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        codes = [code for code, _ in error.recipients.values()]
        return "never" if codes and all(code >= 500 for code in codes) else "later"
    if isinstance(error, smtplib.SMTPDataError):
        return "later" if error.smtp_code < 500 else "never"
    if isinstance(error, smtplib.SMTPResponseException):
        return "later" if error.smtp_code < 500 or error.smtp_code == 521 else "never"
    if isinstance(error, smtplib.SMTPServerDisconnected | TimeoutError | ConnectionResetError | BrokenPipeError):
        return "unknown"
    if isinstance(error, ConnectionError | smtplib.SMTPConnectError | OSError):
        return "later"
    return "never"


def _deliver(message: Message, bodies: tuple[str, str], connection) -> None:
    text, html = bodies
    mail = EmailMultiAlternatives(
        message.subject,
        text,
        settings.DEFAULT_FROM_EMAIL,
        [message.to_address],
        headers={
            "Message-ID": message.message_id,
            "Auto-Submitted": "auto-generated",
            "X-Auto-Response-Suppress": "OOF, AutoReply",
            **message.headers,
        },
        connection=connection,
    )
    if html:
        mail.attach_alternative(html, "text/html")
    mail.send()


def _after_error(message: Message, error: Exception, at: datetime) -> bool:
    """Record a failed try; True where the pump must stop."""
    kind = verdict(error)
    why = f"{type(error).__name__}: {error}"
    log.warning("message %s: %s (%s)", message.uid, type(error).__name__, kind)
    if kind == "never":
        _close(message, State.FAILED, at, why)
    elif kind == "unknown" and message.policy == Message.Policy.AT_MOST_ONCE:
        _close(message, State.UNKNOWN, at, f"The line broke while sending: {why}")
    else:
        _later(message, at, why)
    return kind == "stop"


def as_stored(message: Message, at: datetime) -> tuple[str, str]:
    """Text and HTML as they stand on the row."""
    return message.text, message.html


def pump(
    *,
    at: datetime,
    now: Callable[[], datetime],
    still_wanted: StillWanted,
    finish: Finish = as_stored,
    limit: int = 20,
) -> int:
    """Send what is due; returns how many were sent. Safe to run in several workers at once and to be killed.

    `finish` puts in what may not lie in the database, such as a link that is a secret.
    """
    settle_lost(at=at)
    messages = claim(at=at, limit=limit)
    if not messages:
        return 0
    connection = get_connection(fail_silently=False)
    try:
        connection.open()
    except Exception as error:  # noqa: BLE001  nothing was sent yet: every message waits, whatever was wrong
        for message in messages:
            _later(message, at, f"No line to the mail server: {type(error).__name__}: {error}")
        return 0
    try:
        return sum(_send_one(message, connection, now, still_wanted, finish) for message in messages)
    except _Stopped:
        return 0
    finally:
        connection.close()


class _Stopped(Exception):
    """The mail server refuses us as a whole: the rest of this round waits for its lease to end."""


def _send_one(
    message: Message, connection, now: Callable[[], datetime], still_wanted: StillWanted, finish: Finish
) -> int:
    moment = now()
    why_not = _why_not(message, moment) or still_wanted(message, moment)
    if why_not:
        _close(message, State.SKIPPED, moment, why_not)
        return 0
    if not _start(message, moment):
        return 0
    try:
        _deliver(message, finish(message, moment), connection)
    except Exception as error:
        if _after_error(message, error, now()):
            raise _Stopped from error
        return 0
    _close(message, State.SENT, now())
    return 1


def _why_not(message: Message, at: datetime) -> str:
    if message.not_after and at > message.not_after:
        return "Too late to be of use."
    if Suppression.objects.filter(address=message.to_address.casefold()).exists():
        return "This address gets no mail any more."
    return ""
