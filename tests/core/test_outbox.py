"""The outbox: once per occasion, claimed by one worker, and every failure sorted."""

import smtplib
from datetime import timedelta

import pytest
from django.core import mail
from django.core.mail.backends.base import BaseEmailBackend
from django.test import override_settings

from core import outbox
from core.act import by_system
from core.models import Message, Suppression
from tests.factories import AT

pytestmark = pytest.mark.django_db
ACT = by_system("test", at=AT)
FAULT: list[Exception] = []
OPENING: list[Exception] = []


class Faulty(BaseEmailBackend):
    """Fails as FAULT and OPENING say, else hands the mail to Django's test outbox."""

    def open(self):
        if OPENING:
            raise OPENING[0]

    def send_messages(self, email_messages):
        if FAULT:
            raise FAULT[0]
        mail.outbox.extend(email_messages)
        return len(email_messages)


@pytest.fixture(autouse=True)
def _no_faults():
    FAULT.clear()
    OPENING.clear()


def queued(key="k1", **more) -> Message:
    values = {
        "kind": "day_before",
        "to_address": "a@home.invalid",
        "subject": "Reminder",
        "text": "We are coming.",
        "due_at": AT,
        **more,
    }
    outbox.queue(act=ACT, key=key, **values)
    return Message.objects.get(key=key)


def pump(at=AT, still_wanted=lambda m, a: "", **more) -> int:
    with override_settings(EMAIL_BACKEND=f"{__name__}.Faulty"):
        return outbox.pump(at=at, now=lambda: at, still_wanted=still_wanted, **more)


def test_one_occasion_is_queued_once():
    queued()
    again = outbox.queue(
        act=ACT, key="k1", kind="day_before", to_address="b@home.invalid", subject="x", text="x", due_at=AT
    )
    assert again is False
    assert Message.objects.count() == 1


def test_sent_once_with_its_headers():
    message = queued(headers={"List-Unsubscribe": "<https://siltline.invalid/stop/x/>"})
    assert pump() == 1
    assert pump(at=AT + timedelta(hours=1)) == 0
    sent = mail.outbox[0]
    assert sent.extra_headers["Message-ID"] == message.message_id
    assert sent.extra_headers["Auto-Submitted"] == "auto-generated"
    assert sent.extra_headers["List-Unsubscribe"].startswith("<https://")
    message.refresh_from_db()
    assert (message.state, message.sent_at) == ("sent", AT)


def test_message_id_is_the_same_for_the_same_occasion_only():
    assert outbox.message_id("k1") == outbox.message_id("k1")
    assert outbox.message_id("k1") != outbox.message_id("k2")


def test_not_before_its_time():
    queued(due_at=AT + timedelta(minutes=1))
    assert pump() == 0
    assert pump(at=AT + timedelta(minutes=1)) == 1


@pytest.mark.parametrize(
    ("error", "state"),
    [
        (smtplib.SMTPRecipientsRefused({"a@home.invalid": (550, b"no such user")}), "failed"),
        (smtplib.SMTPRecipientsRefused({"a@home.invalid": (450, b"try later")}), "pending"),
        (smtplib.SMTPDataError(554, b"refused"), "failed"),
        (smtplib.SMTPDataError(451, b"busy"), "pending"),
        (smtplib.SMTPAuthenticationError(535, b"bad password"), "pending"),
        (smtplib.SMTPServerDisconnected("gone"), "unknown"),
        (TimeoutError("no 250"), "unknown"),
        (ConnectionRefusedError("closed"), "pending"),
        (ValueError("bad header"), "failed"),
    ],
)
def test_each_failure_is_sorted(error, state):
    message = queued()
    FAULT.append(error)
    assert pump() == 0
    message.refresh_from_db()
    assert message.state == state
    assert message.last_error
    if state == "pending":
        assert message.next_attempt_at > AT


def test_what_must_be_told_is_tried_again_after_a_broken_line():
    message = queued(policy="at_least_once")
    FAULT.append(smtplib.SMTPServerDisconnected("gone"))
    pump()
    FAULT.clear()
    message.refresh_from_db()
    assert message.state == "pending"
    assert pump(at=AT + timedelta(minutes=10)) == 1
    assert mail.outbox[0].extra_headers["Message-ID"] == message.message_id


