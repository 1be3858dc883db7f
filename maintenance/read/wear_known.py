"""How parts that wear had worn, as known at an instant: rain pumped, pump-down tests, the company's own failures."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from zoneinfo import ZoneInfo

from maintenance.forecast.days import MEAN_YEAR_DAYS
from maintenance.forecast.pump_wear import FlowSeen, pace, pace_by_rain, pace_by_test
from maintenance.forecast.records import Rule, WearNumbers, WearState
from maintenance.forecast.wear import WearWeights
from maintenance.models import PumpLoad, Reading
from maintenance.read.id_list import ids_in
from maintenance.read.learned import LivesKnown

HAND_OVER_DAYS = 366
"""A first test later than this after the install is no hand-over test."""

SHORTEST_RUN_S = 10.0


def assumed_lives(rules: Iterable[Rule]) -> dict[str, WearNumbers]:
    """The company-wide life assumed of each kind: that of its replacement rule, else of its test."""
    found: dict[str, WearNumbers] = {}
    for rule in rules:
        numbers = rule.numbers
        company_wide = rule.property_id is None and rule.component_id is None
        if not (isinstance(numbers, WearNumbers) and company_wide):
            continue
        if rule.kind not in found or numbers.purpose == "replace":
            found[rule.kind] = numbers
    return found


def median_lives(rules: Iterable[Rule], lives: LivesKnown) -> dict[str, float]:
    """Median life of each kind [equivalent years]: the company's own where it is learned, else the assumed one."""
    found = {kind: numbers.median_life_years for kind, numbers in assumed_lives(rules).items()}
    own = {kind: life.scale_years * math.log(2) ** (1 / life.shape) for kind, life in lives.items()}
    return found | own


def wear_states(
    cutoff: datetime,
    property_ids: Mapping[int, str],
    parts: Iterable[tuple[int, str, int, date | None]],
    rules: Iterable[Rule],
    lives: LivesKnown,
    weights: WearWeights,
) -> dict[int, WearState]:
    """Wear of the parts (id, kind, property, installed) that something is known of. Two queries.

    `property_ids`: zone of each property. A learned life replaces the company-wide assumption, a number given for one
    place or part stays.
    """
    loads = newest_loads(cutoff, property_ids)
    tests = flows_seen(cutoff, property_ids)
    medians = median_lives(rules, lives)
    found = {}
    for key, kind, _, installed in parts:
        life = lives.get(kind)
        load = loads.get(key)
        seen = _seen(tests.get(key, ()), installed)
        if life is None and load is None and seen is None:
            continue
        by_rain = None if load is None else pace_by_rain(*load, weights)
        by_test = None if seen is None or kind not in medians else pace_by_test(seen, medians[kind])
        found[key] = WearState(
            wear_per_year=pace(by_rain, by_test),
            shape=None if life is None else life.shape,
            scale_years=None if life is None else life.scale_years,
        )
    return found


def newest_loads(cutoff: datetime, property_ids: Iterable[int]) -> dict[int, tuple[float, float]]:
    """Run hours and starts a year of each pump, from the newest reckoning recorded by the cutoff. One query."""
    rows = PumpLoad.objects.filter(component__property__in=ids_in(property_ids), recorded_at__lte=cutoff).order_by(
        "recorded_at", "id"
    )
    return {key: (hours, starts) for key, hours, starts in rows.values_list(
        "component_id", "hours_per_year", "starts_per_year"
    )}  # fmt: skip


def flows_seen(cutoff: datetime, property_ids: Mapping[int, str]) -> dict[int, list[tuple[date, float]]]:
    """(local day, drop in inches a second) of each pump-down test recorded by the cutoff, oldest first. One query.

    Runs under 10 s are too short to judge; a withdrawn reading takes its test with it.
    """
    gone = Reading.objects.filter(recorded_at__lte=cutoff).exclude(withdraws=None).values("withdraws")
    rows = (
        Reading.objects.filter(
            component__property__in=ids_in(property_ids),
            recorded_at__lte=cutoff,
            code__in=["drawdown_drop_in", "drawdown_seconds"],
            canonical__gt=0,
        )
        .exclude(id__in=gone)
        .order_by("measured_at", "id")
        .values_list("component_id", "component__property_id", "closeout_id", "measured_at", "code", "canonical")
    )
    tests: dict[tuple[int, int | datetime], tuple[date, dict[str, float]]] = {}
    for key, place, closeout, at, code, value in rows:
        day = at.astimezone(ZoneInfo(property_ids[place])).date()
        if value is not None:
            tests.setdefault((key, closeout or at), (day, {}))[1][code] = value
    found: dict[int, list[tuple[date, float]]] = {}
    for (key, _), (day, values) in tests.items():
        if len(values) == 2 and values["drawdown_seconds"] >= SHORTEST_RUN_S:
            found.setdefault(key, []).append((day, values["drawdown_drop_in"] / values["drawdown_seconds"]))
    return found


def _seen(tests: Iterable[tuple[date, float]], installed: date | None) -> FlowSeen | None:
    """The last test against the one at hand-over; None without an install date or a test near it and one after."""
    found = list(tests)
    if installed is None or len(found) < 2 or (found[0][0] - installed).days > HAND_OVER_DAYS:
        return None
    on, flow = found[-1]
    return FlowSeen(flow / found[0][1], (on - installed).days / MEAN_YEAR_DAYS)
