"""Every list of the desk takes as many queries for three rows as for one."""

from datetime import timedelta

import pytest

from tests.factories import (
    AT,
    TODAY,
    CallToMakeFactory,
    CloseoutFlagFactory,
    ComponentFactory,
    DueWindowFactory,
    FeedFactory,
    GaugeFactory,
    MessageFactory,
    PropertyFactory,
    RainRowFactory,
    RefreshPieceFactory,
    RuleFactory,
    RuleOverrideFactory,
    RuleVersionFactory,
    ServiceAgreementFactory,
    SystemFactory,
    TokenFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
)

pytestmark = pytest.mark.django_db


def _due(cast):
    inputs = {"cycle_start": "2025-06-01", "group": "catch_basin/open"}
    basin = ComponentFactory(system=SystemFactory())
    row = DueWindowFactory(
        component=ComponentFactory(system=basin.system, kind="grate", tag="", part_of=basin),
        basis="silt",
        rate_p50=0.3,
        threshold=0.5,
        inputs=inputs,
        best_on=TODAY,
    )
    VisitTaskFactory(visit=VisitFactory(property=row.property, state="offered"), component=row.component)


def _visit(cast, **more):
    visit = VisitFactory(**{"state": "agreed", "local_date": TODAY, **more})
    basin = ComponentFactory(system=SystemFactory(property=visit.property))
    for part in (basin, ComponentFactory(system=basin.system, kind="grate", tag="", part_of=basin)):
        VisitTaskFactory(visit=visit, component=part)
    VisitTechnicianFactory(visit=visit, user=cast.crew)
    return visit


def _message(cast):
    MessageFactory(holder_uid=cast.homeowner.uid, property_uid=PropertyFactory().uid)


def _call(cast):
    CallToMakeFactory(customer=cast.homeowner, visit=VisitFactory())


def _review(cast):
    flag = CloseoutFlagFactory(received__visit=VisitFactory(), received__sender=cast.crew)
    CloseoutFlagFactory(received=flag.received, code="clock_wrong")


def _rule(cast):
    RuleVersionFactory(rule=RuleFactory())


def _agreement(cast):
    ServiceAgreementFactory(ends_on=TODAY + timedelta(days=9)).rules.add(RuleFactory())


def _rain(cast):
    RainRowFactory(gauge=GaugeFactory())


LISTS = {
    "/due/": _due,
    "/week/": _visit,
    "/visits/": _visit,
    "/messages/": _message,
    "/calls/": _call,
    "/reviews/": _review,
    "/rules/": _rule,
    "/company/feeds/": lambda cast: FeedFactory(user=cast.crew),
    "/company/tokens/": lambda cast: TokenFactory(user=cast.office),
    "/refresh/": lambda cast: RefreshPieceFactory(done_at=AT, failed="OSError: the disk is full"),
    "/rain/": _rain,
    "/storms/": _rain,
    "/agreements/": _agreement,
}


@pytest.mark.parametrize("path", LISTS)
def test_three_rows_take_no_more_queries_than_one(cast, queries_of, path):
    LISTS[path](cast)
    queries_of(path)  # what is loaded once
    one = queries_of(path)
    for _ in range(2):
        LISTS[path](cast)
    assert queries_of(path) == one


def test_one_visit_with_more_tasks(cast, queries_of):
    visit = _visit(cast)
    queries_of(f"/visits/{visit.uid}/")
    one = queries_of(f"/visits/{visit.uid}/")
    for part in ComponentFactory.create_batch(3, system=SystemFactory(property=visit.property)):
        VisitTaskFactory(visit=visit, component=part)
        grate = ComponentFactory(system=part.system, kind="grate", tag="", part_of=part)
        VisitTaskFactory(visit=visit, component=grate)
        MessageFactory(visit_uid=visit.uid)
    assert queries_of(f"/visits/{visit.uid}/") == one


def test_one_rule_with_more_overrides(queries_of):
    rule = RuleFactory()
    RuleVersionFactory(rule=rule)
    RuleOverrideFactory(rule=rule)
    queries_of(f"/rules/{rule.uid}/")
    one = queries_of(f"/rules/{rule.uid}/")
    RuleOverrideFactory.create_batch(3, rule=rule)
    RuleVersionFactory.create_batch(2, rule=rule)
    assert queries_of(f"/rules/{rule.uid}/") == one
