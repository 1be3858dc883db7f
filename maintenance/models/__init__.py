from maintenance.models.closeouts import Closeout, CloseoutFlag, CloseoutReceived
from maintenance.models.feeds import EventFragment, Feed, MessageChoice
from maintenance.models.learned import LearnedLife, LearnedRate, OddReading, PumpLoad
from maintenance.models.rain import Gauge, RainRow, RainTable
from maintenance.models.readings import Reading, TaskDone
from maintenance.models.rules import Rule, RuleOverride, RuleVersion
from maintenance.models.runs import RefreshPiece, RefreshRun
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
    "LearnedLife",
    "LearnedRate",
    "MessageChoice",
    "OddReading",
    "OfferedDay",
    "PropertyForecast",
    "PumpLoad",
    "RainRow",
    "RainTable",
    "Reading",
    "RefreshPiece",
    "RefreshRun",
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
