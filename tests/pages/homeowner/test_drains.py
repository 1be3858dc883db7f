"""What a homeowner sees and does: their property alone, of their own time, each act once."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.models import History, Message
from maintenance.models import CallToMake, Feed, MessageChoice, TaskDone, Visit
from tests.factories import (
    TODAY,
    CloseoutFactory,
    ComponentFactory,
    DueWindowFactory,
    PhotoFactory,
    PropertyFactory,
    PropertyRoleFactory,
    ReadingFactory,
    TaskDoneFactory,
    VisitFactory,
    VisitTaskFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(browser_of):
    return browser_of("homeowner")


def page(client, cast) -> str:
    response = client.get(f"/drains/{cast.property.uid}/")
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def test_one_property_opens_itself_several_are_a_choice(client, cast):
    assert client.get("/drains/")["Location"] == f"/drains/{cast.property.uid}/"
    second = PropertyRoleFactory(customer=cast.homeowner, property=PropertyFactory(address="12 Second Place"))
    listed = client.get("/drains/").content.decode()
    assert "7 Cistern Row" in listed
    assert second.property.address in listed
    assert "90 Far Meadow" not in listed


def test_the_page_says_state_next_dates_why_own_tasks_visits_and_whom_to_call(client, cast, yard):
    text = page(client, cast)
    for words in (
        "<h1>7 Cistern Row</h1>",
        "three quarters full of silt, judged by eye on 4 May 2026",
        "Its limit is half full.",
        "best about 3 June 2026",
        "No sooner than 14 May 2026, no later than 23 June 2026.",
        "Keeping the water&#x27;s way out clear",
        "never reach under a grate or into a sump",
        "Our next visit",
        "Please choose by Saturday, 9 May.",
        "done; we found it about half full.",
        "Who to call",
        "Never step into water that may touch outlets",
        "not a guarantee and not an engineer's design",
    ):
        assert words in text, words


def test_the_page_is_kept_by_no_cache_and_sets_its_language(client, cast, yard):
    response = client.get(f"/drains/{cast.property.uid}/", headers={"Accept-Language": "es"})
    assert response["Cache-Control"] == "private, no-store"
    assert response["Content-Language"] == "en"


class TestStates:
    """Words from readings, cleanings and tests: the newest of them counts."""

    def test_cleaned_after_it_was_found(self, client, cast, yard):
        TaskDoneFactory(component=yard.basin, done_on=TODAY)
        assert "cleaned on 4 May 2026" in page(client, cast)

    def test_left_a_quarter_full(self, client, cast, yard):
        TaskDoneFactory(component=yard.basin, done_on=TODAY, left_fill=0.25)
        assert "cleaned on 4 May 2026 and left about a quarter full" in page(client, cast)

    def test_found_after_it_was_cleaned(self, client, cast, yard):
        TaskDoneFactory(component=yard.basin, done_on=TODAY - timedelta(days=30))
        assert "three quarters full of silt" in page(client, cast)

    def test_measured_against_the_depth_that_holds_silt(self, client, cast, yard):
        """3 in of 6 in below the lowest outlet: half full (depth over the height of the lowest outlet invert)."""
        ReadingFactory(component=yard.basin, value=3.0, measured_at=yard.own.component.created_at + timedelta(hours=1))
        assert "about half full: 3 in of silt, measured on 4 May 2026" in page(client, cast)

    def test_of_unknown_depth_only_the_inches_are_said(self, client, cast, yard):
        ReadingFactory(component=yard.outfall, value=2.0)
        assert "2 in of silt, measured on" in page(client, cast)

    def test_a_withdrawn_reading_says_nothing(self, client, cast, yard):
        wrong = yard.basin.readings.get()
        ReadingFactory(component=yard.basin, code="grade", value=None, canonical=None, grade="", withdraws=wrong)
        assert "three quarters" not in page(client, cast)

    def test_a_pump_that_worked(self, client, cast, yard):
        pump = ComponentFactory(system=yard.system, kind="pump", tag="PU-1")
        TaskDoneFactory(component=pump, task="test_pump", left_fill=None)
        assert "tested on 4 May 2026, it worked" in page(client, cast)

    def test_a_grate_is_covered_not_full(self, client, cast, yard):
        grate = ComponentFactory(system=yard.system, kind="grate", tag="", part_of=yard.channel)
        ReadingFactory(component=grate, code="grade", value=None, canonical=None, grade="half")
        assert "half covered, judged by eye" in page(client, cast)

    def test_taken_out_is_left_out(self, client, cast, yard):
        yard.basin.retired_on = TODAY
        yard.basin.save()
        assert "three quarters full" not in page(client, cast)


class TestOwnTime:
    """Visits, photos and reports of their own role's time; the engineering record of all time."""

    def test_before_the_role_nothing_but_the_record(self, client, cast, yard):
        cast.role.from_date = TODAY - timedelta(days=10)
        cast.role.save()
        text = page(client, cast)
        assert "three quarters full of silt" in text
        assert "No visit yet in your time here." in text
        assert "we found it about half full" not in text
        assert str(yard.photo.uid) not in text
        assert client.get(f"/drains/visits/{yard.done.uid}/").status_code == 404
        assert client.get(f"/photos/{yard.photo.uid}/").status_code == 404
        assert "Our next visit" in text

    def test_proposals_are_not_theirs_to_see(self, client, cast):
        proposed = VisitFactory(property=cast.property)
        assert client.get(f"/drains/visits/{proposed.uid}/").status_code == 404


