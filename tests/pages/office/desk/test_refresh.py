"""The page of the nightly refresh: how far, by whom, stopped and going on; the office's alone."""

from datetime import timedelta

import pytest

from maintenance import refresh_run
from maintenance.models import RefreshRun
from tests.factories import AT, RefreshPieceFactory, RefreshRunFactory
from tests.maintenance.refresh.yards import many, set_up

pytestmark = pytest.mark.django_db


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


def begun() -> RefreshRun:
    """Half done: 4 of 10 properties gone through, one piece in hand, begun by the server ten minutes ago."""
    run = RefreshRunFactory(
        state="running", open=1, finished_at=None, properties=10, started_at=AT - timedelta(minutes=10)
    )
    RefreshPieceFactory(run=run, number=1, properties=4, computed=3, done_at=AT)
    RefreshPieceFactory(run=run, number=2, properties=4, lease_until=AT + timedelta(minutes=1))
    RefreshPieceFactory(run=run, number=3, properties=2)
    return run


def test_nothing_under_way(text_of):
    text = text_of("/refresh/")
    assert "Nothing is under way. It begins by itself at night." in text
    assert "None yet." in text


def test_progress_in_words_and_as_a_bar(text_of):
    begun()
    text = text_of("/refresh/")
    assert "4 of 10 properties gone through" in text
    assert '<progress id="far" value="4" max="10">' in text
    assert "3 needed computing so far. 2 pieces are left, 1 in hand." in text
    assert "by the server" in text
    assert "open for 10 minutes" in text


def test_it_is_stopped_and_goes_on(office):
    run = begun()
    answer = office.post(f"/refresh/{run.uid}/", {"stop": "1"}, follow=True)
    assert "What is in hand is finished" in words(answer)
    assert "dates of properties without news stay" in words(answer)
    run.refresh_from_db()
    assert run.state == "stopped"
    answer = office.post(f"/refresh/{run.uid}/", {"resume": "1"}, follow=True)
    assert "It goes on where it stopped." in words(answer)
    run.refresh_from_db()
    assert run.state == "running"
    assert office.post(f"/refresh/{run.uid}/", {}).status_code == 422


def test_one_that_is_over_is_told_so(office):
    answer = office.post(f"/refresh/{RefreshRunFactory().uid}/", {"stop": "1"})
    assert answer.status_code == 409
    assert "This refresh is over: begin another one." in words(answer)


def test_a_person_begins_one_and_it_says_who(office, cast):
    set_up()
    many(3, 2)
    answer = office.post("/refresh/", follow=True)
    assert "Begun: the workers take it from here." in words(answer)
    run = RefreshRun.objects.get()
    assert run.properties == 5
    assert run.started_by.startswith("user:")
    office.post("/refresh/")
    assert RefreshRun.objects.count() == 1
    while refresh_run.step(act=cast.act("office")):
        pass
    text = words(office.get("/refresh/"))
    assert "5 of 5, 5 computed" in text
    assert f"<td>{run.started_by_name}</td>" in text
    assert "0 of " in text
    assert "groups speak for themselves" in text


def test_what_was_given_up_is_told(text_of):
    RefreshPieceFactory(properties=100, done_at=AT, failed="OSError: the disk is full")
    text = text_of("/refresh/")
    assert "100 properties: OSError: the disk is full" in text
    assert "1 piece failed" in text
