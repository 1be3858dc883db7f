"""The page the API is read by, in a real browser: drawn from our own description, nothing asked elsewhere."""

import pytest
from playwright.sync_api import expect

pytestmark = [pytest.mark.chromium, pytest.mark.serial, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_the_description_is_drawn_without_a_word_in_the_console(visitor, size):
    """The viewer comes from a package: its widths and contrasts are its own, so that axe is not asked here."""
    window = visitor("nobody", size=size)
    answer = window.page.goto(f"{window.base}/api/v1/docs/")
    assert answer is not None
    assert answer.status == 200
    expect(window.page.locator("#operations-areas-areas_list")).to_be_visible()
    expect(window.page.get_by_role("heading", name="Siltline API")).to_be_visible()
    window.page.locator("section.models").scroll_into_view_if_needed()  # it draws what is in sight
    expect(window.page.locator("#operations-visits-visits_propose_due_create")).to_be_visible()
    assert window.wrong == []
    window.shot("api-docs")


def test_a_signed_in_person_can_try_an_operation(visitor, made):
    """The session and its CSRF token go along: a visit to the office's own areas answers on the page."""
    window = visitor("office", size="desk")
    window.page.goto(f"{window.base}/api/v1/docs/")
    operation = window.page.locator("#operations-areas-areas_list")
    operation.get_by_role("button").first.click()
    operation.get_by_role("button", name="Try it out").click()
    operation.get_by_role("button", name="Execute").click()
    expect(operation.locator(".live-responses-table td.response-col_status", has_text="200")).to_be_visible()
    assert window.wrong == []
