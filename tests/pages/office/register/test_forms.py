"""Every form of the register: what is typed is kept, what is wrong is said beside its field, stale edits show both."""

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from jobs.models import Area, Component, Connection, Customer, DrainageArea, Hazard, Job, Property, PropertyRole, System
from pages.office.register_urls import AT_PROPERTY, BY_ITSELF, FORMS
from tests.factories import ComponentFactory, HazardFactory, JobFactory, channel_to_sump

pytestmark = pytest.mark.django_db


@pytest.fixture
def office(browser_of):
    return browser_of("office")


def filled(client, address, /, **more):
    """What the form shows, as a browser would send it, with some fields typed anew."""
    page = client.get(address)
    assert page.status_code == 200, page.content[:300]
    values = {}
    for field in page.context["fields"]:
        if field.sort == "file" or (field.sort == "check" and not field.value):
            continue
        values[field.name] = field.value
        if field.beside:
            values[field.beside.name] = field.beside.value
    return {**values, **more}


def send(client, route, /, *args, query="", **more):
    address = reverse(f"pages:{route}", args=args) + query
    return client.post(address, filled(client, address, **more))


def kept(answer):
    assert answer.status_code == 302, re.sub(r"<[^>]+>", " ", answer.content.decode())[:1500]


def test_a_property_with_its_people_from_nothing(office, cast):
    kept(send(office, "area_add", name="Far Bank"))
    kept(send(office, "property_add", address="12 Peña Way", lat="36.2", lon="-79.5", gate_code="77#"))
    prop = Property.objects.get(address="12 Peña Way")
    assert (prop.lat, prop.gate_code) == (36.2, "77#")
    kept(
        send(office, "property_change", prop.uid, area=str(Area.objects.get().uid) if Area.objects.count() == 1 else "")
    )
    kept(send(office, "person_add", prop.uid, name="Uma Invented", email="uma@home.invalid", role="tenant"))
    role = PropertyRole.objects.get(property=prop)
    assert (role.customer.name, role.role) == ("Uma Invented", "tenant")
    kept(send(office, "customer_change", role.customer.uid, phone="555-0199"))
    assert Customer.objects.get(pk=role.customer_id).phone == "555-0199"
    kept(send(office, "role_end", role.uid, sure="1"))
    role.refresh_from_db()
    assert role.until_date is not None
    prop.refresh_from_db()
    assert prop.gate_code == "77#"


def test_a_system_part_by_part(office, cast):
    prop = cast.property
    kept(send(office, "system_add", prop.uid, name="Patio"))
    system = System.objects.get(property=prop)
    kept(send(office, "system_change", system.uid, target_return_years="25"))
    part = {"system": str(system.uid), "dim_length_ft": "30.5", "sure_length_ft": "measured"}
    kept(send(office, "component_add", prop.uid, query="?kind=channel_run", tag="CH-1", **part))
    channel = Component.objects.get(property=prop, tag="CH-1")
    assert channel.dimensions["length_ft"] == 30.5
    assert channel.certainty["length_ft"] == "measured"
    kept(send(office, "component_add", prop.uid, query="?kind=outfall", tag="OF-1", system=str(system.uid)))
    outfall = Component.objects.get(property=prop, tag="OF-1")
    kept(send(office, "connection_add", prop.uid, from_component=str(channel.uid), to_component=str(outfall.uid)))
    kept(send(office, "drainage_area_add", prop.uid, component=str(channel.uid), area_ft2="600"))
    kept(send(office, "component_change", channel.uid, dim_length_ft="31", sure_length_ft="assumed"))
    channel.refresh_from_db()
    assert (channel.dimensions["length_ft"], channel.certainty["length_ft"]) == (31, "assumed")
    kept(send(office, "drainage_area_remove", DrainageArea.objects.get().uid, sure="1"))
    kept(send(office, "connection_remove", Connection.objects.get().uid, sure="1"))
    kept(send(office, "component_retire", outfall.uid, reason="not needed", sure="1"))
    outfall.refresh_from_db()
    assert outfall.retired_on is not None


def test_a_pump_is_replaced_and_keeps_its_place(office, cast):
    system = channel_to_sump(cast.property)
    pump = system.components.get(kind="pump")
    kept(send(office, "component_replace", pump.uid, reason="would not start", name="1/2 hp effluent pump"))
    pump.refresh_from_db()
    assert pump.retired_on is not None
    assert pump.successor.tag == pump.tag


def test_a_starting_layout_makes_a_whole_system(office, cast):
    kept(send(office, "layout_add", cast.property.uid, query="?layout=channel_pumped_curb"))
    assert cast.property.components.filter(kind="pump").count() == 1
    assert cast.property.connections.count() >= 4


