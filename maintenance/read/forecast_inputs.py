"""Everything the forecast takes, as it was known at the end of a day in company time.

As-of honesty: component versions, readings, tasks done, rain, rules, overrides and settings count by `recorded_at`, not
by when something was measured or fell. What was recorded later does not change a byte of an earlier day's result. The
number of queries does not depend on how many properties or components are asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.db.models import Exists, F, Min, OuterRef, Q, QuerySet, Window
from django.db.models.functions import RowNumber

from core import clock, company
from core.models import CompanySettings
from jobs.kinds import registry
from jobs.kinds.base import Kind
from jobs.kinds.dimensions import fill_assumptions, read_dimensions
from jobs.models import ComponentVersion, Property
from maintenance.forecast import records
from maintenance.forecast.days import day_number
from maintenance.forecast.season import Season, climate_of
from maintenance.forecast.wear import WearWeights
from maintenance.models import CapacityFill, Reading, TaskDone
from maintenance.read.id_list import ids_in
from maintenance.read.learned import LivesKnown, learned_lives, learned_rates
from maintenance.read.rain_known import rain_known
from maintenance.read.rules import RuleInForce, forecast_rules, in_force, overrides_in_force
from maintenance.read.wear_known import wear_states
from maintenance.storm_looks import least_rain_mm, storms

CLEANS: Final = frozenset({"clean", "flush"})
"""Tasks that take silt out. Any other task that reported the silt left behind counts as a look at that fill."""

COUNTS_AS_DONE: Final = frozenset({"done", "found_fine"})

WEARING: Final = frozenset({"pump", "float", "check_valve", "backup_battery", "high_water_alarm"})
"""Kinds that fail unseen and have a life (methods: wear)."""

# A cleaning is known by its day only; readings of that day were taken before it.
_END_OF_VISIT_DAY: Final = 1 - 1 / 1024


@dataclass(frozen=True, slots=True)
class Common:
    """What all properties share: settings, weather and rules as known at `cutoff`, the end of `as_of`."""

    as_of: date
    cutoff: datetime
    company: company.Company
    settings: records.ForecastSettings
    season: Season
    rules: tuple[RuleInForce, ...]
    rain_mm: Mapping[date, float]
    lives: LivesKnown = field(default_factory=dict)

    @property
    def wear_weights(self) -> WearWeights:
        """What adds an equivalent year, as the company has set it."""
        now = self.company
        return WearWeights(
            now.wear_calendar, now.wear_hours_per_year, now.wear_starts_per_year, now.wear_hours, now.wear_starts
        )


@dataclass(frozen=True, slots=True)
class ForecastInputs:
    """One run of the forecast over some properties. `height_assumed`: components whose silt room nobody measured.

    `reading_ids`: the stored reading behind each row of `readings`.
    """

    common: Common
    components: tuple[records.ComponentState, ...]
    readings: records.Readings
    rules: tuple[records.Rule, ...]
    storms: tuple[records.Storm, ...]
    height_assumed: frozenset[int]
    reading_ids: tuple[int, ...] = ()


def cutoff_of(as_of: date, zone: str) -> datetime:
    """The last instant of `as_of` in company time: what was recorded by then was known."""
    return clock.end_of_day(as_of, zone) - timedelta(microseconds=1)


def load_common(*, as_of: date, zone: str) -> Common:
    """Settings, weather and rules as known at the end of `as_of` in the company's zone. At most six queries."""
    cutoff = cutoff_of(as_of, zone)
    versions = list(
        CompanySettings.objects.filter(recorded_at__lte=cutoff)
        .order_by("recorded_at", "id")
        .values_list("recorded_at", "values")
    )
    now = company.Company.model_validate(versions[-1][1]) if versions else company.Company()
    rain, gauges = rain_known(versions, now, cutoff)
    climate = climate_of(
        now.climate_mm,
        leaf_months=now.leaf_months,
        wet_season_month=now.wet_season_month,
        freeze_month=now.freeze_month if now.freezes else None,
        thaw_month=now.thaw_month if now.freezes else None,
    )
    settings = records.ForecastSettings(
        tolerance={
            "building": now.tolerance_building,
            "outdoor_room": now.tolerance_outdoor_room,
            "lawn": now.tolerance_lawn,
        },
        unavailability=now.hidden_unavailability,
        cycle_sd=now.cycle_sd,
        weather_cv=now.weather_cv,
        basin_limit_fill=now.basin_limit_fill,
        first_look_days=now.first_look_days,
        wide_ratio=now.wide_ratio,
        lead_days=now.lead_days,
        pool_least_parts=now.pool_least_parts,
        pool_least_readings=now.pool_least_readings,
        odd_times=now.odd_times,
        groups=learned_rates(cutoff),
    )
    lives = learned_lives(cutoff)
    return Common(as_of, cutoff, now, settings, Season(climate, gauges), in_force(cutoff), rain, lives)


