"""Homeowner pages in a real browser: at desk and phone width, light and dark, and the acts a person would do."""

import pytest
from django.core import mail
from playwright.sync_api import expect

from core.act import by_system
from maintenance import reminders
from maintenance.messages import links
from maintenance.models import CallToMake, Feed, MessageChoice, TaskDone, Visit
from tests.factories import AT, PropertyFactory, PropertyRoleFactory
from tests.pages.conftest import home_link

pytestmark = [pytest.mark.chromium, pytest.mark.serial, pytest.mark.django_db(transaction=True)]
WINDOWS = [("phone", "light"), ("phone", "dark"), ("desk", "light"), ("desk", "dark")]


@pytest.mark.parametrize(("size", "scheme"), WINDOWS)
def test_every_page(visitor, made, size, scheme):
    window = visitor("homeowner", size=size, scheme=scheme)
    for name, path in (
        ("drains", f"/drains/{made.cast.property.uid}/"),
        ("visits", f"/drains/{made.cast.property.uid}/visits/"),
        ("offered", f"/drains/visits/{made.offered.uid}/"),
        ("agreed", f"/drains/visits/{made.agreed.uid}/"),
        ("done", f"/drains/visits/{made.done.uid}/"),
        ("messages", "/drains/messages/"),
        ("calendar", "/drains/calendar/"),
    ):
        window.go(path)
        window.shot(f"home-{name}")


@pytest.mark.parametrize(("size", "scheme"), WINDOWS)
def test_every_page_before_the_door(visitor, made, size, scheme):
    window = visitor("nobody", size=size, scheme=scheme)
    stop = links.unsubscribe_address(made.cast.homeowner.uid, "day_before").partition("8000")[2]
    for name, path, status in (
        ("link", f"/home/{home_link(made.cast.homeowner)}/", 200),
        ("link-old", "/home/slh_000000000000_AAAA/", 410),
        ("new-link", "/home/new-link/", 200),
        ("stop", stop, 200),
        ("which", f"/v/{made.agreed.uid}/", 200),
    ):
        window.go(path, status=status)
        window.shot(f"door-{name}")


def test_from_the_mail_to_an_agreed_day(visitor, made):
    """The path a person takes: the link in the mail, the button, the days, one of them, and it is agreed."""
    window = visitor("nobody")
    page = window.go(f"/home/{home_link(made.cast.homeowner)}/")
    page.get_by_role("button", name="Open my page").click()
    page.get_by_role("heading", name="7 Cistern Row").wait_for()
    assert "slh_" not in page.url
    page.get_by_role("link", name="See the days").click()
    page.get_by_label("Friday, 15 May").check()
    page.get_by_role("button", name="This day suits me").click()
    expect(page.get_by_role("status")).to_have_text("Thank you. The day is agreed.")
    window.check("the agreed visit")
    window.shot("home-just-agreed")
    visit = Visit.objects.get(pk=made.offered.pk)
    assert (visit.state, str(visit.local_date)) == ("agreed", "2026-05-15")


def test_a_new_link_by_mail_opens_the_page(visitor, made):
    window = visitor("nobody")
    page = window.go("/home/slh_000000000000_AAAA/", status=410)
    page.get_by_label("Your e-mail address").fill(made.cast.homeowner.email)
    page.get_by_role("button", name="Mail me a new link").click()
    page.get_by_role("heading", name="Look into your mail").wait_for()
    window.check("link sent")
    assert reminders.send_due(act=by_system("outbox", at=AT)) == 1
    secret = mail.outbox[-1].body.split("/home/")[1].split("/")[0]
    page = window.go(f"/home/{secret}/")
    page.get_by_role("button", name="Open my page").click()
    page.get_by_role("heading", name="7 Cistern Row").wait_for()


def test_own_task_another_day_and_words_to_the_office(visitor, made):
    window = visitor("homeowner")
    page = window.go(f"/drains/{made.cast.property.uid}/")
    page.get_by_role("button", name="Mark done").first.click()
    expect(page.get_by_role("status").first).to_contain_text("Noted.")
    assert TaskDone.objects.filter(by=f"customer:{made.cast.homeowner.uid}").count() == 1
    page.get_by_label("What have you seen").fill("The lid by the door rocks.")
    page.get_by_role("button", name="Send to the office").click()
    expect(page.get_by_role("status").first).to_contain_text("The office reads it")
    page = window.go(f"/drains/visits/{made.agreed.uid}/")
    page.get_by_label("Which days would suit you?").fill("Any Monday")
    page.get_by_role("button", name="Ask for another day").click()
    expect(page.get_by_role("status").first).to_contain_text("call you about another day")
    window.check("another day asked")
    assert set(CallToMake.objects.values_list("note", flat=True)) == {"The lid by the door rocks.", "Any Monday"}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_calendar_address_is_made_and_ended(visitor, made, scheme):
    window = visitor("homeowner", scheme=scheme)
    page = window.go("/drains/calendar/")
    page.get_by_label("A name for it").fill("my phone")
    page.get_by_role("button", name="Make an address").click()
    address = page.get_by_label("Or copy the address").input_value()
    assert address.endswith(".ics")
    page.get_by_text("How to add it").click()
    window.check("new calendar address")
    window.shot("home-calendar-new")
    page.get_by_role("button", name="End it").click()
    expect(page.get_by_role("status")).to_contain_text("ended")
    assert Feed.objects.get().revoked_at == AT


def test_messages_and_stop(visitor, made):
    window = visitor("homeowner")
    page = window.go("/drains/messages/")
    page.get_by_label("The day before the visit").uncheck()
    page.get_by_role("button", name="Keep this").click()
    expect(page.get_by_role("status")).to_have_text("Kept.")
    assert MessageChoice.objects.get(kind="day_before").wanted is False
    stop = links.unsubscribe_address(made.cast.homeowner.uid, "visit_done").partition("8000")[2]
    page = window.go(stop)
    page.get_by_role("button", name="Stop them").click()
    page.get_by_role("heading", name="Stopped").wait_for()
    window.check("stopped")
    assert MessageChoice.objects.get(kind="visit_done").wanted is False


def test_by_keyboard_alone(visitor, made):
    """Skip link first, then every link and button can be reached and the focus is seen."""
    window = visitor("homeowner")
    page = window.go(f"/drains/visits/{made.offered.uid}/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.type") == "radio":
            break
    page.keyboard.press("Space")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_have_text("Thank you. The day is agreed.")


def test_several_properties(visitor, made):
    PropertyRoleFactory(customer=made.cast.homeowner, property=PropertyFactory(address="12 Second Place"))
    window = visitor("homeowner")
    page = window.go("/drains/")
    window.shot("home-choose")
    page.get_by_role("link", name="12 Second Place").click()
    page.get_by_role("heading", name="12 Second Place").wait_for()
    window.check("a property with nothing recorded")
    window.shot("home-nothing")
