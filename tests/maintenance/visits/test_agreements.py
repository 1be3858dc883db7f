"""Service agreements: in force by the day, one at a time, every change kept."""

from datetime import date, timedelta

import pytest

from core.models import History
from core.problem import BadInput, Conflict, NotAllowed, StaleVersion
from maintenance import agreements
from tests.factories import RuleFactory, make_cast

pytestmark = pytest.mark.django_db
START, END = date(2026, 3, 1), date(2027, 2, 28)


@pytest.fixture
def cast():
    return make_cast()


def make(cast, **more):
    values = {"starts_on": START, "ends_on": END, "rules": [RuleFactory()], "price_cents": 48_000, **more}
    return agreements.create_agreement(act=cast.act("office"), property=cast.property, **values)


@pytest.mark.parametrize(
    ("day", "holds"),
    [(START - timedelta(days=1), False), (START, True), (END, True), (END + timedelta(days=1), False)],
)
def test_in_force_on_both_end_days(cast, day, holds):
    made = make(cast)
    assert agreements.in_force(cast.property.pk, day) == (made if holds else None)
    assert agreements.in_force(cast.strangers_property.pk, START) is None


def test_two_do_not_run_at_once(cast):
    make(cast)
    with pytest.raises(Conflict, match="runs at this property already"):
        make(cast, starts_on=END)
    following = make(cast, starts_on=END + timedelta(days=1), ends_on=END + timedelta(days=365))
    with pytest.raises(Conflict):
        agreements.change_agreement(act=cast.act("office"), agreement=following, revision=1, starts_on=END)


def test_change_is_guarded_and_kept(cast):
    made, rule = make(cast), RuleFactory()
    changed = agreements.change_agreement(
        act=cast.act("office"), agreement=made, revision=1, price_cents=50_000, rules=[rule]
    )
    assert (changed.price_cents, changed.revision, list(changed.rules.all())) == (50_000, 2, [rule])
    entry = History.objects.filter(object_uid=made.uid, action="change").get()
    assert entry.changes["price_cents"] == [48_000, 50_000]
    assert entry.changes["rules"][1] == [rule.code]
    with pytest.raises(StaleVersion):
        agreements.change_agreement(act=cast.act("office"), agreement=made, revision=1, renews=True)
    with pytest.raises(BadInput, match="no property to change"):
        agreements.change_agreement(act=cast.act("office"), agreement=made, revision=2, property=cast.property)


@pytest.mark.parametrize("bad", [{"ends_on": START - timedelta(days=1)}, {"price_cents": -1}, {"price_cents": 10**12}])
def test_bad_values(cast, bad):
    with pytest.raises(BadInput):
        make(cast, **bad)


def test_cancelling_ends_it_and_keeps_it(cast):
    made = make(cast, renews=True)
    with pytest.raises(BadInput):
        agreements.cancel_agreement(act=cast.act("office"), agreement=made, on=START, why="")
    last = START + timedelta(days=30)
    agreements.cancel_agreement(act=cast.act("office"), agreement=made, on=last, why="house sold")
    assert (made.ends_on, made.renews) == (last, False)
    assert agreements.in_force(cast.property.pk, last) == made
    assert agreements.in_force(cast.property.pk, last + timedelta(days=1)) is None
    with pytest.raises(Conflict):
        agreements.cancel_agreement(act=cast.act("office"), agreement=made, on=END, why="again")


def test_cancelled_before_it_began_it_never_holds(cast):
    made = make(cast)
    agreements.cancel_agreement(act=cast.act("office"), agreement=made, on=START - timedelta(days=60), why="no")
    assert agreements.in_force(cast.property.pk, START) is None


def test_only_the_office(cast):
    with pytest.raises(NotAllowed):
        agreements.create_agreement(act=cast.act("crew"), property=cast.property, starts_on=START, ends_on=END)
