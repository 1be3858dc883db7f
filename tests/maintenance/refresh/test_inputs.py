"""What reaches the forecast: overrides, a part's own capacity, storms of the gauge, readings that count."""

from datetime import date, timedelta

import pytest

from maintenance import rain, refresh, rules
from maintenance.models import Reading, Rule
from maintenance.read.forecast_inputs import load, load_common
from tests.factories import ZONE
from tests.maintenance.refresh.yards import EARLY, TODAY, act, cleaned, found, part, set_up, yard

pytestmark = pytest.mark.django_db


def windows_of(component, **more: object) -> dict[str, dict[str, object]]:
    (computed,) = refresh.compute(as_of=TODAY, property_ids=[component.property_id], **more).properties
    assert computed.failed == ""
    return {row["task"]: row for row in computed.windows if row["component_id"] == component.pk}


def inputs_of(component):
    return load(load_common(as_of=TODAY, zone=ZONE), [component.property_id])


def test_an_override_governs_its_component_and_the_window_names_the_rule() -> None:
    set_up()
    _basin, _sump, pump = yard()
    cleaned(pump, TODAY - timedelta(days=10), task="test_pump")
    before = windows_of(pump)["test_pump"]
    rule = Rule.objects.get(code="pump_yearly_test")
    place = {"rule": rule, "property": pump.property, "component": pump}
    rules.override_rule(act=act(EARLY), **place, numbers={"every_months": 1})
    after = windows_of(pump)["test_pump"]
    assert after["rule_code"] == rule.code
    assert after["latest_on"] == date(2026, 5, 24)  # last done on 24 April 2026, one calendar month
    assert after["latest_on"] < before["latest_on"]


def test_a_parts_own_capacity_lowers_its_threshold_and_says_so() -> None:
    set_up()
    basin, *_ = yard()
    channel = part(basin.system, "channel_run", tag="CH-1")
    cleaned(channel, TODAY - timedelta(days=30))
    practice = inputs_of(channel)
    assert {state.capacity_fill for state in practice.components} == {None}
    for rule in Rule.objects.filter(kind="channel_run", task="clean").exclude(versions__basis="silt"):
        rules.switch_off(act=act(EARLY), rule=rule)
    assert windows_of(channel)["clean"]["threshold"] == pytest.approx(1 / 3, abs=1e-3)
    tight = windows_of(channel, capacity_fill={channel.pk: 0.2})["clean"]
    assert tight["threshold"] == pytest.approx(0.2)
    assert "share of the storm" in tight["words"]


def storm(days: dict[date, float]) -> None:
    data = "date,rain\n" + "\n".join(f"{day},{mm}" for day, mm in sorted(days.items()))
    rain.import_file(
        act=act(EARLY + timedelta(days=1400)), data=data.encode(), gauge_name="Yard", unit="mm", apply=True
    )


def test_one_look_after_a_storm_more_rain_adds_to_its_reason_and_a_visit_closes_it() -> None:
    set_up()
    basin, *_ = yard()
    channel = part(basin.system, "channel_run", tag="CH-1")
    first = date(2026, 3, 25)
    storm({first - timedelta(days=1): 2.0, first: 61.0})
    looks = [row for row in windows_of(channel).values() if row["basis"] == "storm"]
    assert [row["inputs"]["storms"] for row in looks] == [1]
    assert "25 March 2026" in looks[0]["words"]
    storm({first + timedelta(days=3): 70.0})
    (look,) = [row for row in windows_of(channel).values() if row["basis"] == "storm"]
    assert look["inputs"]["storms"] == 2
    assert "28 March 2026" in look["words"]
    cleaned(channel, first + timedelta(days=6))
    assert not [row for row in windows_of(channel).values() if row["basis"] == "storm"]


def test_readings_that_count_and_those_that_do_not() -> None:
    set_up()
    basin, *_ = yard()
    good = found(basin, TODAY - timedelta(days=20), 2.0)
    found(basin, TODAY - timedelta(days=10), 3.0, moment="after")
    found(basin, TODAY - timedelta(days=10), 3.0, code="silt_left_in")
    wrong = found(basin, TODAY - timedelta(days=15), 9.0)
    Reading.objects.create(
        component=basin,
        code="silt_depth_in",
        measured_at=wrong.measured_at,
        recorded_at=wrong.recorded_at + timedelta(days=1),
        measured_by="user:x",
        entered_by="user:x",
        withdraws=wrong,
    )
    found(basin, TODAY - timedelta(days=5), 0, code="grade", canonical=None, grade="half", by_owner=True)
    taken = inputs_of(basin).readings
    assert taken.depth_in[0] == good.canonical
    assert taken.grade.tolist() == [-1, 2]
    assert taken.by_owner.tolist() == [False, True]


def test_a_reading_on_the_day_of_a_cleaning_came_before_it() -> None:
    set_up()
    basin, *_ = yard()
    cleaned(basin, TODAY - timedelta(days=100))
    found(basin, TODAY - timedelta(days=100), 2.0)
    inputs = inputs_of(basin)
    (state,) = [state for state in inputs.components if state.id == basin.pk]
    assert inputs.readings.day[0] < state.cleanings[0].day < (TODAY - timedelta(days=99)).toordinal()


def test_the_height_that_holds_silt_and_whether_anyone_measured_it() -> None:
    set_up()
    basin, sump, pump = yard()
    unknown = part(basin.system, "catch_basin", tag="CB-2", dimensions={})
    buried = part(basin.system, "french_drain", tag="FD-1")
    inputs = inputs_of(basin)
    states = {state.id: state for state in inputs.components}
    assert (states[basin.pk].silt_height_in, states[sump.pk].silt_height_in) == (6.0, 4.0)
    assert unknown.pk in inputs.height_assumed
    assert basin.pk not in inputs.height_assumed
    assert states[sump.pk].pumped
    assert not states[pump.pk].watched_for_silt
    assert not states[buried.pk].watched_for_silt, "a French drain is watched only through a clean-out"
    told = windows_of(unknown)
    assert all("silt_height" in row["inputs"] for row in told.values() if row["basis"] == "silt")
