"""What a closeout writes, that it counts once, and that nothing sent is ever lost."""

import hashlib
import json
import uuid
from datetime import UTC, timedelta

import pytest

from core.act import by_customer
from core.models import History, Message
from core.problem import BadInput, Conflict, NotAllowed
from jobs.models import Component, Hazard
from maintenance import closeout, closeout_after
from maintenance.models import CallToMake, Closeout, CloseoutFlag, CloseoutReceived, Reading, TaskDone, Visit
from tests.factories import AT, TODAY, ComponentFactory, CustomerFactory, PhotoFactory, PropertyRoleFactory
from tests.maintenance.closeout.kit import LEFT, make_scene, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return make_scene()


def codes(received):
    return sorted(received.flags.values_list("code", flat=True))


def problems(received):
    """What the flag of a closeout that was not understood says."""
    return " ".join(
        p["field"] + " " + p["message"] for p in received.flags.get(code="not_understood").sides["problems"]
    )


def test_a_routine_closeout_ends_the_visit(scene):
    before = scene.visit.sequence, scene.visit.revision, scene.visit.changed_at
    closed = send(scene.body(), scene.act())
    scene.visit.refresh_from_db()
    assert closed.created
    assert closed.received.state == "applied"
    assert scene.visit.state == "done"
    assert scene.visit.ended_at == LEFT
    assert scene.visit.begun_at == LEFT - timedelta(minutes=40)
    assert scene.visit.sequence == before[0] + 1
    assert scene.visit.revision == before[1] + 1
    assert scene.visit.changed_at > before[2]
    assert codes(closed.received) == []
    reading = Reading.objects.get()
    assert (reading.component, reading.code, reading.canonical) == (scene.basin, "silt_depth_in", 3.0)
    assert reading.measured_by == reading.entered_by == f"user:{scene.crew.uid}"
    assert reading.measured_at == LEFT
    assert reading.recorded_at == AT
    done = TaskDone.objects.get()
    assert (done.task, done.outcome, done.done_on, done.left_fill) == ("clean", "done", TODAY, None)
    assert dict(scene.visit.tasks.values_list("task", "outcome")) == {"clean": "done", "test_pump": ""}
    actions = list(History.objects.filter(object_uid=scene.visit.uid).values_list("action", flat=True))
    assert actions == ["close_out"]


def test_the_same_closeout_twice_counts_once(scene):
    said = scene.body()
    first = send(said, scene.act())
    second = send(said, scene.act(at=AT + timedelta(minutes=3)))
    assert (first.created, second.created) == (True, False)
    assert first.received == second.received
    assert first.closeout == second.closeout
    assert CloseoutReceived.objects.count() == Closeout.objects.count() == 1
    assert Reading.objects.count() == TaskDone.objects.count() == 1
    assert closeout.apply_closeout(act=scene.act(), received=first.received) == first.closeout
    assert Reading.objects.count() == 1


def test_the_homeowner_hears_once(scene):
    customer = CustomerFactory(email="oda@home.invalid")
    PropertyRoleFactory(property=scene.property, customer=customer)
    said = scene.body(note="gate sticks, code 4711")
    send(said, scene.act())
    send(said, scene.act())
    message = Message.objects.get(kind="visit_done")
    assert message.to_address == "oda@home.invalid"
    assert "half full" in message.text
    assert "4711" not in message.text


def test_another_body_under_the_same_id_is_refused_and_both_are_kept(scene):
    said = scene.body()
    first = send(said, scene.act())
    for number in range(1, 5):
        with pytest.raises(Conflict) as refused:
            send({**said, "note": f"other {number}"}, scene.act())
        assert refused.value.status == 409
    assert CloseoutReceived.objects.filter(uid=first.received.uid).count() == 5
    with pytest.raises(Conflict):
        send({**said, "note": "a sixth body"}, scene.act())
    rows = CloseoutReceived.objects.filter(uid=first.received.uid).order_by("body_no")
    assert [row.body_no for row in rows] == [1, 2, 3, 4, 5]
    assert [row.state for row in rows] == ["applied"] + ["needs_office"] * 4
    assert json.loads(bytes(rows[1].body))["note"] == "other 1"
    assert codes(rows[1]) == ["other_body"]
    with pytest.raises(Conflict):  # the refused body again is still refused, and the first is still the first
        send({**said, "note": "other 1"}, scene.act())
    assert not send(said, scene.act()).created
    assert Closeout.objects.count() == 1


