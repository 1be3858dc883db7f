from maintenance.models.closeouts import Closeout, CloseoutFlag, CloseoutReceived
from maintenance.models.feeds import EventFragment, Feed, MessageChoice
from maintenance.models.rain import Gauge, RainRow, RainTable
from maintenance.models.readings import Reading, TaskDone
from maintenance.models.rules import Rule, RuleOverride, RuleVersion
from maintenance.models.visits import (
    CallToMake,
    OfferedDay,
    ServiceAgreement,
    Visit,
    VisitTask,
    VisitTechnician,
)
from maintenance.models.windows import CapacityFill, DueWindow, PropertyForecast, SystemRating

__all__ = [
    "CallToMake",
    "CapacityFill",
    "Closeout",
    "CloseoutFlag",
    "CloseoutReceived",
    "DueWindow",
    "EventFragment",
    "Feed",
    "Gauge",
    "MessageChoice",
    "OfferedDay",
    "PropertyForecast",
    "RainRow",
    "RainTable",
    "Reading",
    "Rule",
    "RuleOverride",
    "RuleVersion",
    "ServiceAgreement",
    "SystemRating",
    "TaskDone",
    "Visit",
    "VisitTask",
    "VisitTechnician",
]