def load(
    common: Common, property_ids: Iterable[int], *, capacity_fill: Mapping[int, float] | None = None
) -> ForecastInputs:
    """What is known of the components at these properties. Eight queries, however many components.

    `capacity_fill`: fill at which a component alone no longer carries its share of the target storm, by component id;
    what the storm rating had found by then where not given. Without one the practice limit alone governs.
    """
    zones = dict(_open_properties(common, property_ids).values_list("id", "zone"))
    done = _done(common, zones)
    limits = _capacity_fills(common, zones) if capacity_fill is None else capacity_fill
    components, assumed = _components(common, zones, done, limits)
    rules = forecast_rules(common.rules, overrides_in_force(common.cutoff, zones))
    readings, reading_ids = _readings(common, zones)
    return ForecastInputs(
        common=common,
        components=_with_wear(common, zones, components, rules),
        readings=readings,
        rules=rules,
        storms=storms(common.rain_mm, property_ids=zones, as_of=common.as_of, least_mm=least_rain_mm(rules)),
        height_assumed=assumed,
        reading_ids=reading_ids,
    )


def _with_wear(
    common: Common,
    zones: Mapping[int, str],
    components: tuple[records.ComponentState, ...],
    rules: tuple[records.Rule, ...],
) -> tuple[records.ComponentState, ...]:
    parts = [(c.id, c.kind, c.property_id, c.installed_on) for c in components if c.kind in WEARING]
    states = wear_states(common.cutoff, zones, parts, rules, common.lives, common.wear_weights)
    return tuple(replace(c, wear=states[c.id]) if c.id in states else c for c in components)


def silting_inputs(
    common: Common, property_ids: Iterable[int]
) -> tuple[tuple[records.ComponentState, ...], records.Readings]:
    """The parts whose silt is watched and their readings, for pooling: no rules, storms or limits. Four queries."""
    zones = dict(_open_properties(common, property_ids).values_list("id", "zone"))
    components, _ = _components(common, zones, _done(common, zones), {})
    return tuple(c for c in components if c.watched_for_silt), _readings(common, zones)[0]


def _open_properties(common: Common, property_ids: Iterable[int]) -> QuerySet[Property]:
    open_then = Q(closed_at=None) | Q(closed_at__gt=common.cutoff)
    return Property.objects.filter(open_then, id__in=ids_in(property_ids)).order_by("id")


def _capacity_fills(common: Common, property_ids: Iterable[int]) -> dict[int, float]:
    """The newest limit of each part recorded by the cutoff. One query."""
    rows = CapacityFill.objects.filter(
        component__property__in=ids_in(property_ids), recorded_at__lte=common.cutoff
    ).order_by("recorded_at", "id")
    newest = dict(rows.values_list("component_id", "fill"))
    return {key: fill for key, fill in newest.items() if fill is not None}


_Version = tuple[int, int, Any, dict[str, Any], datetime]
_DoneRow = tuple[str, str, date, float | None]


def _components(
    common: Common,
    zones: Mapping[int, str],
    done: Mapping[int, list[_DoneRow]],
    capacity_fill: Mapping[int, float],
) -> tuple[tuple[records.ComponentState, ...], frozenset[int]]:
    """Every component that was there, and those whose silt room is only the kind's usual one. One query."""
    found = [row for row in _versions(common, zones) if row[3]["kind"] in registry.BY_CODE]
    with_pump = {data.get("sits_in_uid") for _, _, _, data, _ in found if data["kind"] == "pump"}
    states, assumed = [], set()
    for key, property_id, uid, data, first in found:
        kind = registry.BY_CODE[data["kind"]]
        watched, height, guessed = _silt_room(kind, data)
        if guessed:
            assumed.add(key)
        cleanings, tasks = _history(done.get(key, ()))
        states.append(
            records.ComponentState(
                id=key,
                property_id=property_id,
                kind=kind.code,
                known_since=clock.local_date(first, zones[property_id]),
                canopy=data.get("canopy") or "some",
                consequence=data.get("consequence") or "building",
                tag=data.get("tag") or "",
                installed_on=_day(data.get("installed_on")),
                silt_height_in=height,
                watched_for_silt=watched,
                pumped=str(uid) in with_pump,
                capacity_fill=capacity_fill.get(key),
                cleanings=cleanings,
                done=tasks,
            )
        )
    return tuple(states), frozenset(assumed)


