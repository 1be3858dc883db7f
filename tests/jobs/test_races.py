"""Two people at once, each on a connection of their own: one thing is made, one edit holds, the other is told."""

import threading
from concurrent.futures import ThreadPoolExecutor
from uuid import uuid4

import pytest
from django.db import connection, transaction
from django.db.models import F

from core.models import History
from core.problem import Conflict, StaleVersion
from jobs import access, change_component, people, register, replace_component
from jobs.models import Component, Property, PropertyAccess, PropertyRole
from tests import factories
from tests.factories import TODAY

pytestmark = pytest.mark.django_db(transaction=True)

AT_ONCE = 6


@pytest.fixture
def cast():
    return factories.make_cast()


def all_at_once(write):
    """Run write(number) in AT_ONCE threads that start together; returns results and exceptions in any order."""
    gate = threading.Barrier(AT_ONCE)

    def run(number):
        try:
            gate.wait(timeout=30)
            return write(number)
        except (Conflict, Property.DoesNotExist) as problem:
            return problem
        finally:
            connection.close()

    with ThreadPoolExecutor(AT_ONCE) as pool:
        return list(pool.map(run, range(AT_ONCE)))


def problems(results):
    return [item for item in results if isinstance(item, Exception)]


def test_one_uid_makes_one_component_and_one_history_entry(cast):
    uid, act = uuid4(), cast.act("crew")
    given = {"property": cast.property, "kind": "catch_basin", "tag": "CB-1", "uid": uid}
    results = all_at_once(lambda _: change_component.add_component(act=act, **given))
    assert problems(results) == []
    assert {made.pk for made in results} == {Component.objects.get(uid=uid).pk}
    assert History.objects.filter(object_uid=uid, action="create").count() == 1
    assert Component.objects.get(uid=uid).versions.count() == 1


def test_one_tag_is_given_once(cast):
    act = cast.act("office")
    results = all_at_once(
        lambda _: change_component.add_component(act=act, property=cast.property, kind="catch_basin", tag="CB-1")
    )
    assert len(problems(results)) == AT_ONCE - 1
    assert all("is taken by CB-1" in problem.detail for problem in problems(results))
    assert Component.objects.filter(property=cast.property).count() == 1


def test_one_edit_holds_and_the_others_are_told(cast):
    act = cast.act("office")
    results = all_at_once(
        lambda number: register.change_property(act=act, property=cast.property, revision=1, note=f"note {number}")
    )
    assert [type(problem) for problem in problems(results)] == [StaleVersion] * (AT_ONCE - 1)
    present = Property.objects.get(pk=cast.property.pk)
    assert present.revision == 2
    (entry,) = History.objects.filter(object_uid=present.uid)
    assert entry.changes == {"note": ["", present.note]}


def test_without_the_condition_edits_are_lost(cast):
    """The control: the same edit without its condition lets everybody through."""

    def unguarded(number):
        with transaction.atomic():
            Property.objects.filter(pk=cast.property.pk).update(note=f"note {number}", revision=F("revision") + 1)

    assert problems(all_at_once(unguarded)) == []
    assert Property.objects.get(pk=cast.property.pk).revision == 1 + AT_ONCE


def test_a_part_is_replaced_once(cast):
    system = factories.channel_to_sump(cast.property)
    pump = system.components.get(kind="pump")
    act = cast.act("crew")
    results = all_at_once(
        lambda _: replace_component.replace_component(act=act, component=pump, on=TODAY, reason="seized")
    )
    assert len(problems(results)) == AT_ONCE - 1
    assert system.components.filter(kind="pump", retired_on=None).count() == 1
    assert system.components.get(kind="float").part_of.retired_on is None


def test_one_replacement_sent_by_all_is_one(cast):
    valve, uid, act = factories.ComponentFactory(kind="check_valve", tag="CV-1"), uuid4(), cast.act("crew")
    results = all_at_once(
        lambda _: replace_component.replace_component(act=act, component=valve, on=TODAY, reason="leaks", uid=uid)
    )
    assert {made.uid for made in results} == {uid}
    assert Component.objects.filter(system=valve.system).count() == 2


def test_register_writes_never_lose_a_revision(cast):
    act = cast.act("office")
    all_at_once(lambda number: register.add_hazard(act=act, property=cast.property, kind="other", note=str(number)))
    assert Property.objects.get(pk=cast.property.pk).revision == 1 + AT_ONCE


def test_a_role_and_a_grant_are_given_once(cast):
    act = cast.act("office")
    results = all_at_once(
        lambda _: people.give_role(
            act=act, property=cast.property, customer=cast.stranger, role="tenant", from_date=TODAY
        )
    )
    assert len(problems(results)) == AT_ONCE - 1
    assert PropertyRole.objects.filter(property=cast.property, role="tenant").count() == 1
    key = {"property_id": cast.property.pk, "user_id": cast.other_crew.pk, "reason": "visit"}
    assert problems(all_at_once(lambda _: access.grant(act=act, **key))) == []
    assert PropertyAccess.objects.filter(user=cast.other_crew).count() == 1
