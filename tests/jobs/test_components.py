"""Components: adding, changing, tags, replacing, taking out, connecting."""

from datetime import date
from uuid import uuid4

import pytest

from core.models import History
from core.problem import BadInput, Conflict, StaleVersion
from jobs import change_component, connect, register, replace_component
from jobs.models import Component, ComponentVersion, Connection, DrainageArea, Property
from jobs.read import checks
from tests import factories
from tests.factories import AT, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast():
    return factories.make_cast()


@pytest.fixture
def office(cast):
    return cast.act("office")


def versions(part):
    return [row.data for row in ComponentVersion.objects.filter(component=part).order_by("id")]


def test_kind_and_tag_are_enough(office, cast):
    made = change_component.add_component(act=office, property=cast.property, kind="catch_basin", tag=" cb-1 ")
    assert (made.tag, made.tag_key, made.dimensions, made.certainty) == ("cb-1", "cb-1", {}, {})
    (data,) = versions(made)
    assert data["consequence"] == cast.property.consequence
    assert data["canopy"] == cast.property.canopy
    assert Property.objects.get(pk=cast.property.pk).revision == 2


def test_dimensions_are_those_of_the_kind_and_each_says_how_sure_it_is(office, cast):
    made = change_component.add_component(
        act=office,
        property=cast.property,
        kind="catch_basin",
        tag="CB-1",
        dimensions={"depth_in": 24, "invert_above_bottom_in": 6, "outlet_diameter_in": None},
        certainty={"depth_in": "measured"},
    )
    assert made.dimensions == {"depth_in": 24, "invert_above_bottom_in": 6}
    assert made.certainty == {"depth_in": "measured", "invert_above_bottom_in": "assumed"}
    with pytest.raises(BadInput) as refused:
        change_component.add_component(
            act=office, property=cast.property, kind="catch_basin", tag="CB-2", dimensions={"depth_in": 900, "x": 1}
        )
    assert {problem.field for problem in refused.value.fields} == {"dimensions.depth_in", "dimensions.x"}
    assert "144 in" in refused.value.detail
    with pytest.raises(BadInput, match="give one of channel_run"):
        change_component.add_component(act=office, property=cast.property, kind="fountain", tag="F-1")


def test_a_tag_is_unique_however_it_is_written(office, cast):
    system = register.create_system(act=office, property=cast.property, name="Patio")
    change_component.add_component(act=office, property=cast.property, kind="channel_run", tag="CH-1", system=system)
    with pytest.raises(Conflict) as refused:
        change_component.add_component(act=office, property=cast.property, kind="catch_basin", tag="ch -1")
    assert "is taken by CH-1, a channel run of Patio at 7 Cistern Row" in refused.value.detail
    other = change_component.add_component(act=office, property=cast.property, kind="catch_basin", tag="CB-1")
    with pytest.raises(Conflict, match="taken by CH-1"):
        change_component.change_component(act=office, component=other, revision=1, tag="ＣＨ-1")
    assert Component.objects.get(pk=other.pk).tag == "CB-1"
    elsewhere = change_component.add_component(
        act=office, property=cast.strangers_property, kind="channel_run", tag="CH-1"
    )
    assert elsewhere.tag == "CH-1"


def test_a_tag_has_at_most_24_characters(office, cast):
    with pytest.raises(BadInput, match="tag has 25 characters"):
        change_component.add_component(act=office, property=cast.property, kind="catch_basin", tag="C" * 25)
    # NFKC writes the ligature U+FB03 as three letters (Unicode Standard Annex 15): 24 of them are 72.
    with pytest.raises(BadInput, match="ligatures"):
        change_component.add_component(act=office, property=cast.property, kind="catch_basin", tag="\ufb03" * 24)


def test_sub_parts_have_no_tag_and_belong_to_something_of_the_same_yard(office, cast):
    system = factories.channel_to_sump(cast.property)
    channel = system.components.get(kind="channel_run")
    pump = system.components.get(kind="pump")
    add = change_component.add_component
    grate = add(act=office, property=cast.property, kind="grate", part_of=channel)
    assert grate.tag == ""
    with pytest.raises(BadInput, match="a grate is a sub-part and has none"):
        add(act=office, property=cast.property, kind="grate", tag="G-1", part_of=channel)
    with pytest.raises(BadInput, match="part_of is PU-1: give a catch basin or a channel run"):
        add(act=office, property=cast.property, kind="grate", part_of=pump)
    with pytest.raises(BadInput, match="sits_in: a channel run does not belong"):
        add(act=office, property=cast.property, kind="channel_run", tag="CH-5", sits_in=channel)
    with pytest.raises(BadInput, match="give a sump basin at 90 Far Meadow"):
        add(act=office, property=cast.strangers_property, kind="pump", sits_in=system.components.get(kind="sump_basin"))


