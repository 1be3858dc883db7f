"""One record of every kind the API shows, at a property of one's choice. A kind that is missing here fails a test."""

from collections.abc import Callable
from typing import Any

from django.db.models import Model

from core.models import History, Message, Token, User
from jobs.models import (
    Area,
    Component,
    Connection,
    Customer,
    DrainageArea,
    Hazard,
    Job,
    Photo,
    Property,
    PropertyRole,
    System,
)
from maintenance.models import (
    CallToMake,
    Closeout,
    CloseoutFlag,
    CloseoutReceived,
    DueWindow,
    Feed,
    Gauge,
    RainRow,
    RainTable,
    Reading,
    Rule,
    RuleOverride,
    ServiceAgreement,
    SystemRating,
    TaskDone,
    Visit,
)
from tests import factories as made

COMPANYS = frozenset({Area, Rule, Gauge, RainRow, RainTable, User})
"""Of no property: everybody of the company may see them (a technician of the people only themselves)."""


def _connection(at: Property) -> Model:
    first = made.ComponentFactory(system__property=at)
    return made.ConnectionFactory(from_component=first)


def _history(at: Property) -> Model:
    return made.HistoryFactory(property_uid=at.uid, object_uid=at.uid)


def _job(at: Property) -> Model:
    job = made.JobFactory(property=at)
    made.JobStepFactory(job=job)
    return job


def _visit(at: Property) -> Model:
    """With a task, a technician and a day on offer, so that what is nested in a list is there."""
    visit = made.VisitFactory(property=at)
    made.VisitTaskFactory(visit=visit)
    made.VisitTechnicianFactory(visit=visit)
    made.OfferedDayFactory(visit=visit)
    return visit


def _agreement(at: Property) -> Model:
    agreement = made.ServiceAgreementFactory(property=at, customer=_role(at).customer)
    agreement.rules.add(made.RuleFactory())
    return agreement


def _flag(at: Property) -> Model:
    return made.CloseoutFlagFactory(received__property=at, received__visit=made.VisitFactory(property=at))


def _role(at: Property) -> Model:
    return at.roles.first() or made.PropertyRoleFactory(property=at)


MAKERS: dict[type[Model], Callable[[Property], Any]] = {
    Property: lambda at: at,
    Customer: lambda at: _role(at).customer,
    PropertyRole: _role,
    Hazard: lambda at: made.HazardFactory(property=at),
    Job: _job,
    System: lambda at: made.SystemRatingFactory(system__property=at).system,
    Component: lambda at: made.ComponentFactory(system__property=at),
    Connection: _connection,
    DrainageArea: lambda at: made.DrainageAreaFactory(component__system__property=at),
    Photo: lambda at: made.PhotoFactory(property=at),
    History: _history,
    DueWindow: lambda at: made.DueWindowFactory(component__system__property=at),
    SystemRating: lambda at: made.SystemRatingFactory(system__property=at),
    Reading: lambda at: made.ReadingFactory(component__system__property=at),
    TaskDone: lambda at: made.TaskDoneFactory(component__system__property=at),
    Visit: _visit,
    ServiceAgreement: _agreement,
    CloseoutReceived: lambda at: made.CloseoutReceivedFactory(property=at, visit=made.VisitFactory(property=at)),
    Closeout: lambda at: made.CloseoutFactory(visit__property=at),
    CloseoutFlag: _flag,
    CallToMake: lambda at: made.CallToMakeFactory(property=at),
    RuleOverride: lambda at: made.RuleOverrideFactory(component__system__property=at),
    Message: lambda at: made.MessageFactory(property_uid=at.uid),
    Feed: lambda at: made.FeedFactory(),
    Token: lambda at: made.TokenFactory(),
    Area: lambda at: at.area,
    Rule: lambda at: made.RuleFactory(),
    Gauge: lambda at: made.GaugeFactory(),
    RainRow: lambda at: made.RainRowFactory(),
    RainTable: lambda at: made.RainTableFactory(area=at.area),
    User: lambda at: made.UserFactory(),
}


def thing(model: type[Model], at: Property) -> Any:
    """A record of `model` at (or because of) a property. Raises KeyError for a kind nobody wrote a maker for."""
    return MAKERS[model](at)
