"""The office's first page: the sentence, what waits, signs of life, filters, proposing."""

from datetime import timedelta

import pytest

from core import health
from maintenance.models import Visit
from tests.factories import (
    AT,
    TODAY,
    AreaFactory,
    CallToMakeFactory,
    CloseoutFlagFactory,
    ComponentFactory,
    DueWindowFactory,
    MessageFactory,
    PropertyFactory,
    SystemFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
)

pytestmark = pytest.mark.django_db


def window(address: str = "1 Made Street", **more):
    """A window at a property of its own."""
    prop = more.pop("property", None) or PropertyFactory(address=address)
    kind = more.pop("kind", "catch_basin")
    part = ComponentFactory(system=SystemFactory(property=prop), kind=kind, tag=more.pop("tag", "CB-1"))
    return DueWindowFactory(component=part, **{"best_on": TODAY + timedelta(days=10), **more})


class TestSentence:
    def test_counts_the_whole_list_and_what_is_late(self, text_of):
        first = window()
        window(property=first.property, tag="CB-2", latest_on=TODAY - timedelta(days=3), best_on=TODAY)
        window("2 Made Street", best_on=TODAY + timedelta(weeks=9))
        text = text_of("/due/")
        assert "2 tasks at 1 property are due in the next 8 weeks" in text
        assert "1 is past its latest day" in text
        assert "3 days past its latest day" in text
        assert "2 Made Street" not in text
        assert "3 tasks at 2 properties are due in the next 13 weeks" in text_of("/due/?weeks=13")

    def test_nothing_due_says_what_to_do(self, text_of):
        text = text_of("/due/")
        assert "0 tasks at 0 properties" in text
        assert "Nothing is due in these weeks" in text

    def test_what_else_waits(self, text_of):
        assert "No calls to make, no closeouts waiting." in text_of("/due/")
        CallToMakeFactory()
        flag = CloseoutFlagFactory()
        CloseoutFlagFactory(received=flag.received, code="clock_wrong", words="An hour off.")
        VisitFactory(state="agreed", local_date=TODAY - timedelta(days=1))
        # One the line broke under while it was being sent: it has an end, and nobody knows whether it arrived.
        MessageFactory(state="unknown", closed_at=AT)
        text = text_of("/due/")
        for words in (
            "1 call to make",
            "1 closeout waiting for a look",
            "1 visit of past days without a closeout",
            "1 message that may not have arrived",
        ):
            assert words in text


class TestSigns:
    def test_silent_parts_are_named_with_what_to_do(self, text_of):
        health.beat("worker", at=AT - timedelta(hours=3))
        text = text_of("/due/")
        assert "Worker has been silent for 3 h" in text
        assert "Scheduler has never shown life here" in text
        assert "docker compose up -d worker" in text

    def test_all_well_is_one_sentence(self, text_of):
        for name in health.EXPECTED:
            health.beat(name, at=AT)
        text = text_of("/due/")
        assert "Worker, scheduler, mail, reminders and due windows showed life within the last minutes." in text
        assert "To do:" not in text


class TestList:
    def test_a_row_says_where_what_why_when_and_on_which_visit(self, cast, text_of):
        row = window(words="Its limit is half full.")
        visit = VisitFactory(property=row.property, state="agreed", local_date=TODAY + timedelta(days=6))
        VisitTaskFactory(visit=visit, component=row.component)
        text = text_of("/due/")
        assert "Clean: CB-1 catch basin" in text
        assert "Its limit is half full." in text
        assert f"/visits/{visit.uid}/" in text
        assert f"/properties/{row.property.uid}/" in text

    def test_the_section_is_drawn_to_the_expected_level(self, text_of):
        inputs = {
            "cycle_start": (TODAY - timedelta(days=365)).isoformat(),
            "group": "catch_basin/open",
            "silt_height_in": 8.0,
        }
        window(basis="silt", rate_p50=0.25, left_fill=0.0, threshold=0.5, inputs=inputs)
        text = text_of("/due/")
        # One mean year at 0.25 fill a year of 8 in is 2 in (fill = f0 + r E); the limit, half of it, is 4 in.
        assert "2.0 in of silt expected today; clean at 4 in" in text
        assert '<path class="silt"' in text

    @pytest.mark.parametrize(
        "given", ["weeks=x", "technician=1", "area=../", "kind=boat", "page=zero", "page=99999999"]
    )
    def test_nonsense_shows_the_list(self, text_of, given):
        window()
        assert "1 Made Street" in text_of(f"/due/?{given}")

    def test_filters(self, cast, text_of):
        area = AreaFactory(name="North")
        here = window("1 In North", property=PropertyFactory(address="1 In North", area=area))
        window("2 Sump Lane", kind="sump_basin", tag="SB-1")
        window("3 Owner Lane", who="owner", task="clear_grate")
        visit = VisitFactory(property=here.property, state="agreed", local_date=TODAY)
        VisitTaskFactory(visit=visit, component=here.component)
        VisitTechnicianFactory(visit=visit, user=cast.crew)
        for query, seen in (
            (f"area={area.uid}", {"1 In North"}),
            ("kind=sump_basin", {"2 Sump Lane"}),
            ("who=owner", {"3 Owner Lane"}),
            ("who=both", {"1 In North", "2 Sump Lane", "3 Owner Lane"}),
            (f"technician={cast.crew.uid}", {"1 In North"}),
            ("planned=no", {"2 Sump Lane"}),
            ("planned=yes", {"1 In North"}),
            ("planned=late", set()),
        ):
            text = text_of(f"/due/?{query}")
            assert {a for a in ("1 In North", "2 Sump Lane", "3 Owner Lane") if a in text} == seen, query

    def test_paged_in_the_database(self, text_of):
        for number in range(42):
            window(f"{number} Long Street", best_on=TODAY + timedelta(days=number % 40))
        first, second = text_of("/due/"), text_of("/due/?page=2")
        assert "1 to 40 of 42" in first
        assert "41 to 42 of 42" in second
        assert "Further lines" in first


class TestPropose:
    def test_for_the_chosen_only(self, office):
        one, other = window(), window("2 Made Street")
        answer = office.post("/due/propose/", {"property": str(one.property.uid), "next": "/due/?weeks=4"})
        assert answer["Location"] == "/due/?weeks=4"
        assert list(Visit.objects.values_list("property__address", flat=True)) == ["1 Made Street"]
        office.post("/due/propose/", {"all": "1", "next": "https://elsewhere.example/due/"})
        assert Visit.objects.filter(property=other.property).count() == 1

    def test_nobody_chosen_proposes_nothing(self, office):
        window()
        for given in ({}, {"property": "nonsense"}, {"property": "x" * 36}, {"property": "-" * 36}):
            answer = office.post("/due/propose/", given, follow=True)
            assert "No property is chosen" in answer.content.decode()
        assert not Visit.objects.exists()

    def test_is_not_offered_elsewhere(self, office):
        assert office.post("/due/propose/", {"all": "1", "next": "//elsewhere.example/"})["Location"] == "/due/"
        assert office.get("/due/propose/").status_code == 405
