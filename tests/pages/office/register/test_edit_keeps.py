"""What a form of the register keeps: nothing is lost by looking, and nothing is half kept when something is refused."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from jobs.models import Component, Connection, Customer, PropertyRole
from tests.factories import ComponentFactory, CustomerFactory, JobFactory, channel_to_sump
from tests.pages.office.register.test_forms import filled, kept, send

pytestmark = pytest.mark.django_db

CURVE = [{"flow_gpm": 0.0, "head_ft": 25.0}, {"flow_gpm": 35.0, "head_ft": 18.0}, {"flow_gpm": 60.0, "head_ft": 5.0}]


@pytest.fixture
def office(browser_of):
    return browser_of("office")


def test_a_measured_curve_stays_measured_when_the_note_changes(office, cast):
    pump = channel_to_sump(cast.property).components.get(kind="pump")
    pump.dimensions, pump.certainty = {**pump.dimensions, "curve": CURVE}, {**pump.certainty, "curve": "measured"}
    pump.save()
    before = dict(pump.dimensions), dict(pump.certainty)
    kept(send(office, "component_change", pump.uid, note="from the plate"))
    pump.refresh_from_db()
    assert (pump.dimensions, pump.certainty, pump.note) == (*before, "from the plate")


def test_a_curve_is_typed_point_by_point(office, cast):
    pump = channel_to_sump(cast.property).components.get(kind="pump")
    kept(send(office, "component_change", pump.uid, dim_curve="0@25; 35@18; 60@5", sure_curve="measured"))
    pump.refresh_from_db()
    assert (pump.dimensions["curve"], pump.certainty["curve"]) == (CURVE, "measured")
    wrong = send(office, "component_change", pump.uid, dim_curve="0@25; 35", sure_curve="measured")
    assert wrong.status_code == 422
    assert 'value="0@25; 35"' in wrong.content.decode()


def test_a_size_whose_certainty_nobody_stated_counts_as_assumed(office, cast):
    part = ComponentFactory(system__property=cast.property, tag="CB-7", dimensions={"depth_in": 18.125}, certainty={})
    kept(send(office, "component_change", part.uid, note="seen"))
    part.refresh_from_db()
    assert (part.dimensions, part.certainty) == ({"depth_in": 18.125}, {"depth_in": "assumed"})


def test_a_stored_size_marked_unknown_is_unknown_and_a_new_one_is_refused(office, cast):
    part = ComponentFactory(
        system__property=cast.property, tag="CB-7", dimensions={"depth_in": 18.0}, certainty={"depth_in": "measured"}
    )
    new = send(office, "component_change", part.uid, dim_depth_in="20", sure_depth_in="")
    assert new.status_code == 422
    assert "4 to 144 in" in new.context["errors"][0][1]
    kept(send(office, "component_change", part.uid, sure_depth_in=""))
    part.refresh_from_db()
    assert part.dimensions == {}


def test_a_new_part_has_the_sizes_of_the_old_one_as_assumed(office, cast):
    part = ComponentFactory(
        system__property=cast.property, tag="CB-7", dimensions={"depth_in": 18.0}, certainty={"depth_in": "measured"}
    )
    address = reverse("pages:component_replace", args=[part.uid])
    values = filled(office, address, reason="cracked")
    for _ in range(2):
        kept(office.post(address, values))
    part.refresh_from_db()
    assert part.successor.dimensions == {"depth_in": 18.0}
    assert part.successor.certainty == {"depth_in": "assumed"}
    assert Component.objects.filter(tag="CB-7").count() == 2


def test_a_part_taken_out_takes_a_late_note(office, cast):
    part = ComponentFactory(system__property=cast.property, tag="CB-7")
    kept(send(office, "component_retire", part.uid, reason="crushed", sure="1"))
    kept(send(office, "component_change", part.uid, note="was crushed by a truck"))
    part.refresh_from_db()
    assert (part.note, part.tag) == ("was crushed by a truck", "CB-7")


def test_the_course_on_the_plan_and_its_cover(office, cast):
    part = ComponentFactory(system__property=cast.property, kind="gravity_pipe", tag="P-7", dimensions={}, certainty={})
    kept(send(office, "component_change", part.uid, place="0 0; 12.5 -3", place_certainty="measured", cover_in="8"))
    part.refresh_from_db()
    assert (part.place, part.place_certainty, part.cover_in) == ([[0, 0], [12.5, -3]], "measured", 8)
    wrong = send(office, "component_change", part.uid, place="0 0; east")
    assert wrong.status_code == 422
    assert wrong.context["errors"][0][0] == "f-place"


def test_parts_without_a_tag_can_be_connected(office, cast):
    pipe = ComponentFactory(system__property=cast.property, kind="gravity_pipe", tag="", dimensions={}, certainty={})
    ends = {"from_component": str(pipe.uid), "to_component": str(ComponentFactory(
        system__property=cast.property, kind="outfall", tag="OF-1", dimensions={}, certainty={}).uid)}  # fmt: skip
    kept(send(office, "connection_add", cast.property.uid, **ends))
    link = Connection.objects.get()
    page = office.get(reverse("pages:connection_remove", args=[link.uid])).content.decode()
    assert "gravity pipe to OF-1, outfall" in page
    unsure = office.post(reverse("pages:connection_remove", args=[link.uid]), {})
    assert (unsure.status_code, unsure.context["errors"][0][0]) == (422, "f-sure")
    assert Connection.objects.exists()


def test_a_person_sent_twice_is_one_person_with_one_role(office, cast):
    address = reverse("pages:person_add", args=[cast.property.uid])
    values = filled(office, address, name="Uma Invented", role="tenant")
    for _ in range(2):
        kept(office.post(address, values))
    assert Customer.objects.filter(name="Uma Invented").count() == 1
    assert PropertyRole.objects.filter(customer__name="Uma Invented").count() == 1


def test_a_person_whose_role_is_refused_is_not_kept_either(office, cast):
    address = reverse("pages:person_add", args=[cast.property.uid])
    values = filled(office, address, name="Uma Invented", from_date="1800-01-01")
    assert office.post(address, values).status_code == 422
    assert not Customer.objects.filter(name="Uma Invented").exists()
    kept(office.post(address, {**values, "name": "Uma M. Invented", "from_date": "2026-01-01"}))


def test_someone_on_record_is_found_by_name_however_many_there_are(office, cast):
    CustomerFactory.create_batch(105, name="Aaron Invented")
    zoe = CustomerFactory(name="Zoë Invented", search="zoe invented")
    address = reverse("pages:person_add", args=[cast.property.uid])
    assert str(zoe.uid) not in office.get(address).content.decode()
    kept(office.post(f"{address}?q=Zoë", filled(office, f"{address}?q=Zoë", customer=str(zoe.uid), role="manager")))
    assert zoe.roles.get().property == cast.property


def test_a_gate_code_is_kept_until_it_is_said_to_be_gone(office, cast):
    kept(send(office, "property_change", cast.property.uid, gate_code="77#"))
    kept(send(office, "property_change", cast.property.uid, note="seen"))
    page = office.get(reverse("pages:property_change", args=[cast.property.uid])).content.decode()
    assert "77#" not in page
    cast.property.refresh_from_db()
    assert cast.property.gate_code == "77#"
    kept(send(office, "property_change", cast.property.uid, no_code="1"))
    cast.property.refresh_from_db()
    assert cast.property.gate_code == ""


def test_a_refused_move_of_a_job_keeps_nothing_of_the_form(office, cast):
    job = JobFactory(property=cast.property, stage="accepted")
    answer = send(office, "job_move", job.uid, stage="digging", waits_for="the marks")
    assert answer.status_code == 422
    assert 'value="the marks"' in answer.content.decode()
    job.refresh_from_db()
    assert (job.waits_for, job.revision) == ("", 1)


def test_a_yard_on_the_equator_keeps_its_latitude(office, cast):
    cast.property.lat = 0.0
    cast.property.save()
    kept(send(office, "property_change", cast.property.uid, note="seen"))
    cast.property.refresh_from_db()
    assert (cast.property.lat, cast.property.note) == (0.0, "seen")


@pytest.mark.parametrize("layout", ["leaders_pop_up", "french_dry_well", "basins_gravity_curb", "two_sumps"])
def test_each_starting_layout_is_made_once_with_its_certainty(office, cast, layout):
    address = reverse("pages:layout_add", args=[cast.property.uid]) + f"?layout={layout}"
    values = filled(office, address, certainty="measured")
    for _ in range(2):
        kept(office.post(address, values))
    assert cast.property.systems.count() == 1
    assert any("measured" in part.certainty.values() for part in cast.property.components.all())


def test_a_number_of_a_layout_out_of_range_names_its_limits(office, cast):
    answer = send(office, "layout_add", cast.property.uid, query="?layout=two_sumps", static_lift_ft="41")
    assert answer.status_code == 422
    assert ("f-static_lift_ft", "Static lift is 41.0: give a number from 0 to 40 ft.") in answer.context["errors"]


def test_a_stale_edit_tells_the_present_values_in_words(office, cast):
    channel = channel_to_sump(cast.property).components.get(kind="channel_run")
    address = reverse("pages:component_change", args=[channel.uid])
    old = filled(office, address, note="mine")
    kept(office.post(address, {**old, "note": "theirs", "dim_length_ft": "31.5", "sure_length_ft": "measured"}))
    answer = office.post(address, old)
    assert answer.status_code == 412
    present = dict(answer.context["present"])
    assert present["System"] == channel.system.name
    assert present["Note"] == "theirs"
    assert any(words == "31.5 ft, measured" for words in present.values())
    kept(office.post(address, {**old, "revision": filled(office, address)["revision"]}))
    channel.refresh_from_db()
    assert channel.note == "mine"


@pytest.mark.parametrize("body", [b"", b"\x00\x01\x02", None])
def test_a_file_that_is_no_register_is_refused_on_the_form_itself(office, body):
    given = {} if body is None else {"file": SimpleUploadedFile("a.csv", body)}
    answer = office.post(reverse("pages:import_register"), given)
    assert answer.status_code in (200, 422)
    assert answer.templates[0].name == "office/register/form.html"
    assert answer.context.get("errors") or "problem" in answer.context["after"]
