"""Due windows that silt asks for: when the chance of being past the limit reaches what we accept.

Latest: P(over) reaches the tolerance of the property. Earliest useful: the median reaches half the threshold, but at
least 21 days before latest. Best: the later of earliest useful and 14 days before latest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np

from maintenance.forecast.candidates import Candidate
from maintenance.forecast.days import day_before_or_on, day_on_or_after
from maintenance.forecast.records import (
    GRADES,
    MEASURED,
    Floats,
    ForecastSettings,
    Ints,
    Reason,
    Rule,
    SiltNumbers,
)
from maintenance.forecast.silt_states import SiltStates
from maintenance.forecast.silting import RatePosterior, chance_over, exposure_at_chance
from maintenance.forecast.thresholds import Threshold, is_over, threshold_of
from maintenance.forecast.weather import WeatherAhead

LEAST_SPAN_DAYS: Final = 21
_FAR: Final = 1000.0  # mean years: beyond it a window is said to lie this far off
_ALIKE: Final = 1.25  # rates within this factor of the group's are told as alike


@dataclass(frozen=True, eq=False, slots=True)
class _Asked:
    """One silt rule at each of m parts: positions in the states, thresholds, tolerances and the dates they lead to."""

    index: Ints
    rules: tuple[Rule, ...]
    limits: tuple[Threshold, ...]
    threshold: Floats
    tolerance: Floats
    rate: RatePosterior
    weather: WeatherAhead
    latest: Floats
    half: Floats
    full: Floats


def silt_candidates(
    states: SiltStates, asked: Sequence[tuple[int, Rule, SiltNumbers]], settings: ForecastSettings, as_of: date
) -> list[tuple[int, Candidate]]:
    """Candidates of silt rules: `asked` pairs positions in `states` with rules; without a curve, a first look."""
    without = [(i, _first_look(states, i, rule, settings)) for i, rule, _ in asked if np.isnan(states.start[i])]
    kept = [one for one in asked if not np.isnan(states.start[one[0]])]
    if not kept:
        return without
    work = _dates(states, kept, settings)
    seen = [_found_now(states, work, k, as_of) for k in range(len(kept))]
    dates = [_three_dates(states, work, k, seen[k], settings.lead_days) for k in range(len(kept))]
    at_best = states.exposure(work.index, np.array([float(best.toordinal()) for _, best, _ in dates]))
    left = states.fill_left[work.index]
    chance = chance_over(work.rate, left, np.maximum(at_best, 0.0), work.threshold, work.weather)
    rates = np.stack([work.rate.quantile(p) for p in (0.1, 0.5, 0.9)])
    made = []
    for k, (i, rule, _) in enumerate(kept):
        low, median, high = rates[:, k].tolist()
        wide = high / low > settings.wide_ratio
        earliest, best, latest = dates[k]
        reasons = _reasons(states, work, k, latest, seen[k], median, wide)
        inputs = _inputs(states, work, k, low, median, high)
        one = Candidate(rule, earliest, best, latest, reasons, inputs, float(f"{chance[k]:.6g}"), wide)
        made.append((i, one))
    return without + made


def _dates(states: SiltStates, kept: Sequence[tuple[int, Rule, SiltNumbers]], settings: ForecastSettings) -> _Asked:
    """Day numbers at which each part reaches its tolerance, half its threshold and, for sumps, the pump's intake."""
    index = np.array([i for i, _, _ in kept], dtype=np.int64)
    limits = []
    for i, _, numbers in kept:
        part = states.components[i]
        limits.append(
            threshold_of(part.kind, numbers, part.silt_height_in, part.capacity_fill, settings.basin_limit_fill)
        )
    threshold = np.array([limit.fill for limit in limits], dtype=float)
    tolerance = np.array([settings.tolerance[states.components[i].consequence] for i in index], dtype=float)
    rate, left = states.rate.take(index), states.fill_left[index]
    weather = states.weather(settings.weather_cv).take(index)
    latest = exposure_at_chance(rate, left, threshold, tolerance, weather)
    median = rate.quantile(0.5)
    return _Asked(
        index,
        tuple(rule for _, rule, _ in kept),
        tuple(limits),
        threshold,
        tolerance,
        rate,
        weather,
        states.day_reached(index, np.minimum(latest, _FAR)),
        states.day_reached(index, np.clip((threshold / 2 - left) / median, 0, _FAR)),
        states.day_reached(index, np.clip((1 - left) / median, 0, _FAR)),
    )


def _three_dates(
    states: SiltStates, work: _Asked, k: int, seen: tuple[date, Reason] | None, lead_days: int
) -> tuple[date, date, date]:
    start = day_before_or_on(float(states.start[work.index[k]]))
    latest = max(day_before_or_on(float(work.latest[k])), start)
    if seen is not None and seen[0] < latest:
        return seen[0], seen[0], seen[0]
    earliest = min(day_on_or_after(float(work.half[k])), latest - timedelta(days=LEAST_SPAN_DAYS))
    earliest = min(max(earliest, start), latest)
    return earliest, max(earliest, latest - timedelta(days=lead_days)), latest


