"""One-click unsubscribe: RFC 8058 3.1 and 3.2, RFC 2369 3.2."""

import pytest
from django.test import Client

from core.models import Message
from maintenance.messages import links
from maintenance.models import MessageChoice
from tests.factories import MessageFactory, OfficeFactory


@pytest.fixture
def path(cast) -> str:
    return links.unsubscribe_address(cast.homeowner.uid, "day_before").partition("8000")[2]


def test_get_and_head_change_nothing(path):
    client = Client()
    assert client.get(path).status_code == 200
    assert client.head(path).status_code == 200
    assert not MessageChoice.objects.exists()


@pytest.mark.parametrize("body", [{"List-Unsubscribe": "One-Click"}, {}])
def test_post_acts_at_once_without_cookie_token_or_sign_in(path, cast, body):
    waiting = MessageFactory(kind="day_before", holder_uid=cast.homeowner.uid)
    response = Client(enforce_csrf_checks=True).post(path, body)
    assert response.status_code == 200
    choice = MessageChoice.objects.get()
    assert (choice.customer, choice.kind, choice.wanted) == (cast.homeowner, "day_before", False)
    waiting.refresh_from_db()
    assert waiting.state == Message.State.SKIPPED


def test_twice_is_once(path):
    client = Client()
    assert [client.post(path).status_code for _ in range(2)] == [200, 200]
    assert MessageChoice.objects.count() == 1


def test_tampered_is_not_found(path, cast):
    forged = path.replace(path.split("/")[2][:8], "x" * 8)
    unknown_kind = links.unsubscribe_address(cast.homeowner.uid, "nonsense").partition("8000")[2]
    nobody = links.unsubscribe_address(OfficeFactory().uid, "day_before").partition("8000")[2]
    for wrong in (forged, path[:-2] + "/", unknown_kind):
        assert Client().post(wrong).status_code == 404
    assert Client().post(nobody).status_code == 404
    assert not MessageChoice.objects.exists()
