"""Factories for visits, agreements and closeouts."""

import hashlib
import json
import uuid
from datetime import date, timedelta

import factory

from maintenance.models import (
    CallToMake,
    Closeout,
    CloseoutFlag,
    CloseoutReceived,
    OfferedDay,
    ServiceAgreement,
    Visit,
    VisitTask,
    VisitTechnician,
)
from tests.made.core import UserFactory
from tests.made.register import ComponentFactory, CustomerFactory, PropertyFactory
from tests.made.times import AT, TODAY, ZONE


class ServiceAgreementFactory(factory.django.DjangoModelFactory):
    """An agreement for a year; add rules with agreement.rules.add(rule)."""

    class Meta:
        model = ServiceAgreement

    property = factory.SubFactory(PropertyFactory)
    customer = factory.SubFactory(CustomerFactory)
    price_cents = 48_000
    starts_on = date(2026, 1, 1)
    ends_on = date(2026, 12, 31)
    created_at = AT


class VisitFactory(factory.django.DjangoModelFactory):
    """A proposed visit without a day; give state="agreed" and local_date for one with."""

    class Meta:
        model = Visit

    property = factory.SubFactory(PropertyFactory)
    zone = ZONE
    minutes = 40
    no_sooner_than = TODAY + timedelta(days=7)
    best_on = TODAY + timedelta(days=21)
    no_later_than = TODAY + timedelta(days=40)
    created_at = AT
    changed_at = AT


class VisitTechnicianFactory(factory.django.DjangoModelFactory):
    """Who goes."""

    class Meta:
        model = VisitTechnician

    visit = factory.SubFactory(VisitFactory)
    user = factory.SubFactory(UserFactory)


def _property_of_visit(system):
    return system.factory_parent.factory_parent.visit.property


class VisitTaskFactory(factory.django.DjangoModelFactory):
    """Cleaning a component of the visit's property."""

    class Meta:
        model = VisitTask

    visit = factory.SubFactory(VisitFactory)
    component = factory.SubFactory(
        ComponentFactory,
        system__property=factory.LazyAttribute(lambda o: o.factory_parent.factory_parent.visit.property),
    )
    task = "clean"
    minutes = 20


class OfferedDayFactory(factory.django.DjangoModelFactory):
    """A day to choose."""

    class Meta:
        model = OfferedDay

    visit = factory.SubFactory(VisitFactory, state="offered")
    local_date = factory.Sequence(lambda n: TODAY + timedelta(days=8 + n % 14))


class CallToMakeFactory(factory.django.DjangoModelFactory):
    """An offer nobody answered."""

    class Meta:
        model = CallToMake

    property = factory.SubFactory(PropertyFactory)
    reason = "no_answer"
    key = factory.Sequence(lambda n: f"call:{n}")
    since = AT


class CloseoutReceivedFactory(factory.django.DjangoModelFactory):
    """A body as received, not yet applied."""

    class Meta:
        model = CloseoutReceived

    uid = factory.LazyFunction(uuid.uuid4)
    body = factory.LazyAttribute(lambda o: json.dumps({"uid": str(o.uid)}).encode())
    digest = factory.LazyAttribute(lambda o: hashlib.sha256(o.body).hexdigest())
    sender = factory.SubFactory(UserFactory)
    received_at = AT
    via = "api"


class CloseoutFactory(factory.django.DjangoModelFactory):
    """An applied closeout."""

    class Meta:
        model = Closeout

    visit = factory.SubFactory(VisitFactory, state="done")
    technician = factory.SubFactory(UserFactory)
    received = factory.SubFactory(
        CloseoutReceivedFactory,
        state="applied",
        sender=factory.SelfAttribute("..technician"),
        visit=factory.SelfAttribute("..visit"),
    )
    uid = factory.LazyAttribute(lambda o: o.received.uid)
    lids_fastened = True
    applied_at = AT


class CloseoutFlagFactory(factory.django.DjangoModelFactory):
    """Something to look at."""

    class Meta:
        model = CloseoutFlag

    received = factory.SubFactory(CloseoutReceivedFactory)
    code = "late"
    words = "The visit had been moved meanwhile."
    raised_at = AT
