"""Which stored due windows no longer fit what they were computed from."""

from __future__ import annotations

import hashlib
from datetime import date
from typing import Any

from django.db.models import Count, F, Max, Model, Q, QuerySet, Value

from core import clock, company
from core.act import Act
from core.models import CompanySettings
from jobs.models import Property
from maintenance.models import LearnedLife, LearnedRate, RainRow, RainTable, RuleVersion

STAMPED = (RuleVersion, CompanySettings, RainRow, RainTable, LearnedRate, LearnedLife)


def rules_stamp() -> str:
    """Names the rules, settings, rain and what was learned; another stamp than a property's own makes it stale.

    Count and newest key of each: their rows are never changed in place, and one committed late changes the count. One
    query.
    """
    first, *others = (_counted(number, model) for number, model in enumerate(STAMPED))
    parts = [f"{number}:{count}.{newest or 0}" for number, count, newest in sorted(first.union(*others, all=True))]
    return hashlib.sha256(" ".join(parts).encode()).hexdigest()[:40]


def _counted(number: int, model: type[Model]) -> QuerySet[Any, tuple[int, int, int]]:
    rows = model._default_manager.order_by().annotate(table=Value(number)).values("table")
    return rows.annotate(count=Count("id"), newest=Max("id")).values_list("table", "count", "newest")


def stale(today: date, stamp: str) -> QuerySet[Property]:
    """Properties whose windows come from another revision, other rules or rain, an earlier day, or were never made."""
    changed = ~Q(forecast__register_revision=F("revision"))
    older = Q(forecast=None) | ~Q(forecast__rules_stamp=stamp) | Q(forecast__as_of__lt=today)
    return Property.objects.filter(Q(closed_at=None) & (older | changed) | Q(forecast__isnull=False) & changed)


def changed_since() -> QuerySet[Property]:
    """Open properties never computed, and all whose register changed since they were."""
    changed = Q(forecast__isnull=False) & ~Q(forecast__register_revision=F("revision"))
    return Property.objects.filter(Q(closed_at=None, forecast=None) | changed)


def is_stale(property: Property, *, act: Act) -> bool:
    """Whether the windows shown of this property are being recomputed."""
    today = clock.local_date(act.at, company.at(act.at).zone)
    return stale(today, rules_stamp()).filter(pk=property.pk).exists()
