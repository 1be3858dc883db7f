"""Who is told what, once, and what is taken back when the visit changes."""

from datetime import date, time, timedelta

import pytest
from django.core import mail

from core.models import Message
from maintenance import occasions_due, reminders
from maintenance.messages import links
from maintenance.models import CallToMake, Visit, VisitTask
from tests.factories import (
    AT,
    CustomerFactory,
    DueWindowFactory,
    MessageChoiceFactory,
    PropertyRoleFactory,
    VisitFactory,
    VisitTaskFactory,
    make_cast,
)

pytestmark = pytest.mark.django_db
DAY = date(2026, 5, 12)


@pytest.fixture
def cast():
    return make_cast()


def agreed(cast, **more) -> Visit:
    visit = VisitFactory(
        property=cast.property,
        state="agreed",
        local_date=DAY,
        local_start=time(9),
        span_minutes=120,
        agreed_at=AT,
        offered_at=AT,
        **more,
    )
    VisitTaskFactory(visit=visit, words="clean catch basin CB-1")
    return visit


@pytest.fixture
def send(cast, monkeypatch):
    """Send what is due at an instant."""

    def at_instant(at) -> int:
        monkeypatch.setattr("core.clock.now", lambda: at)
        return reminders.send_due(act=cast.act("office", at=at))

    return at_instant


def scan(cast, at):
    return occasions_due.scan(act=cast.act("office", at=at))


def test_moved_visit_is_told_once_and_takes_back_the_reminder(cast):
    visit = agreed(cast)
    before = AT + timedelta(days=7)
    assert scan(cast, before) == 1
    visit.sequence, visit.local_date = 1, DAY + timedelta(days=2)
    visit.save()
    act = cast.act("office", at=before)
    assert reminders.queue_occasion(act=act, occasion="moved", visit=visit) == 1
    assert reminders.queue_occasion(act=act, occasion="moved", visit=visit) == 0
    states = dict(Message.objects.values_list("kind", "state"))
    assert states == {"day_before": "skipped", "visit_moved": "pending"}


def test_reminder_leaves_at_nine_local_the_day_before_and_says_tomorrow(cast, send):
    agreed(cast)
    assert scan(cast, AT) == 0
    due = AT.replace(day=11)  # 13:00 UTC is 09:00 in New York in May
    assert scan(cast, due - timedelta(hours=1)) == 1
    assert scan(cast, due) == 0
    assert send(due - timedelta(minutes=1)) == 0
    assert send(due) == 1
    sent = mail.outbox[0]
    assert sent.to == [cast.homeowner.email]
    assert "Reminder: we are coming to 7 Cistern Row on Tuesday, 12 May" in sent.subject
    html = sent.alternatives[0][0]
    part = VisitTask.objects.get().component
    assert "- Cleaning: " in sent.body
    assert f"({part.tag})" in sent.body
    assert links.LINK not in sent.body + html
    assert links.WHEN not in sent.body + html
    assert "/home/slh_" in sent.body


def test_reminder_is_skipped_when_the_visit_moved_meanwhile(cast, send):
    visit = agreed(cast)
    due = AT.replace(day=11)
    scan(cast, due)
    Visit.objects.filter(pk=visit.pk).update(sequence=3)
    assert send(due) == 0
    assert Message.objects.get().last_error == "The visit changed meanwhile."


def test_a_tenant_who_moved_out_hears_nothing_more(cast, send):
    tenant = CustomerFactory(name="Past Tenant")
    role = PropertyRoleFactory(property=cast.property, customer=tenant, role="tenant")
    agreed(cast)
    due = AT.replace(day=11)
    assert scan(cast, due) == 2
    role.until_date = date(2026, 5, 11)
    role.save()
    send(due)
    assert [m.to for m in mail.outbox] == [[cast.homeowner.email]]


def test_whoever_has_no_address_becomes_a_call_to_make(cast):
    cast.homeowner.email = ""
    cast.homeowner.save()
    visit = agreed(cast)
    for _ in range(2):
        reminders.queue_occasion(act=cast.act("office"), occasion="notice", visit=visit)
    call = CallToMake.objects.get()
    assert (call.reason, call.customer) == ("no_channel", cast.homeowner)


def test_stopped_kinds_are_not_sent_and_one_click_stop_is_repeatable(cast):
    visit = agreed(cast)
    reminders.queue_occasion(act=cast.act("office"), occasion="notice", visit=visit)
    address = links.unsubscribe_address(cast.homeowner.uid, "visit_notice")
    read = links.read_unsubscribe(address.rstrip("/").rsplit("/", 1)[1])
    assert read == (str(cast.homeowner.uid), "visit_notice")
    for _ in range(2):
        assert reminders.stop_by_link(at=AT, customer_uid=read[0], kind=read[1])
    assert Message.objects.get().state == "skipped"
    Message.objects.all().delete()
    assert reminders.queue_occasion(act=cast.act("office"), occasion="notice", visit=visit) == 0
    assert links.read_unsubscribe(address[:-3]) is None


def test_confirmation_only_for_whoever_asked_for_it(cast):
    visit = agreed(cast)
    assert reminders.queue_occasion(act=cast.act("office"), occasion="agreed", visit=visit) == 0
    MessageChoiceFactory(customer=cast.homeowner, kind="visit_agreed", wanted=True)
    assert reminders.queue_occasion(act=cast.act("office"), occasion="agreed", visit=visit) == 1


def test_a_proposal_nobody_heard_of_is_called_off_in_silence(cast):
    visit = VisitFactory(property=cast.property, state="called_off")
    assert reminders.queue_occasion(act=cast.act("office"), occasion="called_off", visit=visit) == 0


def test_owner_tasks_come_in_one_mail_a_quarter(cast):
    for task in ("clear_grate", "pour_bucket"):
        DueWindowFactory(property=cast.property, who="owner", best_on=date(2026, 5, 1), task=task)
    assert scan(cast, AT) == 1
    assert scan(cast, AT + timedelta(days=30)) == 0
    assert scan(cast, AT + timedelta(days=70)) == 1
    first = Message.objects.order_by("id").first()
    assert "Pouring a bucket of water in" in first.text
    assert "Clearing leaves off the grate" in first.text
    assert "never during a storm" in first.text


def test_spanish_for_whoever_reads_spanish_and_never_two_people_in_one_mail(cast):
    other = CustomerFactory(name="Luz Invented", language="es")
    PropertyRoleFactory(property=cast.property, customer=other)
    visit = agreed(cast)
    assert reminders.queue_occasion(act=cast.act("office"), occasion="moved", visit=visit) == 2
    by_person = {m.holder_uid: m for m in Message.objects.all()}
    assert cast.homeowner.name not in by_person[other.uid].text
    assert by_person[other.uid].context["language"] == "es"


def test_no_secret_in_the_stored_message(cast):
    cast.property.gate_code = "9137#"
    cast.property.save()
    visit = agreed(cast)
    reminders.queue_occasion(act=cast.act("office"), occasion="moved", visit=visit)
    stored = str(Message.objects.values().get())
    assert "9137" not in stored
    assert "slh_" not in stored


def test_a_scan_costs_the_same_for_one_visit_and_for_three(cast):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    agreed(cast)
    scan(cast, AT + timedelta(days=6))
    with CaptureQueriesContext(connection) as one:
        scan(cast, AT + timedelta(days=6))
    agreed(cast)
    agreed(cast)
    with CaptureQueriesContext(connection) as three:
        scan(cast, AT + timedelta(days=6))
    assert len(three) == len(one)
