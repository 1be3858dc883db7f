"""Storm ratings from the register's rows: what is stored, what limits, what changes it, and what it does to dates."""

import io
import json
import math
from dataclasses import replace
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.act import by_system
from hydraulics import network as net
from hydraulics.rain import DepthDurationTable
from hydraulics.units import to_si
from jobs import register
from jobs.change_component import change_component
from jobs.models import Component
from maintenance import rating, refresh, rules
from maintenance.decide.rating_records import AreaRow, LinkRow, SystemRows, fittings_k, part_row, to_system
from maintenance.models import CapacityFill, DueWindow, RainTable, SystemRating
from maintenance.read import ratings
from tests.factories import AT, PropertyFactory, channel_to_sump, half_known, make_cast

pytestmark = pytest.mark.django_db
ACT = by_system("test", at=AT)
DURATIONS = [5, 10, 15, 30, 60, 120, 180, 360, 720, 1440]
TEN_YEARS = [0.60, 0.95, 1.20, 1.75, 2.27, 2.8, 3.1, 3.8, 4.6, 5.5]


@pytest.fixture(autouse=True)
def _rain():
    RainTable.objects.create(
        name="made",
        durations_min=DURATIONS,
        return_years=[2, 10, 100],
        depths_in=[[round(d * f, 4) for f in (0.7, 1.0, 1.45)] for d in TEN_YEARS],
        source="made for the test",
        recorded_at=AT,
    )


def rate(system) -> SystemRating:
    rating.rate_properties(act=ACT, property_ids=[system.property_id])
    return SystemRating.objects.get(system=system)


def with_area(system, area_ft2=500.0):
    part = system.components.filter(kind="channel_run").first() or system.components.first()
    part.drainage_areas.all().delete()
    register.add_drainage_area(act=ACT, component=part, surface="paved", area_ft2=area_ft2, runoff_c=0.9)
    return system


def test_a_whole_system_is_rated_and_names_what_limits_it():
    row = rate(with_area(channel_to_sump()))
    assert row.needs == []
    assert 0 < row.as_new < 50
    state = row.detail["states"]["as_new"]
    assert state["limiting"] in {c["tag"] for c in state["checks"]}
    known = [c["multiple"] for c in state["checks"] if c["multiple"] is not None]
    assert state["multiple"] == pytest.approx(min(known), rel=1e-6)
    assert row.detail["no_power"] < row.as_new
    assert row.detail["pumps"][0]["most_starts_per_hour"] > 0


def test_twice_the_area_carries_half_the_storm():
    """The peak is the sum of C A i (rational method), so a part that limits without pumps halves."""
    system = with_area(channel_to_sump(), 500.0)
    alone = {c["tag"]: c["multiple"] for c in rate(system).detail["states"]["as_new"]["checks"]}
    with_area(system, 1000.0)
    doubled = {c["tag"]: c["multiple"] for c in rate(system).detail["states"]["as_new"]["checks"]}
    channel = system.components.get(kind="channel_run").tag
    assert doubled[channel] == pytest.approx(alone[channel] / 2, rel=1e-6)


def test_the_records_rate_as_the_table_of_the_method_does():
    """18 in basin, on 12 in, limit 20 in, constant 55 gpm, C A 1,440 ft2, 5 min: 0.5269 of the 10-year storm
    (computed by independent code)."""
    table = DepthDurationTable(DURATIONS, [10], [[d * 25.4] for d in TEN_YEARS], "made")
    channel = {"length_ft": 10, "inside_width_in": 24, "inside_depth_in": 36, "ends": "one_open"}
    basin = {
        "inside_diameter_in": 18,
        "depth_in": 36,
        "on_above_bottom_in": 12,
        "off_above_bottom_in": 6,
        "lowest_inflow_invert_above_bottom_in": 20,
    }
    parts = (
        part_row(1, "CH-1", "channel_run", channel, {}, 1),
        part_row(2, "SB-1", "sump_basin", basin, {}, 1),
        part_row(3, "PU-1", "pump", {}, {}, 1, sits_in=2),
        part_row(4, "DL-1", "discharge_line", {"length_ft": 10, "static_lift_ft": 5}, {}, 1),
        part_row(5, "OF-1", "outfall", {"outlet_kind": "open"}, {}, 1),
    )
    links = (LinkRow(1, 2, False), LinkRow(3, 4, False), LinkRow(4, 5, False))
    rows = SystemRows(1, parts, links, (AreaRow(1, 1440.0, 1.0, 5.0),), table, 10.0)
    system = to_system(rows)
    steady = tuple(
        replace(p, flow_m3s=to_si(55.0, "gpm"), curve=None) if p.kind == "pump" else p for p in system.components
    )
    assert net.storm_rating(replace(system, components=steady)).multiple == pytest.approx(0.5269, abs=1e-3)


def test_a_half_known_yard_says_what_it_needs():
    row = rate(half_known())
    assert row.as_new is None
    assert row.needs
    assert ratings.told(row).lines[0].startswith("not rated: needs ")


def test_silt_today_lowers_it_and_cleaning_brings_it_back():
    rules.install_library(act=ACT)
    system = with_area(channel_to_sump(), 600.0)
    channel = system.components.get(kind="channel_run")
    dims = {**channel.dimensions, "inside_width_in": 3, "inside_depth_in": 3, "length_ft": 80, "ends": "one_open"}
    change_component(act=ACT, component=channel, revision=channel.revision, dimensions=dims)
    row = rate(system)
    assert row.detail["states"]["as_new"]["limiting"] == channel.tag
    assert row.today < row.cleaned <= row.as_new + 1e-9
    assert row.today_p90 <= row.today <= row.today_p10