def test_no_line_to_the_mail_server_costs_no_try():
    message = queued()
    OPENING.append(ConnectionRefusedError("closed"))
    pump()
    message.refresh_from_db()
    assert (message.state, message.attempts) == ("pending", 0)


def test_given_up_after_the_last_try():
    message = queued()
    FAULT.append(smtplib.SMTPDataError(451, b"busy"))
    at = AT
    for _ in range(len(outbox.RETRY_MINUTES) + 1):
        pump(at=at)
        at += timedelta(hours=6)
    message.refresh_from_db()
    assert message.state == "failed"
    assert "Given up" in message.last_error


def test_a_refused_sign_in_stops_the_round():
    first, second = queued("k1"), queued("k2")
    FAULT.append(smtplib.SMTPAuthenticationError(535, b"bad password"))
    pump()
    first.refresh_from_db()
    second.refresh_from_db()
    assert first.attempts == 1
    assert (second.state, second.attempts) == ("claimed", 0)


@pytest.mark.parametrize(("policy", "state"), [("at_most_once", "unknown"), ("at_least_once", "sent")])
def test_a_worker_that_died_while_sending(policy, state):
    message = queued(policy=policy)
    Message.objects.filter(pk=message.pk).update(state="sending", lease_until=AT - timedelta(seconds=1))
    pump()
    message.refresh_from_db()
    assert message.state == state
    assert len(mail.outbox) == (1 if state == "sent" else 0)


def test_a_worker_that_died_after_the_claim_loses_nothing():
    message = queued()
    outbox.claim(at=AT)
    assert pump(at=AT + timedelta(seconds=10)) == 0
    assert pump(at=AT + outbox.LEASE + timedelta(seconds=1)) == 1
    message.refresh_from_db()
    assert message.state == "sent"


def test_a_worker_frozen_past_its_lease_does_not_send():
    queued()
    taken = outbox.claim(at=AT)
    late = AT + outbox.LEASE + timedelta(seconds=1)
    assert pump(at=late) == 1
    with override_settings(EMAIL_BACKEND=f"{__name__}.Faulty"):
        assert outbox._start(taken[0], late) is False
    assert len(mail.outbox) == 1


def test_two_workers_share_no_message():
    for n in range(10):
        queued(f"k{n}")
    first, second = outbox.claim(at=AT, limit=6), outbox.claim(at=AT, limit=6)
    assert len(first) == 6
    assert len(second) == 4
    assert not {m.pk for m in first} & {m.pk for m in second}


def test_asked_again_as_it_leaves():
    message = queued()
    assert pump(still_wanted=lambda m, a: "The visit changed meanwhile.") == 0
    message.refresh_from_db()
    assert (message.state, message.last_error) == ("skipped", "The visit changed meanwhile.")


def test_suppressed_and_late_ones_are_skipped():
    Suppression.objects.create(address="a@home.invalid", reason="bounce", since=AT)
    bounced, late = queued("k1", to_address="A@home.invalid"), queued("k2", to_address="b@home.invalid")
    Message.objects.filter(pk=late.pk).update(not_after=AT - timedelta(minutes=1))
    assert pump() == 0
    assert {m.last_error for m in Message.objects.all()} == {
        "This address gets no mail any more.",
        "Too late to be of use.",
    }
    assert bounced.key == "k1"


def test_skip_takes_back_only_what_waits():
    import uuid

    visit = uuid.uuid4()
    sent, waiting = queued("k1", visit_uid=visit), queued("k2", visit_uid=visit, due_at=AT + timedelta(days=1))
    pump()
    assert outbox.skip(act=ACT, visit_uid=visit, why="moved") == 1
    sent.refresh_from_db()
    waiting.refresh_from_db()
    assert (sent.state, waiting.state) == ("sent", "skipped")
    with pytest.raises(ValueError, match="name a visit or a person"):
        outbox.skip(act=ACT, why="nobody named")
