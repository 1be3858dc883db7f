"""Closeouts that wait for the office: who may, what each action does, and that homeowners see nothing before."""

import uuid
from datetime import timedelta

import pytest

from core.problem import BadInput, Conflict, NotAllowed
from jobs.models import Photo, PropertyAccess
from maintenance import closeout_review as review
from maintenance.decide.closeout_flags import ACTIONS, FLAGS
from maintenance.models import Closeout, Reading, TaskDone, Visit, VisitTechnician
from maintenance.read import visible
from tests.factories import AT, TODAY, CustomerFactory, PhotoFactory, PropertyAccessFactory, PropertyRoleFactory
from tests.maintenance.closeout.kit import LEFT, make_scene, send

pytestmark = pytest.mark.django_db


@pytest.fixture
def scene():
    return make_scene()


def office(scene):
    return scene.act(scene.office, at=AT + timedelta(hours=3), via="page")


def test_every_flag_has_an_action_with_words():
    for kind in FLAGS.values():
        assert kind.actions
        assert set(kind.actions) <= set(ACTIONS)


def test_two_technicians_of_a_visit_add_up(scene):
    VisitTechnician.objects.create(visit=scene.visit, user=scene.second, lead=False)
    first = send(scene.body(), scene.act())
    pump = [{"tag": "PU-1", "task": "test_pump", "outcome": "done"}]
    second = send(
        scene.body(tasks=pump, readings=[{"tag": "PU-1", "code": "amps", "value": 6}]), scene.act(scene.second)
    )
    assert first.closeout.effective
    assert second.closeout.effective
    assert Closeout.objects.filter(visit=scene.visit).count() == 2
    assert not second.received.flags.exists()
    assert dict(scene.visit.tasks.values_list("task", "outcome")) == {"clean": "done", "test_pump": "done"}
    scene.visit.refresh_from_db()
    assert scene.visit.sequence == 1  # done once: date, time and state did not change again


def test_the_same_task_of_two_technicians_waits_and_either_counts(scene):
    VisitTechnician.objects.create(visit=scene.visit, user=scene.second, lead=False)
    send(scene.body(), scene.act())
    blocked = [{"tag": "CB-1", "task": "clean", "outcome": "could_not", "reason": "stuck"}]
    second = send(scene.body(tasks=blocked), scene.act(scene.second))
    assert second.received.state == "applied"
    assert TaskDone.objects.count() == 1
    assert Reading.objects.count() == 2  # both measured
    flag = second.received.flags.get()
    assert flag.code == "task_twice"
    assert (flag.sides["first"]["outcome"], flag.sides["second"]["outcome"]) == ("done", "could_not")
    review.clear_flag(act=office(scene), flag=flag, action="take_second", note="asked both")
    assert scene.visit.tasks.get(task="clean").outcome == "could_not"
    assert TaskDone.objects.count() == 2
    with pytest.raises(Conflict):
        review.clear_flag(act=office(scene), flag=flag, action="keep_first")


def test_a_sender_who_was_not_on_the_visit_waits_until_the_office_takes_it(scene):
    closed = send(scene.body(), scene.act(scene.stranger))
    assert closed.closeout is None
    assert closed.received.state == "needs_office"
    assert not Reading.objects.exists()
    flag = closed.received.flags.get()
    assert flag.code == "unassigned_sender"
    assert flag.sides["sender"] == scene.stranger.display_name
    with pytest.raises(NotAllowed):
        review.clear_flag(act=scene.act(), flag=flag, action="accept")
    review.clear_flag(act=office(scene), flag=flag, action="accept")
    reading = Reading.objects.get()
    assert reading.measured_by == f"user:{scene.stranger.uid}"
    assert reading.recorded_at == AT + timedelta(hours=3)  # known to the company only from then on
    assert reading.measured_at == LEFT
    scene.visit.refresh_from_db()
    assert scene.visit.state == "done"
    assert PropertyAccess.objects.filter(property=scene.property, user=scene.stranger).exists()


def test_where_nobody_was_assigned_it_is_taken_and_flagged(scene):
    VisitTechnician.objects.all().delete()
    closed = send(scene.body(), scene.act(scene.stranger))
    assert closed.received.state == "applied"
    assert [f.code for f in closed.received.flags.all()] == ["nobody_assigned"]


def test_a_second_closeout_of_one_technician_waits(scene):
    send(scene.body(), scene.act())
    again = send(scene.body(readings=[{"tag": "CB-1", "code": "silt_depth_in", "value": 2}], tasks=[]), scene.act())
    assert again.received.state == "needs_office"
    flag = again.received.flags.get()
    assert flag.code == "second_closeout"
    assert Reading.objects.count() == 1
    review.clear_flag(act=office(scene), flag=flag, action="accept")
    again.received.refresh_from_db()
    assert again.received.state == "applied"
    assert sorted(Closeout.objects.values_list("effective", flat=True)) == [False, True]
    assert Reading.objects.count() == 2


def test_set_aside_keeps_the_bytes_and_applies_nothing(scene):
    closed = send(scene.body(), scene.act(scene.stranger))
    flag = closed.received.flags.get()
    review.clear_flag(act=office(scene), flag=flag, action="set_aside", note="tried the phone out")
    closed.received.refresh_from_db()
    assert closed.received.state == "set_aside"
    assert bytes(closed.received.body)
    assert not Closeout.objects.exists()
    with pytest.raises(Conflict):
        review.match_closeout(act=office(scene), received=closed.received, property=scene.property)


