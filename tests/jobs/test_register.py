"""Properties, systems, hazards and drainage areas: what is taken, refused, kept and told."""

from datetime import date
from uuid import uuid4

import pytest

from core.models import History
from core.problem import BadInput, Conflict, StaleVersion
from jobs import register
from jobs.models import Component, ComponentVersion, DrainageArea, Hazard, Property
from tests import factories
from tests.factories import AT

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast():
    return factories.make_cast()


@pytest.fixture
def office(cast):
    return cast.act("office")


def entries(thing):
    return list(History.objects.filter(object_uid=thing.uid).order_by("id"))


def test_a_property_is_created_with_the_companys_zone_and_one_history_entry(office):
    made = register.create_property(act=office, address="  12  Brook   Way ", gate_code="4711", consequence="lawn")
    assert (made.address, made.zone, made.revision) == ("12 Brook Way", "America/New_York", 1)
    assert made.created_at == AT
    (entry,) = entries(made)
    assert (entry.action, entry.who, entry.via) == ("create", office.who, "page")
    assert entry.changes["address"] == [None, "12 Brook Way"]
    assert "4711" not in str(entry.changes)
    assert Property.objects.get(pk=made.pk).gate_code == "4711"


def test_an_address_in_any_script_is_kept_in_composed_form(office):
    # Unicode Standard Annex 15: NFC of U+004E U+0303 is U+00D1.
    made = register.create_property(act=office, address="8 Peñ\u0303a Straße 北\x00\u202e", city="Łódź")
    assert made.address == "8 Peñ\u0303a Straße 北".replace("n\u0303", "ñ")
    assert made.city == "Łódź"
    assert register.create_property(act=office, address="Calle Nin\u0303o 3").address == "Calle Ni\u00f1o 3"


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"address": "x" * 161}, "address has 161 characters"),
        ({"address": " \x00 "}, "address is empty: give 1 to 160 characters"),
        ({"lat": 91}, "lat is 91 degrees: give a number from -90 to 90 degrees"),
        ({"lat": float("nan")}, "lat is nan degrees"),
        ({"zone": "Mars/Olympus"}, "zone is 'Mars/Olympus'"),
        ({"canopy": "jungle"}, "canopy is 'jungle': give one of open, some, heavy"),
        ({"notice_only": "yes"}, "notice_only is 'yes': give true or false"),
        ({"colour": "red"}, "colour is not a field of a property"),
        ({"plan": {"north_deg": float("inf")}}, "plan must be a JSON object with finite numbers"),
        ({"closed_at": AT.replace(tzinfo=None)}, "with its zone"),
    ],
)
def test_bad_values_are_refused_by_name_value_and_limit(office, fields, words):
    with pytest.raises(BadInput) as refused:
        register.create_property(act=office, **{"address": "1 Elm", **fields})
    assert words in refused.value.detail
    assert [problem.field for problem in refused.value.fields] == list(fields)
    assert not Property.objects.filter(address="1 Elm").exists()


def test_every_bad_value_is_told_at_once(office):
    with pytest.raises(BadInput) as refused:
        register.create_property(act=office, address="", lat=200, canopy="x")
    assert {problem.field for problem in refused.value.fields} == {"address", "lat", "canopy"}


def test_a_stale_edit_is_refused_and_changes_nothing(office, cast):
    mine = yours = Property.objects.get(pk=cast.property.pk)
    changed = register.change_property(act=office, property=yours, revision=1, note="theirs")
    assert changed.revision == 2
    with pytest.raises(StaleVersion, match="you edited version 1, now it is 2"):
        register.change_property(act=office, property=mine, revision=1, note="mine", city="Elsewhere")
    present = Property.objects.get(pk=cast.property.pk)
    assert (present.note, present.city) == ("theirs", cast.property.city)
    assert [entry.changes for entry in entries(present)] == [{"note": ["", "theirs"]}]


def test_only_the_changed_fields_are_written_and_kept(office, cast):
    # A column the edit does not name was written meanwhile without a revision: it stays.
    Property.objects.filter(pk=cast.property.pk).update(corner="south-west corner")
    changed = register.change_property(
        act=office, property=cast.property, revision=1, address=cast.property.address, access_note="ring first"
    )
    assert changed.corner == "south-west corner"
    assert entries(changed)[0].changes == {"access_note": ["", "ring first"]}


def test_nothing_changed_writes_nothing(office, cast):
    same = register.change_property(act=office, property=cast.property, revision=1, address=cast.property.address)
    assert same.revision == 1
    assert not entries(same)


def test_a_gate_code_is_masked_in_the_history(office, cast):
    register.change_property(act=office, property=cast.property, revision=1, gate_code="0042")
    assert entries(cast.property)[0].changes == {"gate_code": ["changed", "changed"]}


@pytest.mark.parametrize("field", [{"canopy": "heavy"}, {"consequence": "lawn"}])
def test_canopy_and_consequence_are_kept_as_versions_of_every_component(office, cast, field):
    factories.channel_to_sump(cast.property)
    before = ComponentVersion.objects.count()
    changed = register.change_property(act=office, property=cast.property, revision=1, **field)
    parts = Component.objects.filter(property=changed)
    assert ComponentVersion.objects.count() == before + parts.count()
    ((name, value),) = field.items()
    for part in parts:
        newest = part.versions.order_by("-id").first()
        assert newest.data[name] == value
    register.change_property(act=office, property=changed, revision=changed.revision, note="no new versions for this")
    assert ComponentVersion.objects.count() == before + parts.count()


