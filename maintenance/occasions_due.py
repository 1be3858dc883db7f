"""Looks for occasions nobody's act brings about: the day before a visit, and the owner's own tasks."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Exists, OuterRef

from core import clock, company, health
from core.act import Act
from core.models import Message
from jobs.models import Property
from maintenance import reminders
from maintenance.decide.occasions import OCCASIONS
from maintenance.messages import when
from maintenance.messages.render import Chore, VisitFacts
from maintenance.models import DueWindow, Visit
from maintenance.read.rules import in_force

AHEAD = timedelta(hours=2)
OWNER_BATCH = 200


def scan(*, act: Act) -> int:
    """Queue what is due within two hours, each once, however often this runs. Returns how many were queued."""
    queued = _day_before(act) + _owner_tasks(act)
    health.beat("scan", at=act.at)
    return queued


def _day_before(act: Act) -> int:
    settings = company.at(act.at)
    today = act.at.date()
    visits = (
        Visit.objects.filter(
            state=Visit.State.AGREED,
            local_date__gte=today - timedelta(days=1),
            local_date__lte=today + timedelta(days=3),
        )
        .select_related("property")
        .order_by("id")
    )
    queued = 0
    for visit in visits:
        if visit.local_date is None:
            continue
        zone = ZoneInfo(visit.zone)
        due = when.remind_at(visit.local_date, zone, 1, settings.send_time)
        if due > act.at + AHEAD:
            continue
        telling = reminders.Telling(
            act=act,
            occasion=OCCASIONS["day_before"],
            visit=visit,
            facts=reminders.visit_facts(visit, {}),
            settings=settings,
            due=due,
            pointless_from=visit.starts_at
            or when.remind_at(visit.local_date, ZoneInfo(visit.zone), -1, settings.send_time),
            created_at=visit.agreed_at or visit.changed_at,
        )
        with transaction.atomic():
            queued += reminders.tell_all(telling)
    return queued


def quarter_start(day: date) -> date:
    """First day of the quarter: one combined mail of owner tasks a quarter, so at most four a year."""
    return date(day.year, 3 * ((day.month - 1) // 3) + 1, 1)


def _owner_tasks(act: Act) -> int:
    settings = company.at(act.at)
    today = clock.local_date(act.at, settings.zone)
    start = datetime.combine(quarter_start(today), datetime.min.time(), tzinfo=ZoneInfo(settings.zone))
    told = Message.objects.filter(property_uid=OuterRef("uid"), kind="owner_tasks", created_at__gte=start)
    due = DueWindow.objects.filter(property=OuterRef("pk"), who="owner", best_on__lte=today)
    properties = Property.objects.filter(Exists(due), ~Exists(told), closed_at=None).order_by("id")[:OWNER_BATCH]
    says = {rule.code: rule.words_homeowner for rule in in_force(act.at) if rule.who == "owner"}
    queued = 0
    for prop in properties:
        windows = (
            DueWindow.objects.filter(property=prop, who="owner", best_on__lte=today)
            .select_related("component__part_of")
            .order_by("best_on", "id")
        )
        tasks = tuple(
            Chore(w.task, w.component.kind, reminders.tag_of(w.component), says.get(w.rule_code, "")) for w in windows
        )
        facts = VisitFacts(prop.address, None, None, None, tasks)
        with transaction.atomic():
            queued += reminders.tell_owner_tasks(
                act=act, prop=prop, facts=facts, settings=settings, quarter=quarter_start(today)
            )
    return queued
