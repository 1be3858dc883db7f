"""What is recorded can be corrected, closed and drawn anew; what is wrong is said under the field's own name."""

import pytest
from django.urls import reverse

from core.models import History
from jobs.models import Property
from tests.factories import HazardFactory, JobFactory, SystemFactory, channel_to_sump, french_drain_to_outfall
from tests.pages.office.register.test_forms import kept, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def office(browser_of):
    return browser_of("office")


def test_a_hazard_is_corrected_and_its_unknown_depth_stays_unknown(office, cast):
    hazard = HazardFactory(property=cast.property, kind="cable", depth_in=None, x_ft=4.25, y_ft=-6)
    kept(send(office, "hazard_change", hazard.uid, note="to the pool light"))
    hazard.refresh_from_db()
    assert (hazard.note, hazard.x_ft, hazard.y_ft, hazard.depth_in) == ("to the pool light", 4.25, -6, None)
    wrong = send(office, "hazard_change", hazard.uid, depth_in="900")
    assert wrong.status_code == 422
    assert ("f-depth_in", "Depth is 900.0 in: give a number from 0 to 240 in.") in wrong.context["errors"]


def test_what_a_person_may_decide(office, cast):
    kept(send(office, "role_change", cast.role.uid, approves_cost="1"))
    cast.role.refresh_from_db()
    assert (cast.role.agrees_days, cast.role.approves_cost) == (True, True)
    address = reverse("pages:role_change", args=[cast.role.uid])
    kept(office.post(address, {}))
    cast.role.refresh_from_db()
    assert (cast.role.agrees_days, cast.role.approves_cost, cast.role.gets_messages) == (False, False, False)


def test_a_drainage_area_is_corrected_and_sent_to_another_inlet(office, cast):
    channel_to_sump(cast.property)
    other = french_drain_to_outfall(cast.property, number=2).components.get(kind="french_drain")
    area = cast.property.drainage_areas.order_by("id").first()
    kept(send(office, "drainage_area_change", area.uid, area_ft2="812.5", component=str(other.uid)))
    area.refresh_from_db()
    assert (area.area_ft2, area.component) == (812.5, other)
    wrong = send(office, "drainage_area_change", area.uid, runoff_c="1.4")
    assert wrong.status_code == 422
    assert "Runoff coefficient is 1.4" in wrong.context["errors"][0][1]


def test_a_job_with_its_price_in_whole_cents(office, cast):
    job = JobFactory(property=cast.property)
    system = SystemFactory(property=cast.property)
    kept(send(office, "job_change", job.uid, price="1234.56", system=str(system.uid), locate_asked_on="2026-05-01"))
    job.refresh_from_db()
    assert (job.price_cents, job.system, str(job.locate_asked_on)) == (123456, system, "2026-05-01")
    for price in ("12.345", "-1", "1e12"):
        wrong = send(office, "job_change", job.uid, price=price)
        assert wrong.status_code == 422, price
        assert wrong.context["errors"][0][0] == "f-price"
    kept(send(office, "job_change", job.uid, price=""))
    job.refresh_from_db()
    assert job.price_cents is None


def test_the_house_is_drawn_from_its_corners(office, cast):
    prop = cast.property
    kept(send(office, "plan_change", prop.uid, house="0 0; 40 0; 40 24.5; 0 24.5", north_deg="12", corner="SW corner"))
    prop.refresh_from_db()
    assert prop.plan == {"house": [[0, 0], [40, 0], [40, 24.5], [0, 24.5]], "north_deg": 12}
    shown = office.get(reverse("pages:property", args=[prop.uid])).content.decode()
    assert 'class="house"' in shown
    assert "SW corner" in shown


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("house", "0 0; 40 0", "at least 3"),
        ("house", "0 0; 40 0; 9000 0", "-5000 to 5000"),
        ("house", "0 0; forty 0; 1 1", "is no point"),
        ("north_deg", "700", "-360 to 360"),
        ("corner", "", "is missing"),
    ],
)
def test_a_house_that_cannot_be(office, cast, field, value, told):
    wrong = send(office, "plan_change", cast.property.uid, **{"corner": "SW corner", field: value})
    assert wrong.status_code == 422
    assert wrong.context["errors"][0][0] == f"f-{field}"
    assert told in wrong.context["errors"][0][1]
    assert Property.objects.get(pk=cast.property.pk).plan == cast.property.plan


def test_a_property_is_closed_and_opened_again(office, cast):
    address = reverse("pages:property_close", args=[cast.property.uid])
    assert send(office, "property_close", cast.property.uid).status_code == 422, "not without the tick"
    kept(send(office, "property_close", cast.property.uid, sure="1"))
    cast.property.refresh_from_db()
    assert cast.property.closed_at is not None
    listed = reverse("pages:properties")
    assert "Cistern" not in office.get(listed).content.decode()
    assert "Cistern" in office.get(listed, {"closed": "1"}).content.decode()
    assert "open it again" in office.get(address).content.decode()
    kept(send(office, "property_close", cast.property.uid, sure="1"))
    cast.property.refresh_from_db()
    assert cast.property.closed_at is None
    assert History.objects.filter(object_uid=cast.property.uid, action="change").count() == 2


def test_the_next_free_tag_is_offered(office, cast):
    channel_to_sump(cast.property)
    page = office.get(reverse("pages:component_add", args=[cast.property.uid]), {"kind": "channel_run"})
    assert next(f for f in page.context["fields"] if f.name == "tag").value == "CH-2"


def test_only_the_fields_that_differ_are_set_side_by_side(office, cast):
    part = channel_to_sump(cast.property).components.get(kind="channel_run")
    from tests.pages.office.register.test_forms import filled

    address = reverse("pages:component_change", args=[part.uid])
    old = filled(office, address, note="mine")
    kept(office.post(address, {**old, "note": "theirs", "dim_length_ft": "31"}))
    stale = office.post(address, old)
    assert stale.status_code == 412
    assert stale.context["differs"] == [
        ("Length", "24 ft, measured", "31 ft, measured"),
        ("Note", "mine", "theirs"),
    ]
