"""The night's work and the doors the worker calls."""

from datetime import timedelta

import pytest

from core.models import Heartbeat
from maintenance import night, tasks
from maintenance.models import CallToMake, DueWindow, PropertyForecast, Visit
from tests.factories import AT, VisitFactory
from tests.maintenance.refresh.yards import act, set_up, yard

pytestmark = pytest.mark.django_db


def test_a_night_computes_proposes_and_calls_once() -> None:
    set_up()
    basin, *_ = yard()
    VisitFactory(
        property=basin.property,
        state="offered",
        offered_at=AT - timedelta(days=9),
        answer_by=AT.date() - timedelta(days=4),
    )
    first = night.run_night(act=act())
    assert (first.computed, first.proposals, first.calls) == (1, 1, 1)
    assert DueWindow.objects.exists()
    assert Visit.objects.filter(state="proposed").count() == 1
    assert CallToMake.objects.count() == 1
    again = night.run_night(act=act(AT + timedelta(hours=1)))
    assert (again.computed, again.proposals, again.calls) == (0, 0, 0)


def test_the_doors_of_the_worker() -> None:
    set_up()
    basin, *_ = yard()
    assert tasks.refresh_property(basin.property_id) == 1
    assert tasks.refresh_property(10**9) == 0
    assert tasks.refresh_stale() == 0
    PropertyForecast.objects.all().delete()
    assert tasks.refresh_stale() == 1
    assert tasks.nightly() == 1
    assert tasks.keep_refreshing() == 1, "the piece that learns waits; the others wait for it"
    while tasks.refresh_step():
        pass
    assert tasks.keep_refreshing() == 0
    assert Heartbeat.objects.filter(name="refresh").exists()
    tasks.scan_occasions()
    tasks.send_due()
    assert Heartbeat.objects.filter(name="outbox").exists()