def test_an_action_the_flag_has_not_is_refused(scene):
    flag = send(scene.body(), scene.act(scene.stranger)).received.flags.get()
    with pytest.raises(BadInput, match="accept"):
        review.clear_flag(act=office(scene), flag=flag, action="seen")


def test_retry_after_the_register_was_completed(scene):
    from jobs.change_component import add_component

    closed = send(scene.body(tasks=[{"tag": "CB-7", "task": "clean", "outcome": "done"}], readings=[]), scene.act())
    flag = closed.received.flags.get()
    assert flag.code == "unknown"
    review.clear_flag(act=office(scene), flag=flag, action="retry")
    closed.received.refresh_from_db()
    assert closed.received.state == "needs_office"
    flag.refresh_from_db()
    assert flag.cleared_at is None  # it failed again for the same reason, so it is open again
    add_component(act=office(scene), property=scene.property, kind="catch_basin", tag="CB-7")
    review.clear_flag(act=office(scene), flag=flag, action="retry")
    assert TaskDone.objects.get().component.tag == "CB-7"


def test_a_typed_address_waits_unseen_by_homeowners_until_matched(scene):
    customer = CustomerFactory()
    PropertyRoleFactory(property=scene.property, customer=customer)
    from core.act import by_customer

    owner = by_customer(customer, at=AT + timedelta(hours=4))
    said = scene.body(
        visit=None, property=None, address="12 Somewhere Lane, the blue gate", tasks=[], note="pumped by hand"
    )
    photo = PhotoFactory(property=None, closeout_uid=uuid.UUID(said["uid"]))
    said["readings"] = [{"tag": "CB-1", "code": "silt_depth_in", "value": 3}]
    closed = send(said, scene.act())
    assert closed.received.state == "unmatched"
    assert [f.code for f in closed.received.flags.all()] == ["unmatched"]
    assert list(visible.closeouts(owner)) == []
    assert Visit.objects.count() == 1
    with pytest.raises(NotAllowed):
        review.match_closeout(act=scene.act(), received=closed.received, property=scene.property)
    done = review.match_closeout(act=office(scene), received=closed.received, property=scene.property)
    assert done is not None
    assert (done.visit.property, done.visit.state, done.visit.local_date) == (scene.property, "done", TODAY)
    assert list(visible.closeouts(owner)) == [done]
    assert Reading.objects.get().component == scene.basin
    assert Photo.objects.get(pk=photo.pk).property == scene.property
    assert not closed.received.flags.filter(cleared_at=None).exists()
    with pytest.raises(Conflict):
        review.match_closeout(act=office(scene), received=closed.received, property=scene.property)


def test_an_unplanned_visit_at_a_property_one_may_see(scene):
    PropertyAccessFactory(property=scene.property, user=scene.crew)
    said = scene.body(visit=None, property=str(scene.property.uid))
    first, again = send(said, scene.act()), send(said, scene.act())
    assert first.closeout == again.closeout
    visit = first.closeout.visit
    assert visit != scene.visit
    assert visit.state == "done"
    assert [t.user for t in visit.technicians.all()] == [scene.crew]
    assert visit.tasks.get().outcome == "done"


def test_an_unplanned_visit_at_a_property_one_may_not_see_waits(scene):
    closed = send(scene.body(visit=None, property=str(scene.property.uid)), scene.act(scene.stranger))
    assert closed.received.state == "needs_office"
    assert [f.code for f in closed.received.flags.all()] == ["not_theirs"]
    assert Visit.objects.count() == 1


def test_the_office_enters_a_paper_closeout_for_the_technician(scene):
    closed = send(scene.body(technician=str(scene.crew.uid)), office(scene))
    reading = Reading.objects.get()
    assert reading.measured_by == f"user:{scene.crew.uid}"
    assert reading.entered_by == f"user:{scene.office.uid}"
    assert closed.closeout.technician == scene.crew


def test_one_technician_cannot_send_in_anothers_name(scene):
    closed = send(scene.body(technician=str(scene.crew.uid)), scene.act(scene.second))
    assert closed.closeout is None
    assert [f.code for f in closed.received.flags.all()] == ["unassigned_sender"]


def test_a_tenants_visits_stay_the_tenants(scene):
    from core.act import by_customer

    old, new = CustomerFactory(), CustomerFactory()
    PropertyRoleFactory(
        property=scene.property,
        customer=old,
        role="tenant",
        from_date=TODAY - timedelta(days=400),
        until_date=TODAY + timedelta(days=10),
    )
    PropertyRoleFactory(
        property=scene.property, customer=new, role="tenant", from_date=TODAY + timedelta(days=10), until_date=None
    )
    done = send(scene.body(), scene.act()).closeout
    later = AT + timedelta(days=12)
    assert list(visible.closeouts(by_customer(old, at=AT + timedelta(days=1)))) == [done]
    assert list(visible.closeouts(by_customer(old, at=later))) == []  # the role ended
    assert list(visible.closeouts(by_customer(new, at=later))) == []  # not in their time
    assert list(visible.visits(by_customer(new, at=later))) == []
