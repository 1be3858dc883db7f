"""Tokens, settings, history, search, photos, and the limit of requests."""

import hashlib
import io
import uuid

import pytest
from PIL import Image
from rest_framework.settings import api_settings
from rest_framework.throttling import SimpleRateThrottle

from api.auth import PersonThrottle
from core import company
from core.models import Token
from tests.api.routes.people import Caller
from tests.factories import AT, ComponentFactory, channel_to_sump

pytestmark = pytest.mark.django_db


def test_a_token_is_shown_once_and_works_until_it_is_revoked(office):
    answer = office.post("/tokens/", {"label": "ledger", "days": 30})
    assert answer.status_code == 201
    assert answer["Cache-Control"] == "no-store"
    made = answer.json()
    other = Caller(made["token"])
    assert other.get("/me/").json()["role"] == "office"
    listed = [row for row in office.get("/tokens/").json()["results"] if row["uid"] == made["uid"]]
    assert listed[0]["label"] == "ledger"
    assert made["token"] not in office.get("/tokens/").content.decode()
    assert not Token.objects.filter(digest__contains=made["token"]).exists()
    assert office.post(f"/tokens/{made['uid']}/revoke/").json()["revoked_at"] is not None
    assert other.get("/me/").status_code == 401


def test_a_token_ends_by_itself(office, monkeypatch):
    from datetime import timedelta

    from core import clock

    made = office.post("/tokens/", {"label": "ledger", "days": 1}).json()
    monkeypatch.setattr(clock, "now", lambda: AT + timedelta(days=1))
    assert Caller(made["token"]).get("/me/").status_code == 401


@pytest.mark.parametrize("days", [0, 367, 1.5, "30", True])
def test_a_token_lives_1_to_366_days(office, days):
    assert office.post("/tokens/", {"label": "ledger", "days": days}).status_code == 422


def test_a_token_of_someone_who_left_ends(cast, office):
    cast.office.is_active = False
    cast.office.save()
    assert office.get("/me/").status_code == 401


def test_settings_are_read_and_changed_by_the_office_alone(office, crew):
    assert office.get("/settings/").json()["answer_days"] == 5
    answer = office.patch("/settings/", {"answer_days": 7, "zone": "America/Denver"})
    assert answer.status_code == 200, answer.content
    assert company.current().answer_days == 7
    assert crew.get("/settings/").status_code == 403


@pytest.mark.parametrize(
    "change",
    [{"zone": "Mars/Olympus"}, {"answer_days": 0}, {"act": 1}, {"leaf_months": [13]}, {"name": "x" * 5000}, []],
)
def test_a_bad_setting_changes_none(office, change):
    body = {**change, "setup_minutes": 30} if isinstance(change, dict) else change
    assert office.patch("/settings/", body).status_code == 422
    assert company.current().setup_minutes == 20


def test_the_history_says_who_did_what_and_never_a_customers_name(cast, office, crew):
    made = office.post("/customers/", {"name": "Nell Osier"}).json()
    office.patch(f"/properties/{cast.property.uid}/", {"gate_code": "4711"}, if_match="*")
    entries = office.get("/history/").json()["results"]
    assert [entry["action"] for entry in entries[:2]] == ["change", "create"]
    assert entries[1]["object"] == made["uid"]
    assert entries[0]["changes"] == {"gate_code": ["changed", "changed"]}
    assert "Osier" not in str(entries)
    assert "4711" not in str(entries)
    seen = crew.get("/history/").json()["results"]
    assert {entry["property"] for entry in seen} == {str(cast.property.uid)}


def test_a_property_is_found_by_address_name_tag_and_phone(cast, office, crew):
    channel_to_sump(cast.property)
    cast.homeowner.refresh_from_db()
    for words in ("cistern", "quill", "PU-1", cast.homeowner.phone, "cistern quill"):
        found = office.get("/search/").status_code == 422 and office.get(f"/search/?q={words}").json()["results"]
        assert [row["uid"] for row in found] == [str(cast.property.uid)], words
    assert office.get("/search/").status_code == 422
    assert office.get("/search/?q=cistern nettle").json()["results"] == []
    assert len(office.get("/search/?q=meadow").json()["results"]) == 1
    assert crew.get("/search/?q=meadow").json()["results"] == []


def picture(colour: str = "teal", **more) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (60, 40), colour).save(out, "JPEG", **more)
    return out.getvalue()


def send_photo(caller: Caller, query: str, data: bytes, *, digest: str = "", media_type: str = "image/jpeg", **more):
    headers = {**caller.headers, "x-sha256": digest or hashlib.sha256(data).hexdigest(), **more}
    return caller.client.post(f"/api/v1/photos/?{query}", data, content_type=media_type, headers=headers)


def test_a_photo_is_kept_and_shown_without_what_the_camera_wrote(cast, crew):
    """Exif 0x9286 is the user comment; nothing of the original's metadata may come along."""
    exif = Image.Exif()
    exif[0x010E] = "behind the hedge"
    data, part = picture(exif=exif), ComponentFactory(system__property=cast.property)
    query = f"property={cast.property.uid}&component={part.uid}&moment=after&caption=the%20basin"
    answer = send_photo(crew, query, data)
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made["moment"], made["caption"]) == ("after", "the basin")
    assert made["sha256"] == hashlib.sha256(data).hexdigest()
    shown = crew.get(made["file"])
    body = shown.getvalue()
    assert shown["Content-Type"] == "image/jpeg"
    assert b"behind the hedge" in data
    assert b"behind the hedge" not in body
    with Image.open(io.BytesIO(body)) as seen:
        assert seen.size == (60, 40)


def test_the_same_photo_twice_is_one(cast, crew):
    query = f"property={cast.property.uid}&uid={uuid.uuid4()}"
    first, again = send_photo(crew, query, picture()), send_photo(crew, query, picture())
    other = send_photo(crew, query, picture("red"))
    assert [first.status_code, again.status_code, other.status_code] == [201, 200, 409]


def test_bytes_that_are_not_what_was_stated_are_refused(cast, crew):
    query = f"property={cast.property.uid}"
    assert send_photo(crew, query, picture(), digest="0" * 64).status_code == 422
    assert send_photo(crew, query, picture(), digest="none").status_code == 400
    assert send_photo(crew, query, b"not a picture").status_code == 422
    assert send_photo(crew, query, picture()[:200]).status_code == 422
    assert send_photo(crew, query, picture(), media_type="text/html").status_code == 415
    assert send_photo(crew, query + "&nosuch=1", picture()).status_code == 422
    assert not cast.property.photos.exists()


def test_requests_are_limited_by_person_and_the_wait_is_stated(cast, office, crew, monkeypatch):
    """429 with Retry-After, RFC 6585 section 4."""
    from api.v1.own import Me

    monkeypatch.setattr(SimpleRateThrottle, "THROTTLE_RATES", {"person": "2/min"})
    monkeypatch.setattr(Me, "throttle_classes", [PersonThrottle])
    assert [office.get("/me/").status_code for _ in range(3)] == [200, 200, 429]
    answer = office.get("/me/")
    assert 1 <= int(answer["Retry-After"]) <= 61
    assert answer["Content-Type"] == "application/problem+json"
    assert crew.get("/me/").status_code == 200


def test_the_limit_is_on_unless_a_test_takes_it_off():
    from siltline import settings

    assert settings.REST_FRAMEWORK["DEFAULT_THROTTLE_CLASSES"] == ["api.auth.PersonThrottle"]
    assert api_settings.DEFAULT_THROTTLE_RATES["person"] == "1200/min"
