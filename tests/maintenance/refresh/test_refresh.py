"""Stored windows: what is written, what is left alone, and when they are stale."""

from datetime import timedelta

import pytest

from jobs.edits import raise_revision
from maintenance import refresh, rules
from maintenance.models import DueWindow, PropertyForecast, Rule
from maintenance.read.stale import is_stale
from tests.maintenance.refresh.yards import AT, EARLY, TODAY, act, cleaned, found, part, set_up, yard

pytestmark = pytest.mark.django_db


def rows() -> list[dict[str, object]]:
    return list(DueWindow.objects.order_by("component_id", "task", "who").values())


def clean_of(component) -> DueWindow:
    return DueWindow.objects.get(component=component, task="clean", who="crew")


def test_every_window_says_when_why_and_from_what() -> None:
    set_up()
    basin, sump, pump = yard()
    assert refresh.refresh_properties(act=act(), property_ids=[basin.property_id]) == 1
    assert DueWindow.objects.filter(component=pump, basis="wear").exists()
    windows = list(DueWindow.objects.all())
    known = set(Rule.objects.values_list("code", flat=True))
    for window in windows:
        assert window.earliest_on <= window.best_on <= window.latest_on
        assert window.rule_code in known
        assert window.reason["rule"] == window.rule_code
        assert window.words.endswith(".")
        assert window.inputs
        assert window.minutes > 0
    silt = clean_of(basin)
    assert silt.basis in ("silt", "calendar")
    forecast = PropertyForecast.objects.get()
    assert (forecast.as_of, forecast.computed_at, forecast.failed) == (TODAY, AT, "")
    assert forecast.first_due_on == min(window.best_on for window in windows)
    assert sump.pk in {window.component_id for window in windows}


def silt_only() -> None:
    """Only silt decides: every calendar and season rule of a basin off."""
    for rule in Rule.objects.filter(kind="catch_basin").exclude(versions__basis="silt"):
        rules.switch_off(act=act(EARLY), rule=rule)


def test_silt_numbers_stand_in_their_columns() -> None:
    set_up()
    silt_only()
    basin, *_ = yard()
    cleaned(basin, TODAY - timedelta(days=200), left=0.1)
    refresh.refresh_property(act=act(), property_id=basin.property_id)
    window = clean_of(basin)
    assert window.basis == "silt"
    assert window.left_fill == pytest.approx(0.1)
    assert 0 < window.rate_p10 < window.rate_p50 < window.rate_p90
    assert 0.125 <= window.threshold <= 0.5
    # The best day is 14 days or more before the day on which the accepted chance is reached (building: 1 in 20).
    assert 0 < window.chance_at_best <= 0.05 + 1e-9


def test_twice_the_silt_moves_the_date_earlier_and_half_of_it_later() -> None:
    set_up()
    silt_only()
    basins = [yard()[0] for _ in range(3)]
    for basin, depth in zip(basins, (4.0, 2.0, 1.0), strict=True):
        cleaned(basin, TODAY - timedelta(days=300))
        found(basin, TODAY - timedelta(days=1), depth)
    refresh.refresh_properties(act=act(), property_ids=[basin.property_id for basin in basins])
    much, some, little = (clean_of(basin) for basin in basins)
    assert much.latest_on < some.latest_on < little.latest_on
    assert "3 May 2026" in some.words


def test_a_refresh_without_news_changes_no_row() -> None:
    set_up()
    basin, *_ = yard()
    refresh.refresh_property(act=act(), property_id=basin.property_id)
    before = rows()
    refresh.refresh_property(act=act(AT + timedelta(hours=1)), property_id=basin.property_id)
    assert rows() == before


def test_one_property_moves_and_every_other_stays_byte_for_byte() -> None:
    set_up()
    silt_only()
    basin, *_ = yard()
    other, *_ = yard()
    # A cleaning half a year ago: the reading then lies below the trapping limit and teaches.
    cleaned(basin, TODAY - timedelta(days=180), left=0.0)
    refresh.refresh_all(act=act())
    elsewhere = list(DueWindow.objects.filter(property_id=other.property_id).order_by("id").values())
    before = clean_of(basin).latest_on
    found(basin, TODAY, 3.3, recorded=AT + timedelta(hours=1))
    raise_revision(basin.property_id)
    assert refresh.refresh_stale(act=act(AT + timedelta(hours=2))) == 1
    assert clean_of(basin).latest_on < before
    assert list(DueWindow.objects.filter(property_id=other.property_id).order_by("id").values()) == elsewhere


