"""Visits through their states: who may, what is counted, who is told, and who was here first."""

from datetime import UTC, datetime, time, timedelta
from itertools import pairwise, product

import pytest

from core.act import by_customer
from core.models import History, Message
from core.problem import BadInput, Conflict, NotAllowed, StaleVersion
from jobs.models import PropertyAccess
from maintenance import visits
from maintenance.decide.visit_moves import MOVES, Day
from maintenance.models import CallToMake, Visit
from maintenance.visit_tasks import TaskWanted
from tests.factories import (
    AT,
    TODAY,
    ComponentFactory,
    CustomerFactory,
    DueWindowFactory,
    MessageChoiceFactory,
    OfficeFactory,
    PropertyFactory,
    PropertyRoleFactory,
    RuleFactory,
    ServiceAgreementFactory,
    SystemFactory,
    UserFactory,
    VisitFactory,
    VisitTechnicianFactory,
    make_cast,
)

pytestmark = pytest.mark.django_db
LATER = TODAY + timedelta(days=10)


@pytest.fixture
def cast():
    return make_cast()


@pytest.fixture
def office(cast):
    return cast.act("office")


def visit_of(cast, **more):
    return VisitFactory(property=cast.property, **more)


def part(cast, kind="catch_basin", **more):
    return ComponentFactory(system=SystemFactory(property=cast.property), kind=kind, **more)


def do(move, act, visit):
    """The service that leads to `move`."""
    return {
        "proposed": lambda: visits.take_back(act=act, visit=visit),
        "offered": lambda: visits.offer(act=act, visit=visit, days=[LATER]),
        "agreed": lambda: (
            visits.move(act=act, visit=visit, local_date=LATER)
            if visit.state == "agreed"
            else visits.not_begun(act=act, visit=visit)
            if visit.state == "begun"
            else visits.agree(act=act, visit=visit, local_date=LATER)
        ),
        "begun": lambda: visits.begin(act=act, visit=visit),
        "called_off": lambda: visits.call_off(act=act, visit=visit, why="sold"),
    }[move]()


@pytest.mark.parametrize(
    ("state", "move"), list(product(MOVES, ("proposed", "offered", "agreed", "begun", "called_off")))
)
def test_every_move_from_every_state(cast, office, state, move):
    day = TODAY if state in ("agreed", "begun") else None
    visit = visit_of(cast, state=state, local_date=day)
    if move in MOVES[state]:
        before = visit.revision, visit.sequence, visit.changed_at
        do(move, office, visit)
        assert visit.state == move
        assert visit.revision == before[0] + 1
        assert visit.sequence == before[1] + 1
        assert visit.changed_at > before[2]
        assert History.objects.filter(object_uid=visit.uid).count() == 1
        return
    with pytest.raises(Conflict) as refused:
        do(move, office, visit)
    assert visit.get_state_display() in refused.value.detail
    visit.refresh_from_db()
    assert (visit.state, visit.revision) == (state, 1)
    assert not History.objects.filter(object_uid=visit.uid).exists()


def test_from_proposed_to_begun(cast, office):
    role = cast.role
    MessageChoiceFactory(customer=cast.homeowner, kind="visit_agreed", wanted=True)
    basin, pump = part(cast, tag="CB-1"), part(cast, "pump", tag="PU-1")
    visit = visits.propose(
        act=office,
        property=cast.property,
        tasks=[TaskWanted(basin, "clean", minutes=25), {"component": pump, "task": "test_pump"}],
    )
    assert (visit.state, visit.sequence, visit.cover) == ("proposed", 0, "chargeable")
    assert visit.minutes == 25 + 15 + 20  # the tasks' own, the default of one, the company's set-up
    assert visit.tasks.count() == 2
    assert not Message.objects.exists()
    visits.offer(act=office, visit=visit, days=[Day(LATER, time(8), 120), LATER + timedelta(days=1)])
    assert visit.answer_by == TODAY + timedelta(days=5)
    assert Message.objects.get(kind="visit_offered").to_address == role.customer.email
    visits.agree(act=cast.act("homeowner"), visit=visit, local_date=LATER)
    assert (visit.local_start, visit.span_minutes) == (time(8), 120)  # the time of the offered day
    assert visit.starts_at == datetime(2026, 5, 14, 12, 0, tzinfo=UTC)  # 08:00 at UTC-4
    assert visit.agreed_by == f"customer:{cast.homeowner.uid}"
    assert Message.objects.filter(kind="visit_agreed").count() == 1
    visits.assign(act=office, visit=visit, users=[cast.crew, cast.other_crew], place_in_day=2)
    assert [t.user_id for t in visit.technicians.order_by("-lead", "id")] == [cast.crew.pk, cast.other_crew.pk]
    assert PropertyAccess.objects.filter(property=cast.property, user=cast.other_crew, reason="visit").exists()
    sequence = visit.sequence
    visits.begin(act=cast.act("crew"), visit=visit)
    assert (visit.state, visit.begun_at, visit.sequence) == ("begun", AT, sequence + 1)
    actions = list(History.objects.filter(object_uid=visit.uid).order_by("id").values_list("action", flat=True))
    assert actions == ["propose", "offer", "agree", "assign", "assign", "begin"]