def test_a_client_made_id_sent_twice_makes_one_thing(office):
    uid = uuid4()
    first = register.create_property(act=office, address="5 Mill Pond", uid=uid)
    register.change_property(act=office, property=first, revision=1, note="changed by the office meanwhile")
    again = register.create_property(act=office, address="5 Mill Pond", uid=uid)
    assert again.pk == first.pk
    assert Property.objects.filter(uid=uid).count() == 1
    assert len([entry for entry in entries(first) if entry.action == "create"]) == 1
    with pytest.raises(Conflict, match="used before for a property with other values"):
        register.create_property(act=office, address="6 Mill Pond", uid=uid)


def test_two_areas_cannot_have_one_name(office):
    register.create_area(act=office, name="North side")
    with pytest.raises(Conflict, match="an area named North side already"):
        register.create_area(act=office, name="North  side")


def test_every_register_write_raises_the_propertys_revision(office, cast):
    home = cast.property

    def risen(write):
        before = Property.objects.get(pk=home.pk).revision
        result = write()
        assert Property.objects.get(pk=home.pk).revision == before + 1
        return result

    system = risen(lambda: register.create_system(act=office, property=home, name="Patio"))
    risen(lambda: register.change_system(act=office, system=system, revision=1, target_return_years=25))
    hazard = risen(lambda: register.add_hazard(act=office, property=home, kind="gas", depth_in=12))
    risen(lambda: register.change_hazard(act=office, hazard=hazard, note="to the grill"))
    risen(lambda: register.hazard_gone(act=office, hazard=hazard, note="moved by the gas company"))
    inlet = factories.ComponentFactory(system=system)
    area = risen(
        lambda: register.add_drainage_area(act=office, component=inlet, surface="roof", area_ft2=10, runoff_c=1)
    )
    risen(lambda: register.change_drainage_area(act=office, drainage_area=area, area_ft2=12))
    risen(lambda: register.remove_drainage_area(act=office, drainage_area=area))


def test_a_hazard_stays_until_someone_says_it_is_gone(office, cast):
    hazard = register.add_hazard(act=office, property=cast.property, kind="cable", note="pool light", x_ft=3, y_ft=-2)
    gone = register.hazard_gone(act=office, hazard=hazard, note="dug out")
    assert gone.gone_at == AT
    register.hazard_gone(act=office, hazard=gone)
    assert [entry.action for entry in entries(hazard)] == ["create", "change"]
    assert Hazard.objects.filter(pk=hazard.pk).exists()
    with pytest.raises(BadInput, match="depth_in is -1 in: give a number from 0 to 240 in"):
        register.add_hazard(act=office, property=cast.property, kind="gas", depth_in=-1)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("area_ft2", 0, "area_ft2 is 0 ft2: give more than 0"),
        ("runoff_c", 1.2, "runoff_c is 1.2: give more than 0 up to 1"),
        ("concentration_min", 4, "concentration_min is 4 min: give a number from 5 to 1440 min"),
        ("surface", "sand", "surface is 'sand'"),
    ],
)
def test_drainage_areas_have_sense(office, field, value, words):
    inlet = factories.ComponentFactory()
    given = {"surface": "paved", "area_ft2": 100, "runoff_c": 0.9, field: value}
    with pytest.raises(BadInput) as refused:
        register.add_drainage_area(act=office, component=inlet, **given)
    assert words in refused.value.detail


def test_a_surface_drains_to_an_inlet_only(office):
    pump = factories.ComponentFactory(kind="pump", tag="PU-1")
    with pytest.raises(BadInput, match="PU-1 is a pump: give the inlet the water enters"):
        register.add_drainage_area(act=office, component=pump, surface="roof", area_ft2=10, runoff_c=1)


def test_a_drainage_area_moves_to_another_inlet_of_the_same_yard_only(office):
    inlet = factories.ComponentFactory()
    other = factories.ComponentFactory(system=inlet.system)
    area = factories.DrainageAreaFactory(component=inlet)
    moved = register.change_drainage_area(act=office, drainage_area=area, component=other)
    assert moved.component == other
    with pytest.raises(BadInput, match="an inlet of the same property"):
        register.change_drainage_area(act=office, drainage_area=area, component=factories.ComponentFactory())


def test_removing_a_drainage_area_leaves_what_it_said_in_the_history(office):
    area = factories.DrainageAreaFactory(area_ft2=321.0)
    register.remove_drainage_area(act=office, drainage_area=area)
    register.remove_drainage_area(act=office, drainage_area=area)
    assert not DrainageArea.objects.filter(pk=area.pk).exists()
    (entry,) = entries(area)
    assert (entry.action, entry.changes["area_ft2"]) == ("remove", [321.0, None])


def test_our_install_is_handed_over_only_without_errors(office):
    good = factories.channel_to_sump()
    handed = register.change_system(act=office, system=good, revision=1, handed_over_on=date(2026, 5, 4))
    assert handed.handed_over_on == date(2026, 5, 4)
    bad = factories.SystemFactory(name="Half done")
    factories.ComponentFactory(system=bad, kind="channel_run", tag="CH-7")
    with pytest.raises(BadInput, match=r"Half done cannot be handed over yet\. CH-7 leads nowhere") as refused:
        register.change_system(act=office, system=bad, revision=1, handed_over_on=date(2026, 5, 4))
    assert refused.value.code == "system_has_errors"
    old = factories.half_known()
    assert register.change_system(act=office, system=old, revision=1, handed_over_on=date(2026, 5, 4)).handed_over_on
