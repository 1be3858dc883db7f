"""An applied file leaves what the services would have left, all of it or nothing."""

from datetime import date
from uuid import uuid4

import pytest

from core.models import History
from jobs import change_component, connect, people, register
from jobs.drainage_areas import add_drainage_area
from jobs.exchange.apply import NotClean
from jobs.hazards import add_hazard, hazard_gone
from jobs.models import Component, ComponentVersion, Connection, Customer, DrainageArea, Property, PropertyRole, System
from jobs.people import create_customer, end_role, give_role
from jobs.replace_component import retire_component
from tests.factories import AT, PropertyFactory, SystemFactory
from tests.jobs.exchange.files import applied, checked, office, register_as_kept, row_counts, told

pytestmark = pytest.mark.django_db


def test_kind_tag_and_address_are_enough():
    applied({"address": "1 Hollow Lane", "kind": "catch basin", "tag": "CB-1"})
    part = Component.objects.get()
    assert (part.kind, part.tag, part.property.address) == ("catch_basin", "CB-1", "1 Hollow Lane")
    assert (part.dimensions, part.certainty, part.system) == ({}, {}, None)
    assert part.versions.count() == 1


def test_plain_is_measured_tilde_is_assumed_and_empty_is_unknown():
    row = {"address": "1 A", "kind": "catch_basin", "tag": "CB", "depth_in": "18", "invert_above_bottom_in": "~6"}
    applied({**row, "outlet_diameter_in": ""})
    part = Component.objects.get()
    assert part.dimensions == {"depth_in": 18.0, "invert_above_bottom_in": 6.0}
    assert part.certainty == {"depth_in": "measured", "invert_above_bottom_in": "assumed"}


def test_the_order_of_rows_does_not_matter():
    rows = [
        {"address": "1 A", "kind": "float", "part_of": "PU", "sits_in": "SB"},
        {"address": "1 A", "kind": "pump", "tag": "PU", "sits_in": "SB"},
        {"address": "1 A", "kind": "sump_basin", "tag": "SB", "goes_to": "PU"},
        {"address": "1 A", "city": "Mossgate", "kind": "channel_run", "tag": "CH", "goes_to": "~SB"},
    ]
    applied(*rows)
    pump, basin = Component.objects.get(tag="PU"), Component.objects.get(tag="SB")
    switch = Component.objects.get(kind="float")
    assert (pump.sits_in, switch.part_of, switch.sits_in) == (basin, pump, basin)
    links = {(link.from_component.tag, link.to_component.tag): link.certainty for link in Connection.objects.all()}
    assert links == {("SB", "PU"): "measured", ("CH", "SB"): "assumed"}
    assert Property.objects.get().city == "Mossgate"
    again = checked(*reversed(rows))
    assert not again.problems
    assert not again.changes
    assert {noun: count.add for noun, count in again.counts.items()} == dict.fromkeys(again.counts, 0)


def test_the_result_is_that_of_the_services():
    """Same rows, history, versions, search texts and revisions, whichever way they came."""
    uids = {
        name: uuid4() for name in ("home", "who", "role", "old", "sys", "sb", "pu", "cb", "gr", "area", "haz", "gone")
    }
    _by_services(uids)
    kept = register_as_kept()
    _empty()
    shared = {
        "address": "5 Weir Close",
        "property_uid": uids["home"],
        "city": "Mossgate",
        "zone": "America/New_York",
        "access_note": "side gate",
        "gate_code": "4411#",
        "notice_only": "yes",
        "owner_name": "Oda Quill",
        "owner_uid": uids["who"],
        "owner_email": "oda@home.invalid",
        "owner_phone": "+1 555 0101",
        "owner_from": "2020-01-01",
        "owner_role_uid": uids["role"],
        "tenant_name": "Oda Quill",
        "tenant_uid": uids["who"],
        "tenant_from": "2018-01-01",
        "tenant_until": "2020-01-01",
        "tenant_role_uid": uids["old"],
        "hazard_1_kind": "dog",
        "hazard_1_note": "brown",
        "hazard_1_uid": uids["haz"],
        "hazard_2_kind": "gas",
        "hazard_2_depth_in": 18,
        "hazard_2_uid": uids["gone"],
        "hazard_2_gone_at": AT.isoformat(),
        "system": "Patio",
        "system_uid": uids["sys"],
        "target_return_years": 25,
    }
    applied(
        {**shared, "kind": "pump", "tag": "PU-1", "uid": uids["pu"], "sits_in": "SB-1", "horsepower_hp": "~0.5"},
        {**shared, "kind": "sump_basin", "tag": "SB-1", "uid": uids["sb"], "goes_to": "PU-1", "place": "0 0; 3.5 -2"},
        {
            **shared,
            "kind": "catch_basin",
            "tag": "CB-9",
            "uid": uids["cb"],
            "installed_on": "2019-05-01",
            "retired_on": "2024-04-30",
            "retired_reason": "cracked",
            "retired_because": "damaged",
            "drains_1_surface": "lawn",
            "drains_1_ft2": "~600",
            "drains_1_runoff_c": 0.25,
            "drains_1_uid": uids["area"],
        },
    )
    assert register_as_kept() == kept