def test_the_limit_is_appended_only_when_it_changes_and_earlier_days_keep_theirs():
    system = with_area(channel_to_sump(), 300.0)
    rate(system)
    count = CapacityFill.objects.count()
    assert count
    rate(system)
    assert CapacityFill.objects.count() == count
    with_area(system, 900.0)
    later = by_system("test", at=AT + timedelta(days=3))
    rating.rate_properties(act=later, property_ids=[system.property_id])
    channel = system.components.get(kind="channel_run")
    fills = list(channel.capacity_fills.order_by("recorded_at").values_list("fill", flat=True))
    assert fills[-1] < fills[0]


def test_a_tight_channel_is_due_sooner_than_habit_says():
    rules.install_library(act=ACT)
    ample, tight = with_area(channel_to_sump(), 20.0), with_area(channel_to_sump(), 20.0)
    for system in (ample, tight):
        channel = system.components.get(kind="channel_run")
        change_component(
            act=ACT,
            component=channel,
            revision=channel.revision,
            dimensions={**channel.dimensions, "ends": "one_open"},
        )
    checks = rate(tight).detail["states"]["as_new"]["checks"]
    capacity = next(c for c in checks if c["tag"] == channel.tag and c["what"] == "full to the rim")
    with_area(tight, 20.0 * capacity["multiple"] / 1.25)
    refresh.refresh_all(act=ACT)
    dates = {
        name: DueWindow.objects.get(component=system.components.get(kind="channel_run"), task="clean").latest_on
        for name, system in (("ample", ample), ("tight", tight))
    }
    fill = CapacityFill.objects.filter(component=channel).order_by("recorded_at", "id").last().fill
    assert 0.125 < fill < 1 / 3
    assert dates["tight"] < dates["ample"]


def test_fittings_add_up_as_the_handbook_says():
    """Crane TP-410 A-26 to A-29: elbow 30 f_T, 2 in f_T 0.019 (computed 0.0189); plus 1 for the outlet."""
    assert fittings_k({"inside_diameter_in": 2.067}) == 1.0
    assert fittings_k({"inside_diameter_in": 2.067, "elbows_90": 2, "elbows_45": 1}) == pytest.approx(
        1 + 0.0189 * (60 + 16), rel=1e-6
    )
    assert math.isclose(fittings_k({"inside_diameter_in": 1.0}), 1.0)


def test_queries_do_not_grow_with_systems():
    counts = []
    for systems in (1, 3):
        prop = PropertyFactory()
        for number in range(systems):
            with_area(channel_to_sump(prop, number=number + 1))
        rating.rate_properties(act=ACT, property_ids=[prop.pk])
        with CaptureQueriesContext(connection) as found:
            rating.rate_properties(act=ACT, property_ids=[prop.pk])
        counts.append(len(found))
    assert counts[0] == counts[1]


def test_one_spoilt_system_stops_no_other():
    good, bad = with_area(channel_to_sump()), with_area(channel_to_sump())
    pump = bad.components.get(kind="pump")
    rising = [{"flow_gpm": q, "head_ft": h} for q, h in ((0, 5), (10, 9), (20, 3))]
    Component.objects.filter(pk=pump.pk).update(dimensions={"curve": rising})
    rating.rate_properties(act=ACT, property_ids=[good.property_id, bad.property_id])
    assert SystemRating.objects.get(system=good).as_new
    assert SystemRating.objects.get(system=bad).needs


def test_only_visible_systems_are_told():
    cast = make_cast()
    mine, theirs = channel_to_sump(cast.property), channel_to_sump(cast.strangers_property)
    rating.rate_properties(act=ACT, property_ids=[mine.property_id, theirs.property_id])
    assert [r.system_id for r in ratings.ratings(cast.act("homeowner"))] == [mine.pk]
    assert ratings.ratings(cast.act("office")).count() == 2


def test_the_command_prints_words_and_json():
    system = with_area(channel_to_sump())
    out = io.StringIO()
    call_command("storm_rating", stdout=out)
    assert "Today it carries" in out.getvalue()
    out = io.StringIO()
    call_command("storm_rating", system=str(system.uid), json=True, stdout=out)
    (row,) = json.loads(out.getvalue())
    assert row["system"] == str(system.uid)
    assert row["note"].startswith("An estimate from the inputs listed")


def test_metric_and_us_words():
    row = rate(with_area(channel_to_sump()))
    assert "inches in an hour" in ratings.told(row, units="us").lines[0]
    assert "mm in an hour" in ratings.told(row, units="metric").lines[0]
    us, metric = (dict(ratings.told(row, units=units).pumps[0]["facts"]) for units in ("us", "metric"))
    assert "gpm" in us["Duty"]
    assert "l/s" in metric["Duty"]
    assert " m;" in metric["Duty"]


def test_the_demo_company_stands_between_a_small_and_a_huge_storm():
    """Common practice, no source: 20 in in a day overwhelms any yard system; 2 in is no trouble to one that is right.

    20 in and 2 in in the shape of the rating storm are 20 / 5.5 and 2 / 5.5 times the demo's 10-year storm.
    """
    from maintenance.demo import load

    RainTable.objects.all().delete()
    load.load(at=AT)
    rated = SystemRating.objects.exclude(as_new=None)
    assert rated.count() > 70
    assert all(row.as_new < 20 / 5.5 for row in rated)
    meets = [row for row in rated if row.as_new >= 1]
    assert meets
    assert all(row.as_new > 2 / 5.5 for row in meets)
    assert {row.system.name for row in SystemRating.objects.filter(as_new=None)} <= {
        row.system.name for row in SystemRating.objects.filter(system__installed_on=None)
    }