def test_moving_tells_and_the_same_day_again_does_not(cast, office):
    visit = visit_of(cast, state="agreed", local_date=TODAY + timedelta(days=3))
    visits.move(act=office, visit=visit, local_date=LATER, local_start=time(9), span_minutes=60)
    assert (visit.local_date, visit.sequence, visit.revision) == (LATER, 1, 2)
    visits.move(act=office, visit=visit, local_date=LATER, local_start=time(9), span_minutes=60)
    assert (visit.sequence, visit.revision) == (1, 2)
    assert Message.objects.filter(kind="visit_moved").count() == 1
    visits.set_cover(act=office, visit=visit, cover="our_fault")
    assert (visit.sequence, visit.revision, visit.cover) == (1, 3, "our_fault")


def test_last_modified_grows_within_one_second(cast, office):
    visit = visit_of(cast, state="agreed", local_date=LATER)
    stamps = [visit.changed_at]
    for days in (1, 2, 3):
        visits.move(act=office, visit=visit, local_date=LATER + timedelta(days=days))
        stamps.append(visit.changed_at)
    assert all(later - earlier >= timedelta(seconds=1) for earlier, later in pairwise(stamps))


def test_someone_else_was_first(cast, office):
    visit = visit_of(cast, state="offered")
    other = Visit.objects.get(pk=visit.pk)
    visits.agree(act=office, visit=visit, local_date=LATER)
    with pytest.raises(Conflict, match="agreed now") as refused:
        visits.agree(act=office, visit=other, local_date=LATER + timedelta(days=1))
    assert refused.value.status == 409
    fresh = Visit.objects.get(pk=visit.pk)
    with pytest.raises(StaleVersion, match="revision 1") as stale:
        visits.call_off(act=office, visit=fresh, why="rain", revision=1)
    assert stale.value.status == 412
    with pytest.raises(Conflict, match="move it instead"):
        visits.agree(act=office, visit=fresh, local_date=LATER)
    fresh.refresh_from_db()
    assert fresh.local_date == LATER


def test_notice_instead_of_an_offer(cast, office):
    with pytest.raises(Conflict, match="not marked"):
        visits.give_notice(act=office, visit=visit_of(cast), local_date=LATER)
    cast.property.notice_only = True
    cast.property.save()
    visit = visit_of(cast)
    with pytest.raises(Conflict, match="notice only"):
        visits.offer(act=office, visit=visit, days=[LATER])
    visits.give_notice(act=office, visit=visit, local_date=LATER, local_start=time(8), technicians=[cast.crew])
    assert (visit.state, visit.notice_only) == ("agreed", True)
    assert visit.technicians.get().user == cast.crew
    assert Message.objects.get().kind == "visit_notice"


def test_an_offer_unanswered_for_five_days_is_one_call(cast, office):
    visit = visit_of(cast)
    visits.offer(act=office, visit=visit, days=[LATER])
    almost = cast.act("office", at=AT + timedelta(days=5) - timedelta(seconds=1))
    assert visits.unanswered(act=almost) == 0
    after = cast.act("office", at=AT + timedelta(days=5))
    assert visits.unanswered(act=after) == 1
    assert visits.unanswered(act=after) == 0
    call = CallToMake.objects.get()
    assert (call.reason, call.visit, call.customer) == ("no_answer", visit, cast.homeowner)
    visits.take_back(act=after, visit=visit)
    call.refresh_from_db()
    assert call.told_at is not None
    visits.offer(act=after, visit=visit, days=[LATER])
    much_later = cast.act("office", at=AT + timedelta(days=11))
    assert visits.unanswered(act=much_later) == 1
    assert CallToMake.objects.filter(told_at=None).count() == 1
    visits.agree(act=much_later, visit=visit, local_date=LATER + timedelta(days=20))
    assert not CallToMake.objects.filter(told_at=None).exists()


