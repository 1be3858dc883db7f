"""Closeouts over the API: byte for byte, counted once, never refused for what they say; and what the office does."""

import hashlib
import json
import uuid
from datetime import timedelta

import pytest

from maintenance.models import Closeout, CloseoutReceived, Reading, Visit
from tests.api.routes.people import Caller, caller_of
from tests.factories import (
    AT,
    TODAY,
    ComponentFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def basin(cast):
    return ComponentFactory(system__property=cast.property)


@pytest.fixture
def visit(cast, basin) -> Visit:
    visit = VisitFactory(property=cast.property, state="agreed", local_date=TODAY, agreed_at=AT - timedelta(days=9))
    VisitTaskFactory(visit=visit, component=basin)
    VisitTechnicianFactory(visit=visit, user=cast.crew)
    return visit


@pytest.fixture
def said(visit, basin) -> dict:
    """A routine closeout: basin cleaned, 3 in of 6 found."""
    return {
        "version": 1,
        "uid": str(uuid.uuid4()),
        "visit": str(visit.uid),
        "arrived_at": (AT - timedelta(minutes=50)).isoformat(),
        "left_at": (AT - timedelta(minutes=10)).isoformat(),
        "tasks": [{"component": str(basin.uid), "task": "clean", "outcome": "done"}],
        "readings": [{"component": str(basin.uid), "code": "silt_depth_in", "value": 3.0, "unit": "in"}],
        "lids_fastened": True,
    }


def send(caller: Caller, body: dict | bytes, *, uid: str = "", method: str = "put", **headers: str):
    data = body if isinstance(body, bytes) else json.dumps(body).encode()
    named = {"x-sha256": hashlib.sha256(data).hexdigest(), **{k.replace("_", "-"): v for k, v in headers.items()}}
    address = f"/api/v1/closeouts/{uid or body['uid']}/"
    ask = getattr(caller.client, method)
    return ask(address, data, content_type="application/json", headers={**caller.headers, **named})


@pytest.mark.parametrize("method", ["put", "post"])
def test_a_closeout_is_taken_and_counted_once(crew, visit, said, method):
    """The answer echoes id and digest, so that a phone knows it was us who took it."""
    first, again = send(crew, said, method=method), send(crew, said, method=method)
    assert (first.status_code, again.status_code) == (201, 200), first.content
    digest = hashlib.sha256(json.dumps(said).encode()).hexdigest()
    assert (first.json()["uid"], first.json()["digest"]) == (said["uid"], digest)
    assert again["Idempotency-Replayed"] == "true"
    assert "Idempotency-Replayed" not in first
    visit.refresh_from_db()
    assert visit.state == "done"
    assert Closeout.objects.count() == Reading.objects.count() == CloseoutReceived.objects.count() == 1


def test_the_bytes_are_kept_as_they_came(crew, said):
    data = json.dumps(said, indent=3, ensure_ascii=False).encode() + b"\n  "
    assert send(crew, data, uid=said["uid"]).status_code == 201
    assert bytes(CloseoutReceived.objects.get().body) == data


def test_the_same_id_with_another_body_is_refused_and_both_are_kept(office, crew, said):
    send(crew, said)
    other = send(crew, {**said, "note": "and the lid was loose"})
    assert (other.status_code, other.json()["code"]) == (409, "closeout_other_body")
    assert CloseoutReceived.objects.filter(uid=said["uid"]).count() == 2
    flags = office.get(f"/closeout-flags/?closeout={said['uid']}&open=true").json()["results"]
    assert [flag["code"] for flag in flags] == ["other_body"]
    cleared = office.post(f"/closeout-flags/{flags[0]['uid']}/clear/", {"action": "keep_first"})
    assert cleared.json()["cleared_at"] is not None
    assert office.get("/closeout-flags/?open=true").json()["results"] == []


def test_what_does_not_read_waits_for_the_office_and_the_phone_may_let_go(office, crew, said):
    answer = send(crew, {**said, "lids_fastened": "perhaps"})
    assert answer.status_code == 202
    assert answer.json()["state"] == "needs_office"
    assert Closeout.objects.count() == 0
    aside = office.post(f"/closeouts/{said['uid']}/set-aside/", {"why": "sent again by hand"})
    assert aside.json()["state"] == "set_aside"


def test_the_same_again_while_it_waits_is_still_waiting_and_marked(crew, said):
    """A phone that lost our answer asks again: it must not read "applied" out of a mark."""
    body = {**said, "lids_fastened": "perhaps"}
    first, again = send(crew, body), send(crew, body)
    assert (first.status_code, again.status_code) == (202, 202)
    assert "Idempotency-Replayed" not in first
    assert again["Idempotency-Replayed"] == "true"
    assert CloseoutReceived.objects.count() == 1


def test_what_is_kept_and_not_applied_yet_is_no_created_closeout(crew, said, monkeypatch):
    """Bytes are safe before they are applied; the sweep takes up what stays so."""
    monkeypatch.setattr("maintenance.closeout.apply_closeout", lambda **_: None)
    answer = send(crew, said)
    assert (answer.status_code, answer.json()["state"]) == (202, "received")
    digest = hashlib.sha256(json.dumps(said).encode()).hexdigest()
    assert (answer.json()["uid"], answer.json()["digest"]) == (said["uid"], digest)


def test_the_clock_of_the_phone_is_kept(crew, said):
    send(crew, said, x_phone_at=(AT - timedelta(minutes=7)).isoformat())
    kept = CloseoutReceived.objects.get()
    assert kept.phone_at == AT - timedelta(minutes=7)
    assert abs(kept.skew_s) == pytest.approx(420, abs=1)


def test_a_typed_address_waits_until_the_office_says_which_it_was(cast, office, crew, said):
    body = {**said, "visit": None, "property": None, "address": "7 cistern row", "tasks": [], "readings": []}
    answer = send(crew, body)
    assert answer.status_code == 202, answer.content
    assert answer.json()["state"] == "unmatched"
    matched = office.post(f"/closeouts/{said['uid']}/match/", {"property": str(cast.property.uid)})
    assert matched.status_code == 200, matched.content
    assert matched.json()["property"] == str(cast.property.uid)


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"x_sha256": "0" * 64}, 422),
        ({"x_sha256": "none"}, 400),
        ({"x_phone_at": "yesterday"}, 422),
        ({"x_phone_at": AT.isoformat()}, 201),
    ],
)
def test_digest_and_clock_are_read_first(crew, said, change, status):
    assert send(crew, said, **change).status_code == status
    assert CloseoutReceived.objects.count() == (status == 201)


