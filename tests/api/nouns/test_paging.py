"""Lists in pages by cursor: every row once, while rows come and go between two pages."""

import pytest

from core.models import Message
from jobs.models import Customer
from tests.factories import CustomerFactory, DueWindowFactory, MessageFactory, PropertyFactory

pytestmark = pytest.mark.django_db


def walk(caller, path: str, *, between=lambda: None) -> list[dict]:
    """All rows of a list, page by page."""
    rows, pages = [], 0
    while path:
        body = caller.get(path).json()
        assert set(body) == {"next", "results"}
        rows += body["results"]
        path, pages = (body["next"] or "").removeprefix("http://testserver/api/v1"), pages + 1
        assert pages < 30
        between()
    return rows


def test_every_row_comes_once_and_the_last_page_says_so(office):
    made = {str(CustomerFactory().uid) for _ in range(7)}
    known = {str(uid) for uid in Customer.objects.values_list("uid", flat=True)}
    for size in (1, 2, 3, 200):
        seen = [row["uid"] for row in walk(office, f"/customers/?page_size={size}")]
        assert len(seen) == len(set(seen))
        assert set(seen) == known >= made


def test_the_page_length_is_kept(office):
    for _ in range(5):
        CustomerFactory()
    assert len(office.get("/customers/?page_size=2").json()["results"]) == 2
    assert office.get("/customers/?page_size=200").json()["next"] is None


def test_rows_that_come_and_go_meanwhile_neither_repeat_nor_hide_others(office):
    """A page by number would lose a row for each one that went before it."""
    made = [CustomerFactory() for _ in range(8)]
    first = {str(row.uid) for row in made[:2]}
    gone = list(made[:2])

    def change():
        CustomerFactory()
        if gone:
            gone.pop().delete()

    seen = [row["uid"] for row in walk(office, "/customers/?page_size=2", between=change)]
    assert len(seen) == len(set(seen))
    assert {str(row.uid) for row in made[2:]} <= set(seen)
    assert first <= {str(row.uid) for row in made}


def test_some_lists_are_newest_first(office):
    for _ in range(5):
        MessageFactory()
    seen = [row["uid"] for row in walk(office, "/messages/?page_size=2")]
    assert seen == [str(uid) for uid in Message.objects.order_by("-id").values_list("uid", flat=True)]


def test_due_windows_come_in_the_order_of_their_best_day(office):
    """Days repeat: the key breaks the tie."""
    for _ in range(5):
        DueWindowFactory()
    rows = walk(office, "/due-windows/?page_size=2")
    assert len({row["component"] for row in rows}) == 5
    assert [row["best_on"] for row in rows] == sorted(row["best_on"] for row in rows)


def test_a_filter_goes_along_to_the_next_page(office):
    for number in range(6):
        CustomerFactory(kind="association" if number % 2 else "person")
    rows = walk(office, "/customers/?page_size=1&kind=association")
    assert len(rows) == 3
    assert {row["kind"] for row in rows} == {"association"}


def test_a_cursor_of_one_order_is_refused_in_another(office):
    for _ in range(3):
        PropertyFactory(address="9 Sluice Road")
    cursor = office.get("/search/?q=sluice&page_size=1").json()["next"].split("cursor=")[1].split("&")[0]
    answer = office.get(f"/customers/?cursor={cursor}")
    assert answer.status_code == 422