def test_a_stale_edit_of_a_component_is_refused(office, cast):
    part = factories.ComponentFactory()
    change_component.change_component(act=office, component=part, revision=1, note="first")
    with pytest.raises(StaleVersion):
        change_component.change_component(act=office, component=part, revision=1, note="second")
    assert Component.objects.get(pk=part.pk).note == "first"


def test_every_change_appends_a_version(office):
    part = factories.ComponentFactory(dimensions={"depth_in": 18.0, "invert_above_bottom_in": 6.0})
    changed = change_component.change_component(
        act=office, component=part, revision=1, dimensions={"depth_in": 20.0, "invert_above_bottom_in": 6.0}
    )
    # What was measured stays measured; what changed without a word about it is assumed.
    assert changed.certainty == {"depth_in": "assumed", "invert_above_bottom_in": "measured"}
    assert [data["dimensions"]["depth_in"] for data in versions(part)] == [18.0, 20.0]
    change_component.change_component(act=office, component=changed, revision=2, dimensions=changed.dimensions)
    assert len(versions(part)) == 2


def test_a_client_made_component_sent_twice_is_one(office, cast):
    uid = uuid4()
    given = {"property": cast.property, "kind": "catch_basin", "tag": "CB-1", "dimensions": {"depth_in": 24.0}}
    first = change_component.add_component(act=office, uid=uid, **given)
    assert change_component.add_component(act=office, uid=uid, **given).pk == first.pk
    assert len(versions(first)) == 1
    with pytest.raises(Conflict, match="other values"):
        change_component.add_component(act=office, uid=uid, **{**given, "tag": "CB-2"})


def test_a_replaced_pump_hands_on_tag_connections_and_float_and_keeps_readings_and_photos(office, cast):
    system = factories.channel_to_sump(cast.property)
    old = system.components.get(kind="pump")
    switch = system.components.get(kind="float")
    reading = factories.ReadingFactory(component=old, code="amps", value=6.1, unit="A")
    photo = factories.PhotoFactory(property=cast.property, component=old)
    basin, valve = old.sits_in, system.components.get(kind="check_valve")
    revision = Property.objects.get(pk=cast.property.pk).revision

    new = replace_component.replace_component(
        act=office, component=old, on=TODAY, reason="seized", because="failed", dimensions={"horsepower_hp": 0.75}
    )

    old.refresh_from_db()
    assert (old.retired_on, old.retired_reason, old.successor, old.tag) == (TODAY, "seized", new, "PU-1")
    assert (new.tag, new.tag_key, new.sits_in, new.system) == ("PU-1", "pu-1", basin, system)
    assert (new.installed_on, new.dimensions, new.successor) == (TODAY, {"horsepower_hp": 0.75}, None)
    assert {link.from_component for link in new.comes_from.all()} == {basin}
    assert {link.to_component for link in new.goes_to.all()} == {valve}
    assert not old.goes_to.exists()
    switch.refresh_from_db()
    assert switch.part_of == new
    reading.refresh_from_db()
    photo.refresh_from_db()
    assert (reading.component, photo.component) == (old, old)
    assert versions(old)[-1]["retired_on"] == TODAY.isoformat()
    assert versions(old)[-1]["retired_because"] == old.retired_because == "failed"
    assert versions(switch)[-1]["part_of_uid"] == str(new.uid)
    assert versions(new)[-1]["dimensions"] == {"horsepower_hp": 0.75}
    assert Property.objects.get(pk=cast.property.pk).revision == revision + 1
    assert not [found for found in checks.problems(cast.property) if found.severity == "error"]
    # One act, told once for each thing it changed.
    told = History.objects.filter(act_id=office.id).values_list("noun", "action")
    assert sorted(told) == [
        ("component", "change"),
        ("component", "create"),
        ("component", "retire"),
        ("connection", "change"),
        ("connection", "change"),
    ]


def test_a_replaced_inlet_hands_on_its_drainage_areas_and_grate(office):
    system = factories.channel_to_sump()
    old = system.components.get(kind="channel_run")
    new = replace_component.replace_component(act=office, component=old, on=TODAY, reason="cracked")
    assert DrainageArea.objects.get(property=system.property).component == new
    assert system.components.get(kind="grate").part_of == new
    # Like for like: the old sizes are taken over but nobody has measured the new part.
    assert new.dimensions == old.dimensions
    assert set(new.certainty.values()) == {"assumed"}


def test_a_part_is_taken_out_once(office):
    old = factories.ComponentFactory(tag="CB-1")
    uid = uuid4()
    new = replace_component.replace_component(act=office, component=old, on=TODAY, reason="broken", uid=uid)
    again = replace_component.replace_component(act=office, component=old, on=TODAY, reason="broken", uid=uid)
    assert again == new
    with pytest.raises(Conflict, match=r"CB-1 was taken out on 2026-05-04 already; CB-1 is in its place"):
        replace_component.replace_component(act=office, component=old, on=TODAY, reason="broken")
    with pytest.raises(Conflict, match="already"):
        replace_component.retire_component(act=office, component=old, on=TODAY, reason="broken")
    assert Component.objects.filter(system=old.system).count() == 2


