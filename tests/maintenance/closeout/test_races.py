"""Many clients at once on PostgreSQL: threads with connections of their own, each test with its control."""

import hashlib
import json
import os
import threading
import uuid

import pytest
from django.db import IntegrityError, connection, connections, transaction

from core.problem import Conflict
from maintenance import closeout, visits
from maintenance.models import Closeout, CloseoutReceived, Reading, TaskDone, Visit, VisitTechnician
from tests.factories import TODAY
from tests.maintenance.closeout.kit import make_scene, send

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def on_postgres():
    if connection.vendor != "postgresql":
        if "postgres" in os.environ.get("SILTLINE_REQUIRE", ""):
            pytest.fail("PostgreSQL is required: set DATABASE_URL")
        pytest.skip("needs PostgreSQL: set DATABASE_URL")


@pytest.fixture
def scene():
    return make_scene()


def at_once(count, work):
    """Run `work(number)` in `count` threads that start together; their results or exceptions in order."""
    gate = threading.Barrier(count)
    results = [None] * count

    def run(number):
        try:
            gate.wait(10)
            results[number] = work(number)
        except Exception as error:  # noqa: BLE001 - the caller looks at what came of each
            results[number] = error
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(n,)) for n in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return results


def test_eight_clients_send_the_same_closeout(scene):
    said = scene.body()
    results = at_once(8, lambda _: send(said, scene.act()))
    assert [r for r in results if isinstance(r, Exception)] == []
    assert sorted(r.created for r in results) == [False] * 7 + [True]
    assert CloseoutReceived.objects.count() == Closeout.objects.count() == 1
    assert Reading.objects.count() == TaskDone.objects.count() == 1
    scene.visit.refresh_from_db()
    assert (scene.visit.state, scene.visit.sequence) == ("done", 1)


def test_control_asking_first_and_then_writing_fails_for_all_but_one(scene):
    """Without the savepoint that reads again: eight clients ask, see nothing, and seven get an error."""
    uid, met = uuid.uuid4(), threading.Barrier(8)

    def naive(number):
        seen = CloseoutReceived.objects.filter(uid=uid).exists()
        met.wait(10)
        if not seen:
            with transaction.atomic():
                CloseoutReceived.objects.create(
                    uid=uid, body=b"{}", digest="0" * 64, received_at=scene.act().at, via="phone"
                )
        return "stored"

    results = at_once(8, naive)
    assert results.count("stored") == 1
    assert sum(isinstance(r, IntegrityError) for r in results) == 7


def test_eight_bodies_under_one_id(scene):
    said = scene.body()
    results = at_once(8, lambda n: send({**said, "note": f"body {n}"}, scene.act()))
    assert sum(isinstance(r, Conflict) for r in results) == 7
    assert sum(getattr(r, "created", False) for r in results) == 1
    rows = CloseoutReceived.objects.order_by("body_no")
    assert [row.body_no for row in rows] == [1, 2, 3, 4, 5]
    assert Closeout.objects.count() == 1
    assert Closeout.objects.get().received == rows[0]


def test_eight_closeouts_of_one_technician_have_one_effective(scene):
    results = at_once(8, lambda n: send(scene.body(), scene.act()))
    assert [r for r in results if isinstance(r, Exception)] == []
    assert Closeout.objects.filter(effective=True).count() == 1
    assert Reading.objects.count() == 1
    states = sorted(CloseoutReceived.objects.values_list("state", flat=True))
    assert states == ["applied"] + ["needs_office"] * 7


def test_two_technicians_at_once_add_up(scene):
    VisitTechnician.objects.create(visit=scene.visit, user=scene.second, lead=False)
    bodies = [
        (scene.body(), scene.crew),
        (scene.body(tasks=[{"tag": "PU-1", "task": "test_pump", "outcome": "done"}], readings=[]), scene.second),
    ]
    results = at_once(2, lambda n: send(bodies[n][0], scene.act(bodies[n][1])))
    assert [r.received.state for r in results] == ["applied", "applied"]
    assert TaskDone.objects.count() == 2
    scene.visit.refresh_from_db()
    assert scene.visit.sequence == 1
    assert scene.visit.revision == 3


def test_eight_applications_of_one_received_closeout(scene):
    body = json.dumps(scene.body()).encode()
    uid = uuid.UUID(json.loads(body)["uid"])
    received, _ = closeout.receive_closeout(
        act=scene.act(), uid=uid, body=body, digest=hashlib.sha256(body).hexdigest()
    )
    mine = [CloseoutReceived.objects.get(pk=received.pk) for _ in range(8)]
    results = at_once(8, lambda n: closeout.apply_closeout(act=scene.act(), received=mine[n]))
    assert len({r.pk for r in results}) == 1
    assert Reading.objects.count() == 1


def test_eight_offices_agree_one_visit(scene):
    Visit.objects.filter(pk=scene.visit.pk).update(state="offered", local_date=None)
    seen = [Visit.objects.get(pk=scene.visit.pk) for _ in range(8)]
    office = scene.act(scene.office, via="page")
    results = at_once(8, lambda n: visits.agree(act=office, visit=seen[n], local_date=TODAY.replace(day=10 + n)))
    won = [r for r in results if isinstance(r, Visit)]
    assert len(won) == 1
    assert all(isinstance(r, Conflict) for r in results if r not in won)
    scene.visit.refresh_from_db()
    assert (scene.visit.sequence, scene.visit.revision) == (1, 2)
    assert scene.visit.local_date == won[0].local_date


def test_control_reading_and_then_saving_loses_agreements(scene):
    """Without the guard every office believes it has agreed its own day."""
    seen = [Visit.objects.get(pk=scene.visit.pk) for _ in range(8)]
    met = threading.Barrier(8)

    def naive(number):
        visit = seen[number]
        visit.local_date = TODAY.replace(day=10 + number)
        met.wait(10)
        visit.save()
        return "agreed"

    assert at_once(8, naive).count("agreed") == 8


def test_closing_out_and_calling_off_at_once_loses_neither(scene):
    office, seen = scene.act(scene.office, via="page"), Visit.objects.get(pk=scene.visit.pk)

    def work(number):
        if number:
            return send(scene.body(), scene.act())
        return visits.call_off(act=office, visit=seen, why="rain")

    called_off, closed = at_once(2, work)
    assert isinstance(called_off, Visit | Conflict)
    assert closed.received.state == "applied"
    scene.visit.refresh_from_db()
    assert scene.visit.state == "done"
    flags = list(closed.received.flags.values_list("code", flat=True))
    assert flags == (["visit_called_off"] if isinstance(called_off, Visit) else [])
