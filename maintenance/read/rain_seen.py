"""What the rain gauges hold, and the storms found in the record with the looks they ask for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Max, Min

from core import company
from core.act import Act
from maintenance.models import DueWindow, Gauge, RainRow
from maintenance.read.due import today_of
from maintenance.read.rules import in_force
from maintenance.storm_looks import daily_rain

STORM_DAYS = 90


@dataclass(frozen=True, slots=True)
class GaugeSeen:
    """A gauge with the ends of its record, how many rows it has, and when the last of them came in."""

    gauge: Gauge
    rows: int
    first_day: date | None
    last_day: date | None
    recorded_at: datetime | None
    in_use: bool


@dataclass(frozen=True, slots=True)
class StormSeen:
    """A day of heavy rain and how many looks still stand because of it (`properties` at so many properties)."""

    day: date
    depth_mm: float
    looks: int
    properties: int


@dataclass(frozen=True, slots=True)
class Storms:
    """Storms of the last days in the gauge in use, newest first. `least_mm`: the least rain any storm rule takes."""

    gauge: str
    last_day: date | None
    since: date
    least_mm: float | None
    storms: tuple[StormSeen, ...]


def gauges(act: Act) -> list[GaugeSeen]:
    """Every gauge. Two queries and the settings."""
    now = company.at(act.at)
    rows = Gauge.objects.annotate(
        count=Count("rows"), first=Min("rows__day"), last=Max("rows__day"), recorded=Max("rows__recorded_at")
    )
    return [
        GaugeSeen(row, row.count, row.first, row.last, row.recorded, row.name == now.gauge)
        for row in rows.order_by("name")
    ]


def storms(act: Act) -> Storms:
    """Days of the last 90 with at least the rain a storm rule asks for, and the looks that stand for them."""
    now, today = company.at(act.at), today_of(act)
    since = today - timedelta(days=STORM_DAYS)
    least = [
        float(rule.numbers.get("least_daily_rain_mm", 25.4))
        for rule in in_force(act.at)
        if rule.basis == "storm" and rule.active
    ]
    if not now.gauge or not least:
        return Storms(now.gauge, None, since, min(least, default=None), ())
    rows = RainRow.objects.filter(gauge__name=now.gauge, day__gte=since, day__lte=today)
    daily = daily_rain(list(rows.order_by("recorded_at", "id").values_list("day", "hour", "depth_mm")))
    last = RainRow.objects.filter(gauge__name=now.gauge).aggregate(last=Max("day"))["last"]
    looks = _looks(since)
    found = [
        StormSeen(day, depth, len(looks.get(day, ())), len({key for key, _ in looks.get(day, ())}))
        for day, depth in daily.items()
        if depth >= min(least)
    ]
    return Storms(now.gauge, last, since, min(least), tuple(sorted(found, key=lambda storm: storm.day, reverse=True)))


def _looks(since: date) -> dict[date, set[tuple[int, int]]]:
    """Standing looks by the storm that asked for them first: (property, window). One query."""
    found: dict[date, set[tuple[int, int]]] = {}
    rows = DueWindow.objects.filter(basis="storm", property__closed_at=None, earliest_on__gte=since)
    for key, place, inputs in rows.values_list("id", "property_id", "inputs"):
        day = inputs.get("storm_on")
        if isinstance(day, str):
            found.setdefault(date.fromisoformat(day), set()).add((place, key))
    return found
