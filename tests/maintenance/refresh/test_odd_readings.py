"""What looks odd is kept as a judgement beside the reading: once, until it no longer holds, a person's word wins."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core import company
from core.act import Act
from core.models import History
from core.problem import BadInput, Conflict
from jobs.edits import raise_revision
from maintenance import odd_readings, refresh
from maintenance.models import DueWindow, OddReading, Reading
from maintenance.read import odd
from tests.factories import AT, TODAY, OddReadingFactory, OfficeFactory, make_cast
from tests.maintenance.refresh.yards import act, cleaned, found, set_up, yard

pytestmark = pytest.mark.django_db


def fallen():
    """A basin found half full, then nearly empty without a cleaning between; returns it and both readings."""
    basin, *_ = yard()
    cleaned(basin, TODAY - timedelta(days=300))
    return basin, found(basin, TODAY - timedelta(days=60), 3.0), found(basin, TODAY - timedelta(days=20), 0.5)


def again(basin, hours: int = 1) -> None:
    raise_revision(basin.property_id)
    refresh.refresh_property(act=act(AT + timedelta(hours=hours)), property_id=basin.property_id)


def rows() -> list[tuple[str, str, bool]]:
    return list(OddReading.objects.order_by("recorded_at", "id").values_list("code", "verdict", "by_person"))


def test_a_fall_without_a_cleaning_is_told_once_with_its_reading_and_words() -> None:
    set_up()
    basin, _, second = fallen()
    refresh.refresh_property(act=act(), property_id=basin.property_id)
    row = OddReading.objects.get()
    assert (row.component, row.reading, row.code, row.recorded_at) == (basin, second, "fill_fell", AT)
    assert odd.words(row).startswith("Fill fell from half full to 8 % full between two looks without a cleaning")
    for hours in (1, 2, 3):
        again(basin, hours)
    assert rows() == [("fill_fell", "odd", False)]


def test_what_no_longer_holds_is_said_to_be_gone_and_may_come_again() -> None:
    set_up()
    basin, *_ = fallen()
    refresh.refresh_property(act=act(), property_id=basin.property_id)
    done = cleaned(basin, TODAY - timedelta(days=40))
    again(basin)
    assert rows() == [("fill_fell", "odd", False), ("fill_fell", "gone", False)]
    assert not odd.waiting(act()).exists()
    type(done).objects.filter(pk=done.pk).delete()
    again(basin, 2)
    assert [verdict for _, verdict, _ in rows()] == ["odd", "gone", "odd"]
    assert odd.waiting(act()).count() == 1


def test_a_person_who_finds_it_sound_ends_it_whatever_is_computed_later() -> None:
    set_up()
    basin, *_ = fallen()
    refresh.refresh_property(act=act(), property_id=basin.property_id)
    by = act(AT + timedelta(minutes=5))
    made = odd_readings.settle(act=by, judgement=OddReading.objects.get(), verdict="sound", note="rain washed it out")
    assert (made.by_person, made.note, made.recorded_by) == (True, "rain washed it out", by.who)
    assert odd_readings.settle(act=by, judgement=made, verdict="sound") == made, "twice is once"
    again(basin)
    assert rows() == [("fill_fell", "odd", False), ("fill_fell", "sound", True)]
    assert not odd.waiting(act()).exists()
    assert Reading.objects.count() == 2
    assert History.objects.filter(noun="reading", action="sound").count() == 1


def test_a_reading_found_wrong_is_withdrawn_by_a_later_row_and_teaches_nothing() -> None:
    set_up()
    basin, _, second = fallen()
    company.change(act=act(), pool_least_parts=1000)
    refresh.refresh_property(act=act(), property_id=basin.property_id)
    before = DueWindow.objects.get(component=basin, task="clean", who="crew").inputs.get("readings")
    odd_readings.settle(act=act(), judgement=OddReading.objects.get(), verdict="wrong", note="wrong basin")
    withdrawn = Reading.objects.get(withdraws=second)
    assert (withdrawn.text, withdrawn.recorded_at) == ("wrong basin", AT)
    again(basin)
    window = DueWindow.objects.get(component=basin, task="clean", who="crew")
    assert window.inputs.get("readings") != before or before is None
    assert Reading.objects.filter(pk=second.pk).exists(), "nothing is thrown away"
    assert rows() == [("fill_fell", "odd", False), ("fill_fell", "wrong", True)]


def test_decisions_that_cannot_be_are_refused() -> None:
    set_up()
    basin, *_ = yard()
    part = OddReadingFactory(component=basin, reading=None, code="unlike_similar", params={"times": 12.0})
    with pytest.raises(BadInput, match="only a reading can be"):
        odd_readings.settle(act=act(), judgement=part, verdict="wrong")
    with pytest.raises(BadInput, match="give one of sound, wrong"):
        odd_readings.settle(act=act(), judgement=part, verdict="odd")
    reading = OddReadingFactory(component=basin)
    odd_readings.settle(act=act(), judgement=reading, verdict="sound")
    with pytest.raises(Conflict, match="Odd but right was decided meanwhile"):
        odd_readings.settle(act=act(), judgement=reading, verdict="wrong")


def test_the_companys_own_factor_says_from_when_a_part_is_unlike_similar_ones() -> None:
    set_up()
    basin, *_ = yard()
    cleaned(basin, TODAY - timedelta(days=30))
    for days in (20, 18, 16):
        found(basin, TODAY - timedelta(days=days), 0.7)
    refresh.refresh_property(act=act(), property_id=basin.property_id)
    assert "unlike_similar" not in {code for code, _, _ in rows()}
    company.change(act=act(AT + timedelta(minutes=1)), odd_times=2.0)
    again(basin)
    row = OddReading.objects.get(code="unlike_similar")
    assert row.reading is None
    assert row.params["times"] >= 2.0


def test_who_sees_them_and_that_a_list_costs_the_same_at_any_length() -> None:
    cast = make_cast()
    for _ in range(3):
        OddReadingFactory(component__property=cast.property, reading=None)
    office = act()
    crew = Act("user:x", "crew", AT, "page", user_id=OfficeFactory().pk)
    home = Act("customer:x", "homeowner", AT, "page", customer_id=cast.homeowner.pk)
    assert (odd.waiting(office).count(), odd.waiting(crew).count(), odd.waiting(home).count()) == (3, 0, 0)
    mine = OddReading.objects.first().component_id
    assert [row.component_id for row in odd.waiting(office, [mine])] == [mine]
    with CaptureQueriesContext(connection) as three:
        [odd.words(row) for row in odd.waiting(office)]
    for _ in range(20):
        OddReadingFactory(reading=None)
    with CaptureQueriesContext(connection) as more:
        [odd.words(row) for row in odd.waiting(office)]
    assert len(three) == len(more) == 1
