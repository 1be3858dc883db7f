"""Which stored due windows no longer fit what they were computed from."""

from __future__ import annotations

from datetime import date

from django.db.models import Count, F, Max, Q, QuerySet

from core import clock, company
from core.act import Act
from core.models import CompanySettings
from jobs.models import Property
from maintenance.models import RainRow, RainTable, RuleVersion


def rules_stamp() -> str:
    """Names the rules, settings, rain and rain tables there are; another stamp than a property's own makes it stale.

    Count and newest key of each: their rows are never changed in place, and one committed late changes the count.
    """
    parts = []
    for letter, model in (("r", RuleVersion), ("s", CompanySettings), ("g", RainRow), ("t", RainTable)):
        found = model.objects.aggregate(count=Count("id"), newest=Max("id"))
        parts.append(f"{letter}{found['count']}.{found['newest'] or 0}")
    return " ".join(parts)


def stale(today: date, stamp: str) -> QuerySet[Property]:
    """Properties whose windows come from another revision, other rules or rain, an earlier day, or were never made."""
    changed = ~Q(forecast__register_revision=F("revision"))
    older = Q(forecast=None) | ~Q(forecast__rules_stamp=stamp) | Q(forecast__as_of__lt=today)
    return Property.objects.filter(Q(closed_at=None) & (older | changed) | Q(forecast__isnull=False) & changed)


def is_stale(property: Property, *, act: Act) -> bool:
    """Whether the windows shown of this property are being recomputed."""
    today = clock.local_date(act.at, company.at(act.at).zone)
    return stale(today, rules_stamp()).filter(pk=property.pk).exists()
