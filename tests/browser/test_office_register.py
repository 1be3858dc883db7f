"""The register's pages in a real browser: at desk and phone width, light and dark, by keyboard and without scripts."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from playwright.sync_api import expect

from core.act import by_system
from jobs.change_component import change_component
from jobs.models import Component, Hazard, Property
from jobs.photos import add_photo
from jobs.register import change_property
from jobs.replace_component import replace_component
from maintenance import rating, refresh
from tests.browser.made_company import picture
from tests.factories import AT, JobFactory, ServiceAgreementFactory

pytestmark = [pytest.mark.chromium, pytest.mark.serial, pytest.mark.django_db(transaction=True)]
WINDOWS = [("phone", "light"), ("phone", "dark"), ("desk", "light"), ("desk", "dark")]


PLACES = {
    "CH-1": [[0, -5], [24, -5]],
    "SB-1": [[26, -6]],
    "CV-1": [[28, -6]],
    "DL-1": [[70, -22], [29, -6]],
    "OF-1": [[71, -23]],
}


def draw(prop: Property) -> None:
    """Give the yard its house and most of its parts their places."""
    act = by_system("test", at=AT - timedelta(days=2))
    plan = {"house": [[0, 0], [40, 0], [40, 18], [28, 18], [28, 26], [0, 26]], "north_deg": 15}
    change_property(act=act, property=prop, revision=Property.objects.get(pk=prop.pk).revision, plan=plan)
    for part in prop.components.filter(tag__in=PLACES):
        change_component(act=act, component=part, revision=part.revision, place=PLACES[part.tag], cover_in=14.0)


@pytest.fixture
def pages(made) -> dict[str, str]:
    """Every page of the register by name, at a yard with something of everything."""
    prop = made.cast.property
    act = by_system("test", at=AT)
    draw(prop)
    pump = prop.components.get(kind="pump", retired_on=None)
    replace_component(act=act, component=pump, on=AT.date(), reason="would not start", name="1/2 hp effluent pump")
    part = prop.components.get(tag="CH-1")
    add_photo(act=act, property=prop, data=picture("#b4b3a8", "CH-1, invented"), component=part, caption="The channel")
    job, area = JobFactory(property=prop), prop.drainage_areas.first()
    ServiceAgreementFactory(property=prop, customer=made.cast.homeowner)
    rating.rate_properties(act=act, property_ids=[prop.pk])
    refresh.refresh_property(act=act, property_id=prop.pk)
    of_part = ("component", "component_change", "component_replace", "component_retire", "component_history")
    of_property = (
        *("property", "property_history", "property_change", "person_add", "hazard_add", "job_add", "system_add"),
        *("layout_add", "component_add", "connection_add", "drainage_area_add", "photo_add", "plan_change"),
        "property_close",
    )
    at = {"properties": [], "property_add": [], "area_add": [], "import_register": []}
    at |= {name: [part.uid] for name in of_part} | {name: [prop.uid] for name in of_property}
    at |= {name: [prop.hazards.first().uid] for name in ("hazard_change", "hazard_gone")}
    at |= {name: [job.uid] for name in ("job_change", "job_move")}
    at |= {name: [area.uid] for name in ("drainage_area_change", "drainage_area_remove")}
    at |= {name: [made.cast.role.uid] for name in ("role_change", "role_end")}
    at |= {
        "customer_change": [made.cast.homeowner.uid],
        "connection_remove": [prop.connections.first().uid],
        "system_change": [made.patio.uid],
    }
    return {name: reverse(f"pages:{name}", args=args) for name, args in at.items()}


@pytest.mark.parametrize(("size", "scheme"), WINDOWS)
def test_every_page_is_whole_readable_and_quiet(visitor, pages, size, scheme):
    someone = visitor("office", size=size, scheme=scheme)
    for name, path in pages.items():
        someone.go(path)
        someone.shot(f"register-{name}")


def test_a_part_is_found_and_changed_by_keyboard(visitor, made, pages):
    someone = visitor("office", size="desk")
    page = someone.page
    someone.go("/properties/")
    page.get_by_label("Address, name, tag or phone").fill("cistern")
    page.keyboard.press("Enter")
    page.get_by_role("link", name=made.cast.property.address).first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text(made.cast.property.address)
    someone.go(pages["component_change"])
    page.get_by_label("Note").fill("lid is heavy: two people")
    page.get_by_label("Note").press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_text("The part is changed")).to_be_visible()
    part = made.cast.property.components.filter(note="lid is heavy: two people")
    assert part.count() == 1


def test_a_bad_size_is_said_and_kept(visitor, pages):
    someone = visitor("office", size="phone")
    page = someone.page
    someone.go(pages["property_change"])
    page.get_by_label("Latitude").fill("north")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_role("alert")).to_contain_text("north")
    expect(page.get_by_label("Latitude")).to_have_value("north")


def test_the_plan_is_drawn_and_says_the_same_in_words(visitor, made, pages):
    someone = visitor("office", size="desk", scheme="dark")
    page = someone.go(pages["property"])
    plan = page.get_by_role("img", name="Plan of what is buried")
    expect(plan).to_be_visible()
    box = plan.bounding_box()
    assert box is not None
    assert box["width"] > 500
    drawn = page.locator(".plan .node .name").all_text_contents()
    assert {"SB-1", "CV-1", "OF-1"} <= set(drawn)
    expect(page.get_by_text("Not drawn, no position")).to_be_visible()
    summary = page.get_by_text("Where each part lies, in words")
    summary.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("cell", name="26 ft east, 6 ft south")).to_be_visible()
    assert page.locator(".plan text").evaluate_all(
        "all => all.every(one => getComputedStyle(one).fill !== 'rgb(0, 0, 0)')"
    ), "nothing black upon black"
    someone.check("plan unfolded")


def test_hazards_come_first_and_one_is_recorded_corrected_and_gone(visitor, made, pages):
    someone = visitor("office", size="phone")
    page = someone.go(pages["property"])
    assert page.locator("main h2").first.inner_text() == "Hazards"
    page.get_by_role("link", name="Record a hazard").click()
    page.get_by_label("What").select_option("gas")
    page.get_by_label("Note").fill("to the grill")
    page.get_by_label("Depth").fill("nine")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_role("alert")).to_contain_text("nine")
    someone.wrong.clear()  # the console tells of the 422
    page.get_by_role("alert").get_by_role("link").click()
    assert page.evaluate("document.activeElement.name") == "depth_in", "the summary leads to the field"
    page.get_by_label("Depth").fill("9")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_role("status")).to_contain_text("every visit and drawing shows it")
    assert Hazard.objects.get(kind="gas").depth_in == 9
    page.get_by_role("link", name="The hazard is gone: gas line").click()
    page.get_by_label("How do you know?").fill("capped and dug out")
    page.get_by_label("Yes, it is gone").check()
    page.get_by_role("button", name="It is gone").click()
    expect(page.get_by_role("status")).to_contain_text("The hazard is gone")
    assert Hazard.objects.get(kind="gas").gone_at is not None
    someone.check("after all")


def test_both_versions_of_a_part_changed_by_two_stand_side_by_side(visitor, pages, made):
    mine, theirs = visitor("office", size="desk"), visitor("office", size="phone")
    for someone in (mine, theirs):
        someone.go(pages["component_change"])
    theirs.page.get_by_label("Note").fill("grates are bolted down")
    theirs.page.get_by_role("button", name="Keep").click()
    expect(theirs.page.get_by_role("status")).to_contain_text("changed")
    mine.page.get_by_label("Note").fill("grates lift by hand")
    mine.page.get_by_role("button", name="Keep").click()
    rows = mine.page.get_by_role("row", name="Note")
    expect(rows).to_contain_text("grates lift by hand")
    expect(rows).to_contain_text("grates are bolted down")
    mine.wrong.clear()  # the console tells of the 412
    mine.check("two versions")
    mine.shot("register-two-versions")
    mine.page.get_by_role("button", name="Keep").click()
    expect(mine.page.get_by_role("status")).to_contain_text("changed")
    assert Component.objects.get(tag="CH-1").note == "grates lift by hand"


def test_a_whole_system_is_made_without_any_script(chromium, live_server, made):
    """No page of the register needs a script."""
    client = Client()
    client.force_login(made.cast.office, "django.contrib.auth.backends.ModelBackend")
    context = chromium.new_context(java_script_enabled=False)
    cookie = {"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}
    context.add_cookies([cookie])
    page = context.new_page()
    page.goto(live_server.url + reverse("pages:property", args=[made.cast.strangers_property.uid]))
    expect(page.get_by_text("Nothing is recorded here.")).to_be_visible()
    page.get_by_label("A whole system from six numbers").select_option("french_dry_well")
    page.get_by_role("button", name="Begin from it").click()
    page.get_by_label("French drain length").fill("62")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_role("status")).to_contain_text("starting layout")
    drain = made.cast.strangers_property.components.get(kind="french_drain")
    assert drain.dimensions["length_ft"] == 62
    context.close()


def test_the_yard_prints_without_what_only_a_screen_needs(visitor, pages):
    someone = visitor("office", size="desk", scheme="dark")
    page = someone.go(pages["property"])
    page.emulate_media(media="print", color_scheme="light")
    expect(page.locator("nav.top")).to_be_hidden()
    expect(page.get_by_role("link", name="Record a hazard")).to_be_hidden()
    expect(page.get_by_role("img", name="Plan of what is buried")).to_be_visible()
    assert page.evaluate("getComputedStyle(document.querySelector('.plan .course')).stroke") == "rgb(29, 92, 128)"


def test_a_file_is_read_first_and_its_problems_told(visitor, made, pages, tmp_path):
    file = tmp_path / "yards.csv"
    file.write_text(
        "address,kind,tag,inside_width_in\n3 Made-up Row,channel_run,CH-1,4\n3 Made-up Row,channel_run,CH-2,400\n"
    )
    someone = visitor("office", size="phone")
    page = someone.go(pages["import_register"])
    page.get_by_label("File").set_input_files(str(file))
    page.get_by_role("button", name="Read the file").click()
    expect(page.get_by_text("row 3, column inside_width_in")).to_be_visible()
    assert not Property.objects.filter(address="3 Made-up Row").exists()
    someone.check("a file with a problem")
    someone.shot("register-import-problem")
