"""The yard and its parts in words and drawings, each at a cost that does not grow with what is there."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from core.act import by_system
from jobs.read import yard
from jobs.replace_component import replace_component
from maintenance import refresh, rules
from pages.office.register.part_words import in_the_ground, sizes
from tests.factories import (
    AT,
    TODAY,
    ComponentFactory,
    HazardFactory,
    ReadingFactory,
    ServiceAgreementFactory,
    TaskDoneFactory,
    VisitFactory,
    channel_to_sump,
    french_drain_to_outfall,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def office(browser_of):
    return browser_of("office")


def shown(client, route, uid) -> str:
    answer = client.get(reverse(f"pages:{route}", args=[uid]))
    assert answer.status_code == 200
    return answer.content.decode()


def queries(client, route, uid) -> int:
    shown(client, route, uid)
    with CaptureQueriesContext(connection) as found:
        shown(client, route, uid)
    return len(found)


def test_what_is_in_the_ground_is_counted_and_measured(cast):
    channel_to_sump(cast.property)
    channel_to_sump(cast.property, number=2)
    there = yard.of(cast.act("office"), cast.property)
    told = in_the_ground(there.systems)
    assert "2 channel runs, 48 ft" in told
    assert "2 sump basins" in told
    assert "2 discharge lines, 120 ft" in told


def test_sizes_say_which_are_measured_and_which_assumed(cast):
    ComponentFactory(
        system__property=cast.property,
        kind="catch_basin",
        tag="CB-1",
        dimensions={"inside_width_in": 12.0, "depth_in": 18.5},
        certainty={"inside_width_in": "measured", "depth_in": "assumed"},
    )
    part = yard.of(cast.act("office"), cast.property).systems[0].parts[0]
    measured, assumed = sizes(part)
    assert "inside width 12 in" in measured
    assert "depth 18.5 in" in assumed


def test_silt_is_drawn_where_a_forecast_has_it(office, cast):
    act = by_system("test", at=AT)
    rules.install_library(act=act)
    system = channel_to_sump(cast.property)
    channel = system.components.get(kind="channel_run")
    TaskDoneFactory(component=channel, task="clean", done_on=TODAY - timedelta(days=200), left_fill=0.0,
                    recorded_at=AT - timedelta(days=200))  # fmt: skip
    ReadingFactory(component=channel, value=1.5, measured_at=AT - timedelta(days=30))
    refresh.refresh_property(act=act, property_id=cast.property.pk)
    page = shown(office, "property", cast.property.uid)
    assert "of silt expected today; clean at" in page
    assert "of silt expected today; clean at" in shown(office, "component", channel.uid)


def test_visits_to_come_stand_before_past_ones(office, cast):
    VisitFactory(property=cast.property, state="done", local_date=TODAY - timedelta(days=40))
    VisitFactory(property=cast.property, state="agreed", local_date=TODAY + timedelta(days=9))
    VisitFactory(property=cast.property, state="agreed", local_date=TODAY + timedelta(days=3))
    page = shown(office, "property", cast.property.uid)
    days = [f"{TODAY + timedelta(days=n):%-d %B %Y}" for n in (3, 9, -40)]
    at = [page.index(day, page.index('id="vi"')) for day in days]
    assert at == sorted(at)


def test_the_line_of_successors_goes_back_to_the_first(office, cast):
    act = cast.act("office")
    pump = channel_to_sump(cast.property).components.get(kind="pump")
    second = replace_component(act=act, component=pump, on=TODAY - timedelta(days=9), reason="would not start")
    third = replace_component(act=act, component=second, on=TODAY, reason="hums and stands")
    page = shown(office, "component", third.uid)
    assert page.index("hums and stands") < page.index("would not start")
    old = shown(office, "component", pump.uid)
    assert "Taken out on" in old
    assert reverse("pages:component", args=[second.uid]) in old
    assert reverse("pages:component_replace", args=[pump.uid]) not in old, "it is not there to be replaced"


def test_the_yard_costs_the_same_for_one_system_and_three(office, cast):
    act = by_system("test", at=AT)
    rules.install_library(act=act)

    def one_more(number: int) -> None:
        system = channel_to_sump(cast.property, number=number)
        HazardFactory(property=cast.property)
        VisitFactory(property=cast.property, local_date=TODAY + timedelta(days=number))
        ServiceAgreementFactory(property=cast.property)
        channel = system.components.get(kind="channel_run")
        ReadingFactory(component=channel, measured_at=AT - timedelta(days=number))
        TaskDoneFactory(component=channel)
        replace_component(
            act=by_system("test", at=AT), component=system.components.get(kind="pump"), on=TODAY, reason="worn out"
        )
        refresh.refresh_property(act=act, property_id=cast.property.pk)

    one_more(1)
    one = queries(office, "property", cast.property.uid)
    one_more(2)
    one_more(3)
    french_drain_to_outfall(cast.property, number=4)
    assert queries(office, "property", cast.property.uid) == one


def test_a_part_costs_the_same_with_one_reading_and_many(office, cast):
    channel = channel_to_sump(cast.property).components.get(kind="channel_run")
    ReadingFactory(component=channel)
    TaskDoneFactory(component=channel)
    one = queries(office, "component", channel.uid)
    for n in range(6):
        ReadingFactory(component=channel, measured_at=AT - timedelta(days=n))
        TaskDoneFactory(component=channel, done_on=TODAY - timedelta(days=n))
        ComponentFactory(property=cast.property, system=channel.system, kind="grate", tag="", part_of=channel)
    assert queries(office, "component", channel.uid) == one


def test_a_kind_nobody_knows_any_more_is_still_shown(office, cast):
    part = ComponentFactory(system__property=cast.property, kind="weir_box", tag="WB-1")
    assert "WB-1" in shown(office, "property", cast.property.uid)
    assert "weir_box" in shown(office, "component", part.uid)