def test_what_a_homeowner_may(cast, office):
    visit = visit_of(cast)
    homeowner = cast.act("homeowner")
    with pytest.raises(Conflict):  # nothing was offered
        visits.agree(act=homeowner, visit=visit, local_date=LATER)
    visits.offer(act=office, visit=visit, days=[LATER])
    with pytest.raises(BadInput, match="was not offered"):
        visits.agree(act=homeowner, visit=visit, local_date=LATER + timedelta(days=1))
    with pytest.raises(NotAllowed):
        visits.agree(act=cast.act("stranger"), visit=visit, local_date=LATER)
    for attempt in (
        lambda: visits.offer(act=homeowner, visit=visit, days=[LATER]),
        lambda: visits.call_off(act=homeowner, visit=visit, why="no"),
        lambda: visits.begin(act=homeowner, visit=visit),
        lambda: visits.agree(act=cast.act("crew"), visit=visit, local_date=LATER),
        lambda: visits.begin(act=cast.act("other_crew"), visit=visit),
    ):
        with pytest.raises(NotAllowed):
            attempt()
    first = visits.ask_another_day(act=homeowner, visit=visit, note="only Fridays")
    assert visits.ask_another_day(act=homeowner, visit=visit).pk == first.pk
    assert (first.reason, first.note) == ("another_day", "only Fridays")
    cast.role.agrees_days = False
    cast.role.save()
    with pytest.raises(NotAllowed):
        visits.agree(act=homeowner, visit=visit, local_date=LATER)


def test_after_the_role_ended_nothing_can_be_agreed(cast, office):
    tenant = CustomerFactory()
    PropertyRoleFactory(
        property=cast.property, customer=tenant, role="tenant", from_date=TODAY - timedelta(days=90), until_date=TODAY
    )
    visit = visit_of(cast)
    visits.offer(act=office, visit=visit, days=[LATER])
    with pytest.raises(NotAllowed):
        visits.agree(act=by_customer(tenant, at=AT), visit=visit, local_date=LATER)


def test_owner_tasks_never_become_visits(cast, office):
    grate = part(cast, "catch_basin", tag="CB-1")
    owner = RuleFactory(kind="catch_basin", task="pour_bucket", version__who="owner")
    window = DueWindowFactory(component=grate, task="pour_bucket", who="owner", rule_code=owner.code)
    for task in (window, TaskWanted(grate, "pour_bucket", owner.code), TaskWanted(grate, "pour_bucket")):
        with pytest.raises(BadInput, match="owner's own task"):
            visits.propose(act=office, property=cast.property, tasks=[task])
    crew = RuleFactory(kind="catch_basin", task="pour_bucket", version__minutes=7)
    visit = visits.propose(act=office, property=cast.property, tasks=[TaskWanted(grate, "pour_bucket", crew.code)])
    assert visit.tasks.get().minutes == 7
    with pytest.raises(BadInput, match="owner's own task"):  # among others, too
        visits.propose(act=office, property=cast.property, tasks=[TaskWanted(grate, "clean"), window])


def test_bad_tasks_are_all_named(cast, office):
    basin, elsewhere = part(cast, tag="CB-1"), ComponentFactory(kind="catch_basin")
    gone = part(cast, tag="CB-9", retired_on=TODAY)
    with pytest.raises(BadInput) as refused:
        visits.propose(
            act=office,
            property=cast.property,
            tasks=[
                TaskWanted(basin, "clean"),
                TaskWanted(basin, "clean"),
                TaskWanted(elsewhere, "clean"),
                TaskWanted(gone, "clean"),
                TaskWanted(basin, "test_valve"),
            ],
        )
    assert [f.field for f in refused.value.fields] == ["tasks.1", "tasks.2", "tasks.3", "tasks.4"]
    with pytest.raises(BadInput):
        visits.propose(act=office, property=cast.property, tasks=[])
    with pytest.raises(NotAllowed):
        visits.propose(act=cast.act("crew"), property=cast.property, tasks=[TaskWanted(basin, "clean")])
    assert not Visit.objects.exists()


@pytest.mark.parametrize("days", [[], [LATER, LATER], [TODAY - timedelta(days=1)], [Day(LATER, None, 60)]])
def test_bad_offers(cast, office, days):
    visit = visit_of(cast)
    with pytest.raises(BadInput):
        visits.offer(act=office, visit=visit, days=days)
    assert not visit.offered_days.exists()


def test_a_refused_offer_leaves_the_days_offered_before(cast, office):
    visit = visit_of(cast)
    visits.offer(act=office, visit=visit, days=[LATER])
    stale = Visit.objects.get(pk=visit.pk)
    visits.take_back(act=office, visit=visit)
    visits.offer(act=office, visit=visit, days=[LATER + timedelta(days=4)])
    with pytest.raises(Conflict):
        visits.offer(act=office, visit=stale, days=[TODAY])
    assert visit.offered_days.get().local_date == LATER + timedelta(days=4)