def _versions(common: Common, zones: Mapping[int, str]) -> list[_Version]:
    """(component, property, uid, data, first recorded) of each part still there, from its newest version by then."""
    partition = [F("component_id")]
    rows = (
        ComponentVersion.objects.filter(component__property_id__in=ids_in(zones), recorded_at__lte=common.cutoff)
        .annotate(
            back=Window(RowNumber(), partition_by=partition, order_by=[F("recorded_at").desc(), F("id").desc()]),
            first=Window(Min("recorded_at"), partition_by=partition),
        )
        .filter(back=1)
        .order_by("component_id")
        .values_list("component_id", "component__property_id", "component__uid", "data", "first")
    )
    return [row for row in rows if _there(row[3], common.as_of)]


def _there(data: Mapping[str, Any], as_of: date) -> bool:
    retired = _day(data.get("retired_on"))
    return retired is None or retired > as_of


def _day(text: Any) -> date | None:
    return date.fromisoformat(text) if text else None


def _silt_room(kind: Kind, data: Mapping[str, Any]) -> tuple[bool, float | None, bool]:
    """Whether its silt is watched, the depth that holds it [in], and whether that is only the kind's usual depth."""
    if kind.silt is None:
        return False, None, False
    known = read_dimensions(kind, data.get("dimensions") or {}, data.get("certainty"), version=data.get("kind_version"))
    filled = fill_assumptions(kind, known).values
    watched = not kind.silt.only_if or bool(filled.get(kind.silt.only_if))
    height = filled.get(kind.silt.dimension)
    guessed = watched and height is not None and kind.silt.dimension not in known.values
    return watched, None if height is None else float(height), guessed


def _history(
    rows: Iterable[_DoneRow],
) -> tuple[tuple[records.Cleaning, ...], tuple[records.Done, ...]]:
    cleanings, tasks = [], []
    for task, outcome, on, left in rows:
        if outcome in COUNTS_AS_DONE:
            tasks.append(records.Done(task, on))
        if outcome == "done" and (task in CLEANS or left is not None):
            cleanings.append(records.Cleaning(day_number(on) + _END_OF_VISIT_DAY, left or 0.0))
    return tuple(cleanings), tuple(tasks)


def _done(common: Common, zones: Mapping[int, str]) -> dict[int, list[_DoneRow]]:
    rows = (
        TaskDone.objects.filter(component__property_id__in=ids_in(zones), recorded_at__lte=common.cutoff)
        .order_by("component_id", "done_on", "recorded_at", "id")
        .values_list("component_id", "task", "outcome", "done_on", "left_fill")
    )
    found: dict[int, list[_DoneRow]] = {}
    for key, task, outcome, on, left in rows:
        found.setdefault(key, []).append((task, outcome, on, left))
    return found


def _readings(common: Common, zones: Mapping[int, str]) -> tuple[records.Readings, tuple[int, ...]]:
    """Silt depths and grades taken before cleaning and not withdrawn by the cutoff, and their keys. One query."""
    withdrawn = Reading.objects.filter(withdraws=OuterRef("pk"), recorded_at__lte=common.cutoff)
    rows = (
        Reading.objects.filter(
            ~Exists(withdrawn),
            component__property_id__in=ids_in(zones),
            recorded_at__lte=common.cutoff,
            code__in=("silt_depth_in", "grade"),
            moment="before",
        )
        .order_by("component_id", "measured_at", "id")
        .values_list(
            "id", "component_id", "component__property__zone", "measured_at", "code", "canonical", "grade", "by_owner"
        )
    )
    taken: list[tuple[int, float, float | None, float | None, int, bool]] = []
    ids: list[int] = []
    for reading, key, zone, at, code, depth, grade, by_owner in rows:
        day = day_number(at.astimezone(ZoneInfo(zone)))
        if code == "grade" and grade in records.GRADES:
            taken.append((key, day, None, None, records.GRADES.index(grade), by_owner))
            ids.append(reading)
        elif code == "silt_depth_in" and depth is not None:
            taken.append((key, day, depth, None, records.MEASURED, by_owner))
            ids.append(reading)
    return records.Readings.from_rows(taken), tuple(ids)
