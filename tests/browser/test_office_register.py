"""The register's pages in a real browser: at desk and phone width, light and dark, and one part changed by hand."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from core.act import by_system
from maintenance import rating
from tests.factories import AT

pytestmark = [pytest.mark.chromium, pytest.mark.serial, pytest.mark.django_db(transaction=True)]
WINDOWS = [("phone", "light"), ("phone", "dark"), ("desk", "light"), ("desk", "dark")]


@pytest.fixture
def pages(made) -> dict[str, str]:
    """Every page of the register by name."""
    prop = made.cast.property
    rating.rate_properties(act=by_system("test", at=AT), property_ids=[prop.pk])
    part = prop.components.filter(retired_on=None).exclude(tag="").order_by("id").first()
    at = {"properties": [], "property_add": [], "area_add": [], "import_register": []}
    of_part = ("component", "component_change", "component_replace", "component_retire")
    of_property = (
        *("property", "property_history", "property_change", "person_add", "hazard_add", "job_add", "system_add"),
        *("layout_add", "component_add", "connection_add", "drainage_area_add", "photo_add"),
    )
    at |= {name: [part.uid] for name in of_part} | {name: [prop.uid] for name in of_property}
    return {name: reverse(f"pages:{name}", args=args) for name, args in at.items()}


@pytest.mark.parametrize(("size", "scheme"), WINDOWS)
def test_every_page_is_whole_readable_and_quiet(visitor, pages, size, scheme):
    someone = visitor("office", size=size, scheme=scheme)
    for name, path in pages.items():
        someone.go(path)
        someone.check(name)
        someone.shot(f"register-{name}-{size}-{scheme}")


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