def test_refused_are_only_digest_json_size_and_right(scene, monkeypatch):
    good = json.dumps(scene.body()).encode()
    uid = uuid.uuid4()

    def receive(body, digest=None, act=None):
        return closeout.receive_closeout(
            act=act or scene.act(), uid=uid, body=body, digest=digest or hashlib.sha256(body).hexdigest()
        )

    with pytest.raises(BadInput, match="digest"):
        receive(good, digest="0" * 64)
    for body in (b"<html>", b"", b'{"a": NaN}', b"\xff{}", b'{"uid": "x"', b"[" * 100_000, '{"a":1}'.encode("utf-16")):
        with pytest.raises(BadInput, match="JSON"):
            receive(body)
    with pytest.raises(closeout.TooLarge) as refused:
        receive(b'"' + b"x" * 1_000_000 + b'"')
    assert refused.value.status == 413
    customer = CustomerFactory()
    with pytest.raises(NotAllowed):
        receive(good, act=by_customer(customer, at=AT))
    assert not CloseoutReceived.objects.exists()


@pytest.mark.parametrize("body", [b"[]", b"7", b"{}", b'"text"', b"null", b'{"uid": "\\ud800"}'])
def test_json_that_is_no_closeout_waits_for_the_office(scene, body):
    closed = send(body, scene.act(), uid=uuid.uuid4())
    assert closed.received.state == "needs_office"
    assert bytes(closed.received.body) == body
    assert codes(closed.received) == ["not_understood"]
    again = send(body, scene.act(), uid=closed.received.uid)
    assert not again.created
    assert again.closeout is None


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"lids_fastened": ...}, "lids_fastened is missing"),
        ({"left_at": ...}, "left_at is missing"),
        ({"left_at": "2026-05-04T08:00:00"}, "left_at"),
        ({"left_at": "0001-01-01T00:00:00Z"}, "year is 1"),
        ({"visit": ...}, "say where"),
        ({"signature": "M1 1<script>"}, "signature"),
        ({"colour": "blue"}, "colour"),
        ({"version": 2}, "version"),
        ({"lids_fastened": "yes"}, "lids_fastened"),
        ({"tasks": [{"tag": "CB-1", "task": "paint", "outcome": "done"}]}, "no task"),
        ({"tasks": [{"tag": "CB-1", "task": "clean", "outcome": "could_not"}]}, "reason is missing"),
        ({"tasks": [{"tag": "CB-1", "task": "clean", "outcome": "done"}] * 2}, "twice"),
        ({"tasks": [{"task": "clean", "outcome": "done"}]}, "uid"),
        ({"tasks": [{"tag": "CB-1", "task": "test_valve", "outcome": "done"}]}, "no task of a catch basin"),
        ({"readings": [{"tag": "CB-1", "code": "silt_depth_in", "value": 400}]}, "0 to 120 in"),
        ({"readings": [{"tag": "CB-1", "code": "silt_depth_in", "value": -1}]}, "0 to 120 in"),
        ({"readings": [{"tag": "CB-1", "code": "silt_depth_in", "value": 3, "unit": "s"}]}, "in, m, mm"),
        ({"readings": [{"tag": "CB-1", "code": "silt_depth_in", "value": True}]}, "no number"),
        ({"readings": [{"tag": "CB-1", "code": "grade", "grade": "fullish"}]}, "three_quarters"),
        ({"readings": [{"tag": "CB-1", "code": "amps", "value": 5}]}, "no reading of a catch basin"),
        ({"parts_replaced": [{"tag": "PU-1", "new_uid": str(uuid.uuid4())}]}, "reason"),
        (
            {"parts_replaced": [{"tag": "PU-1", "new_uid": str(uuid.uuid4()), "reason": "x", "dimensions": {"q": 1}}]},
            "not a dimension",
        ),
        ({"hazards_found": [{"kind": "bees"}]}, "no hazard"),
    ],
)
def test_missing_lines_and_impossible_values_wait_for_the_office_whole(scene, changes, said):
    closed = send(scene.body(**changes), scene.act())
    assert closed.received.state == "needs_office"
    assert closed.closeout is None
    assert said in problems(closed.received)
    assert not Reading.objects.exists()
    assert not TaskDone.objects.exists()
    scene.visit.refresh_from_db()
    assert scene.visit.state == "agreed"