def test_what_is_no_json_or_too_large_is_refused(crew, said):
    assert send(crew, b"<html>sign in</html>", uid=said["uid"]).status_code == 422
    assert send(crew, b'{"note": "' + b"x" * 1_000_000 + b'"}', uid=said["uid"]).status_code == 413
    assert CloseoutReceived.objects.count() == 0


def test_each_technician_sees_what_they_sent_and_the_office_all(cast, office, crew, said):
    send(crew, said)
    assert office.get(f"/closeouts/{said['uid']}/").status_code == 200
    assert crew.get(f"/closeouts/{said['uid']}/").status_code == 200
    other = caller_of(cast, "other_crew")
    assert other.get(f"/closeouts/{said['uid']}/").status_code == 404
    assert other.get("/closeouts/").json()["results"] == []


def test_another_technician_cannot_take_an_id(cast, crew, said):
    """Their body is another one under the same id: kept, flagged, refused; what is theirs to see stays so."""
    send(crew, said)
    other = send(caller_of(cast, "other_crew"), {**said, "note": "mine"})
    assert other.status_code == 409
    assert "Cistern" not in other.content.decode()


def test_readings_and_tasks_done_come_from_it(cast, office, crew, basin, said):
    send(crew, said)
    reading = office.get(f"/readings/?component={basin.uid}").json()["results"][0]
    assert (reading["code"], reading["value"], reading["unit"]) == ("silt_depth_in", 3.0, "in")
    assert reading["measured_by"] == f"user:{cast.crew.uid}"
    done = office.get(f"/tasks-done/?property={cast.property.uid}").json()["results"]
    assert [(row["task"], row["outcome"]) for row in done] == [("clean", "done")]
