"""The crew's pages: the sheet in driving order, the gate code on request, the property, the closeout once."""

import io
import re
from datetime import time

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from PIL import Image

from core.models import History
from jobs.models import Photo, PropertyAccess
from maintenance.models import Closeout, CloseoutReceived, Reading, TaskDone, Visit
from tests.factories import (
    TODAY,
    CallToMakeFactory,
    ComponentFactory,
    HazardFactory,
    PropertyAccessFactory,
    PropertyFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
    channel_to_sump,
)

pytestmark = pytest.mark.django_db
YES_NO = ("alarm_sounded", "flow_seen", "switched")


@pytest.fixture
def client(browser_of):
    return browser_of("crew")


@pytest.fixture
def gate(cast):
    cast.property.gate_code = "4711#"
    cast.property.access_note = "Side gate, left of the garage"
    cast.property.save()


def text_of(response) -> str:
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


class TestSheet:
    def test_in_driving_order_with_hazards_before_tasks(self, cast, client, yard):
        for place, address in ((2, "3 Second Stop"), (1, "8 First Stop")):
            prop = PropertyFactory(address=address)
            PropertyAccessFactory(property=prop, user=cast.crew)
            visit = VisitFactory(property=prop, state="agreed", local_date=TODAY, place_in_day=place)
            VisitTechnicianFactory(visit=visit, user=cast.crew)
        text = text_of(client.get("/crew/"))
        assert text.index("8 First Stop") < text.index("3 Second Stop") < text.index("7 Cistern Row")
        third = text[text.index("7 Cistern Row") :]
        assert third.index("Shallow cable") < third.index("clean twice a year")
        assert "3 visits" in text
        assert "geo:41.000000," in text
        assert "scoop and bucket" in text

    def test_the_gate_code_is_not_on_it(self, client, yard, gate):
        assert "4711" not in client.get("/crew/").content.decode()
        assert "Side gate, left of the garage" in text_of(client.get("/crew/"))

    def test_other_days_and_nonsense(self, client, yard):
        assert "No visits on this day." in text_of(client.get("/crew/day/2026-05-05/"))
        assert client.get("/crew/day/?day=2026-05-05")["Location"] == "/crew/day/2026-05-05/"
        assert client.get("/crew/day/?day=nonsense")["Location"] == "/crew/"
        assert client.get("/crew/day/2026-13-45/").status_code == 404

    def test_another_technicians_visits_are_not_on_it(self, browser_of, yard):
        assert "7 Cistern Row" not in text_of(browser_of("other_crew").get("/crew/"))

    def test_queries_do_not_grow(self, cast, client, yard):
        def count() -> int:
            with CaptureQueriesContext(connection) as queries:
                client.get("/crew/")
            return len(queries)

        first = count()
        for _ in range(3):
            prop = PropertyFactory()
            PropertyAccessFactory(property=prop, user=cast.crew)
            HazardFactory(property=prop)
            visit = VisitFactory(property=prop, state="agreed", local_date=TODAY)
            VisitTaskFactory(visit=visit)
            VisitTechnicianFactory(visit=visit, user=cast.crew)
        assert count() == first


class TestObjects:
    def test_a_technician_of_another_property_finds_nothing(self, browser_of, cast, yard):
        other = browser_of("other_crew")
        paths = (
            f"/crew/visits/{yard.agreed.uid}/",
            f"/crew/visits/{yard.agreed.uid}/closeout/",
            f"/crew/properties/{cast.property.uid}/",
        )
        for path in paths:
            assert other.get(path).status_code == 404, path
        for path in ("begin", "gate-code", "closeout"):
            assert other.post(f"/crew/visits/{yard.agreed.uid}/{path}/").status_code == 404, path
        assert "7 Cistern Row" not in text_of(other.get("/crew/find/?q=Cistern"))
        assert not CloseoutReceived.objects.filter(via="page").exists()

    def test_a_colleague_who_may_see_it_has_no_buttons_and_no_code(self, browser_of, cast, yard, gate):
        PropertyAccessFactory(property=cast.property, user=cast.other_crew, reason=PropertyAccess.Reason.OFFICE)
        other = browser_of("other_crew")
        text = text_of(other.get(f"/crew/visits/{yard.agreed.uid}/"))
        assert "Show the gate code" not in text
        assert "Close this visit" not in text
        assert other.post(f"/crew/visits/{yard.agreed.uid}/gate-code/").status_code == 403
        assert other.post(f"/crew/visits/{yard.agreed.uid}/begin/").status_code == 403