def test_calling_off_says_why_and_tells(cast, office):
    visit = visit_of(cast, state="agreed", local_date=LATER, agreed_at=AT)
    with pytest.raises(BadInput, match="why"):
        visits.call_off(act=office, visit=visit, why="  ")
    visits.call_off(act=office, visit=visit, why="truck broke down")
    message = Message.objects.get(kind="visit_called_off")
    assert "truck broke down" in message.text
    with pytest.raises(Conflict):
        visits.assign(act=office, visit=visit, users=[cast.crew])


def test_who_is_taken_off_before_going_loses_sight(cast, office):
    visit = visit_of(cast, state="agreed", local_date=LATER)
    visits.assign(act=office, visit=visit, users=[cast.other_crew])
    grant = PropertyAccess.objects.get(property=cast.property, user=cast.other_crew)
    assert grant.until is None
    visits.assign(act=office, visit=visit, users=[cast.crew])
    grant.refresh_from_db()
    assert grant.until == AT
    inactive = UserFactory(is_active=False)
    with pytest.raises(BadInput, match="left"):
        visits.assign(act=office, visit=visit, users=[inactive])
    assert visit.technicians.get().user == cast.crew


def test_begin_is_for_those_on_the_visit(cast, office):
    visit = visit_of(cast, state="agreed", local_date=TODAY)
    with pytest.raises(NotAllowed):
        visits.begin(act=cast.act("crew"), visit=visit)
    VisitTechnicianFactory(visit=visit, user=cast.crew)
    visits.begin(act=cast.act("crew"), visit=visit)
    visits.not_begun(act=cast.act("crew"), visit=visit)
    assert (visit.state, visit.begun_at, visit.local_date) == ("agreed", None, TODAY)


class TestCover:
    """Covered if an agreement in force lists the rule, warranty by system and task, else chargeable."""

    @pytest.fixture
    def rule(self):
        return RuleFactory(kind="catch_basin", task="clean")

    def propose(self, cast, task, **more):
        return visits.propose(act=cast.act("office"), property=cast.property, tasks=[task], **more)

    def test_agreement(self, cast, rule):
        basin = part(cast)
        agreement = ServiceAgreementFactory(property=cast.property)
        assert self.propose(cast, TaskWanted(basin, "clean", rule.code)).cover == "chargeable"
        agreement.rules.add(rule)
        visit = self.propose(cast, TaskWanted(basin, "clean", rule.code))
        assert (visit.cover, visit.agreement) == ("covered", agreement)
        assert self.propose(cast, TaskWanted(basin, "clean")).cover == "chargeable"

    def test_follows_the_agreed_day(self, cast, rule):
        agreement = ServiceAgreementFactory(property=cast.property, ends_on=LATER)
        agreement.rules.add(rule)
        visit = self.propose(cast, TaskWanted(part(cast), "clean", rule.code), best_on=TODAY)
        office = cast.act("office")
        visits.agree(act=office, visit=visit, local_date=LATER + timedelta(days=1))
        assert (visit.cover, visit.agreement) == ("chargeable", None)
        visits.move(act=office, visit=visit, local_date=LATER)
        assert visit.cover == "covered"

    def test_a_persons_word_stands(self, cast, rule):
        agreement = ServiceAgreementFactory(property=cast.property)
        agreement.rules.add(rule)
        visit = self.propose(cast, TaskWanted(part(cast), "clean", rule.code))
        office = cast.act("office")
        visits.set_cover(act=office, visit=visit, cover="our_fault")
        visits.agree(act=office, visit=visit, local_date=LATER)
        assert visit.cover == "our_fault"

    def test_warranty(self, cast):
        system = SystemFactory(property=cast.property, warranty_until=LATER)
        pump = ComponentFactory(system=system, kind="pump", tag="PU-1")
        assert self.propose(cast, TaskWanted(pump, "replace"), best_on=LATER).cover == "warranty"
        assert self.propose(cast, TaskWanted(pump, "replace"), best_on=LATER + timedelta(days=1)).cover == "chargeable"
        assert self.propose(cast, TaskWanted(pump, "test_pump"), best_on=LATER).cover == "chargeable"


def test_a_closed_property_gets_no_visits():
    prop = PropertyFactory(closed_at=AT)
    component = ComponentFactory(system=SystemFactory(property=prop), kind="catch_basin")
    from core.act import by_user

    with pytest.raises(Conflict, match="closed"):
        visits.propose(
            act=by_user(OfficeFactory(), via="page", at=AT), property=prop, tasks=[TaskWanted(component, "clean")]
        )
