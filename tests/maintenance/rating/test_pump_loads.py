"""What the rain asks of the pumps, from the register's rows: by hand, again only when due, as of the day."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core import company
from core.act import by_system
from hydraulics.units import to_si
from jobs.models import Component, Property
from maintenance import pump_loads, rain, rating, refresh
from maintenance.models import DueWindow, PumpLoad, RainTable
from maintenance.read.forecast_inputs import load_common
from tests.factories import AT, TODAY, ZONE, ComponentFactory, ConnectionFactory, RainTableFactory, channel_to_sump
from tests.maintenance.refresh.yards import EARLY, act, set_up

pytestmark = pytest.mark.django_db
FIRST = date(2025, 3, 1)


@pytest.fixture(autouse=True)
def _rules() -> None:
    set_up()
    RainTableFactory(recorded_at=EARLY)


def record(rows: list[tuple[str, float]], *, unit: str = "mm", name: str = "Yard gauge") -> None:
    body = "\n".join(f"{when},{depth}" for when, depth in rows)
    head = "datetime,rain" if "T" in rows[0][0] else "date,rain"
    rain.import_file(act=act(), data=f"{head}\n{body}".encode(), gauge_name=name, unit=unit, apply=True)
    company.change(act=act(), gauge=name)


def daily(days: int = 365, every: int = 3, mm: float = 9.0) -> None:
    record([((FIRST + timedelta(days=n)).isoformat(), mm if n % every == 0 else 0.0) for n in range(days)])


def rated(system) -> None:
    rating.rate_properties(act=act(), property_ids=[system.property_id])


def test_daily_rain_by_hand_shared_by_what_drains_there() -> None:
    system = channel_to_sump()
    daily()
    rated(system)
    row = PumpLoad.objects.get()
    areas = [a for part in system.components.all() for a in part.drainage_areas.all()]
    area_m2 = sum(to_si(a.area_ft2, "ft2") * a.runoff_c for a in areas)
    assert row.runoff_area_m2 == pytest.approx(area_m2)
    volume = 122 * 0.009 * area_m2  # days 0, 3, ... 363
    assert row.run_hours == pytest.approx(volume / row.duty_m3_h)
    assert row.starts == pytest.approx(volume / row.active_m3)
    assert (row.estimated, row.unknown_hours) == (True, 0.0)
    assert row.hours_per_year == pytest.approx(row.run_hours * 365.2425 / 365)
    assert (row.from_on, row.until_on) == (FIRST, FIRST + timedelta(days=364))


def test_a_pump_is_reckoned_again_after_a_month_or_a_change_and_not_before() -> None:
    system = channel_to_sump()
    daily()
    rated(system)
    rated(system)
    assert PumpLoad.objects.count() == 1
    Property.objects.update(revision=9)
    rated(system)
    assert PumpLoad.objects.count() == 1, "a closeout raises the revision and changes nothing here"
    area = next(a for part in system.components.all() for a in part.drainage_areas.all())
    type(area).objects.filter(pk=area.pk).update(area_ft2=area.area_ft2 * 2)
    Property.objects.update(revision=10)
    rated(system)
    assert PumpLoad.objects.count() == 2
    until = FIRST + timedelta(days=364)
    for more, rows in ((27, 2), (28, 3)):
        day = (until + timedelta(days=more)).isoformat()
        rain.import_file(
            act=act(), data=f"date,rain\n{day},1.0".encode(), gauge_name="Yard gauge", unit="mm", apply=True
        )
        rated(system)
        assert PumpLoad.objects.count() == rows


def test_a_battery_pump_gets_no_water_and_two_on_one_line_share_it() -> None:
    system = channel_to_sump()
    pump = system.components.get(kind="pump")
    daily()
    rated(system)
    alone = PumpLoad.objects.get()
    more = {"system": system, "kind": "pump", "sits_in": pump.sits_in}
    ComponentFactory(**more, tag="PU-8", dimensions={**pump.dimensions, "powered_by": "battery"})
    rated(system)
    assert PumpLoad.objects.get() == alone
    second = ComponentFactory(**more, tag="PU-9", dimensions=pump.dimensions)
    ConnectionFactory(from_component=second, to_component=system.components.get(kind="check_valve"))
    rated(system)
    both = {row.component_id: row for row in PumpLoad.objects.exclude(pk=alone.pk)}
    assert set(both) == {pump.pk, second.pk}
    for row in both.values():
        assert row.runoff_area_m2 == pytest.approx(alone.runoff_area_m2 / 2)


def test_too_short_a_record_no_gauge_and_a_system_that_cannot_be_rated_reckon_nothing() -> None:
    system = channel_to_sump()
    rated(system)
    daily(days=179)
    rated(system)
    assert not PumpLoad.objects.exists()
    RainTable.objects.all().delete()
    daily()
    rated(system)
    assert not PumpLoad.objects.exists()


def test_hourly_rain_is_followed_hour_by_hour() -> None:
    system = channel_to_sump()
    start = datetime(2025, 3, 1, tzinfo=UTC)
    hours = [(start + timedelta(hours=n)).strftime("%Y-%m-%dT%H:00") for n in range(24 * 200)]
    record([(when, 6.0 if n % 50 == 0 else 0.0) for n, when in enumerate(hours)])
    rated(system)
    row = PumpLoad.objects.get()
    volume = 96 * 0.006 * row.runoff_area_m2
    share = 0.006 * row.runoff_area_m2 / row.duty_m3_h
    assert share < 1
    assert not row.estimated
    assert row.run_hours == pytest.approx(volume / row.duty_m3_h)
    assert row.starts == pytest.approx(volume * (1 - share) / row.active_m3)


def test_wetter_weather_brings_the_replacement_nearer() -> None:
    system = channel_to_sump()
    pump = system.components.get(kind="pump")
    latest = []
    for mm in (1.0, 60.0):
        PumpLoad.objects.all().delete()
        daily(mm=mm)
        refresh.refresh_property(act=act(), property_id=system.property_id)
        latest.append(DueWindow.objects.get(component=pump, task="replace").latest_on)
    assert latest[1] < latest[0]


def test_it_costs_the_same_queries_for_one_and_many_systems() -> None:
    daily()
    one = [channel_to_sump().property_id]
    many = [channel_to_sump().property_id for _ in range(4)]
    counts = []
    for keys in (one, many):
        with CaptureQueriesContext(connection) as queries:
            rating.rate_properties(act=act(), property_ids=keys)
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert PumpLoad.objects.count() == 5
    common = load_common(as_of=TODAY, zone=ZONE)
    assert pump_loads.reckon(act=by_system("test", at=AT), common=common, systems=(), revisions=()) == 0
    assert Component.objects.filter(kind="pump").count() == 5