class TestVisit:
    def test_the_code_is_shown_when_asked_for_and_that_is_on_record(self, client, yard, gate):
        path = f"/crew/visits/{yard.agreed.uid}/"
        assert "4711" not in client.get(path).content.decode()
        assert not History.objects.filter(action="gate_code_shown").exists()
        response = client.post(path + "gate-code/")
        assert "4711#" in text_of(response)
        assert response["Cache-Control"] == "private, no-store"
        assert History.objects.filter(action="gate_code_shown").count() == 1
        assert "4711" not in client.get(path).content.decode()

    def test_begin_twice_is_once(self, client, yard):
        for _ in range(2):
            client.post(f"/crew/visits/{yard.agreed.uid}/begin/")
        assert Visit.objects.get(pk=yard.agreed.pk).state == "begun"
        assert History.objects.filter(action="begin").count() == 1

    def test_what_the_homeowner_wrote_is_read_there(self, client, cast, yard):
        CallToMakeFactory(property=cast.property, visit=yard.agreed, reason="told_us", note="Dog is at home")
        assert "Dog is at home" in text_of(client.get(f"/crew/visits/{yard.agreed.uid}/"))

    def test_a_visit_without_a_day_has_its_page(self, client, yard):
        assert "no day yet" in text_of(client.get(f"/crew/visits/{yard.offered.uid}/"))


class TestPlace:
    def test_what_is_buried_where(self, client, cast, yard):
        channel_to_sump(cast.property, number=4)
        ComponentFactory(
            system=yard.system,
            kind="gravity_pipe",
            tag="GP-7",
            place=[[2.0, 3.0], [14.5, 3.0]],
            cover_in=14.0,
            dimensions={"inside_diameter_in": 4.0},
        )
        text = text_of(client.get(f"/crew/properties/{cast.property.uid}/"))
        assert "2 ft, 3 ft to 14.5 ft, 3 ft; 14 in of cover" in text
        assert "Inside diameter: 4 in" in text
        assert "holds float, AL-4, PU-4" in text
        assert text.index("Shallow cable") < text.index("GP-7")
        assert "Three quarters full of silt" in text

    def test_find(self, client, yard):
        assert "7 Cistern Row" in text_of(client.get("/crew/find/?q=cistern"))
        assert "Nothing found" in text_of(client.get("/crew/find/?q=nowhere"))
        assert client.get("/crew/find/").status_code == 200


