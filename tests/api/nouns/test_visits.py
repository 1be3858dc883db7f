"""Visits over the API: proposed, offered, agreed, moved, begun, called off; the day's sheet; the gate code."""

import uuid
from datetime import timedelta

import pytest

from core.models import History, Message
from jobs.models import PropertyAccess
from maintenance.models import Visit
from tests.api.routes.people import caller_of
from tests.factories import (
    TODAY,
    ComponentFactory,
    HazardFactory,
    UserFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
)

pytestmark = pytest.mark.django_db
NEXT = str(TODAY + timedelta(days=7))
LATER = str(TODAY + timedelta(days=9))


@pytest.fixture
def basin(cast):
    return ComponentFactory(system__property=cast.property)


@pytest.fixture
def proposed(cast, basin) -> Visit:
    visit = VisitFactory(property=cast.property)
    VisitTaskFactory(visit=visit, component=basin)
    return visit


def propose(caller, basin, **more):
    tasks = [{"component": str(basin.uid), "task": "clean", "minutes": 20}]
    return caller.post("/visits/", {"property": str(basin.property.uid), "tasks": tasks, **more})


def step(caller, visit, name: str, body=None, **headers):
    return caller.post(f"/visits/{visit.uid}/{name}/", body or {}, **headers)


def test_a_visit_goes_from_proposed_to_agreed_and_the_offer_is_told_once(cast, office, basin):
    answer = propose(office, basin)
    assert answer.status_code == 201, answer.content
    visit = Visit.objects.get(uid=answer.json()["uid"])
    assert answer.json()["state"] == "proposed"
    assert answer.json()["tasks"][0]["component"] == str(basin.uid)
    offered = step(
        office, visit, "offer", {"days": [{"local_date": NEXT, "local_start": "09:00"}, {"local_date": LATER}]}
    )
    assert [day["local_date"] for day in offered.json()["offered_days"]] == [NEXT, LATER]
    agreed = step(
        office, visit, "agree", {"local_date": NEXT, "agreed_by": "by phone", "technicians": [str(cast.crew.uid)]}
    )
    assert agreed.status_code == 200, agreed.content
    shown = agreed.json()
    assert (shown["state"], shown["local_date"], shown["local_start"]) == ("agreed", NEXT, "09:00:00")
    # 09:00 in New York in May is 13:00 UTC (daylight time, UTC-4).
    assert shown["starts_at"] == f"{NEXT}T13:00:00Z"
    assert shown["technicians"][0]["technician"] == str(cast.crew.uid)
    told = list(Message.objects.filter(visit_uid=visit.uid).values_list("kind", flat=True))
    assert told == ["visit_offered"]  # that a day was agreed is told to those who asked for it


def test_the_same_proposal_twice_is_one_visit(office, basin):
    uid = str(uuid.uuid4())
    first, again = propose(office, basin, uid=uid), propose(office, basin, uid=uid)
    assert (first.status_code, again.status_code) == (201, 200), again.content
    assert Visit.objects.count() == 1


def test_a_visit_is_moved_and_called_off_with_a_reason(cast, office, proposed):
    step(office, proposed, "agree", {"local_date": NEXT})
    moved = step(office, proposed, "move", {"local_date": LATER})
    assert moved.json()["local_date"] == LATER
    assert moved.json()["sequence"] > 0
    assert step(office, proposed, "call-off").status_code == 422
    gone = step(office, proposed, "call-off", {"why": "the yard is under snow"})
    assert gone.json()["state"] == "called_off"
    assert step(office, proposed, "agree", {"local_date": LATER}).status_code == 409


@pytest.mark.parametrize("name", ["move", "take-back", "not-begun", "begin"])
def test_a_move_that_is_not_possible_is_refused_and_told_what_is(office, proposed, name):
    """From proposed: offered, agreed, called off (the allowed moves of the design, by hand)."""
    body = {"local_date": NEXT} if name == "move" else {}
    answer = step(office, proposed, name, body)
    assert answer.status_code == 409
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json()["code"] == "move_not_allowed"
    assert answer.json()["detail"].startswith("This visit is proposed")
    assert answer.json()["detail"].endswith("It can become offered or agreed or called off.")
    proposed.refresh_from_db()
    assert (proposed.state, proposed.revision) == ("proposed", 1)


@pytest.mark.parametrize("state", ["done", "called_off"])
@pytest.mark.parametrize("name", ["offer", "agree", "move", "begin", "call-off"])
def test_what_has_ended_stays_as_it_is(cast, office, basin, state, name):
    visit = VisitFactory(property=cast.property, state=state, local_date=TODAY)
    VisitTaskFactory(visit=visit, component=basin)
    body = {"offer": {"days": [{"local_date": NEXT}]}, "begin": {}, "call-off": {"why": "rain"}}
    answer = step(office, visit, name, body.get(name, {"local_date": NEXT}))
    assert answer.status_code == 409, answer.content
    assert answer.json()["detail"].endswith("It stays as it is.")


def test_a_day_gone_by_is_refused_by_field(office, proposed):
    answer = step(office, proposed, "agree", {"local_date": str(TODAY - timedelta(days=1))})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["field"] == "local_date"