def _found_now(states: SiltStates, work: _Asked, k: int, as_of: date) -> tuple[date, Reason] | None:
    """A part seen at its limit and left so, or a pumped sump silted to the pump's intake: due since that day."""
    i = int(work.index[k])
    row = int(states.last_row[i])
    seen = row >= 0 and not bool(states.readings.by_owner[row])
    fill = float(states.low[row]) if seen else 0.0
    day = day_before_or_on(float(states.readings.day[row])) if seen else as_of
    if states.components[i].pumped:
        reached = day if seen and is_over(fill, 1.0) else day_on_or_after(float(work.full[k]))
        if reached <= as_of:
            return reached, Reason("pump_at_risk", (("on", reached.isoformat()),))
    if seen and is_over(fill, float(work.threshold[k])):
        return day, Reason("found_over", (("fill", _shown_fill(states, row)), ("on", day.isoformat())))
    return None


def _first_look(states: SiltStates, i: int, rule: Rule, settings: ForecastSettings) -> Candidate:
    part = states.components[i]
    latest = part.known_since + timedelta(days=settings.first_look_days)
    best = latest - timedelta(days=settings.lead_days)
    reasons = [Reason("first_look", (("days", settings.first_look_days),))]
    if states.unusable[i]:
        reasons.append(Reason("no_height"))
    inputs = (("known_since", part.known_since.isoformat()), ("readings", 0))
    return Candidate(rule, part.known_since, best, latest, tuple(reasons), inputs, None, True)


def _shown_fill(states: SiltStates, row: int) -> str | float:
    grade = int(states.readings.grade[row])
    return round(float(states.low[row]), 4) if grade == MEASURED else GRADES[grade]


def _reasons(
    states: SiltStates,
    work: _Asked,
    k: int,
    latest: date,
    seen: tuple[date, Reason] | None,
    median: float,
    wide: bool,
) -> tuple[Reason, ...]:
    i = int(work.index[k])
    limit = work.limits[k]
    told: list[Reason] = []
    if seen is not None:
        told.append(seen[1])
    elif states.fill_left[i] >= work.threshold[k]:
        told.append(Reason("silt_left_over"))
    else:
        params = (
            ("latest", latest.isoformat()),
            ("tolerance", float(work.tolerance[k])),
            ("threshold", round(float(work.threshold[k]), 4)),
        )
        told.append(Reason("silt_chance", params))
    row = int(states.last_row[i])
    if row >= 0 and (seen is None or seen[1].code != "found_over"):
        on = day_before_or_on(float(states.readings.day[row])).isoformat()
        told.append(Reason("last_reading", (("fill", _shown_fill(states, row)), ("on", on))))
    if states.anchored[i]:
        told.append(Reason("from_first_look"))
    told.append(_learned(states, i, median))
    if limit.reason.code != "limit_practice":
        told.append(Reason(limit.reason.code, tuple((n, _rounded(v)) for n, v in limit.reason.params)))
    if states.unusable[i]:
        told.append(Reason("no_height"))
    gaps = _gap_days(states, i, latest)
    if gaps:
        told.append(Reason("rain_gaps", (("days", gaps),)))
    if wide:
        told.append(Reason("look_first"))
    return tuple(told)


def _learned(states: SiltStates, i: int, median: float) -> Reason:
    group = states.components[i].group
    readings = int(states.rate.readings[i])
    if not readings:
        return Reason("rate_assumed", (("group", group),))
    times = median / math.exp(states.priors[i].mu)
    if 1 / _ALIKE < times < _ALIKE:
        return Reason("rate_alike", (("group", group), ("readings", readings)))
    code, factor = ("rate_faster", times) if times > 1 else ("rate_slower", 1 / times)
    return Reason(code, (("times", round(factor, 1)), ("group", group), ("readings", readings)))


def _gap_days(states: SiltStates, i: int, latest: date) -> int:
    curve = states.curves[int(states.curve[i])]
    return round(float(curve.gap_days(float(states.start[i]), float(latest.toordinal()))))


def _inputs(
    states: SiltStates, work: _Asked, k: int, low: float, median: float, high: float
) -> tuple[tuple[str, str | int | float | None], ...]:
    i = int(work.index[k])
    part, prior = states.components[i], states.priors[i]
    return (
        ("cycle_start", day_before_or_on(float(states.start[i])).isoformat()),
        ("fill_left", _rounded(float(states.fill_left[i]))),
        ("threshold", _rounded(float(work.threshold[k]))),
        ("tolerance", float(work.tolerance[k])),
        ("rate_p10", _rounded(low)),
        ("rate_p50", _rounded(median)),
        ("rate_p90", _rounded(high)),
        ("readings", int(states.rate.readings[i])),
        ("cycles", int(states.rate.cycles[i])),
        ("group", part.group),
        ("group_rate", _rounded(math.exp(prior.mu))),
        ("group_source", prior.source),
        ("silt_height_in", None if part.silt_height_in is None else _rounded(part.silt_height_in)),
    )


def _rounded(value: str | int | float) -> str | int | float:
    return float(f"{value:.6g}") if isinstance(value, float) else value
