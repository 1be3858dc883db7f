"""The list of what is due: filtered in the database, each person sees their own."""

from datetime import timedelta

import pytest

from core.act import by_customer, by_user
from maintenance.models import DueWindow
from maintenance.read.due import DueFilter, ages, due
from tests.factories import (
    AT,
    TODAY,
    ComponentFactory,
    DueWindowFactory,
    OfficeFactory,
    PropertyAccessFactory,
    PropertyForecastFactory,
    PropertyRoleFactory,
    UserFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
)

pytestmark = pytest.mark.django_db


def window(days: int, **fields: object) -> DueWindow:
    component = ComponentFactory(**fields.pop("component", {}))
    return DueWindowFactory(component=component, best_on=TODAY + timedelta(days=days), **fields)


@pytest.fixture
def office():
    return by_user(OfficeFactory(), via="page", at=AT)


def test_weeks_ahead_with_everything_overdue(office) -> None:
    overdue, soon, far = window(-100), window(10), window(100)
    assert list(due(office, DueFilter(weeks=2))) == [overdue, soon]
    assert list(due(office, DueFilter(weeks=None))) == [overdue, soon, far]
    assert list(due(office, DueFilter(weeks=2, overdue=True))) == [overdue]


def test_by_kind_task_doer_area_and_property(office) -> None:
    basin = window(1)
    pump = window(2, component={"kind": "pump", "tag": "PU-1"}, task="test_pump")
    owners = window(3, who="owner")
    assert list(due(office, DueFilter(kind="pump"))) == [pump]
    assert list(due(office, DueFilter(task="clean"))) == [basin, owners]
    assert list(due(office, DueFilter(who="owner"))) == [owners]
    assert list(due(office, DueFilter(area_id=pump.property.area_id))) == [pump]
    assert list(due(office, DueFilter(property_id=basin.property_id))) == [basin]


def test_planned_and_by_technician(office) -> None:
    planned, idle = window(1), window(2)
    visit = VisitFactory(property=planned.property, state="proposed")
    VisitTaskFactory(visit=visit, component=planned.component, task="clean")
    crew = UserFactory()
    VisitTechnicianFactory(visit=visit, user=crew)
    called_off = VisitFactory(property=idle.property, state="called_off")
    VisitTaskFactory(visit=called_off, component=idle.component, task="clean")
    assert [(row.pk, row.planned) for row in due(office)] == [(planned.pk, True), (idle.pk, False)]
    assert list(due(office, DueFilter(planned=False))) == [idle]
    assert list(due(office, DueFilter(technician_id=crew.pk))) == [planned]


def test_crew_and_homeowner_see_their_own(office) -> None:
    mine, _other = window(1), window(2)
    crew = UserFactory()
    PropertyAccessFactory(property=mine.property, user=crew)
    role = PropertyRoleFactory(property=mine.property)
    assert list(due(by_user(crew, via="phone", at=AT))) == [mine]
    assert list(due(by_customer(role.customer, at=AT))) == [mine]
    assert list(due(by_user(UserFactory(), via="phone", at=AT))) == []


def test_closed_properties_are_not_listed(office) -> None:
    row = window(1)
    row.property.closed_at = AT
    row.property.save()
    assert list(due(office)) == []


def test_what_is_being_recomputed_says_so(office) -> None:
    from maintenance.read.stale import rules_stamp

    fresh, old, never = window(1), window(2), window(3)
    PropertyForecastFactory(property=fresh.property, register_revision=1, rules_stamp=rules_stamp(), as_of=TODAY)
    PropertyForecastFactory(property=old.property, register_revision=0, rules_stamp=rules_stamp(), as_of=TODAY)
    assert [row.stale for row in due(office)] == [False, True, True]
    assert never.pk
    told = ages(office)
    assert (told.properties, told.stale, told.failed) == (3, 2, 0)
