"""The office's desk in a real browser: at desk and phone width, light and dark, by mouse and by keyboard."""

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from core import health
from maintenance.models import CallToMake, Rule, Visit
from maintenance.propose import propose_visits
from tests.factories import (
    AT,
    TODAY,
    CallToMakeFactory,
    CloseoutFlagFactory,
    FeedFactory,
    MessageFactory,
    RuleOverrideFactory,
    ServiceAgreementFactory,
)

pytestmark = [pytest.mark.chromium, pytest.mark.serial, pytest.mark.django_db(transaction=True)]
WINDOWS = [("phone", "light"), ("phone", "dark"), ("desk", "light"), ("desk", "dark")]


@pytest.fixture
def desk(made) -> dict[str, str]:
    """The made company with something on every page of the desk; name -> path."""
    cast = made.cast
    propose_visits(act=cast.act("office"))
    health.beat("worker", at=AT)
    health.beat("scheduler", at=AT - timedelta(hours=5))
    CallToMakeFactory(property=cast.property, customer=cast.homeowner, note="Any Monday", visit=made.offered)
    sides = {"first": {"outcome": "done", "by": "Ada"}, "second": {"outcome": "not_looked_at", "by": "Bo"}}
    CloseoutFlagFactory(
        code="task_twice", words="Clean CB-1 was reported twice.", sides=sides, received__visit=made.done
    )
    unknown = MessageFactory(
        state="unknown",
        last_error="The line broke while sending.",
        holder_uid=cast.homeowner.uid,
        property_uid=cast.property.uid,
        visit_uid=made.agreed.uid,
    )
    agreement = ServiceAgreementFactory(property=cast.property, customer=cast.homeowner)
    FeedFactory(user=cast.crew, kind="technician", label="van")
    rule = Rule.objects.get(code="catch_basin_half")
    RuleOverrideFactory(rule=rule, property=cast.property, numbers={"limit_fill": 0.4}, why="Under a willow")
    proposed = Visit.objects.filter(state="proposed").first()
    return {
        "due": "/due/",
        "week": f"/week/?start={TODAY}",
        "visits": "/visits/",
        "visit-proposed": f"/visits/{proposed.uid}/" if proposed else f"/visits/{made.offered.uid}/",
        "visit-agreed": f"/visits/{made.agreed.uid}/",
        "visit-done": f"/visits/{made.done.uid}/",
        "messages": "/messages/",
        "message": f"/messages/{unknown.uid}/",
        "calls": "/calls/",
        "reviews": "/reviews/",
        "rules": "/rules/",
        "rule": f"/rules/{rule.uid}/",
        "rule-add": "/rules/add/?kind=outfall&task=look&basis=calendar",
        "override": f"/rules/{rule.uid}/override/{cast.property.uid}/",
        "company": "/company/",
        "tokens": "/company/tokens/",
        "feeds": "/company/feeds/",
        "refresh": "/refresh/",
        "rain": "/rain/",
        "storms": "/storms/",
        "agreements": "/agreements/",
        "agreement": f"/agreements/{agreement.uid}/",
    }


@pytest.mark.parametrize(("size", "scheme"), WINDOWS)
def test_every_page(visitor, desk, size, scheme):
    window = visitor("office", size=size, scheme=scheme)
    for name, path in desk.items():
        window.go(path)
        window.shot(f"desk-{name}")


def test_from_what_is_due_to_a_day_offered(visitor, desk):
    """Tick a line, propose, open the visit it stands on, offer days: by the labels a reader hears."""
    window = visitor("office", size="desk")
    page = window.go("/due/")
    page.get_by_label("Choose 7 Cistern Row").first.check()
    page.get_by_role("button", name="Propose visits for the chosen").click()
    page.get_by_role("status").wait_for()
    page = window.go(desk["visit-proposed"])
    page.get_by_role("button", name="Offer these days").click()
    expect(page.get_by_role("status")).to_contain_text("The days are offered")
    window.check("offered")
    assert Visit.objects.filter(state="offered").count() == 2


def test_calling_off_needs_a_tick_and_a_reason(visitor, made, desk):
    window = visitor("office")
    page = window.go(desk["visit-agreed"])
    page.get_by_label("Why (the homeowner reads it)").fill("The van broke down.")
    page.get_by_role("button", name="Call it off").click()
    assert Visit.objects.get(pk=made.agreed.pk).state == "agreed"
    page.get_by_label("Yes, nobody comes").check()
    page.get_by_role("button", name="Call it off").click()
    expect(page.get_by_role("status")).to_contain_text("called off")
    window.check("called off")
    assert Visit.objects.get(pk=made.agreed.pk).called_off_why == "The van broke down."


def test_a_line_of_the_week_is_moved(visitor, made, desk):
    window = visitor("office", size="desk")
    page = window.go(desk["week"])
    page.get_by_label("Move to..., 7 Cistern Row").first.click()
    form = page.locator("details[open] form")
    form.get_by_label("Day", exact=True).fill(str(TODAY + timedelta(days=1)))
    form.get_by_label("Number in the day").fill("1")
    form.get_by_role("button", name="Move").click()
    expect(page.get_by_role("status")).to_contain_text("number 1")
    window.check("moved")
    assert Visit.objects.get(pk=made.agreed.pk).local_date == TODAY + timedelta(days=1)


def test_errors_stand_above_and_lead_to_their_fields(visitor, desk):
    window = visitor("office", size="desk")
    page = window.go(desk["rule"])
    page.get_by_label("Clean at [fill]").fill("7")
    page.get_by_role("button", name="Keep as a new version").click()
    problems = page.get_by_role("alert")
    problems.wait_for()
    window.wrong = [said for said in window.wrong if "status of 422" not in said]
    window.check("refused")
    window.shot("desk-refused")
    problems.get_by_role("link").first.click()
    assert page.evaluate("location.hash") == "#id_n_limit_fill"


def test_a_feed_is_shown_once(visitor, desk):
    window = visitor("office")
    page = window.go("/company/feeds/")
    page.get_by_label("Whose visits").select_option(label="the whole company")
    page.get_by_role("button", name="Make an address").click()
    assert page.get_by_label("Or copy the address").input_value().endswith(".ics")
    window.check("new feed")
    window.shot("desk-feed-new")


def test_by_keyboard_alone(visitor, desk):
    """The skip link, then the form of a call: filled and sent without a mouse."""
    window = visitor("office", size="desk")
    page = window.go("/calls/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    for _ in range(10):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name") == "note":
            break
    page.keyboard.type("Comes on Monday")
    page.keyboard.press("Tab")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Ticked")
    assert CallToMake.objects.get().told_at == AT


def test_works_without_javascript_because_it_has_none(visitor, desk):
    window = visitor("office", size="desk")
    for path in desk.values():
        assert window.go(path).locator("script").count() == 0, path