class TestStrangers:
    """Another's property, visit, part, photo, feed: not found, by GET and by POST, and nothing changes."""

    @pytest.mark.parametrize("who", ["stranger"])
    def test_nothing_is_found(self, browser_of, cast, yard, who):
        other = browser_of(who)
        feed = Feed.objects.create(
            kind="homeowner", customer=cast.homeowner, lookup="1" * 12, created_at=cast.act("office").at
        )
        before = History.objects.count()
        for path in (
            f"/drains/{cast.property.uid}/",
            f"/drains/{cast.property.uid}/visits/",
            f"/drains/visits/{yard.offered.uid}/",
            f"/photos/{yard.photo.uid}/",
        ):
            assert other.get(path).status_code == 404, path
        for path, body in (
            (f"/drains/visits/{yard.offered.uid}/agree/", {"day": str(yard.days[0].local_date)}),
            (f"/drains/visits/{yard.offered.uid}/another-day/", {"note": "Monday"}),
            (f"/drains/parts/{yard.outfall.uid}/done/", {"task": "clear_outfall", "uid": str(uuid4())}),
            (f"/drains/{cast.property.uid}/tell/", {"note": "hello", "uid": str(uuid4())}),
            (f"/drains/calendar/{feed.uid}/end/", {}),
            (f"/drains/calendar/{feed.uid}/renew/", {}),
        ):
            assert other.post(path, body).status_code == 404, path
        feed.refresh_from_db()
        assert feed.revoked_at is None
        assert History.objects.count() == before
        assert not CallToMake.objects.exists()
        assert not TaskDone.objects.exists()


class TestVisit:
    def test_agree_to_an_offered_day(self, client, cast, yard):
        day = yard.days[1].local_date
        for _ in range(2):
            response = client.post(f"/drains/visits/{yard.offered.uid}/agree/", {"day": str(day)})
            assert response["Location"] == f"/drains/visits/{yard.offered.uid}/"
        yard.offered.refresh_from_db()
        assert (yard.offered.state, yard.offered.local_date) == ("agreed", day)
        assert yard.offered.agreed_by == f"customer:{cast.homeowner.uid}"

    @pytest.mark.parametrize("day", ["", "nonsense", "2026-13-40"])
    def test_no_day_chosen_is_said_on_the_page(self, client, yard, day):
        response = client.post(f"/drains/visits/{yard.offered.uid}/agree/", {"day": day})
        assert response.status_code == 422
        assert b"Choose one of the days." in response.content

    def test_a_day_not_offered_is_refused(self, client, yard):
        response = client.post(
            f"/drains/visits/{yard.offered.uid}/agree/", {"day": str(TODAY + timedelta(days=1))}, follow=True
        )
        assert "was not offered" in response.content.decode()
        assert Visit.objects.get(pk=yard.offered.pk).state == "offered"

    def test_who_does_not_agree_to_days_may_not(self, client, cast, yard):
        cast.role.agrees_days = False
        cast.role.save()
        client.post(f"/drains/visits/{yard.offered.uid}/agree/", {"day": str(yard.days[0].local_date)})
        assert Visit.objects.get(pk=yard.offered.pk).state == "offered"

    def test_another_day_becomes_a_call_with_their_words(self, client, cast, yard):
        for _ in range(2):
            client.post(f"/drains/visits/{yard.agreed.uid}/another-day/", {"note": "Mondays after nine"})
        call = CallToMake.objects.get()
        assert (call.reason, call.note, call.visit) == ("another_day", "Mondays after nine", yard.agreed)
        assert "You asked for another day" in client.get(f"/drains/visits/{yard.agreed.uid}/").content.decode()

    def test_too_long_a_note_comes_back_with_what_they_wrote(self, client, yard):
        response = client.post(f"/drains/visits/{yard.agreed.uid}/another-day/", {"note": "x" * 401})
        assert response.status_code == 422
        assert "x" * 401 in response.content.decode()

    def test_a_past_visit_shows_what_was_found_and_its_photos(self, client, yard):
        text = client.get(f"/drains/visits/{yard.done.uid}/").content.decode()
        assert "we found it about half full" in text
        assert f"/photos/{yard.photo.uid}/" in text

    def test_a_called_off_visit_says_why(self, client, cast):
        off = VisitFactory(property=cast.property, state="called_off", local_date=TODAY, called_off_why="Frozen ground")
        assert "Frozen ground" in client.get(f"/drains/visits/{off.uid}/").content.decode()


