"""Takes rain records in. Rows are append-only: a corrected value is a later row for the same day or hour."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.db import transaction

from core import clock, company, limits
from core.act import Act
from core.dispatch import after_commit
from core.history import record_change
from core.problem import BadInput, FieldProblem
from maintenance import rain_files
from maintenance.models import Gauge, RainRow
from maintenance.rain_files import RainFile, RainValue

_SAME_MM = 1e-6


@dataclass(frozen=True, slots=True)
class RainImport:
    """What an import wrote, or in a dry run would write. `now_used`: the company had no gauge and takes this one."""

    gauge: str
    new: int
    corrected: int
    same: int
    now_used: bool = False

    @property
    def written(self) -> int:
        """Rows appended."""
        return self.new + self.corrected


@dataclass(frozen=True, slots=True)
class RainFileImport:
    """What a file held and what became of it. `applied` False: a dry run, or refused because of its errors."""

    read: RainFile
    result: RainImport
    applied: bool
    refused: bool


def import_file(
    *,
    act: Act,
    data: bytes,
    gauge_name: str,
    unit: str,
    zone: str = "",
    station: str = "",
    source: str = "",
    leave_out_bad_rows: bool = False,
    apply: bool = False,
) -> RainFileImport:
    """Read a gauge's file and, with `apply`, append its rows; a file with errors is refused as a whole unless its bad
    rows may be left out as gaps. Raises BadInput for the zone or the gauge, RainFileError for the file itself."""
    gauge_name = gauge_name.strip()
    zone = _zone(act, gauge_name, zone)
    today = clock.local_date(act.at, zone)
    read = rain_files.read_rain(data, unit=unit, zone=zone, today=today, station=station)
    refused = bool(read.errors) and not leave_out_bad_rows
    if refused or not apply:
        return RainFileImport(read, plan_rows(gauge_name=gauge_name, rows=read.values), False, refused)
    with transaction.atomic():
        gauge = add_gauge(act=act, name=gauge_name, zone=zone, source=source)
        return RainFileImport(read, import_rows(act=act, gauge=gauge, rows=read.values), True, False)


def plan_rows(*, gauge_name: str, rows: Iterable[RainValue]) -> RainImport:
    """What `import_rows` would write to the gauge of this name; changes nothing."""
    gauge = Gauge.objects.filter(name=gauge_name).first()
    return _sorted_out(gauge_name, rows, {} if gauge is None else _present(gauge))[0]


def add_gauge(*, act: Act, name: str, zone: str = "", source: str = "") -> Gauge:
    """The gauge of this name, made if there is none. `zone` defaults to the company's. Raises BadInput."""
    name = name.strip()
    if not name or len(name) > 80:
        problem = FieldProblem("gauge", "Give the gauge a name of 1 to 80 characters.", name[:90])
        raise BadInput("The gauge needs a name.", fields=(problem,))
    with transaction.atomic():
        gauge, created = Gauge.objects.get_or_create(
            name=name,
            defaults={
                "zone": zone or company.at(act.at).zone,
                "source": source[: limits.LINE] or "given by the office",
            },
        )
        if created:
            after = {"name": gauge.name, "zone": gauge.zone, "source": gauge.source}
            record_change(act=act, noun="gauge", uid=gauge.uid, action="create", after=after)
    return gauge


def import_rows(*, act: Act, gauge: Gauge, rows: Iterable[RainValue]) -> RainImport:
    """Append what is new or corrected, in one transaction; the same rows again write nothing.

    A company that names no gauge yet takes this one. Windows become stale and are computed again by the sweep.
    """
    with transaction.atomic():
        result, fresh = _sorted_out(gauge.name, rows, _present(gauge))
        written = [
            RainRow(
                gauge=gauge,
                day=value.day,
                hour=value.hour,
                depth_mm=value.depth_mm,
                recorded_at=act.at,
                flag=value.flag,
            )
            for value in fresh
        ]
        RainRow.objects.bulk_create(written, batch_size=5000)
        if not written:
            return result
        result = RainImport(result.gauge, result.new, result.corrected, result.same, _use_first_gauge(act, gauge))
        record_change(
            act=act,
            noun="gauge",
            uid=gauge.uid,
            action="rain",
            after={"new": result.new, "corrected": result.corrected, "same": result.same},
        )
        after_commit("maintenance.tasks.refresh_stale", queue="pulse")
    return result


def _zone(act: Act, gauge_name: str, zone: str) -> str:
    known = Gauge.objects.filter(name=gauge_name).first()
    chosen = zone or (known.zone if known else company.at(act.at).zone)
    try:
        ZoneInfo(chosen)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        problem = FieldProblem("zone", "Give an IANA zone such as America/Chicago.", chosen[:60])
        raise BadInput(
            f"zone is {chosen[:60]!r}: give an IANA zone such as America/Chicago.", fields=(problem,)
        ) from error
    if known and known.zone != chosen:
        problem = FieldProblem("zone", f"The gauge is in {known.zone}.", chosen)
        raise BadInput(f"Gauge {known.name} is in zone {known.zone}, not {chosen}.", fields=(problem,))
    return chosen


def _present(gauge: Gauge) -> dict[tuple[date, int], float]:
    """The value that counts for each day and hour: the one recorded last."""
    rows = RainRow.objects.filter(gauge=gauge).order_by("recorded_at", "id").values_list("day", "hour", "depth_mm")
    return {(day, hour): depth for day, hour, depth in rows.iterator(chunk_size=5000)}


def _sorted_out(
    name: str, rows: Iterable[RainValue], present: dict[tuple[date, int], float]
) -> tuple[RainImport, list[RainValue]]:
    new = corrected = same = 0
    fresh = []
    for value in rows:
        known = present.get((value.day, value.hour))
        if known is not None and abs(known - value.depth_mm) < _SAME_MM:
            same += 1
            continue
        new, corrected = (new + 1, corrected) if known is None else (new, corrected + 1)
        fresh.append(value)
    return RainImport(name, new, corrected, same), fresh


def _use_first_gauge(act: Act, gauge: Gauge) -> bool:
    if company.at(act.at).gauge:
        return False
    company.change(act=act, gauge=gauge.name)
    return True
