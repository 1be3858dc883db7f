"""How long the company's parts that wear have lived, as far as it was there to see, as known at an instant."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from django.db.models import F, Min, Window
from django.db.models.functions import RowNumber

from core import clock
from jobs.models import ComponentVersion
from maintenance.forecast.days import MEAN_YEAR_DAYS
from maintenance.forecast.life_learning import LifeSeen
from maintenance.forecast.pump_wear import pace_by_rain
from maintenance.models import PumpLoad
from maintenance.read.forecast_inputs import WEARING, Common


def lives_seen(common: Common) -> Iterator[LifeSeen]:
    """One for each part of a kind that wears whose install day is known. Two queries.

    Watched from new where the system is our own install, else from the day it came on record. A part imported as taken
    out already, from a yard not ours, was not watched at all. Ages are equivalent years: a pump's by its own load.
    """
    loads = {
        key: pace_by_rain(hours, starts, common.wear_weights)
        for key, hours, starts in PumpLoad.objects.filter(recorded_at__lte=common.cutoff)
        .order_by("recorded_at", "id")
        .values_list("component_id", "hours_per_year", "starts_per_year")
    }
    partition = [F("component_id")]
    rows = (
        ComponentVersion.objects.filter(recorded_at__lte=common.cutoff, component__kind__in=sorted(WEARING))
        .annotate(
            back=Window(RowNumber(), partition_by=partition, order_by=[F("recorded_at").desc(), F("id").desc()]),
            first=Window(Min("recorded_at"), partition_by=partition),
        )
        .filter(back=1)
        .order_by("component_id")
        .values_list("component_id", "data", "first", "component__system__ours")
    )
    for key, data, first, ours in rows.iterator(chunk_size=5000):
        installed, retired = _day(data.get("installed_on")), _day(data.get("retired_on"))
        if installed is None:
            continue
        known = clock.local_date(first, common.company.zone)
        end = min(retired, common.as_of) if retired else common.as_of
        entered = installed if ours else max(known, installed)
        if end < installed or (end <= entered and not ours):
            continue
        pace = loads.get(key, 1.0)
        failed = retired is not None and retired <= common.as_of and data.get("retired_because") == "failed"
        yield LifeSeen(data["kind"], _years(installed, end) * pace, failed, _years(installed, entered) * pace)


def _years(begin: date, end: date) -> float:
    return (end - begin).days / MEAN_YEAR_DAYS


def _day(text: object) -> date | None:
    return date.fromisoformat(text) if isinstance(text, str) and text else None