class TestCloseout:
    @pytest.fixture
    def path(self, yard) -> str:
        return f"/crew/visits/{yard.agreed.uid}/closeout/"

    def filled(self, client, path, **more) -> dict:
        """The form as the page gives it out, filled in."""
        html = client.get(path).content.decode()
        hidden = dict(re.findall(r'name="(uid|day|arrived|left)" value="([^"]+)"', html))
        outcome = re.search(r'name="(outcome_[0-9a-f]+)"', html)
        depth = re.search(r'name="(reading_[0-9a-f]+_silt_depth_in)"', html)
        data = {**hidden, "lids": "yes", depth[1]: "3.5", "note": "all clear"}
        return {**data, outcome[1]: "done", **more}

    def test_counts_once_however_often_it_is_sent(self, client, cast, yard, path):
        data = self.filled(client, path)
        for _ in range(2):
            response = client.post(path, data)
            assert response["Location"] == f"/crew/visits/{yard.agreed.uid}/"
        assert Closeout.objects.filter(visit=yard.agreed).count() == 1
        closeout = Closeout.objects.get(visit=yard.agreed)
        assert (closeout.technician, closeout.lids_fastened, closeout.note) == (cast.crew, True, "all clear")
        reading = Reading.objects.get(code="silt_depth_in")
        assert (reading.component, reading.value, reading.unit) == (yard.basin, 3.5, "in")
        assert TaskDone.objects.get(closeout=closeout).outcome == "done"
        assert Visit.objects.get(pk=yard.agreed.pk).state == "done"
        assert "The visit is closed" in client.get(response["Location"]).content.decode()

    def test_the_same_id_with_other_words_is_refused_and_both_are_kept(self, client, path):
        data = self.filled(client, path)
        client.post(path, data)
        response = client.post(path, {**data, "note": "something else"})
        assert response.status_code == 409
        assert CloseoutReceived.objects.filter(via="page").count() == 2
        assert Closeout.objects.exclude(note="").count() == 1

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"lids": ""}, "Choose one of these."),
            ({"lids": "no"}, "Say which lid or grate is open"),
            ({"outcome": "could_not"}, "Say why it could not be done."),
            ({"outcome": ""}, "Choose one of these."),
            ({"depth": "999"}, "less than or equal to 120"),
            ({"depth": "nonsense"}, "Enter a number."),
            ({"arrived": "10:00", "left": "09:00"}, "earlier than the arrival"),
        ],
    )
    def test_what_is_missing_is_said_and_nothing_typed_is_lost(self, client, path, change, words):
        data = self.filled(client, path)
        for name, value in change.items():
            key = next((k for k in data if k.startswith(name) or k.endswith(f"silt_{name}_in")), name)
            data[key] = value
        response = client.post(path, data)
        assert response.status_code == 422
        html = response.content.decode()
        assert words in html
        assert "all clear" in html
        assert data["uid"] in html
        assert not CloseoutReceived.objects.filter(via="page").exists()

    def test_why_it_could_not_be_done(self, client, yard, path):
        data = self.filled(client, path)
        key = next(k for k in data if k.startswith("outcome_"))
        client.post(path, {**data, key: "could_not", key.replace("outcome", "reason"): "stuck"})
        done = TaskDone.objects.get(component=yard.basin)
        assert (done.outcome, done.reason) == ("could_not", "stuck")

    def test_photos_are_kept_once_and_shown_without_metadata(self, client, cast, yard, path):
        out = io.BytesIO()
        Image.new("RGB", (40, 30), "tan").save(out, "PNG")
        data = self.filled(client, path)
        for _ in range(2):
            client.post(path, {**data, "photos_after": io.BytesIO(out.getvalue())})
        photo = Photo.objects.get(closeout_uid=data["uid"])
        assert (photo.moment, photo.property) == ("after", cast.property)

    def test_what_is_no_photo_is_said_and_the_form_stays(self, client, path):
        response = client.post(path, {**self.filled(client, path), "photos_after": io.BytesIO(b"<html>")})
        assert response.status_code == 422
        assert "This is not a photo" in response.content.decode()
        assert not CloseoutReceived.objects.filter(via="page").exists()

    def test_every_task_and_reading_of_a_whole_system_goes_through(self, client, cast, yard):
        """All kinds of readings at once: depth, grade, seconds, yes or no, note."""
        system = channel_to_sump(cast.property, number=4)
        visit = VisitFactory(property=cast.property, state="agreed", local_date=TODAY)
        VisitTechnicianFactory(visit=visit, user=cast.crew)
        tasks = {"channel_run": "clean", "sump_basin": "clean", "pump": "test_pump", "high_water_alarm": "test_alarm"}
        for part in system.components.filter(kind__in=tasks):
            VisitTaskFactory(visit=visit, component=part, task=tasks[part.kind])
        path = f"/crew/visits/{visit.uid}/closeout/"
        html = client.get(path).content.decode()
        data = dict(re.findall(r'name="(uid|day|arrived|left)" value="([^"]+)"', html)) | {"lids": "yes"}
        for name in set(re.findall(r'name="(outcome_[0-9a-f]+)"', html)):
            data[name] = "done"
        for name in set(re.findall(r'name="(reading_[0-9a-f]+_[a-z_]+)"', html)):
            code = name.split("_", 2)[2]
            data[name] = {"grade": "half", "note": "fine"}.get(code, "yes" if code in YES_NO else "5")
        client.post(path, data)
        closeout = Closeout.objects.get(visit=visit)
        assert closeout.readings.count() == sum(1 for name in data if name.startswith("reading_"))
        assert set(closeout.tasks_done.values_list("outcome", flat=True)) == {"done"}

    def test_the_hours_are_the_propertys(self, client, yard, path):
        """09:00 to 10:00 in May in New York is 13:00 to 14:00 UTC."""
        client.post(path, self.filled(client, path, arrived="08:10", left="08:55"))
        closeout = Closeout.objects.get(visit=yard.agreed)
        assert closeout.arrived_at.time() == time(12, 10)
        assert closeout.left_at.time() == time(12, 55)


def test_get_changes_nothing(client, cast, yard, gate):
    before = (History.objects.count(), Visit.objects.get(pk=yard.agreed.pk).revision)
    visit = f"visits/{yard.agreed.uid}/"
    for path in ("", visit, f"{visit}closeout/", f"properties/{cast.property.uid}/"):
        assert client.get(f"/crew/{path}").status_code == 200
    assert before == (History.objects.count(), Visit.objects.get(pk=yard.agreed.pk).revision)
