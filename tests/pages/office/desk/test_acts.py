"""What the office does at its desk: visits, the week, messages, calls, closeouts; each refusal stands on the page."""

import io
import json
from datetime import time, timedelta

import pytest

from core.models import Message
from maintenance.models import CallToMake, CloseoutFlag, CloseoutReceived, RainRow, Visit
from tests.factories import (
    TODAY,
    CallToMakeFactory,
    CloseoutFlagFactory,
    CloseoutReceivedFactory,
    GaugeFactory,
    MessageFactory,
    OfferedDayFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def proposed(cast) -> Visit:
    visit = VisitFactory(property=cast.property)
    VisitTaskFactory(visit=visit)
    return visit


def step(office, visit, name, **given):
    return office.post(f"/visits/{visit.uid}/{name}/", {"revision": visit.revision, **given}, follow=True)


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


class TestVisit:
    def test_the_whole_way_by_forms(self, cast, office, proposed):
        days = [TODAY + timedelta(days=n) for n in (4, 6)]
        assert "The days are offered" in words(step(office, proposed, "offer", days=[*map(str, days), ""]))
        proposed.refresh_from_db()
        assert proposed.state == "offered"
        assert proposed.offered_days.count() == 2
        agree = {"local_date": str(days[0]), "local_start": "09:30", "span_minutes": "60"}
        step(office, proposed, "agree", **agree, technician=[str(cast.crew.uid)])
        proposed.refresh_from_db()
        assert (proposed.state, proposed.local_start) == ("agreed", time(9, 30))
        assert proposed.technicians.get().user == cast.crew
        step(office, proposed, "move", local_date=str(days[1]))
        proposed.refresh_from_db()
        assert proposed.local_date == days[1]
        step(office, proposed, "begin")
        proposed.refresh_from_db()
        step(office, proposed, "not-begun")
        proposed.refresh_from_db()
        assert proposed.state == "agreed"
        step(office, proposed, "cover", cover="our_fault")
        proposed.refresh_from_db()
        step(office, proposed, "call-off", why="The yard is under water.", sure="1")
        proposed.refresh_from_db()
        assert (proposed.state, proposed.cover) == ("called_off", "our_fault")

    @pytest.mark.parametrize(
        ("name", "given", "field"),
        [
            ("offer", {}, "offer-days"),
            ("offer", {"days": ["next week"]}, "offer-days"),
            ("agree", {"local_date": "2020-01-01"}, "agree-local_date"),
            ("agree", {"local_date": "2026-05-25", "local_start": "9 h"}, "agree-local_start"),
            ("agree", {"local_date": "2026-05-25", "local_start": "09:00", "span_minutes": "x"}, "agree-span_minutes"),
            ("call-off", {"why": "x"}, "call-off-sure"),
            ("call-off", {"why": " ", "sure": "1"}, "call-off-why"),
            ("move", {"local_date": "2026-05-25"}, ""),
            ("cover", {"cover": "gift"}, "cover-cover"),
            ("begin", {}, ""),
        ],
    )
    def test_what_is_refused_is_told_with_a_link_to_its_field(self, office, proposed, name, given, field):
        answer = step(office, proposed, name, **given)
        assert answer.status_code in (409, 422)
        text = words(answer)
        assert "Not done" in text
        assert f'href="#{field or f"step-{name}"}' in text
        proposed.refresh_from_db()
        assert proposed.state == "proposed"

    def test_someone_was_here_first(self, office, proposed):
        Visit.objects.filter(pk=proposed.pk).update(revision=proposed.revision + 1)
        assert step(office, proposed, "cover", cover="warranty").status_code == 412

    def test_only_the_moves_it_allows(self, cast, text_of):
        for state, there, away in (
            ("proposed", ("Offer days", "Agree a day"), ("Move it", "The crew is there")),
            ("offered", ("Agree a day", "Take the offer back"), ("Move it",)),
            ("agreed", ("Move it", "The crew is there", "Call it off"), ("Offer days", "Agree a day")),
            ("begun", ("Begun by mistake",), ("Move it", "Call it off")),
            ("done", ("Who pays",), ("Call it off", "Send these")),
        ):
            visit = VisitFactory(state=state, local_date=TODAY if state in ("agreed", "begun", "done") else None)
            text = text_of(f"/visits/{visit.uid}/")
            assert [w for w in there if w not in text] == [], state
            assert [w for w in away if w in text] == [], state

    def test_notice_only_gets_notice_and_no_offer(self, cast, office, proposed, text_of):
        cast.property.notice_only = True
        cast.property.save()
        text = text_of(f"/visits/{proposed.uid}/")
        assert "Give notice of a day" in text
        assert "Offer days" not in text
        step(office, proposed, "agree", notice="1", local_date=str(TODAY + timedelta(days=5)))
        proposed.refresh_from_db()
        assert (proposed.state, proposed.notice_only) == ("agreed", True)


class TestWeek:
    def test_lines_say_work_and_lateness(self, cast, text_of):
        visit = VisitFactory(property=cast.property, state="agreed", local_date=TODAY, minutes=95)
        VisitTaskFactory(visit=visit, component__tag="CB-1", latest_on=TODAY - timedelta(days=3))
        VisitTaskFactory(visit=visit, component__tag="PU-1", component__kind="pump", task="test_pump")
        VisitTechnicianFactory(visit=visit, user=cast.crew)
        text = text_of("/week/")
        assert "clean CB\u20111; test pump PU\u20111" in text
        assert "3 days past its latest day" in text
        assert "1 h 35 min on site" in text
        assert "Week of 4 May 2026" in text_of("/week/?start=nonsense")
        assert "7 Cistern Row" not in text_of(f"/week/?start={TODAY + timedelta(days=7)}")

    def test_move_and_refusal(self, cast, office):
        visit = VisitFactory(property=cast.property, state="agreed", local_date=TODAY)
        VisitTechnicianFactory(visit=visit, user=cast.crew)
        path, later = f"/week/{visit.uid}/move/", TODAY + timedelta(days=2)
        answer = office.post(path, {"day": str(later), "technician": str(cast.other_crew.uid), "place": "1"})
        assert answer["Location"] == f"/week/?start={later}"
        visit.refresh_from_db()
        assert visit.technicians.get().user == cast.other_crew
        for given in ({"day": "x"}, {"technician": str(cast.office.uid)}, {"place": "0"}, {"day": "2020-01-01"}):
            full = {"day": str(later), "technician": str(cast.crew.uid), "place": "1", **given}
            answer = office.post(path, full)
            assert answer.status_code == 422, given
            assert f'href="#id_{next(iter(given))}"' in answer.content.decode()
        visit.refresh_from_db()
        assert visit.local_date == later


class TestMessages:
    def test_list_filters_and_one_with_its_life(self, cast, office, text_of):
        sent = MessageFactory(state="sent", subject="We came", sent_at=None, holder_uid=cast.homeowner.uid)
        failed = MessageFactory(state="failed", subject="Not delivered", last_error="550 no such person")
        text = text_of("/messages/?state=failed")
        assert "550 no such person" in text
        assert "We came" not in text
        assert "We came" in text_of(f"/messages/?text={sent.to_address}")
        one = text_of(f"/messages/{failed.uid}/")
        assert "Send it once more" in one
        answer = office.post(f"/messages/{failed.uid}/settle/", {"how": "again"}, follow=True)
        assert "It is sent once more" in words(answer)
        assert Message.objects.get(pk=failed.pk).state == "pending"
        assert office.post(f"/messages/{failed.uid}/settle/", {"how": "again"}).status_code == 409
        assert office.post(f"/messages/{failed.uid}/settle/", {"how": "x"}).status_code == 422

    def test_the_place_of_a_secret_link_is_told_in_words(self, text_of):
        row = MessageFactory(text="Choose: %%LINK%%")
        assert "Choose: (a secret link)" in text_of(f"/messages/{row.uid}/")


class TestCalls:
    def test_ticked_once(self, cast, office, text_of):
        call = CallToMakeFactory(customer=cast.homeowner, note="Any Monday")
        assert "Any Monday" in text_of("/calls/")
        office.post(f"/calls/{call.uid}/told/", {"note": "Comes back in June"})
        office.post(f"/calls/{call.uid}/told/")
        assert CallToMake.objects.get().told_at is not None
        assert "Nobody to ring" in text_of("/calls/")
        assert "Any Monday" in text_of("/calls/?show=made")


class TestReviews:
    def test_both_sides_and_an_action(self, office, text_of):
        sides = {"first": {"outcome": "done"}, "second": {"outcome": "not_looked_at"}, "by": None}
        flag = CloseoutFlagFactory(code="task_twice", words="Clean CB-1 twice.", sides=sides)
        text = text_of("/reviews/")
        for expected in ("A task was reported twice", "First", "Second", "not looked at", "Keep the first"):
            assert expected in text
        assert office.post(f"/reviews/flags/{flag.uid}/", {"action": "seen"}).status_code == 422
        office.post(f"/reviews/flags/{flag.uid}/", {"action": "keep_first", "note": "as Ada says"})
        flag.refresh_from_db()
        assert "as Ada says" in flag.cleared_how
        assert office.post(f"/reviews/flags/{flag.uid}/", {"action": "keep_first"}).status_code == 409

    def test_set_aside_asks_once_more(self, office):
        received = CloseoutReceivedFactory(state="needs_office")
        flag = CloseoutFlagFactory(received=received, code="unknown", words="No such part.")
        path = f"/reviews/flags/{flag.uid}/"
        assert "never taken in" in words(office.post(path, {"action": "set_aside"}))
        assert CloseoutReceived.objects.get().state == "needs_office"
        office.post(path, {"action": "set_aside", "sure": "1"})
        assert CloseoutReceived.objects.get().state == "set_aside"

    def test_a_typed_address_is_searched_for(self, cast, office, text_of):
        received = CloseoutReceivedFactory(state="unmatched", body=json.dumps({"address": "7 cistern row"}).encode())
        CloseoutFlagFactory(received=received, code="unmatched", words="Typed on the phone.")
        assert "7 cistern row" in text_of("/reviews/")
        path = f"/reviews/{received.pk}/match/"
        assert "7 Cistern Row" in text_of(path)
        assert office.post(path, {"property": "x"}).status_code == 422
        office.post(path, {"property": str(cast.property.uid)})
        received.refresh_from_db()
        assert received.property == cast.property
        assert not CloseoutFlag.objects.filter(code="unmatched", cleared_at=None).exists()


class TestRain:
    def give(self, office, text, **more):
        file = io.BytesIO(text.encode())
        file.name = "rain.csv"
        return office.post("/rain/", {"gauge": "Roof", "unit": "in", "file": file, **more})

    def test_tried_then_taken_in(self, office):
        text = "date,rain\n2026-05-01,0.5\n2026-05-02,0\n"
        assert "Tried, nothing changed" in words(self.give(office, text))
        assert not RainRow.objects.exists()
        assert "Taken in" in words(self.give(office, text, apply="1"))
        assert RainRow.objects.get(day="2026-05-01").depth_mm == pytest.approx(12.7)  # 1 in = 25.4 mm exactly

    def test_errors_are_told_by_row_and_nothing_is_taken(self, office):
        answer = self.give(office, "date,rain\n2026-05-01,-3\n2026-05-02,wet\n", apply="1")
        assert "Refused: the file has errors" in words(answer)
        assert "row 2" in words(answer)
        assert not RainRow.objects.exists()

    def test_the_unit_is_never_guessed(self, office):
        answer = self.give(office, "date,rain\n2026-05-01,1\n", unit="")
        assert answer.status_code == 422
        assert 'href="#id_unit"' in answer.content.decode()


def test_storms_come_from_the_gauge_in_use(cast, office, text_of):
    from core import company
    from maintenance import rules
    from maintenance.rain import import_rows
    from maintenance.rain_files import RainValue

    assert "No gauge is in use" in text_of("/storms/")
    act = cast.act("office")
    rules.install_library(act=act)
    gauge = GaugeFactory(name="Roof")
    days = [(TODAY - timedelta(days=9), 40.0), (TODAY - timedelta(days=8), 10.0), (TODAY - timedelta(days=200), 80.0)]
    import_rows(act=act, gauge=gauge, rows=[RainValue(n, day, -1, mm) for n, (day, mm) in enumerate(days)])
    assert company.at(act.at).gauge == "Roof"
    text = text_of("/storms/")
    assert "1.6 in of rain" in text  # 40 mm
    assert text.count("of rain</td>") == 1


def test_an_offered_day_stands_on_its_page(text_of):
    visit = VisitFactory(state="offered", answer_by=TODAY + timedelta(days=3))
    OfferedDayFactory(visit=visit, local_date=TODAY + timedelta(days=9))
    assert "answer by" in text_of(f"/visits/{visit.uid}/")
