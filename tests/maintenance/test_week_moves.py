"""A line of the day book moves in one act: day, technician and place; the rest of the day is numbered around it."""

from datetime import time, timedelta

import pytest

from core.models import Message
from core.problem import BadInput, Conflict, NotAllowed
from maintenance.models import Visit
from maintenance.week_moves import move_line
from tests.factories import TODAY, Cast, VisitFactory, VisitTechnicianFactory, make_cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast(db) -> Cast:
    return make_cast()


@pytest.fixture
def day(cast) -> list[Visit]:
    """Three visits of one technician on one day, numbered."""
    rows = []
    for place in (1, 2, 3):
        visit = VisitFactory(
            property=cast.property if place == 3 else VisitFactory().property,
            state="agreed",
            local_date=TODAY,
            place_in_day=place,
            local_start=time(9),
            span_minutes=60,
        )
        VisitTechnicianFactory(visit=visit, user=cast.crew)
        rows.append(visit)
    return rows


def order(user, day) -> list[int]:
    rows = Visit.objects.filter(local_date=day, technicians__user=user).order_by("place_in_day")
    assert [row.place_in_day for row in rows] == list(range(1, len(rows) + 1))
    return [row.pk for row in rows]


def test_another_place_in_the_same_day(cast, day):
    first, second, third = day
    before = third.sequence
    move_line(act=cast.act("office"), visit=third, local_date=TODAY, technician=cast.crew, place=1)
    assert order(cast.crew, TODAY) == [third.pk, first.pk, second.pk]
    assert third.sequence == before  # a place is no news for calendars (RFC 5545 3.8.7.4: date, time, state are)
    assert not Message.objects.exists()


def test_another_day_and_technician_tells_people_once(cast, day):
    later = TODAY + timedelta(days=2)
    visit = move_line(act=cast.act("office"), visit=day[2], local_date=later, technician=cast.other_crew, place=9)
    assert (visit.local_date, visit.local_start, visit.place_in_day) == (later, time(9), 1)
    assert order(cast.other_crew, later) == [visit.pk]
    assert order(cast.crew, TODAY) == [day[0].pk, day[1].pk]
    assert Message.objects.filter(kind="visit_moved", visit_uid=visit.uid).count() == 1


def test_who_comes_along_stays(cast, day):
    VisitTechnicianFactory(visit=day[0], user=cast.other_crew, lead=False)
    move_line(act=cast.act("office"), visit=day[0], local_date=TODAY, technician=cast.crew, place=2)
    going = list(day[0].technicians.order_by("-lead", "id").values_list("user_id", flat=True))
    assert going == [cast.crew.pk, cast.other_crew.pk]


def test_refused_as_a_whole(cast, day):
    act = cast.act("office")
    with pytest.raises(BadInput, match="1 to 40"):
        move_line(act=act, visit=day[0], local_date=TODAY, technician=cast.crew, place=41)
    with pytest.raises(BadInput, match="is past"):
        move_line(act=act, visit=day[0], local_date=TODAY - timedelta(days=1), technician=cast.crew, place=1)
    cast.other_crew.is_active = False
    cast.other_crew.save()
    day[0].refresh_from_db()
    later = TODAY + timedelta(days=3)
    with pytest.raises(BadInput, match="has left"):
        move_line(act=act, visit=day[0], local_date=later, technician=cast.other_crew, place=1)
    day[0].refresh_from_db()
    assert day[0].local_date == TODAY
    with pytest.raises(NotAllowed):
        move_line(act=cast.act("crew"), visit=day[0], local_date=TODAY, technician=cast.crew, place=1)


def test_what_is_not_agreed_does_not_move(cast):
    visit = VisitFactory(state="done", local_date=TODAY)
    later = TODAY + timedelta(days=1)
    with pytest.raises(Conflict):
        move_line(act=cast.act("office"), visit=visit, local_date=later, technician=cast.crew, place=1)
