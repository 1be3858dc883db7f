"""Reckons how long the rain makes each pump run and how often it starts. Appended, about once a month for each pump.

What is kept is a rate over the whole of the gauge's record: it changes slowly, so a pump is reckoned again only after
28 days or when its basin, its line or the land above it have changed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np

from core.act import Act
from maintenance.decide.pumped_basins import pumped_basins
from maintenance.decide.rating_records import SystemRows
from maintenance.forecast.days import MEAN_YEAR_DAYS
from maintenance.forecast.pump_load import HourlyRain, PumpedBasin, hourly_rain, load_from_days, loads_from_hours
from maintenance.forecast.pump_load import PumpLoad as Load
from maintenance.models import PumpLoad, RainRow
from maintenance.read.forecast_inputs import Common
from maintenance.read.id_list import ids_in

AGAIN_AFTER_DAYS: Final = 28
LEAST_KNOWN_DAYS: Final = 180
"""With less rain on record than this, a year's hours would be one season's."""
LONGEST_YEARS: Final = 10
_ALIKE: Final = 1e-6


@dataclass(frozen=True, slots=True)
class _Record:
    """The gauge's record as the pumps take it: hourly where at least half of it is, else daily [mm, NaN missing]."""

    first: date
    until: date
    hourly: HourlyRain | None
    daily_mm: np.ndarray


def reckon(*, act: Act, common: Common, systems: Sequence[SystemRows], revisions: Sequence[int]) -> int:
    """Append the load of every pump of these systems that is new, changed or a month old; returns how many.

    `revisions`: the register revision each system was read at. Two queries at most, however many pumps; one where none
    is due.
    """
    pumps = [part.id for rows in systems for part in rows.parts if part.kind == "pump"]
    if not pumps or not common.rain_mm:
        return 0
    rows = PumpLoad.objects.filter(component__in=ids_in(pumps)).order_by("recorded_at", "id")
    newest = {row.component_id: row for row in rows}
    due: dict[int, tuple[PumpedBasin, int]] = {}
    for system, revision in zip(systems, revisions, strict=True):
        kept = [newest.get(part.id) for part in system.parts if part.kind == "pump"]
        if not all(row is not None and _is_fresh(row, common) and row.register_revision == revision for row in kept):
            for key, basin in pumped_basins(system).items():
                row = newest.get(key)
                if row is None or not _is_fresh(row, common) or not _is_alike(row, basin):
                    due[key] = basin, revision
    record = _record(common) if due else None
    if record is None:
        return 0
    keys = sorted(due)
    loads = _loads(record, [due[key][0] for key in keys])
    made = [_row(act, common, record, key, *due[key], load) for key, load in zip(keys, loads, strict=True)]
    return len(PumpLoad.objects.bulk_create(made, batch_size=500))


def _is_fresh(row: PumpLoad, common: Common) -> bool:
    age = max(common.rain_mm) - row.until_on
    return row.gauge == common.company.gauge and age < timedelta(days=AGAIN_AFTER_DAYS)


def _is_alike(row: PumpLoad, basin: PumpedBasin) -> bool:
    """The pump, its basin and the land above it are as they were reckoned with."""
    kept = (row.runoff_area_m2, row.duty_m3_h, row.active_m3)
    now = (basin.runoff_area_m2, basin.duty_m3_h, basin.active_m3)
    return all(abs(a - b) <= _ALIKE * max(abs(a), abs(b)) for a, b in zip(kept, now, strict=True))


def _record(common: Common) -> _Record | None:
    """The record of the gauge in use, at most ten years of it. One query; None where too little is known."""
    until = max(common.rain_mm)
    first = max(min(common.rain_mm), until - timedelta(days=round(LONGEST_YEARS * MEAN_YEAR_DAYS)))
    days = (until - first).days + 1
    daily = np.full(days, np.nan)
    for day, depth in common.rain_mm.items():
        if day >= first:
            daily[(day - first).days] = depth
    known = int(np.isfinite(daily).sum())
    if known < LEAST_KNOWN_DAYS:
        return None
    rows = (
        RainRow.objects.filter(
            gauge__name=common.company.gauge,
            recorded_at__lte=common.cutoff,
            hour__gte=0,
            day__gte=first,
            day__lte=until,
        )
        .order_by("recorded_at", "id")
        .values_list("day", "hour", "depth_mm")
    )
    by_hour = {(day - first).days * 24 + hour: depth for day, hour, depth in rows.iterator(chunk_size=10_000)}
    if len(by_hour) < 24 * known / 2:
        return _Record(first, until, None, daily)
    hours, depths = np.array(list(by_hour)), np.array(list(by_hour.values()), dtype=float)
    return _Record(first, until, hourly_rain(hours, depths), daily)


def _loads(record: _Record, basins: Sequence[PumpedBasin]) -> list[Load]:
    if record.hourly is not None:
        return loads_from_hours(record.hourly, basins)
    return [load_from_days(record.daily_mm, basin) for basin in basins]


def _row(
    act: Act, common: Common, record: _Record, key: int, basin: PumpedBasin, revision: int, load: Load
) -> PumpLoad:
    hours = 24.0 * len(record.daily_mm) if record.hourly is None else float(len(record.hourly.rain_mm))
    years = max(hours - load.unknown_hours, 24.0) / 24 / MEAN_YEAR_DAYS
    return PumpLoad(
        component_id=key,
        recorded_at=act.at,
        from_on=record.first,
        until_on=record.until,
        run_hours=load.run_hours,
        starts=load.starts,
        unknown_hours=load.unknown_hours,
        hours_per_year=load.run_hours / years,
        starts_per_year=load.starts / years,
        runoff_area_m2=basin.runoff_area_m2,
        duty_m3_h=basin.duty_m3_h,
        active_m3=basin.active_m3,
        register_revision=revision,
        estimated=load.estimated,
        gauge=common.company.gauge,
    )