def _by_services(uids):
    act = office()
    home = register.create_property(
        act=act,
        address="5 Weir Close",
        zone="America/New_York",
        uid=uids["home"],
        city="Mossgate",
        access_note="side gate",
        gate_code="4411#",
        notice_only=True,
    )
    who = create_customer(act=act, name="Oda Quill", email="oda@home.invalid", phone="+1 555 0101", uid=uids["who"])
    give_role(act=act, property=home, customer=who, role="owner", from_date=date(2020, 1, 1), uid=uids["role"])
    old = give_role(act=act, property=home, customer=who, role="tenant", from_date=date(2018, 1, 1), uid=uids["old"])
    end_role(act=act, role=old, until_date=date(2020, 1, 1))
    add_hazard(act=act, property=home, kind="dog", note="brown", uid=uids["haz"])
    hazard_gone(act=act, hazard=add_hazard(act=act, property=home, kind="gas", depth_in=18, uid=uids["gone"]))
    system = register.create_system(act=act, property=home, name="Patio", uid=uids["sys"], target_return_years=25.0)
    at = {"act": act, "property": home, "system": system}
    basin = change_component.add_component(
        **at, kind="sump_basin", tag="SB-1", place=[[0, 0], [3.5, -2]], uid=uids["sb"]
    )
    pump = change_component.add_component(
        **at, kind="pump", tag="PU-1", sits_in=basin, dimensions={"horsepower_hp": 0.5}, uid=uids["pu"]
    )
    connect.connect(act=act, from_component=basin, to_component=pump, certainty="measured")
    box = change_component.add_component(
        **at, kind="catch_basin", tag="CB-9", installed_on=date(2019, 5, 1), uid=uids["cb"]
    )
    add_drainage_area(act=act, component=box, surface="lawn", area_ft2=600, runoff_c=0.25, uid=uids["area"])
    retire_component(act=act, component=box, on=date(2024, 4, 30), reason="cracked", because="damaged")


def _empty():
    from core.history import remove_guard

    remove_guard()
    for model in (
        Connection,
        DrainageArea,
        ComponentVersion,
        Component,
        System,
        PropertyRole,
        Customer,
        Property,
        History,
    ):
        model._default_manager.all().delete()


def test_a_file_with_a_problem_is_refused_whole():
    good = {"address": "1 A", "kind": "catch_basin", "tag": "CB-1"}
    before = row_counts()
    with pytest.raises(NotClean) as refused:
        applied(good, {**good, "tag": "CB-2", "depth_in": "deep"})
    assert told(refused.value.checked) == [(3, "depth_in")]
    assert refused.value.fields[0].field == "row 3, depth_in"
    assert row_counts() == before


def test_a_dry_run_writes_nothing():
    before = row_counts()
    found = checked({"address": "1 A", "kind": "catch_basin", "tag": "CB-1", "owner_name": "Oda Quill"})
    assert (found.counts["component"].add, found.counts["customer"].add, found.counts["role"].add) == (1, 1, 1)
    assert row_counts() == before


def test_changes_are_listed_before_they_are_made_and_made_by_the_services():
    row = {"address": "1 A", "kind": "catch_basin", "tag": "CB-1", "system": "Front", "owner_name": "Oda Quill"}
    applied({**row, "depth_in": "~18", "outlet_diameter_in": "4", "owner_phone": "555-0100"})
    part = Component.objects.get()
    new = {**row, "depth_in": "20", "owner_phone": "555-0199", "property_canopy": "heavy", "outlet_diameter_in": ""}
    words = {change.words for change in checked(new).changes}
    assert words == {
        "row 2, component CB-1 at 1 A: depth_in 18.0 -> 20.0",
        "row 2, component CB-1 at 1 A: depth_in is assumed -> measured",
        "row 2, customer Oda Quill: phone 555-0100 -> 555-0199",
        "row 2, property 1 A: canopy some -> heavy",
    }
    applied(new)
    part.refresh_from_db()
    # An empty cell says nothing: the outlet stays as it was.
    assert part.dimensions == {"depth_in": 20.0, "outlet_diameter_in": 4.0}
    assert part.certainty == {"depth_in": "measured", "outlet_diameter_in": "measured"}
    assert Customer.objects.get().search == "oda quill 555-0199 5550199"
    entry = History.objects.filter(noun="component", action="change").get()
    assert entry.changes["certainty"][1]["depth_in"] == "measured"
    # Put in, then once for the canopy and once for the depth.
    assert part.versions.count() == 3
    assert not checked(new).changes