def test_hazards_and_jobs(office, cast):
    kept(send(office, "hazard_add", cast.property.uid, kind="gas", note="to the grill", depth_in="9"))
    hazard = Hazard.objects.get(kind="gas")
    kept(send(office, "hazard_gone", hazard.uid, note="capped and removed", sure="1"))
    hazard.refresh_from_db()
    assert hazard.gone_at is not None
    kept(send(office, "job_add", cast.property.uid, title="Second channel"))
    job = Job.objects.get()
    for stage in ("measured", "priced", "accepted"):
        kept(send(office, "job_move", job.uid, stage=stage))
    refused = send(office, "job_move", job.uid, stage="digging")
    assert refused.status_code == 422
    kept(send(office, "job_move", job.uid, stage="digging", locate_number="L-1"))
    job.refresh_from_db()
    assert job.stage == "digging"


def test_a_photo_goes_up(office, cast, png, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    address = reverse("pages:photo_add", args=[cast.property.uid])
    values = filled(office, address, caption="the gate")
    kept(office.post(address, {**values, "picture": SimpleUploadedFile("gate.png", png, "image/png")}))
    assert cast.property.photos.get().caption == "the gate"
    wrong = office.post(address, {**values, "picture": SimpleUploadedFile("gate.svg", b"<svg/>", "image/svg+xml")})
    assert wrong.status_code == 422


@pytest.fixture
def png() -> bytes:
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (40, 30), "white").save(out, "PNG")
    return out.getvalue()


def test_what_is_wrong_is_said_beside_its_field_and_nothing_typed_is_lost(office, cast):
    answer = send(
        office,
        "component_add",
        cast.property.uid,
        query="?kind=channel_run",
        tag="CH-9",
        dim_length_ft="9000",
        sure_length_ft="measured",
    )
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "500" in text
    assert "ft" in text
    assert 'value="9000"' in text
    assert 'href="#f-dim_length_ft"' in text
    assert not Component.objects.filter(tag="CH-9").exists()


def test_someone_else_was_here_first(office, cast):
    part = ComponentFactory(system__property=cast.property, tag="CB-7")
    address = reverse("pages:component_change", args=[part.uid])
    old = filled(office, address, note="mine")
    kept(office.post(address, {**filled(office, address), "note": "theirs"}))
    answer = office.post(address, old)
    assert answer.status_code == 412
    text = answer.content.decode()
    assert "theirs" in text
    assert "mine" in text
    part.refresh_from_db()
    assert part.note == "theirs"


def test_sent_twice_counts_once(office, cast):
    address = reverse("pages:hazard_add", args=[cast.property.uid])
    values = filled(office, address, note="once")
    for _ in range(2):
        kept(office.post(address, values))
    assert Hazard.objects.filter(note="once").count() == 1


def test_import_is_read_first_and_applied_only_when_clean(office, tmp_path):
    from tests.jobs.exchange.made_register import write_register

    file = tmp_path / "yards.csv"
    write_register(file, 20)
    before = Property.objects.count()
    address = reverse("pages:import_register")
    dry = office.post(address, {"file": SimpleUploadedFile("yards.csv", file.read_bytes())})
    assert dry.status_code == 200
    assert Property.objects.count() == before
    kept(office.post(address, {"file": SimpleUploadedFile("yards.csv", file.read_bytes()), "apply": "1"}))
    assert Property.objects.count() > before
    download = office.get(reverse("pages:export_register", args=["csv"]))
    assert download.status_code == 200
    assert b"Cistern Row" in download.content


def _record(cast, name: str):
    system = channel_to_sump(cast.property)
    records = {
        "property_change": cast.property,
        "customer_change": cast.homeowner,
        "role_end": cast.role,
        "hazard_gone": HazardFactory(property=cast.property),
        "job_move": JobFactory(property=cast.property),
        "system_change": system,
        "connection_remove": cast.property.connections.first(),
        "drainage_area_remove": cast.property.drainage_areas.first(),
        "hazard_change": HazardFactory(property=cast.property),
        "role_change": cast.role,
        "drainage_area_change": cast.property.drainage_areas.first(),
        "job_change": JobFactory(property=cast.property),
        "plan_change": cast.property,
        "property_close": cast.property,
    }
    return records.get(name) or system.components.get(kind="channel_run")


@pytest.mark.parametrize("name", sorted(FORMS))
def test_every_form_opens_for_the_office_alone(browser_of, cast, name):
    args = [] if name in BY_ITSELF else [cast.property.uid if name in AT_PROPERTY else _record(cast, name).uid]
    address = reverse(f"pages:{name}", args=args)
    assert browser_of("office").get(address).status_code == 200
    assert browser_of("crew").get(address).status_code == 403
    assert browser_of("nobody").get(address).status_code in (302, 403)
    assert browser_of("homeowner").post(address, {}).status_code in (302, 403, 405)
