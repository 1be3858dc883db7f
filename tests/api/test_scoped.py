"""A noun that does not say who may see it does not start; answers stay with the one who asked."""

import pytest
from django.core.exceptions import ImproperlyConfigured

from api.scoped import Noun
from core import tokens
from core.act import by_system
from jobs.models import Area
from tests.api.world import everything_at
from tests.factories import OfficeFactory, PropertyFactory


def test_a_noun_without_a_selector_does_not_start():
    with pytest.raises(ImproperlyConfigured, match="names no visible_to"):

        class Open(Noun):
            model = Area


def test_a_noun_without_a_model_does_not_start():
    with pytest.raises(ImproperlyConfigured, match="names no model"):

        class Nothing(Noun):
            visible_to = staticmethod(lambda act: Area.objects.all())


@pytest.mark.django_db
def test_no_cache_between_keeps_an_answer_and_pictures_come_to_whoever_accepts_pictures(client):
    _, secret = tokens.issue(act=by_system("test"), kind="api", label="test", user=OfficeFactory())
    ways = {"authorization": f"Bearer {secret}"}
    photo = everything_at(PropertyFactory())["photos"]
    for path in ("me", "settings", "visits", "route-sheets/2026-05-04", f"photos/{photo.uid}"):
        answer = client.get(f"/api/v1/{path}/", headers=ways)
        assert answer.status_code == 200
        assert answer["Cache-Control"] in ("private, no-cache", "no-store")
    picture = client.get(f"/api/v1/photos/{photo.uid}/file/", headers={**ways, "accept": "image/jpeg"})
    assert picture["Content-Type"] == "image/jpeg"
    assert picture.content.startswith(b"\xff\xd8\xff")
    refused = client.get("/api/v1/photos/", headers={**ways, "accept": "text/html"})
    assert refused.status_code == 406
    assert refused["Content-Type"] == "application/problem+json"
