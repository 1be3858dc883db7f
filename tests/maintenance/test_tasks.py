"""The doors of the worker lead to their services: what a dead process left behind is found by the task alone."""

import hashlib
import json
import uuid
from datetime import UTC, datetime, time, timedelta

import pytest

from core.act import by_user
from maintenance import closeout, tasks
from maintenance.models import Closeout
from tests.factories import ComponentFactory, UserFactory, VisitFactory, VisitTaskFactory, VisitTechnicianFactory

pytestmark = pytest.mark.django_db


def test_a_closeout_received_before_the_server_died_is_applied_once():
    sent_at = datetime.now(UTC) - timedelta(minutes=5)
    visit = VisitFactory(state="agreed", local_date=sent_at.date())
    basin, crew = ComponentFactory(system__property=visit.property), UserFactory()
    VisitTaskFactory(visit=visit, component=basin)
    VisitTechnicianFactory(visit=visit, user=crew)
    uid = uuid.uuid4()
    said = {
        "version": 1,
        "uid": str(uid),
        "visit": str(visit.uid),
        "left_at": (sent_at - timedelta(minutes=10)).isoformat(),
        "tasks": [{"component": str(basin.uid), "task": "clean", "outcome": "done"}],
        "readings": [{"component": str(basin.uid), "code": "silt_depth_in", "value": 3.0, "unit": "in"}],
        "lids_fastened": True,
    }
    body = json.dumps(said).encode()
    digest = hashlib.sha256(body).hexdigest()
    closeout.receive_closeout(act=by_user(crew, via="api", at=sent_at), uid=uid, body=body, digest=digest)
    assert Closeout.objects.count() == 0
    assert (tasks.apply_waiting(), tasks.apply_waiting()) == (1, 0)
    assert Closeout.objects.get().technician == crew
    visit.refresh_from_db()
    assert visit.state == "done"


def test_the_instant_of_a_coming_visit_follows_its_zone():
    day = (datetime.now(UTC) + timedelta(days=30)).date()
    visit = VisitFactory(state="agreed", local_date=day, local_start=time(8), zone="Etc/GMT+5")
    wrong = datetime.combine(day, time(14), tzinfo=UTC)
    type(visit).objects.filter(pk=visit.pk).update(starts_at=wrong)
    assert (tasks.recompute_starts(), tasks.recompute_starts()) == (1, 0)
    visit.refresh_from_db()
    # Etc/GMT+5 is five hours behind UTC the whole year (tz database, file etcetera).
    assert visit.starts_at == wrong - timedelta(hours=1)