@pytest.mark.parametrize("on", [date(2022, 5, 31), date(2026, 5, 6)])
def test_a_part_is_taken_out_between_its_install_and_today(office, on):
    part = factories.ComponentFactory()
    with pytest.raises(BadInput, match=f"on is {on}"):
        replace_component.retire_component(act=office, component=part, on=on, reason="broken")
    with pytest.raises(BadInput, match="reason is empty"):
        replace_component.retire_component(act=office, component=part, on=TODAY, reason=" ")
    with pytest.raises(BadInput, match="because is 'bored': give one of failed, worn"):
        replace_component.retire_component(act=office, component=part, on=TODAY, reason="old", because="bored")


def test_a_part_taken_out_frees_its_tag_and_takes_its_grate_and_connections_along(office, cast):
    system = factories.channel_to_sump(cast.property)
    channel = system.components.get(kind="channel_run")
    replace_component.retire_component(act=office, component=channel, on=TODAY, reason="patio removed")
    assert system.components.get(kind="grate").retired_on == TODAY
    assert not Connection.objects.filter(from_component=channel).exists()
    (found,) = [item for item in checks.problems(cast.property) if item.code == "area_without_inlet"]
    assert "patio 1 (400 ft2) drained to CH-1, taken out on 2026-05-04" in found.message
    again = change_component.add_component(act=office, property=cast.property, kind="channel_run", tag="CH-1")
    assert again.tag_key == channel.tag_key
    with pytest.raises(Conflict, match="was taken out"):
        change_component.change_component(
            act=office, component=Component.objects.get(pk=channel.pk), revision=2, tag="X"
        )


def test_connections_are_made_once_and_within_one_yard(office):
    first, second = factories.ComponentFactory(), None
    second = factories.ComponentFactory(system=first.system, kind="gravity_pipe", tag="GP-1")
    made = connect.connect(act=office, from_component=first, to_component=second, certainty="measured")
    assert connect.connect(act=office, from_component=first, to_component=second) == made
    with pytest.raises(Conflict, match="in another way"):
        connect.connect(act=office, from_component=first, to_component=second, kind="overflow")
    with pytest.raises(BadInput, match="give another component at"):
        connect.connect(act=office, from_component=first, to_component=first)
    with pytest.raises(BadInput, match="give another component at"):
        connect.connect(act=office, from_component=first, to_component=factories.ComponentFactory())
    connect.disconnect(act=office, connection=made)
    connect.disconnect(act=office, connection=made)
    assert list(History.objects.filter(object_uid=made.uid).order_by("id").values_list("action", flat=True)) == [
        "create",
        "remove",
    ]


def test_two_sumps_at_one_property_are_told_apart(office, cast):
    one = factories.channel_to_sump(cast.property, number=1)
    two = factories.channel_to_sump(cast.property, number=2)
    assert checks.problems(cast.property) == ()
    pump = two.components.get(kind="pump")
    replace_component.retire_component(act=office, component=pump, on=TODAY, reason="taken for repair")
    assert [found.tags[0] for found in checks.problems_of(two) if found.code == "leads_nowhere"] == ["SB-2"]
    assert checks.problems_of(one) == ()


def test_a_slope_below_the_least_is_accepted_with_a_reason(office):
    # Least slope 0.5 % unless a reason is given, warning below 1 %: the register's own rule.
    system = factories.french_drain_to_outfall()
    pipe = system.components.get(kind="gravity_pipe")
    changed = change_component.change_component(
        act=office, component=pipe, revision=1, dimensions={**pipe.dimensions, "slope_percent": 0.3}
    )
    assert any(found.severity == "error" and "GP-1" in found.tags for found in checks.problems_of(system))
    change_component.change_component(
        act=office, component=changed, revision=2, slope_reason="ledge of rock, seen running full"
    )
    assert not any(found.severity == "error" for found in checks.problems_of(system))


def test_a_place_is_a_course_of_points_in_feet(office, cast):
    made = change_component.add_component(
        act=office, property=cast.property, kind="gravity_pipe", tag="GP-1", place=[[0, 1.5], (10, -3)]
    )
    assert Component.objects.get(pk=made.pk).place == [[0.0, 1.5], [10.0, -3.0]]
    for place in ([[1]], [[1, float("nan")]], [[0, 0]] * 201, "here"):
        with pytest.raises(BadInput, match="place"):
            change_component.change_component(act=office, component=made, revision=1, place=place)


def test_versions_say_when_they_were_known(office):
    part = factories.ComponentFactory()
    change_component.change_component(act=office, component=part, revision=1, canopy="heavy")
    assert [row.recorded_at for row in part.versions.all()] == [AT, AT]
    assert versions(part)[-1]["canopy"] == "heavy"