def test_a_number_too_large_for_a_float_waits(scene):
    body = json.dumps(scene.body()).encode().replace(b'"value": 3.0', b'"value": 1e999')
    closed = send(body, scene.act())
    assert "readings.0.value" in problems(closed.received)


def test_a_uid_that_is_not_the_address_waits(scene):
    closed = send(scene.body(), scene.act(), uid=uuid.uuid4())
    assert closed.received.state == "needs_office"


@pytest.mark.parametrize("changes", [{"visit": str(uuid.uuid4())}, {"visit": None, "property": str(uuid.uuid4())}])
def test_unknown_ids_wait_for_the_office(scene, changes):
    closed = send(scene.body(**changes), scene.act())
    assert closed.received.state == "needs_office"
    assert codes(closed.received) == ["unknown"]


def test_a_part_of_another_property_is_unknown_here(scene):
    other = ComponentFactory()
    closed = send(
        scene.body(readings=[{"component": str(other.uid), "code": "silt_depth_in", "value": 1}]), scene.act()
    )
    assert codes(closed.received) == ["unknown"]
    assert not Reading.objects.exists()


def test_units_become_the_codes_own(scene):
    readings = [
        {"tag": "cb-1", "code": "silt_depth_in", "value": 50.8, "unit": "mm"},  # 2 in exactly: 1 in = 25.4 mm
        {"tag": "PU-1", "code": "drawdown_seconds", "value": 0.5, "unit": "min"},
        {"tag": "PU-1", "code": "flow_seen", "value": True},
        {"tag": "PU-1", "code": "note", "text": "hums"},
    ]
    send(scene.body(readings=readings), scene.act())
    kept = {r.code: r for r in Reading.objects.all()}
    assert kept["silt_depth_in"].canonical == pytest.approx(2.0, abs=1e-12)
    assert (kept["silt_depth_in"].value, kept["silt_depth_in"].unit) == (50.8, "mm")
    assert kept["drawdown_seconds"].canonical == pytest.approx(30.0, abs=1e-12)
    assert kept["flow_seen"].canonical == 1.0
    assert kept["note"].text == "hums"


@pytest.mark.parametrize(
    ("task", "readings", "left"),
    [
        ({}, [{"code": "silt_left_in", "value": 1.5}], 0.25),  # 1.5 in of 6 in below the outlet
        ({}, [{"code": "silt_left_in", "value": 38.1, "unit": "mm"}], 0.25),
        ({}, [{"code": "silt_left_in", "value": 9}], 1.0),
        ({"left_fill": 0.1}, [], 0.1),
        ({}, [{"code": "silt_depth_in", "value": 3, "moment": "after"}], 0.5),
        ({}, [{"code": "grade", "grade": "quarter", "moment": "after"}], 0.25),
        ({}, [{"code": "grade", "grade": "full"}], None),
        ({}, [], None),
        ({"outcome": "could_not", "reason": "stuck"}, [{"code": "silt_left_in", "value": 3}], None),
    ],
)
def test_silt_left_behind(scene, task, readings, left):
    tasks = [{"tag": "CB-1", "task": "clean", "outcome": "done", **task}]
    send(scene.body(tasks=tasks, readings=[{"tag": "CB-1", **r} for r in readings]), scene.act())
    found = TaskDone.objects.get().left_fill
    assert found == (left if left is None else pytest.approx(left, abs=1e-9))


