"""Computes and keeps each system's storm rating, and the fill at which each part alone limits it (methods.md 2, 3)."""

import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any, Final

from django.db import transaction

from core import clock, company
from core.act import Act
from hydraulics import network as net
from maintenance import pump_loads
from maintenance.decide import rating_told as told
from maintenance.decide.rating_records import SystemRows, clean_tags, to_system
from maintenance.forecast.drawdown import Basin, Run, flow_of
from maintenance.models import CapacityFill, SystemRating
from maintenance.read.forecast_inputs import Common, load, load_common
from maintenance.read.id_list import ids_in
from maintenance.read.rating_inputs import Loaded, drawdown_tests, load_systems
from maintenance.read.windows import SPOILT

log = logging.getLogger(__name__)

LEAST_RATIO: Final = 0.02
STATES: Final = ("as_new", "today", "today_p10", "today_p90", "cleaned")


def rate_properties(*, act: Act, property_ids: Iterable[int], common: Common | None = None) -> int:
    """Rate every system at these properties as new, today and cleaned, and store it; returns how many were rated.

    A system that cannot be rated keeps a row that says what it needs; a property whose records cannot be computed
    with stops no other. Limits of silt are appended only where they changed, what the rain asks of the pumps about
    once a month. `common`: what all properties share, if it was read already.
    """
    keys = sorted(set(property_ids))
    if common is None:
        zone = company.at(act.at).zone
        common = load_common(as_of=clock.local_date(act.at, zone), zone=zone)
    as_of = common.as_of
    try:
        inputs = load(common, keys, capacity_fill={})
        loaded = load_systems(keys, inputs)
    except SPOILT:
        if len(keys) == 1:
            log.warning("the systems of property %s could not be rated: see its due windows", keys[0])
            return 0
        middle = len(keys) // 2
        first = rate_properties(act=act, property_ids=keys[:middle], common=common)
        return first + rate_properties(act=act, property_ids=keys[middle:], common=common)
    rows = [replace(row, drawdown_ratios=ratio) for row, ratio in zip(loaded.rows, _ratios(loaded), strict=True)]
    made = _rate_all(rows, loaded.fills)
    with transaction.atomic():
        _write(act, as_of, loaded, rows, made)
        _write_limits(act, rows)
        pump_loads.reckon(act=act, common=common, systems=rows, revisions=[head.revision for head in loaded.heads])
    return len(made)


def _rate_all(rows: Sequence[SystemRows], fills: Mapping[float, Mapping[int, float]]) -> list[told.Rated]:
    """All systems at once; if one spoils the batch, each by itself, so that it alone says what is wrong."""
    try:
        return _rated(rows, fills)
    except ValueError:
        return [_rated_alone(row, fills) for row in rows]


def _rated_alone(row: SystemRows, fills: Mapping[float, Mapping[int, float]]) -> told.Rated:
    try:
        return _rated([row], fills)[0]
    except ValueError as error:
        return told.Rated(problem=str(error))


def _rated(rows: Sequence[SystemRows], fills: Mapping[float, Mapping[int, float]]) -> list[told.Rated]:
    today = [to_system(row, fills[0.5]) for row in rows]
    states = {
        "as_new": [net.as_new(system) for system in today],
        "today": today,
        "today_p10": [to_system(row, fills[0.1]) for row in rows],
        "today_p90": [to_system(row, fills[0.9]) for row in rows],
        "cleaned": [net.cleaned(system, clean_tags(row)) for system, row in zip(today, rows, strict=True)],
    }
    ratings = {state: net.storm_ratings(systems) for state, systems in states.items()}
    battery, dark = net.storm_ratings(today, "battery"), net.storm_ratings(today, "none")
    return [
        told.Rated(
            ratings={state: found[i] for state, found in ratings.items()},
            battery=battery[i] if told.has_battery(row) else None,
            no_power=dark[i] if told.has_pump(row) else None,
            pumps=told.pumps_of(row, today[i]),
        )
        for i, row in enumerate(rows)
    ]


def _ratios(loaded: Loaded) -> Sequence[Mapping[int, float]]:
    """Last accepted pump-down test of each pump over its first at hand-over, else over its duty; at most 1."""
    pumps = {part.id: row for row in loaded.rows for part in row.parts if part.kind == "pump"}
    tests = drawdown_tests(pumps)
    found: dict[int, dict[int, float]] = {row.id: {} for row in loaded.rows}
    for key, runs in tests.items():
        row = pumps[key]
        area = told.basin_area_in2(row, key)
        if area is None:
            continue
        last = flow_of(Basin(area), Run(*runs[-1]))
        base = flow_of(Basin(area), Run(*runs[0])) if len(runs) > 1 else told.duty_gpm(row, key)
        if base:
            found[row.id][key] = min(max(last / base, LEAST_RATIO), 1.0)
    return [found[row.id] for row in loaded.rows]


def _write(act: Act, as_of: date, loaded: Loaded, rows: Sequence[SystemRows], made: Sequence[told.Rated]) -> None:
    ratings = [
        SystemRating(
            system_id=head.id,
            computed_at=act.at,
            as_of=as_of,
            register_revision=head.revision,
            **_columns(row, rated, loaded.table_words),
        )
        for head, row, rated in zip(loaded.heads, rows, made, strict=True)
    ]
    fields = ["computed_at", "as_of", "register_revision", "needs", *STATES, "detail"]
    SystemRating.objects.bulk_create(
        ratings, batch_size=200, update_conflicts=True, unique_fields=["system"], update_fields=fields
    )


def _columns(row: SystemRows, rated: told.Rated, table_words: str) -> dict[str, Any]:
    multiples = {state: rated.multiple(state) for state in STATES}
    return {**multiples, "needs": told.needs_of(rated), "detail": told.detail_of(row, rated, table_words)}


def _write_limits(act: Act, rows: Sequence[SystemRows]) -> None:
    """Append the fill at which each part alone limits, where it is new or changed; None where it is no longer known."""
    limits = _limits(rows)
    parts = [part.id for row in rows for part in row.parts]
    kept: dict[int, float | None] = {}
    stored = CapacityFill.objects.filter(component__in=ids_in(parts)).order_by("recorded_at", "id")
    kept.update(stored.values_list("component_id", "fill"))
    changed = [
        CapacityFill(component_id=key, fill=limits.get(key), recorded_at=act.at)
        for key in parts
        if limits.get(key) != kept.get(key)
    ]
    CapacityFill.objects.bulk_create(changed, batch_size=500)


def _limits(rows: Sequence[SystemRows]) -> dict[int, float]:
    try:
        limits = net.threshold_fills([to_system(row, {}) for row in rows])
    except ValueError:
        return {} if len(rows) == 1 else {k: v for row in rows for k, v in _limits([row]).items()}
    found: dict[int, float] = {}
    for row, by_name in zip(rows, limits, strict=True):
        keys = {name: key for key, name in row.names.items()}
        found |= {keys[name]: round(limit.fill, 6) for name, limit in by_name.items() if name in keys}
    return found
