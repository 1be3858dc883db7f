"""Crew pages in a real browser: the sheet, the visit, the closeout; large enough for wet hands."""

import pytest
from playwright.sync_api import expect

from core.models import History
from maintenance.models import Closeout, Reading
from tests.browser.made_company import picture

pytestmark = [pytest.mark.chromium, pytest.mark.serial, pytest.mark.django_db(transaction=True)]
WINDOWS = [("phone", "light"), ("phone", "dark"), ("desk", "light"), ("desk", "dark")]


@pytest.mark.parametrize(("size", "scheme"), WINDOWS)
def test_every_page(visitor, made, size, scheme):
    window = visitor("crew", size=size, scheme=scheme)
    for name, path in (
        ("day", "/crew/"),
        ("empty-day", "/crew/day/2026-05-05/"),
        ("visit", f"/crew/visits/{made.agreed.uid}/"),
        ("closeout", f"/crew/visits/{made.agreed.uid}/closeout/"),
        ("place", f"/crew/properties/{made.cast.property.uid}/"),
        ("find", "/crew/find/?q=cistern"),
    ):
        window.go(path)
        window.shot(f"crew-{name}")


def test_buttons_are_large_enough_and_text_is_19_px(visitor, made):
    """60 px targets, common practice for gloves, no source; WCAG 2.2 2.5.8 asks for 24 px at least."""
    window = visitor("crew")
    page = window.go(f"/crew/visits/{made.agreed.uid}/closeout/")
    assert page.evaluate("getComputedStyle(document.body).fontSize") == "19px"
    small = page.evaluate(
        """() => [...document.querySelectorAll("main button, main .choice label, main select, main input[type=number]")]
        .filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 60).map(e => e.outerHTML.slice(0, 80))"""
    )
    assert small == []


def test_a_day_of_work(visitor, made, tmp_path):
    """Sheet, visit, gate code, begun, closed with depth, grade, photo; the sheet says so afterwards."""
    window = visitor("crew")
    page = window.go("/crew/")
    page.get_by_role("link", name="7 Cistern Row").click()
    assert page.get_by_text("4711#").count() == 0
    page.get_by_role("button", name="Show the gate code").click()
    expect(page.get_by_text("4711#")).to_be_visible()
    window.check("gate code shown")
    window.shot("crew-gate-code")
    assert History.objects.filter(action="gate_code_shown").count() == 1
    page.get_by_role("button", name="I am there").click()
    expect(page.get_by_role("status")).to_contain_text("Begun.")
    page.get_by_role("link", name="Close this visit").click()
    page.get_by_role("button", name="Finish this visit").click()
    expect(page.get_by_role("alert")).to_contain_text("Not sent yet")
    window.wrong.clear()  # the console tells the 422
    window.check("closeout with lines to fill in")
    window.shot("crew-closeout-problems")
    photo = tmp_path / "after.jpg"
    photo.write_bytes(picture("#b4b3a8", "after"))
    page.get_by_label("Silt depth found, before cleaning").first.fill("3.5")
    for group in page.locator("fieldset").all():
        group.get_by_label("done", exact=True).or_(group.get_by_label("Yes", exact=True)).first.check()
    page.get_by_label("After", exact=True).set_input_files(str(photo))
    page.get_by_role("button", name="Finish this visit").click()
    expect(page.get_by_role("status")).to_contain_text("The visit is closed.")
    window.check("closed")
    closeout = Closeout.objects.get(visit=made.agreed)
    assert closeout.lids_fastened
    assert Reading.objects.get(closeout=closeout, code="silt_depth_in").value == 3.5
    page = window.go("/crew/")
    assert "done" in page.locator("section", has_text="7 Cistern Row").inner_text()


def test_the_sheet_prints_black_on_white_without_navigation(visitor, made):
    window = visitor("crew", size="desk", scheme="dark")
    page = window.go("/crew/")
    page.emulate_media(media="print", color_scheme="light")
    assert not page.get_by_role("link", name="Find").is_visible()
    assert page.get_by_role("link", name="7 Cistern Row").is_visible()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    window.shot("crew-print")


def test_signing_in_with_a_password_leads_to_the_sheet(visitor, made):
    window = visitor("nobody")
    page = window.go("/sign-in/")
    window.shot("sign-in")
    page.get_by_label("User name").fill(made.cast.crew.username)
    page.get_by_label("Password").fill("correct horse battery")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Monday, 4 May").wait_for()
    page.get_by_role("button", name="Sign out").click()
    page.get_by_role("heading", name="Sign in").wait_for()