def test_a_window_whose_part_was_taken_out_vanishes() -> None:
    set_up()
    basin, _sump, pump = yard()
    refresh.refresh_property(act=act(), property_id=basin.property_id)
    pump.retired_on = TODAY
    pump.save()
    from jobs.component_versions import record_version

    record_version(pump, AT)
    refresh.refresh_property(act=act(), property_id=basin.property_id)
    assert not DueWindow.objects.filter(component=pump).exists()
    assert DueWindow.objects.filter(component=basin).exists()


def test_a_closed_property_has_no_windows() -> None:
    set_up()
    basin, *_ = yard()
    refresh.refresh_all(act=act())
    place = basin.property
    place.closed_at = AT - timedelta(hours=1)
    place.save()
    raise_revision(place.pk)
    assert refresh.refresh_stale(act=act()) == 1
    assert DueWindow.objects.count() == 0
    assert refresh.refresh_stale(act=act()) == 0


def test_stale_after_a_change_of_register_rules_day_or_never_computed() -> None:
    set_up()
    basin, *_ = yard()
    yard()
    place = basin.property
    assert is_stale(place, act=act())
    assert refresh.refresh_stale(act=act()) == 2
    assert not is_stale(place, act=act())
    assert refresh.refresh_stale(act=act()) == 0
    raise_revision(place.pk)
    assert refresh.refresh_stale(act=act()) == 1
    rules.switch_off(act=act(), rule=Rule.objects.first())
    assert refresh.refresh_stale(act=act()) == 2
    assert refresh.refresh_stale(act=act(AT + timedelta(days=1))) == 2
    assert refresh.refresh_stale(act=act(AT + timedelta(days=1))) == 0


def test_the_sweep_takes_a_few_at_a_time_and_rings_for_the_rest(django_capture_on_commit_callbacks) -> None:
    set_up()
    for _ in range(3):
        yard()
    with django_capture_on_commit_callbacks() as rung:
        assert refresh.refresh_stale(act=act(), limit=2) == 2
    assert len(rung) == 1
    assert refresh.refresh_stale(act=act(), limit=2) == 1


def test_one_spoilt_property_is_told_and_stops_no_other(caplog) -> None:
    set_up()
    good = [yard()[0] for _ in range(4)]
    bad = yard()[0]
    refresh.refresh_all(act=act())
    before = list(DueWindow.objects.filter(property_id=bad.property_id).values())
    version = bad.versions.get()
    version.data["installed_on"] = "the day before"
    type(version).objects.filter(pk=version.pk).update(data=version.data)
    raise_revision(bad.property_id)
    for basin in good:
        raise_revision(basin.property_id)
    assert refresh.refresh_stale(act=act()) == 5
    failed = PropertyForecast.objects.exclude(failed="").get()
    assert failed.property_id == bad.property_id
    assert "the day before" in failed.failed
    assert "could not be computed" in caplog.text
    assert list(DueWindow.objects.filter(property_id=bad.property_id).values()) == before
    assert refresh.refresh_stale(act=act()) == 0, "a spoilt property is not tried over and over"


def test_what_was_computed_from_a_later_revision_is_not_overwritten() -> None:
    set_up()
    basin, *_ = yard()
    computed = refresh.compute(as_of=TODAY, property_ids=[basin.property_id])
    raise_revision(basin.property_id)
    refresh.refresh_property(act=act(), property_id=basin.property_id)
    stored = PropertyForecast.objects.values().get()
    from maintenance.window_rows import write_computed

    written = write_computed(act=act(), computed=computed.properties, as_of=TODAY, stamp="old")
    assert written.properties == 0
    assert PropertyForecast.objects.values().get() == stored


def test_the_same_task_by_crew_and_by_owner_are_two_windows() -> None:
    set_up()
    basin, sump, _pump = yard()
    alarm = part(basin.system, "high_water_alarm", sits_in=sump)
    refresh.refresh_property(act=act(), property_id=basin.property_id)
    doers = DueWindow.objects.filter(component=alarm, task="test_alarm").values_list("who", flat=True)
    assert sorted(doers) == ["crew", "owner"]