def test_notice_is_given_only_where_the_property_says_so(cast, office, proposed):
    assert step(office, proposed, "notice", {"local_date": NEXT}).status_code == 409
    cast.property.notice_only = True
    cast.property.save()
    assert step(office, proposed, "offer", {"days": [{"local_date": NEXT}]}).status_code == 409
    assert step(office, proposed, "notice", {"local_date": NEXT}).json()["state"] == "agreed"


def test_a_step_on_a_version_not_seen_is_refused_and_both_are_shown(office, proposed):
    seen = office.get(f"/visits/{proposed.uid}/")["ETag"]
    step(office, proposed, "agree", {"local_date": NEXT}, if_match=seen)
    answer = step(office, proposed, "move", {"local_date": LATER}, if_match=seen)
    assert answer.status_code == 412
    assert answer.json()["present"]["local_date"] == NEXT
    assert answer.json()["yours"] == {"local_date": LATER}


def test_who_goes_may_see_the_property_and_begin_and_nobody_else(cast, office, proposed):
    step(office, proposed, "agree", {"local_date": str(TODAY)})
    newcomer = UserFactory()
    assert step(office, proposed, "assign", {"technicians": [str(newcomer.uid)]}).status_code == 200
    assert PropertyAccess.objects.filter(property=cast.property, user=newcomer).exists()
    on_it, not_on_it = cast_caller(newcomer), caller_of(cast, "crew")
    assert step(not_on_it, proposed, "begin").status_code == 403
    assert step(on_it, proposed, "begin").json()["state"] == "begun"
    assert step(on_it, proposed, "not-begun").json()["state"] == "agreed"
    assert step(on_it, proposed, "call-off", {"why": "rain"}).status_code == 403


def cast_caller(user):
    from tests.api.routes.people import Caller, token_of

    return Caller(token_of(user))


def test_the_route_sheet_is_in_driving_order_with_hazards_first_and_no_code(cast, crew):
    cast.property.gate_code = "K-4711"
    cast.property.save()
    HazardFactory(property=cast.property, note="to the pool light")
    for place in (2, 1):
        visit = VisitFactory(property=cast.property, state="agreed", local_date=TODAY, place_in_day=place)
        VisitTechnicianFactory(visit=visit, user=cast.crew)
        VisitTaskFactory(visit=visit)
    answer = crew.get(f"/route-sheets/{TODAY}/")
    assert answer.status_code == 200
    sheet = answer.json()
    assert sheet["technician"] == str(cast.crew.uid)
    assert [stop["number"] for stop in sheet["stops"]] == [1, 2]
    order = [Visit.objects.get(uid=stop["visit"]).place_in_day for stop in sheet["stops"]]
    assert order == [1, 2]
    assert sheet["stops"][0]["hazards"][0]["note"] == "to the pool light"
    assert sheet["stops"][0]["has_gate_code"] is True
    assert "K-4711" not in answer.content.decode()


@pytest.mark.parametrize("day", ["2026-13-01", "today", "20260504T"])
def test_a_day_that_is_none_has_no_sheet(office, day):
    assert office.get(f"/route-sheets/{day}/").status_code == 422


def test_a_technician_sees_only_their_own_sheet(cast, office, crew):
    other = str(cast.other_crew.uid)
    assert crew.get(f"/route-sheets/{TODAY}/?technician={other}").status_code == 422
    assert office.get(f"/route-sheets/{TODAY}/?technician={other}").json()["technician"] == other
    assert crew.get(f"/route-sheets/{TODAY}/?nosuch=1").status_code == 422


def test_the_gate_code_is_shown_around_the_day_to_those_who_go_and_each_look_is_kept(cast, crew, proposed):
    cast.property.gate_code = "K-4711"
    cast.property.save()
    Visit.objects.filter(pk=proposed.pk).update(state="agreed", local_date=TODAY + timedelta(days=5))
    VisitTechnicianFactory(visit=proposed, user=cast.crew)
    assert step(crew, proposed, "gate-code").status_code == 403
    Visit.objects.filter(pk=proposed.pk).update(local_date=TODAY)
    answer = step(crew, proposed, "gate-code")
    assert answer.json() == {"gate_code": "K-4711"}
    assert answer["Cache-Control"] == "no-store"
    assert History.objects.filter(action="gate_code_shown").count() == 1
    assert not History.objects.filter(changes__icontains="K-4711").exists()


def test_who_pays_is_said_by_the_office(office, proposed):
    answer = step(office, proposed, "cover", {"cover": "our_fault", "why": "left a lid loose"})
    assert answer.json()["cover"] == "our_fault"
    assert step(office, proposed, "cover", {"cover": "nobody"}).status_code == 422


def test_visits_are_found_by_day_state_and_technician(cast, office, proposed):
    other = VisitFactory(property=cast.property, state="agreed", local_date=TODAY)
    VisitTechnicianFactory(visit=other, user=cast.crew)
    for query in (f"from_date={TODAY}&until_date={TODAY}", "state=agreed", f"technician={cast.crew.uid}"):
        assert [row["uid"] for row in office.get(f"/visits/?{query}").json()["results"]] == [str(other.uid)], query
