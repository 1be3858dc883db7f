"""Loads whole systems as rows for the storm rating: a bounded number of queries, however many systems."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from hydraulics.rain import DepthDurationTable
from hydraulics.units import to_si
from jobs.kinds import registry
from jobs.models import Component, Connection, DrainageArea, System
from maintenance.decide.rating_records import LAYERED, AreaRow, LinkRow, PartRow, SystemRows, part_row
from maintenance.forecast.days import day_number
from maintenance.forecast.silt_states import silt_states
from maintenance.forecast.silting import fill_quantile
from maintenance.models import RainTable, Reading
from maintenance.read.forecast_inputs import ForecastInputs
from maintenance.read.id_list import ids_in

QUANTILES = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True)
class SystemHead:
    """What the stored rating needs of a system besides its hydraulics."""

    id: int
    property_id: int
    revision: int


@dataclass(frozen=True, slots=True)
class Loaded:
    """Systems with their rows; fills by quantile of today's silt."""

    heads: tuple[SystemHead, ...]
    rows: tuple[SystemRows, ...]
    fills: Mapping[float, Mapping[int, float]]
    table_words: str


def load_systems(property_ids: Iterable[int], inputs: ForecastInputs | None) -> Loaded:
    """The systems at these properties. `inputs`: the forecast's own, for today's silt; None for no silt at all."""
    wanted = ids_in(property_ids)
    systems = list(System.objects.filter(property__in=wanted).select_related("property").order_by("id"))
    tables, words = _tables()
    parts = _parts(wanted)
    links = _links(wanted)
    areas = _areas(wanted)
    fills = silt_today(inputs) if inputs is not None else {q: {} for q in QUANTILES}
    rows = tuple(
        SystemRows(
            id=system.pk,
            parts=tuple(parts.get(system.pk, ())),
            links=tuple(links.get(system.property_id, ())),
            areas=tuple(areas.get(system.property_id, ())),
            rain=tables.get(system.property.area_id, tables.get(None)),
            return_years=system.target_return_years,
            fills=fills[0.5],
        )
        for system in systems
    )
    heads = tuple(SystemHead(s.pk, s.property_id, s.property.revision) for s in systems)
    return Loaded(heads, tuple(_only_own(row) for row in rows), fills, words)


def _only_own(rows: SystemRows) -> SystemRows:
    own = {part.id for part in rows.parts}
    return replace(
        rows,
        links=tuple(link for link in rows.links if link.source in own and link.target in own),
        areas=tuple(area for area in rows.areas if area.component in own),
    )


def _tables() -> tuple[dict[int | None, DepthDurationTable], str]:
    """Rain tables by area; one object a table, so that a batch shares its storms."""
    found: dict[int | None, DepthDurationTable] = {}
    words = ""
    for row in RainTable.objects.order_by("recorded_at", "id"):
        depths = to_si(np.array(row.depths_in, dtype=float), "in") * 1000.0
        found[row.area_id] = DepthDurationTable(row.durations_min, row.return_years, depths, row.source)
        words = words if row.area_id else f"{row.name}: {row.source}"
    return found, words


def _parts(wanted: Any) -> dict[int, list[PartRow]]:
    columns = ("id", "system_id", "tag", "kind", "dimensions", "certainty", "kind_version", "sits_in_id", "part_of_id")
    rows = Component.objects.filter(property__in=wanted, retired_on=None).exclude(system=None).order_by("id")
    found: dict[int, list[PartRow]] = defaultdict(list)
    for key, system, tag, kind, dims, certainty, version, sits_in, part_of in rows.values_list(*columns):
        if kind in registry.BY_CODE:
            found[system].append(part_row(key, tag, kind, dims, certainty, version, sits_in, part_of))
    return found


def _links(wanted: Any) -> dict[int, list[LinkRow]]:
    found: dict[int, list[LinkRow]] = defaultdict(list)
    rows = Connection.objects.filter(property__in=wanted).order_by("id")
    for at, source, target, kind in rows.values_list("property_id", "from_component_id", "to_component_id", "kind"):
        found[at].append(LinkRow(source, target, kind == Connection.Kind.OVERFLOW))
    return found


def _areas(wanted: Any) -> dict[int, list[AreaRow]]:
    found: dict[int, list[AreaRow]] = defaultdict(list)
    rows = DrainageArea.objects.filter(property__in=wanted).order_by("id")
    columns = ("property_id", "component_id", "area_ft2", "runoff_c", "concentration_min")
    for at, component, area, share, minutes in rows.values_list(*columns):
        found[at].append(AreaRow(component, area, share, minutes))
    return found


def silt_today(inputs: ForecastInputs) -> dict[float, dict[int, float]]:
    """Fill of each part whose capacity falls with silt, by quantile; parts without a curve are left out."""
    parts = [c for c in inputs.components if c.kind in LAYERED and c.watched_for_silt]
    if not parts:
        return {q: {} for q in QUANTILES}
    common = inputs.common
    states = silt_states(parts, inputs.readings, {"": common.season}, common.settings)
    known = np.flatnonzero(np.isfinite(states.start))
    today = np.full(len(known), day_number(common.as_of))
    exposure = np.zeros(len(parts))
    exposure[known] = np.maximum(states.exposure(known, today), 0.0)
    left = np.nan_to_num(states.fill_left)
    found: dict[float, dict[int, float]] = {}
    for q in QUANTILES:
        fills = fill_quantile(states.rate, left, exposure, q)
        found[q] = {parts[i].id: float(fills[i]) for i in known.tolist()}
    return found


def drawdown_tests(pump_ids: Iterable[int]) -> dict[int, list[tuple[float, float]]]:
    """(drop in, seconds) of each pump-down test of these pumps, oldest first. One query."""
    rows = (
        Reading.objects.filter(
            component__in=ids_in(pump_ids), code__in=["drawdown_drop_in", "drawdown_seconds"], withdrawn_by=None
        )
        .exclude(canonical=None)
        .order_by("measured_at", "id")
        .values_list("component_id", "closeout_id", "measured_at", "code", "canonical")
    )
    tests: dict[tuple[int, Any], dict[str, float]] = {}
    for component, closeout, at, code, value in rows:
        if value is not None:
            tests.setdefault((component, closeout or at), {})[code] = value
    found: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for (component, _), values in tests.items():
        if len(values) == 2 and values["drawdown_seconds"] >= 10:
            found[component].append((values["drawdown_drop_in"], values["drawdown_seconds"]))
    return found
