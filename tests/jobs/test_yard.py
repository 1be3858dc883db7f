"""Everything of one property in a bounded number of queries, and its history in pages."""

from datetime import date

import pytest

from core.models import History
from jobs import change_component, register, replace_component
from jobs.read import checks, history, yard
from tests import factories
from tests.factories import TODAY

pytestmark = pytest.mark.django_db

# Each question for the company's calendar day is one more: whose role holds, since when.
QUERIES = {"office": 10, "crew": 11, "homeowner": 13}


@pytest.fixture
def cast():
    return factories.make_cast()


def fill(place, systems):
    for number in range(1, systems + 1):
        system = factories.channel_to_sump(place, number=number)
        factories.HazardFactory(property=place)
        factories.PhotoFactory(property=place, component=system.components.first())
        factories.JobStepFactory(job=factories.JobFactory(property=place, system=system))
        factories.PropertyRoleFactory(property=place, role="manager")


@pytest.mark.parametrize("systems", [1, 3])
@pytest.mark.parametrize("who", ["office", "crew", "homeowner"])
def test_the_queries_are_the_same_at_one_and_three_systems(cast, systems, who, django_assert_num_queries):
    fill(cast.property, systems)
    act = cast.act(who)
    with django_assert_num_queries(QUERIES[who]):
        whole = yard.of(act, cast.property)
        # Walk what a page shows: nothing more may be fetched.
        for there in whole.systems:
            for part in there.parts:
                str([link.to_component.tag for link in part.goes_to])
                str([link.from_component.tag for link in part.comes_from])
                str([(item.component.kind, item.component.part_of.tag) for item in part.parts])
                str([(item.tag, item.sits_in.tag) for item in part.holds])
                str([area.component.tag for area in part.drainage_areas])
                str(part.component.system.name)
        str([(role.customer.name, role.role) for role in whole.people])
        str([(job.system.name, [step.stage for step in job.steps.all()]) for job in whole.jobs])
        str([(photo.component, photo.shown.sha256) for photo in whole.photos])
    assert len(whole.systems) == systems
    assert len(whole.people) == (1 if who == "homeowner" else systems + 1)


def test_parts_stand_where_they_belong(cast):
    one = factories.channel_to_sump(cast.property, number=1)
    loose = factories.ComponentFactory(system=None, property=cast.property, tag="CB-5")
    whole = yard.of(cast.act("office"), cast.property)
    assert [there.system for there in whole.systems] == [one, None]
    assert [part.component for part in whole.systems[1].parts] == [loose]
    parts = {part.component.tag: part for part in whole.systems[0].parts}
    assert set(parts) == {"CH-1", "SB-1", "PU-1", "AL-1", "CV-1", "DL-1", "OF-1"}
    assert [item.component.kind for item in parts["CH-1"].parts] == ["grate"]
    assert [item.component.kind for item in parts["PU-1"].parts] == ["float"]
    assert {item.kind for item in parts["SB-1"].holds} == {"pump", "float", "high_water_alarm"}
    assert [link.to_component.tag for link in parts["CH-1"].goes_to] == ["SB-1"]
    assert [area.area_ft2 for area in parts["CH-1"].drainage_areas] == [400.0]
    assert parts["CH-1"].kind.name == "channel run"
    assert whole.systems[0].problems == ()
    assert [found.code for found in whole.systems[1].problems] == ["leads_nowhere"]
    assert whole.problems == checks.problems(cast.property)


def test_what_was_taken_out_and_who_left_stand_apart(cast):
    system = factories.channel_to_sump(cast.property)
    pump = system.components.get(kind="pump")
    new = replace_component.replace_component(act=cast.act("office"), component=pump, on=TODAY, reason="seized")
    factories.PropertyRoleFactory(property=cast.property, role="tenant", until_date=date(2021, 1, 1))
    factories.HazardFactory(property=cast.property, gone_at=factories.AT)
    whole = yard.of(cast.act("office"), cast.property)
    assert whole.retired == (pump,)
    assert whole.retired[0].successor == new
    assert whole.people == (cast.role,)
    assert [role.role for role in whole.earlier_people] == ["tenant"]
    assert (len(whole.hazards), len(whole.hazards_gone)) == (0, 1)


def test_a_homeowner_sees_themselves_and_no_one_else_there(cast):
    factories.PropertyRoleFactory(property=cast.property, role="tenant")
    whole = yard.of(cast.act("homeowner"), cast.property)
    assert [role.customer for role in whole.people] == [cast.homeowner]


def test_a_property_with_nothing_known_is_a_yard_too(cast):
    whole = yard.of(cast.act("office"), cast.strangers_property)
    assert (whole.systems, whole.problems, whole.retired) == ((), (), ())


def test_checks_are_three_queries_at_any_size(cast, django_assert_num_queries):
    fill(cast.property, 3)
    with django_assert_num_queries(3):
        checks.problems(cast.property)


def test_history_comes_in_pages_newest_first(cast):
    office = cast.act("office")
    for number in range(5):
        register.add_hazard(act=office, property=cast.property, kind="other", note=str(number))
    first = history.of_property(office, cast.property.uid, size=2)
    notes = [entry.changes["note"][1] for entry in first.entries]
    assert (notes, first.next_before is not None) == (["4", "3"], True)
    register.add_hazard(act=office, property=cast.property, kind="other", note="meanwhile")
    second = history.of_property(office, cast.property.uid, before=first.next_before, size=2)
    third = history.of_property(office, cast.property.uid, before=second.next_before, size=2)
    assert [entry.changes["note"][1] for entry in (*second.entries, *third.entries)] == ["2", "1", "0"]
    assert third.next_before is None


def test_history_of_one_object_and_who_may_read_it(cast):
    office = cast.act("office")
    part = change_component.add_component(act=office, property=cast.property, kind="catch_basin", tag="CB-1")
    change_component.change_component(act=office, component=part, revision=1, note="cracked lid")
    assert [entry.action for entry in history.of_object(office, part.uid).entries] == ["change", "create"]
    assert len(history.of_object(cast.act("crew"), part.uid).entries) == 2
    for who in ("other_crew", "homeowner", "stranger"):
        assert history.of_object(cast.act(who), part.uid).entries == ()
    assert History.objects.filter(property_uid=cast.property.uid).count() == 2
