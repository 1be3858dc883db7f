"""Due windows: rules and states in, for each component and task the earliest useful, best and latest day out.

Every rule asks for its own dates; then, for each component and task, the order of firmness decides: a fallback rule of
calendar or season stops once a component that silts has two readings from different cycles, and among what remains the
earliest latest-date governs. A pure function: same inputs, same result, whatever else is computed beside it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from maintenance.forecast.candidates import Candidate, calendar_candidate, season_candidate, wear_candidate
from maintenance.forecast.days import day_before_or_on
from maintenance.forecast.records import (
    CalendarNumbers,
    ComponentState,
    DueWindow,
    ForecastSettings,
    Readings,
    Reason,
    Rule,
    SeasonNumbers,
    SiltNumbers,
    Storm,
    StormNumbers,
    WearNumbers,
)
from maintenance.forecast.season import Season
from maintenance.forecast.silt_states import SiltStates, silt_states
from maintenance.forecast.silt_windows import silt_candidates
from maintenance.forecast.storm_windows import storm_candidate

SILT_TASKS: Final = frozenset({"clean", "flush", "look"})
"""Tasks that silt decides on once it is known: their fallback rules stop then."""


def due_windows(
    as_of: date,
    rules: Sequence[Rule],
    components: Sequence[ComponentState],
    readings: Readings,
    seasons: Mapping[str, Season],
    settings: ForecastSettings,
    *,
    storms: Sequence[Storm] = (),
) -> list[DueWindow]:
    """Due windows of all components, by property, component, task and who does it: those of `forecast`."""
    return forecast(as_of, rules, components, readings, seasons, settings, storms=storms).windows


@dataclass(frozen=True, eq=False, slots=True)
class Forecast:
    """Due windows, and the silt states they come from (of the parts a silt rule is in force for)."""

    windows: list[DueWindow]
    states: SiltStates


def forecast(
    as_of: date,
    rules: Sequence[Rule],
    components: Sequence[ComponentState],
    readings: Readings,
    seasons: Mapping[str, Season],
    settings: ForecastSettings,
    *,
    storms: Sequence[Storm] = (),
) -> Forecast:
    """Due windows of all components, by property, component, task and who does it.

    `seasons` by the key each component names; `storms` at their properties. Inputs must hold only what was known at the
    end of `as_of`. Raises KeyError for a season or a consequence that is not there.
    """
    of_component = _RulesInForce(rules)
    in_force = [of_component.of(component) for component in components]
    silted = [i for i, found in enumerate(in_force) if any(rule.basis == "silt" for rule in found)]
    states = silt_states([components[i] for i in silted], readings, seasons, settings)
    asked = [
        (k, rule, rule.numbers)
        for k, i in enumerate(silted)
        for rule in in_force[i]
        if isinstance(rule.numbers, SiltNumbers)
    ]
    found: dict[int, list[Candidate]] = {i: [] for i in range(len(components))}
    for k, candidate in silt_candidates(states, asked, settings, as_of):
        found[silted[k]].append(candidate)
    known = {silted[k] for k in range(len(silted)) if states.rate.cycles[k] >= 2}
    visits = _visits(components, readings)
    by_property = _by_property(storms)
    for i, component in enumerate(components):
        here = by_property.get(component.property_id, ())
        climate_season = seasons.get(component.season)
        for rule in in_force[i]:
            one = _candidate(component, rule, climate_season, settings, here, visits[i], as_of)
            if one is not None:
                found[i].append(one)
    made = [
        window
        for i, component in enumerate(components)
        for window in _decided(component, found[i], silt_decides=i in known)
    ]
    return Forecast(sorted(made, key=lambda w: (w.property_id, w.component_id, w.task, w.who)), states)


class _RulesInForce:
    """Finds the rules for a component: its own version of a rule, else its property's, else the company's."""

    def __init__(self, rules: Iterable[Rule]) -> None:
        self._company: dict[str, dict[str, Rule]] = {}
        self._property: dict[int, list[Rule]] = {}
        self._component: dict[int, list[Rule]] = {}
        for rule in rules:
            if rule.component_id is not None:
                self._component.setdefault(rule.component_id, []).append(rule)
            elif rule.property_id is not None:
                self._property.setdefault(rule.property_id, []).append(rule)
            else:
                self._company.setdefault(rule.kind, {})[rule.id] = rule

    def of(self, component: ComponentState) -> list[Rule]:
        """Enabled rules that apply to this component, by id."""
        mine = dict(self._company.get(component.kind, {}))
        for rule in self._property.get(component.property_id, ()):
            if rule.kind == component.kind:
                mine[rule.id] = rule
        for rule in self._component.get(component.id, ()):
            mine[rule.id] = rule
        return [rule for _, rule in sorted(mine.items()) if rule.enabled and _applies(rule, component)]


def _applies(rule: Rule, component: ComponentState) -> bool:
    if rule.needs_pump and not component.pumped:
        return False
    return rule.basis != "silt" or component.watched_for_silt


def _candidate(
    component: ComponentState,
    rule: Rule,
    season: Season | None,
    settings: ForecastSettings,
    storms: Sequence[Storm],
    visits: Sequence[date],
    as_of: date,
) -> Candidate | None:
    """What a rule without arrays asks; None where it asks nothing (or is a silt rule, which has been asked already)."""
    numbers = rule.numbers
    if isinstance(numbers, CalendarNumbers):
        return calendar_candidate(component, rule, numbers, settings)
    if isinstance(numbers, SeasonNumbers):
        return None if season is None else season_candidate(component, rule, numbers, season.climate, settings, as_of)
    if isinstance(numbers, WearNumbers):
        return wear_candidate(component, rule, numbers, settings, as_of)
    if isinstance(numbers, StormNumbers):
        return storm_candidate(component, rule, numbers, storms, visits, as_of) if storms else None
    return None


def _visits(components: Sequence[ComponentState], readings: Readings) -> list[list[date]]:
    """Days on which each component was seen: a task done there or a reading by the crew."""
    place = {component.id: i for i, component in enumerate(components)}
    days: list[set[date]] = [{done.on for done in component.done} for component in components]
    crew = np.flatnonzero(~readings.by_owner)
    for component_id, day in zip(readings.component_id[crew].tolist(), readings.day[crew].tolist(), strict=True):
        if component_id in place:
            days[place[component_id]].add(day_before_or_on(day))
    return [sorted(found) for found in days]


def _by_property(storms: Iterable[Storm]) -> dict[int, list[Storm]]:
    found: dict[int, list[Storm]] = {}
    for storm in sorted(storms, key=lambda s: (s.property_id, s.on, s.rain_mm)):
        found.setdefault(storm.property_id, []).append(storm)
    return found


def _decided(component: ComponentState, candidates: Sequence[Candidate], *, silt_decides: bool) -> list[DueWindow]:
    """One window for each task and doer: stopped fallback rules fall out, the earliest latest-date governs."""
    by_task: dict[tuple[str, str], list[Candidate]] = {}
    stopped: dict[str, list[Rule]] = {}
    for one in candidates:
        if silt_decides and _stops(one.rule):
            stopped.setdefault(one.rule.task, []).append(one.rule)
        else:
            by_task.setdefault((one.rule.task, one.rule.who), []).append(one)
    windows = []
    for (task, _), asking in sorted(by_task.items()):
        first = min(asking, key=lambda c: (c.latest, c.rule.firmness != "firm", c.rule.id))
        windows.append(_window(component, first, stopped.get(task, [])))
    return windows


def _stops(rule: Rule) -> bool:
    return rule.firmness == "fallback" and rule.basis in ("calendar", "season") and rule.task in SILT_TASKS


def _window(component: ComponentState, one: Candidate, stopped: Sequence[Rule]) -> DueWindow:
    rule = one.rule
    more: list[Reason] = []
    if rule.basis == "silt":
        more = [Reason("fallback_stopped", (("rule", gone.words),)) for gone in stopped]
    elif rule.basis in ("calendar", "season") and component.watched_for_silt and rule.task in SILT_TASKS:
        more = [Reason("firm" if rule.firmness == "firm" else "fallback_until")]
    return DueWindow(
        component_id=component.id,
        property_id=component.property_id,
        task=rule.task,
        who=rule.who,
        minutes=rule.minutes,
        earliest_useful=one.earliest,
        best=one.best,
        latest=one.latest,
        chance_over_at_best=one.chance,
        rule_id=rule.id,
        rule_version=rule.version,
        basis=rule.basis,
        firmness=rule.firmness,
        look_first=one.look_first,
        reasons=(*one.reasons, *more),
        inputs=one.inputs,
    )
