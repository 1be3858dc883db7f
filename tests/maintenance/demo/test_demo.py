"""The demo company: the same for the same seed and day, whole or not at all, with the scenes a reader looks for."""

from datetime import date

import pytest

from jobs.models import Component, Job, Property, PropertyRole
from maintenance.demo import load, start
from maintenance.demo.houses import HALF_KNOWN, houses
from maintenance.demo.years import past_visits
from maintenance.models import Closeout, DueWindow, Reading, Visit
from tests.factories import AT

ANCHOR = date(2026, 5, 4)


def test_it_is_a_function_of_seed_and_day():
    first, again = houses(7, ANCHOR), houses(7, ANCHOR)
    assert first == again
    assert houses(8, ANCHOR) != first
    assert [v.on for h in first for v in past_visits(h, 7, ANCHOR)] == [
        v.on for h in again for v in past_visits(h, 7, ANCHOR)
    ]


@pytest.mark.django_db
def test_its_scenes_are_there(monkeypatch, settings, tmp_path):
    made = load.load(at=AT)
    assert (made.properties, made.systems) == (60, 80)
    assert 500 <= made.components <= 700
    assert Component.objects.exclude(retired_on=None).filter(kind="pump").exists()
    assert PropertyRole.objects.filter(role="tenant").exclude(until_date=None).exists()
    assert Job.objects.filter(stage="digging").exists()
    assert Visit.objects.filter(state="agreed", local_date__gt=ANCHOR).exists()
    assert Visit.objects.filter(state="offered").exists()
    assert Reading.objects.exclude(grade="").exists()
    assert Closeout.objects.count() == made.visits
    assert DueWindow.objects.count() > 500
    assert Component.objects.filter(dimensions={}, system__installed_on=None).count() >= len(HALF_KNOWN)
    settings.VAR_DIR = tmp_path
    ways = start.ways_in(at=AT)
    assert start.ways_in(at=AT) == ways
    assert (tmp_path / "demo.json").stat().st_mode & 0o077 == 0
    with pytest.raises(ValueError, match="not empty"):
        load.load(at=AT)


@pytest.mark.django_db
def test_a_load_that_is_broken_off_leaves_nothing(monkeypatch):
    def broken_off(*args, **more):
        raise KeyboardInterrupt

    monkeypatch.setattr("maintenance.demo.load.scenes.bring_about", broken_off)
    with pytest.raises(KeyboardInterrupt):
        load.load(at=AT)
    assert Property.objects.count() == 0
    assert load.is_empty()
