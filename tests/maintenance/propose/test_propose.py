"""Proposals from due windows: one visit for what can be done together, kept in step, never against a person."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.act import Act, by_system
from core.models import Message
from maintenance import propose, visits
from maintenance.models import DueWindow, Visit
from tests.factories import (
    AT,
    TODAY,
    ComponentFactory,
    DueWindowFactory,
    OfficeFactory,
    PropertyFactory,
    SystemFactory,
)

pytestmark = pytest.mark.django_db


def day(number: int):
    return TODAY + timedelta(days=number)


def window(component, task: str = "clean", start: int = 5, best: int = 14, end: int = 30, **more: object) -> DueWindow:
    return DueWindowFactory(
        component=component,
        property=component.property,
        task=task,
        earliest_on=day(start),
        best_on=day(best),
        latest_on=day(end),
        **{"who": "crew", "rule_code": "basin_rule", "minutes": 30, "words": "half full", **more},
    )


@pytest.fixture
def act() -> Act:
    return by_system("test", at=AT)


@pytest.fixture
def basins():
    system = SystemFactory()
    return [ComponentFactory(system=system) for _ in range(3)]


def tasks(visit: Visit) -> set[tuple[int, str]]:
    return set(visit.tasks.values_list("component_id", "task"))


def test_overlapping_windows_become_one_visit_with_its_minutes(act: Act, basins) -> None:
    for basin in basins:
        window(basin)
    (visit,) = propose.propose_visits(act=act)
    assert visit.state == "proposed"
    assert tasks(visit) == {(basin.pk, "clean") for basin in basins}
    assert (visit.best_on, visit.no_later_than) == (day(14), day(30))
    assert visit.minutes == 3 * 30 + 20
    assert {task.words for task in visit.tasks.all()} == {"half full"}


def test_a_second_run_changes_nothing(act: Act, basins) -> None:
    window(basins[0])
    propose.propose_visits(act=act)
    before = list(Visit.objects.values())
    assert propose.propose_visits(act=act) == []
    assert propose.propose_visits(act=by_system("test", at=AT + timedelta(days=1))) == []
    assert list(Visit.objects.values()) == before


def test_what_becomes_due_joins_the_proposal(act: Act, basins) -> None:
    window(basins[0])
    (visit,) = propose.propose_visits(act=act)
    window(basins[1], start=8, best=20)
    (again,) = propose.propose_visits(act=act)
    assert again.pk == visit.pk
    assert tasks(again) == {(basins[0].pk, "clean"), (basins[1].pk, "clean")}
    assert again.minutes == 80
    assert again.no_sooner_than == day(8)


def test_a_window_that_moves_moves_the_proposal(act: Act, basins) -> None:
    row = window(basins[0])
    (visit,) = propose.propose_visits(act=act)
    DueWindow.objects.filter(pk=row.pk).update(earliest_on=day(1), best_on=day(3), latest_on=day(9))
    (moved,) = propose.propose_visits(act=act)
    assert (moved.pk, moved.no_later_than) == (visit.pk, day(9))
    moved.refresh_from_db()
    assert moved.best_on == day(3)
    assert moved.revision == visit.revision + 1


def test_nothing_due_any_more_ends_the_proposal_quietly(act: Act, basins) -> None:
    row = window(basins[0])
    (visit,) = propose.propose_visits(act=act)
    row.delete()
    assert propose.propose_visits(act=act) == []
    visit.refresh_from_db()
    assert visit.state == "called_off"
    assert Message.objects.count() == 0


@pytest.mark.parametrize("stage", ["offered", "agreed"])
def test_what_was_offered_or_agreed_stays_and_is_not_doubled(act: Act, basins, stage: str) -> None:
    window(basins[0])
    (visit,) = propose.propose_visits(act=act)
    if stage == "offered":
        visits.offer(act=act, visit=visit, days=[day(15)])
    else:
        visits.agree(act=act, visit=visit, local_date=day(15), technicians=[OfficeFactory(role="crew")])
    before = Visit.objects.filter(pk=visit.pk).values().get()
    assert propose.propose_visits(act=act) == []
    DueWindow.objects.update(earliest_on=day(40), best_on=day(50), latest_on=day(55))
    assert propose.propose_visits(act=act) == []
    window(basins[1])
    (other,) = propose.propose_visits(act=act)
    assert tasks(other) == {(basins[1].pk, "clean")}
    assert Visit.objects.filter(pk=visit.pk).values().get() == before


def test_a_persons_proposal_is_left_alone(act: Act, basins) -> None:
    visit = visits.propose(act=act, property=basins[0].property, tasks=[(basins[0], "look")], best_on=day(3))
    window(basins[1])
    (other,) = propose.propose_visits(act=act)
    assert other.pk != visit.pk
    DueWindow.objects.all().delete()
    propose.propose_visits(act=act)
    visit.refresh_from_db()
    assert visit.state == "proposed"


def test_a_look_at_what_is_cleaned_anyway_is_no_task(act: Act, basins) -> None:
    window(basins[0])
    window(basins[0], "look", rule_code="storm_look")
    (visit,) = propose.propose_visits(act=act)
    assert tasks(visit) == {(basins[0].pk, "clean")}
    assert propose.propose_visits(act=act) == []


def test_owner_tasks_never_become_visits(act: Act, basins) -> None:
    window(basins[0], who="owner")
    assert propose.propose_visits(act=act) == []
    assert Visit.objects.count() == 0


def test_only_the_properties_asked_for(act: Act, basins) -> None:
    elsewhere = ComponentFactory()
    window(basins[0])
    window(elsewhere)
    (visit,) = propose.propose_visits(act=act, property_ids=[elsewhere.property_id])
    assert visit.property_id == elsewhere.property_id
    closed = PropertyFactory(closed_at=AT)
    assert propose.propose_visits(act=act, property_ids=[closed.pk]) == []


def test_a_run_without_news_costs_the_same_for_any_number_of_properties(act: Act) -> None:
    def cost() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert propose.propose_visits(act=act) == []
        return len(queries)

    window(ComponentFactory())
    propose.propose_visits(act=act)
    few = cost()
    for _ in range(6):
        window(ComponentFactory())
    propose.propose_visits(act=act)
    assert cost() == few