class TestActs:
    def test_own_task_done_once(self, client, cast, yard):
        uid = str(uuid4())
        for _ in range(2):
            client.post(f"/drains/parts/{yard.outfall.uid}/done/", {"task": "clear_outfall", "uid": uid})
        done = TaskDone.objects.get()
        assert (done.task, done.by) == ("clear_outfall", f"customer:{cast.homeowner.uid}")

    def test_a_crews_task_cannot_be_marked(self, client, yard):
        client.post(f"/drains/parts/{yard.basin.uid}/done/", {"task": "clean", "uid": str(uuid4())})
        assert not TaskDone.objects.exists()

    def test_tell_us(self, client, cast, yard):
        uid = str(uuid4())
        for _ in range(2):
            client.post(f"/drains/{cast.property.uid}/tell/", {"note": "The lid rocks.", "uid": uid})
        assert CallToMake.objects.get().note == "The lid rocks."
        empty = client.post(f"/drains/{cast.property.uid}/tell/", {"note": " ", "uid": uid})
        assert empty.status_code == 422

    def test_a_form_without_its_id_changes_nothing(self, client, cast, yard):
        client.post(f"/drains/{cast.property.uid}/tell/", {"note": "hello"})
        assert not CallToMake.objects.exists()

    def test_messages_on_and_off(self, client, cast):
        page_ = client.get("/drains/messages/").content.decode()
        assert 'value="day_before" checked' in page_
        assert 'value="visit_agreed" checked' not in page_
        client.post("/drains/messages/", {"wanted": ["visit_agreed", "visit_moved", "visit_called_off"]})
        chosen = dict(MessageChoice.objects.values_list("kind", "wanted"))
        assert chosen["visit_agreed"] is True
        assert chosen["day_before"] is False
        assert "visit_moved" not in chosen
        before = MessageChoice.objects.count()
        client.post("/drains/messages/", {"wanted": ["visit_agreed", "visit_moved", "visit_called_off"]})
        assert MessageChoice.objects.count() == before
        client.post("/drains/messages/", {"wanted": ["nonsense"]})
        assert MessageChoice.objects.count() == before
        assert not Message.objects.exists()

    def test_calendar_address_is_shown_once_and_works(self, client, cast, yard):
        shown = client.post("/drains/calendar/new/", {"label": "my phone", "alarm": "60"})
        text = shown.content.decode()
        address = text.split('id="address" value="')[1].split('"')[0]
        path = address.partition("8000")[2]
        assert client.get(path).content.startswith(b"BEGIN:VCALENDAR")
        assert f'href="webcal://127.0.0.1:8000{path}"' in text
        assert "<svg" in text
        assert 'style="' not in text
        assert path not in client.get("/drains/calendar/").content.decode()
        feed = Feed.objects.get()
        assert (feed.label, feed.alarm_minutes) == ("my phone", 60)
        client.post(f"/drains/calendar/{feed.uid}/renew/")
        assert client.get(path).status_code == 410
        renewed = Feed.objects.get(revoked_at=None)
        client.post(f"/drains/calendar/{renewed.uid}/end/")
        assert not Feed.objects.filter(revoked_at=None).exists()


def test_get_changes_nothing_on_any_of_their_pages(client, cast, yard):
    before = {
        model: list(model.objects.values()) for model in (Visit, Feed, MessageChoice, TaskDone, CallToMake, History)
    }
    for path in (
        "/drains/",
        f"/drains/{cast.property.uid}/",
        f"/drains/{cast.property.uid}/visits/",
        f"/drains/visits/{yard.offered.uid}/",
        "/drains/messages/",
        "/drains/calendar/",
    ):
        client.get(path)
    for path in (f"/drains/visits/{yard.offered.uid}/agree/", "/drains/calendar/new/", "/home/leave/"):
        assert client.get(path).status_code == 405
    assert before == {model: list(model.objects.values()) for model in before}


def test_queries_do_not_grow_with_what_is_there(client, cast, yard):
    """Style 22: the same count at 1 and at more of everything."""

    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            page(client, cast)
        return len(queries)

    TaskDoneFactory(component=yard.channel, done_on=TODAY - timedelta(days=400))
    first = count()
    for number in range(3):
        part = ComponentFactory(system=yard.system)
        ReadingFactory(component=part)
        TaskDoneFactory(component=part, done_on=TODAY - timedelta(days=400))
        DueWindowFactory(component=part)
        DueWindowFactory(component=part, task="pour_bucket", who="owner")
        past = VisitFactory(property=cast.property, state="done", local_date=TODAY - timedelta(days=10 + number))
        VisitTaskFactory(visit=past, component=part)
        closeout = CloseoutFactory(visit=past, technician=cast.crew)
        PhotoFactory(property=cast.property, closeout_uid=closeout.uid)
    assert count() == first
    assert first <= 40