def test_a_replaced_pump(scene):
    new = uuid.uuid4()
    said = scene.body(
        tasks=[
            {"tag": "PU-1", "task": "replace", "outcome": "done"},
            {"tag": "PU-1", "task": "test_pump", "outcome": "done"},
        ],
        readings=[
            {"tag": "PU-1", "code": "amps", "value": 11, "moment": "before"},
            {"tag": "PU-1", "code": "amps", "value": 6, "moment": "after"},
            {"component": str(new), "code": "flow_seen", "value": True, "moment": "after"},
        ],
        parts_replaced=[
            {
                "tag": "PU-1",
                "new_uid": str(new),
                "reason": "would not start",
                "because": "failed",
                "dimensions": {"horsepower_hp": 0.5, "plate_amps_a": 6.5},
                "certainty": {"horsepower_hp": "measured"},
            }
        ],
    )
    closed = send(said, scene.act())
    send(said, scene.act())
    assert closed.received.state == "applied", closed.received.state_note
    fresh = Component.objects.get(uid=new)
    scene.pump.refresh_from_db()
    assert (scene.pump.retired_on, scene.pump.retired_because, scene.pump.successor) == (TODAY, "failed", fresh)
    assert fresh.tag == "PU-1"
    assert fresh.sits_in == scene.sump
    assert fresh.dimensions["horsepower_hp"] == 0.5
    assert Component.objects.filter(kind="pump").count() == 2
    by_part = {r.value: r.component_id for r in Reading.objects.filter(code="amps")}
    assert by_part == {11: scene.pump.pk, 6: fresh.pk}
    assert Reading.objects.get(code="flow_seen").component == fresh
    assert TaskDone.objects.get(task="replace").component == scene.pump
    assert TaskDone.objects.get(task="test_pump").component == fresh
    assert scene.visit.tasks.get(task="test_pump").outcome == "done"
    assert closed.closeout.summary["parts"][0]["reason"] == "would not start"


def _replace(scene, on):
    from maintenance.part_replaced import replace_part

    return replace_part(act=scene.act(scene.office, via="page"), component=scene.basin, on=on, reason="cracked")


def test_a_retired_part_measured_before_keeps_its_reading(scene):
    new = _replace(scene, TODAY)
    closed = send(scene.body(), scene.act())  # measured on the day it was taken out
    assert Reading.objects.get().component == scene.basin
    assert codes(closed.received) == []
    assert scene.visit.tasks.get(task="clean").component == new  # the open task went with the part
    assert scene.visit.tasks.get(task="clean").outcome == "done"


def test_a_retired_part_measured_later_counts_for_its_successor_and_is_flagged(scene):
    new = _replace(scene, TODAY - timedelta(days=3))
    closed = send(scene.body(), scene.act())
    assert Reading.objects.get().component == new
    assert TaskDone.objects.get().component == new
    flag = closed.received.flags.get()
    assert flag.code == "retired_part"
    assert flag.sides == {"named": str(scene.basin.uid), "counted_for": str(new.uid)}


def test_a_tag_means_the_part_that_carried_it_that_day(scene):
    new = _replace(scene, TODAY)
    readings = [
        {"tag": "CB-1", "code": "silt_depth_in", "value": 2, "measured_at": (LEFT - timedelta(days=1)).isoformat()},
        {"tag": "CB-1", "code": "silt_depth_in", "value": 1},
    ]
    send(scene.body(readings=readings), scene.act())
    assert {r.value: r.component_id for r in Reading.objects.all()} == {2: scene.basin.pk, 1: new.pk}


def test_a_clock_two_hours_ahead_is_corrected_and_flagged(scene):
    ahead = timedelta(hours=2)
    said = scene.body(left_at=(LEFT + ahead).isoformat(), arrived_at=None)
    closed = send(said, scene.act(), phone_at=AT + ahead)
    reading = Reading.objects.get()
    assert reading.measured_at == LEFT
    assert reading.skew_s == 7200
    assert closed.closeout.left_at == LEFT
    assert codes(closed.received) == ["clock_wrong"]


def test_a_clock_four_minutes_off_is_left(scene):
    closed = send(scene.body(), scene.act(), phone_at=AT - timedelta(minutes=4))
    assert Reading.objects.get().measured_at == LEFT
    assert Reading.objects.get().skew_s == -240
    assert codes(closed.received) == []


def test_times_ahead_of_the_moment_of_sending_are_taken_for_that_moment(scene):
    said = scene.body(left_at=(AT + timedelta(hours=3)).isoformat())
    closed = send(said, scene.act())
    assert closed.closeout.left_at == AT
    assert codes(closed.received) == ["clock_wrong"]