def test_unknown_takes_a_value_back():
    row = {"address": "1 A", "kind": "catch_basin", "tag": "CB-1"}
    applied({**row, "depth_in": "18", "installed_on": "2020-05-01"})
    applied({**row, "depth_in": "unknown", "installed_on": "Unknown"})
    part = Component.objects.get()
    assert (part.dimensions, part.certainty, part.installed_on) == ({}, {}, None)


def test_where_water_goes_is_said_whole():
    rows = [{"address": "1 A", "kind": "catch_basin", "tag": tag} for tag in ("CB-1", "CB-2", "CB-3")]
    applied({**rows[0], "goes_to": "CB-2", "overflows_to": "CB-3"}, *rows[1:])
    moved = {**rows[0], "goes_to": "CB-3"}
    found = checked({**moved, "overflows_to": "unknown"})
    assert found.counts["connection"].remove == 1
    applied({**moved, "overflows_to": "unknown"})
    link = Connection.objects.get()
    assert (link.to_component.tag, link.kind) == ("CB-3", "normal")
    applied(*rows)
    assert Connection.objects.count() == 1


def test_new_parts_join_what_is_there():
    system = SystemFactory(property=PropertyFactory(address="9 Far Meadow"), name="Patio")
    act = office()
    basin = change_component.add_component(
        act=act, property=system.property, system=system, kind="sump_basin", tag="SB-1"
    )
    revision = Property.objects.get().revision
    row = {"address": "9 FAR  meadow", "system": "patio"}
    found = applied(
        {**row, "kind": "pump", "tag": "PU-1", "sits_in": "sb-1"}, {**row, "kind": "grate", "part_of": "SB-1"}
    )
    pump = Component.objects.get(tag="PU-1")
    assert (pump.sits_in, pump.system, pump.property) == (basin, system, system.property)
    assert (found.counts["system"].unchanged, found.counts["property"].unchanged) == (1, 1)
    assert Property.objects.get().revision == revision + 2


def test_an_existing_part_may_move_to_what_the_file_adds():
    applied({"address": "1 A", "kind": "pump", "tag": "PU-1"})
    applied(
        {"address": "1 A", "kind": "pump", "tag": "PU-1", "sits_in": "SB-1", "system": "New", "area": "North"},
        {"address": "1 A", "kind": "sump_basin", "tag": "SB-1", "system": "New", "goes_to": "PU-1"},
    )
    pump = Component.objects.get(tag="PU-1")
    assert (pump.sits_in.tag, pump.system.name, pump.property.area.name) == ("SB-1", "New", "North")


def test_one_person_at_two_addresses_is_one_customer():
    who = {"owner_name": "Oda Quill", "owner_email": "Oda@home.invalid"}
    other = {"owner_name": "ODA QUILL", "owner_email": "oda@home.invalid", "tenant_name": "Bram Nettle"}
    applied(
        {"address": "1 A", "kind": "outfall", "tag": "OF", **who},
        {"address": "2 B", "kind": "outfall", "tag": "OF", "owner_name": "Oda Quill"},
        {
            "address": "3 C",
            "kind": "outfall",
            "tag": "OF",
            "owner_email": "oda@home.invalid",
            "owner_name": "Oda Quill",
        },
    )
    assert Customer.objects.count() == 2
    assert checked({"address": "1 A", "kind": "outfall", "tag": "OF", **other}).counts["customer"].add == 1
    assert PropertyRole.objects.filter(customer__email="Oda@home.invalid").count() == 2


def test_a_role_begins_on_the_day_of_the_import_where_nobody_knows():
    applied({"address": "1 A", "owner_name": "Oda Quill"})
    role = PropertyRole.objects.get()
    assert role.from_date == AT.date()
    assert (role.agrees_days, role.approves_cost, role.gets_messages) == (True, False, True)
    people.change_role(act=office(), role=role, approves_cost=True)
    assert not checked({"address": "1 A", "owner_name": "Oda Quill"}).changes
