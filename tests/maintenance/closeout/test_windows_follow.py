"""A closeout moves that part's next date: more silt than expected sooner, less later; no other property stirs."""

from datetime import timedelta

import pytest
from django.core import serializers
from django.db import transaction

from core.act import by_system
from jobs.models import Property
from maintenance import refresh, rules
from maintenance.models import DueWindow, TaskDone, Visit
from tests.factories import AT, TODAY, ReadingFactory, TaskDoneFactory
from tests.maintenance.closeout.kit import make_scene, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    """Cleaned two years and one year ago, 2 in found each time: 2 in now is as expected."""
    rules.install_library(act=by_system("library", at=AT - timedelta(days=800)))
    made = make_scene()
    Property.objects.filter(pk=made.property.pk).update(created_at=AT - timedelta(days=800))
    for days in (730, 365):
        at = AT - timedelta(days=days)
        TaskDoneFactory(component=made.basin, done_on=TODAY - timedelta(days=days), recorded_at=at)
        ReadingFactory(component=made.basin, value=2.0, measured_at=at - timedelta(hours=1), recorded_at=at)
    return made


def window(scene):
    return DueWindow.objects.filter(component=scene.basin, task="clean").get()


def close_with(scene, depth_in):
    said = scene.body(readings=[{"tag": "CB-1", "code": "silt_depth_in", "value": depth_in}])
    closed = send(said, scene.act())
    assert closed.received.state == "applied", closed.received.state_note
    return window(scene)


@pytest.fixture
def elsewhere(scene):
    """Another property, computed: as text, to be compared byte for byte."""
    other = make_scene()
    refresh.refresh_properties(act=by_system("test", at=AT), property_ids=[other.property.pk])
    return other


def as_text(other):
    return serializers.serialize("json", DueWindow.objects.filter(property=other.property).order_by("id"))


def test_more_silt_sooner_less_later(scene, elsewhere):
    before = as_text(elsewhere)
    assert before != "[]"
    latest = {}
    for name, depth in (("half", 1.0), ("same", 2.0), ("twice", 4.0)):
        mark = transaction.savepoint()
        latest[name] = close_with(scene, depth).latest_on
        assert as_text(elsewhere) == before
        transaction.savepoint_rollback(mark)
    assert latest["twice"] < latest["same"] < latest["half"]


def test_the_next_visit_is_proposed_from_the_new_windows(scene):
    close_with(scene, 5.5)
    scene.visit.refresh_from_db()
    assert scene.visit.state == "done"
    assert TaskDone.objects.filter(component=scene.basin, done_on=TODAY).count() == 1
    found = window(scene)
    proposed = Visit.objects.filter(property=scene.property, state="proposed")
    for visit in proposed:
        assert {t.component_id for t in visit.tasks.all()} <= {scene.basin.pk, scene.sump.pk, scene.pump.pk}
    soon = found.earliest_on <= TODAY + timedelta(days=60)
    planned = proposed.filter(tasks__component=scene.basin, tasks__task="clean").exists()
    assert planned == soon
