"""The rain of the gauges a company has used, as known at an instant."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

import numpy as np

from core import clock, company
from maintenance.forecast.season import GaugeRecord, gauge_record
from maintenance.models import RainRow
from maintenance.storm_looks import daily_rain


def rain_known(
    versions: list[tuple[datetime, dict[str, Any]]], now: company.Company, cutoff: datetime
) -> tuple[dict[date, float], tuple[GaugeRecord, ...]]:
    """The rain of the gauge in use, and every gauge used so far with the day it took over. One query."""
    if not now.gauge:
        return {}, ()
    since: list[tuple[str, date | None]] = []
    for recorded_at, values in versions:
        name = str(values.get("gauge") or "")
        if name and (not since or since[-1][0] != name):
            since.append((name, clock.local_date(recorded_at, now.zone) if since else None))
    rows = (
        RainRow.objects.filter(gauge__name__in={name for name, _ in since}, recorded_at__lte=cutoff)
        .order_by("recorded_at", "id")
        .values_list("gauge__name", "day", "hour", "depth_mm")
    )
    by_gauge: dict[str, list[tuple[date, int, float]]] = {}
    for name, day, hour, depth in rows.iterator(chunk_size=10_000):
        by_gauge.setdefault(name, []).append((day, hour, depth))
    daily = {name: daily_rain(found) for name, found in by_gauge.items()}
    gauges = tuple(_record(name, daily[name], used_from) for name, used_from in since if daily.get(name))
    return daily.get(now.gauge, {}), gauges


def _record(name: str, rain_mm: Mapping[date, float], used_from: date | None) -> GaugeRecord:
    days = np.array([day.toordinal() for day in rain_mm], dtype=np.int64)
    return gauge_record(name, days, np.array(list(rain_mm.values()), dtype=float), used_from=used_from)