def test_a_closeout_that_comes_late_is_taken_and_flagged(scene):
    closed = send(scene.body(), scene.act(at=AT + timedelta(days=6)))
    assert closed.received.state == "applied"
    assert TaskDone.objects.get().done_on == TODAY
    assert codes(closed.received) == ["late"]


@pytest.mark.parametrize(
    ("state", "day", "code"),
    [
        ("called_off", TODAY, "visit_called_off"),
        ("proposed", None, "visit_not_agreed"),
        ("offered", None, "visit_not_agreed"),
        ("agreed", TODAY + timedelta(days=2), "visit_moved"),
        ("begun", TODAY, None),
    ],
)
def test_a_visit_changed_meanwhile_is_closed_all_the_same_and_flagged(scene, state, day, code):
    Visit.objects.filter(pk=scene.visit.pk).update(state=state, local_date=day)
    closed = send(scene.body(), scene.act())
    scene.visit.refresh_from_db()
    assert scene.visit.state == "done"
    assert codes(closed.received) == ([code] if code else [])


def test_open_lids_are_flagged_and_told(scene):
    closed = send(scene.body(lids_fastened=False, lids_note="hinge broken"), scene.act())
    flag = closed.received.flags.get()
    assert flag.code == "lids_open"
    assert "hinge broken" in flag.words
    assert any("keep everyone away" in line for line in closed.closeout.summary["lines"])


def test_hazards_photos_and_wishes(scene):
    here = PhotoFactory(property=None)
    elsewhere = PhotoFactory()
    said = scene.body(
        hazards_found=[{"kind": "cable", "note": "to the lamp", "x_ft": 3, "y_ft": 4.5, "depth_in": 5}],
        photos=[str(here.uid), str(elsewhere.uid), str(uuid.uuid4())],
        extra_tasks=[{"tag": "PU-1", "task": "replace", "note": "bearing noise"}],
        follow_up="look again after rain",
    )
    closed = send(said, scene.act())
    hazard = Hazard.objects.get(property=scene.property)
    assert (hazard.kind, hazard.x_ft, hazard.depth_in) == ("cable", 3.0, 5.0)
    here.refresh_from_db()
    elsewhere.refresh_from_db()
    assert here.property == scene.property
    assert elsewhere.property != scene.property
    assert len(closed.received.flags.get(code="photo_missing").sides["photos"]) == 2
    call = CallToMake.objects.get(reason="follow_up")
    assert call.note == "look again after rain; replace PU-1 bearing noise"


def test_a_task_nobody_planned_stands_in_the_visit(scene):
    tasks = [{"tag": "SB-1", "task": "clean", "outcome": "done"}]
    send(scene.body(tasks=tasks, readings=[]), scene.act())
    assert scene.visit.tasks.get(component=scene.sump).outcome == "done"


def test_a_failure_of_computing_leaves_the_closeout_and_the_property_stale(scene, monkeypatch):
    def broken(**_):
        raise RuntimeError("no luck")

    monkeypatch.setattr(closeout_after.refresh, "refresh_property", broken)
    revision = scene.property.revision
    closed = send(scene.body(), scene.act())
    assert closed.received.state == "applied"
    scene.property.refresh_from_db()
    assert scene.property.revision > revision


def test_what_was_received_and_never_applied_is_found_by_the_sweep(scene):
    body = json.dumps(scene.body()).encode()
    uid = uuid.UUID(json.loads(body)["uid"])
    received, _ = closeout.receive_closeout(
        act=scene.act(), uid=uid, body=body, digest=hashlib.sha256(body).hexdigest()
    )
    server = scene.act(scene.office, at=AT + timedelta(minutes=5), via="task")
    assert closeout.apply_waiting(act=server) == 1
    assert closeout.apply_waiting(act=server) == 0
    reading = Reading.objects.get()
    assert reading.measured_by == reading.entered_by == f"user:{scene.crew.uid}"
    assert CloseoutFlag.objects.count() == 0
    assert Closeout.objects.get().received == received


def test_times_are_stored_in_utc(scene):
    closed = send(scene.body(left_at="2026-05-04T08:50:00-04:00", arrived_at=None), scene.act())
    assert closed.closeout.left_at.astimezone(UTC).isoformat() == "2026-05-04T12:50:00+00:00"
