"""What is sent twice is made once: a uid or a key of the client's own."""

import uuid

import pytest

from jobs.models import Customer, Hazard
from tests.api.routes.people import caller_of

pytestmark = pytest.mark.django_db


def test_the_same_uid_and_values_again_is_the_same_record(office):
    body = {"uid": str(uuid.uuid4()), "name": "Nell Osier", "email": "nell@home.invalid"}
    first, again = office.post("/customers/", body), office.post("/customers/", body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert again["Idempotency-Replayed"] == "true"
    assert "Idempotency-Replayed" not in first
    assert first["Location"] == again["Location"] == f"/api/v1/customers/{body['uid']}/"
    assert Customer.objects.filter(name="Nell Osier").count() == 1


def test_the_same_uid_with_other_values_is_refused(office):
    body = {"uid": str(uuid.uuid4()), "name": "Nell Osier"}
    office.post("/customers/", body)
    other = office.post("/customers/", {**body, "name": "Tam Sedge"})
    assert other.status_code == 409
    assert other.json()["code"] == "uid_taken"
    assert Customer.objects.get(uid=body["uid"]).name == "Nell Osier"


def test_a_key_does_the_same_for_those_who_make_no_uid(office):
    key = {"idempotency_key": "order-17"}
    first = office.post("/customers/", {"name": "Nell Osier"}, **key)
    again = office.post("/customers/", {"name": "Nell Osier"}, **key)
    other = office.post("/customers/", {"name": "Tam Sedge"}, **key)
    assert [first.status_code, again.status_code, other.status_code] == [201, 200, 409]
    assert first.json()["uid"] == again.json()["uid"]


def test_a_key_belongs_to_one_person_and_one_address(cast, office, crew):
    body = {"property": str(cast.property.uid), "kind": "dog"}
    mine = office.post("/hazards/", body, idempotency_key="k")
    theirs = crew.post("/hazards/", body, idempotency_key="k")
    assert mine.status_code == theirs.status_code == 201
    assert mine.json()["uid"] != theirs.json()["uid"]
    elsewhere = office.post("/areas/", {"name": "Hill"}, idempotency_key="k")
    assert elsewhere.status_code == 201


@pytest.mark.parametrize("key", ["", "two words", "k" * 201, "k\u00e9"])
def test_a_key_is_visible_ascii_of_bounded_length(office, key):
    answer = office.post("/customers/", {"name": "Nell Osier"}, idempotency_key=key)
    assert answer.status_code == 400
    assert not Customer.objects.filter(name="Nell Osier").exists()


def test_a_key_and_a_uid_together_are_refused(office):
    body = {"uid": str(uuid.uuid4()), "name": "Nell Osier"}
    assert office.post("/customers/", body, idempotency_key="k").status_code == 400


def test_an_address_that_could_not_keep_the_promise_takes_no_key(office):
    answer = office.post("/tokens/", {"label": "ledger"}, idempotency_key="k")
    assert answer.status_code == 400
    assert "Idempotency-Key" in answer.json()["detail"]


def test_a_replay_after_a_later_change_is_still_the_same_record(cast):
    """What was created from these values stays so, whatever the office corrected since."""
    office, body = caller_of(cast, "office"), {"property": str(cast.property.uid), "kind": "gas"}
    made = office.post("/hazards/", body, idempotency_key="k").json()
    office.patch(f"/hazards/{made['uid']}/", {"note": "by the shed"})
    again = office.post("/hazards/", body, idempotency_key="k")
    assert again.status_code == 200
    assert again.json()["note"] == "by the shed"
    assert Hazard.objects.filter(property=cast.property).count() == 1
