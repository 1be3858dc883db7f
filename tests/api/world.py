"""One record of every noun at a property, so that a test can ask for each by its route."""

import io
from typing import Any

from PIL import Image

from core.act import by_system
from core.models import User
from jobs.models import Customer, Property
from jobs.photos import add_photo
from tests.factories import (
    AreaFactory,
    CallToMakeFactory,
    CloseoutFactory,
    CloseoutFlagFactory,
    CloseoutReceivedFactory,
    CustomerFactory,
    DueWindowFactory,
    FeedFactory,
    GaugeFactory,
    HazardFactory,
    HistoryFactory,
    JobFactory,
    JobStepFactory,
    MessageFactory,
    OfferedDayFactory,
    PropertyForecastFactory,
    PropertyRoleFactory,
    RainRowFactory,
    RainTableFactory,
    ReadingFactory,
    RuleFactory,
    RuleOverrideFactory,
    ServiceAgreementFactory,
    TaskDoneFactory,
    TokenFactory,
    UserFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
    channel_to_sump,
)


def jpeg(colour: str = "teal") -> bytes:
    """A small picture."""
    out = io.BytesIO()
    Image.new("RGB", (60, 40), colour).save(out, "JPEG")
    return out.getvalue()


def everything_at(property: Property, *, technician: User | None = None, number: int = 1) -> dict[str, Any]:
    """{route's noun: record} for a property; `technician` is on its visit (else somebody new)."""
    user = technician or UserFactory()
    customer: Customer = CustomerFactory()
    system = channel_to_sump(property, number=number)
    channel = system.components.get(kind="channel_run")
    basin = system.components.get(kind="sump_basin")
    visit = VisitFactory(property=property)
    VisitTaskFactory(visit=visit, component=basin)
    VisitTechnicianFactory(visit=visit, user=user)
    OfferedDayFactory(visit=visit)
    job = JobFactory(property=property, system=system)
    JobStepFactory(job=job)
    rule = RuleFactory(kind="channel_run", code=f"own_channel_{number}", version__numbers={"every_months": 6})
    done = CloseoutFactory(visit__property=property, technician=user)
    waiting = CloseoutReceivedFactory(property=property, sender=user, state="needs_office")
    gauge = GaugeFactory()
    PropertyForecastFactory(property=property)
    return {
        "areas": AreaFactory(),
        "calls-to-make": CallToMakeFactory(property=property, visit=visit),
        "closeout-flags": CloseoutFlagFactory(received=waiting, code="unassigned_sender"),
        "closeouts": waiting,
        "components": channel,
        "connections": property.connections.get(from_component=channel),
        "customers": PropertyRoleFactory(property=property, customer=customer).customer,
        "drainage-areas": property.drainage_areas.first(),
        "due-windows": DueWindowFactory(component=channel),
        "feeds": FeedFactory(kind="technician", user=user),
        "gauges": gauge,
        "hazards": HazardFactory(property=property),
        "history": HistoryFactory(property_uid=property.uid),
        "jobs": job,
        "messages": MessageFactory(property_uid=property.uid),
        "photos": add_photo(act=by_system("test"), property=property, data=jpeg(), component=channel),
        "properties": property,
        "rain-rows": RainRowFactory(gauge=gauge),
        "rain-tables": RainTableFactory(area=AreaFactory()),
        "readings": ReadingFactory(component=channel, closeout=done),
        "roles": customer.roles.get(),
        "rule-overrides": RuleOverrideFactory(rule=rule, component=channel, numbers={"every_months": 3}),
        "rules": rule,
        "search": property,
        "service-agreements": ServiceAgreementFactory(property=property, customer=customer),
        "systems": system,
        "tasks-done": TaskDoneFactory(component=channel, closeout=done),
        "technicians": user,
        "tokens": TokenFactory(user=user),
        "visits": visit,
    }
