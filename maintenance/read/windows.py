"""Computes due windows as of a day and changes nothing; `maintenance.refresh` stores them."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from typing import Any, Final

from core import company
from jobs.models import Property
from maintenance.forecast import records
from maintenance.forecast.oddities import odd_readings
from maintenance.forecast.reasons import explain
from maintenance.forecast.silt_states import SiltStates
from maintenance.forecast.windows import forecast
from maintenance.read.forecast_inputs import Common, ForecastInputs, load, load_common
from maintenance.read.id_list import ids_in

log = logging.getLogger(__name__)

AT_ONCE: Final = 500
"""Properties computed together: about 5,000 components."""

SPOILT: Final = (ArithmeticError, LookupError, TypeError, ValueError)
"""What a record that should not be there raises; anything else is a fault of the server and is not swallowed."""


@dataclass(frozen=True, slots=True)
class OddFound:
    """What looks odd: a stored reading, or the part itself where `reading_id` is None."""

    component_id: int
    reading_id: int | None
    code: str
    params: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class ComputedProperty:
    """One property's windows as rows of `DueWindow` (its columns, without id), or why they could not be computed."""

    property_id: int
    revision: int
    windows: tuple[Mapping[str, Any], ...] = ()
    failed: str = ""
    odd: tuple[OddFound, ...] = ()


@dataclass(frozen=True, slots=True)
class Computed:
    """What was computed, as of when. `properties` in the order of their keys."""

    as_of: date
    properties: tuple[ComputedProperty, ...] = field(default=())


def compute(
    *,
    as_of: date,
    property_ids: Iterable[int] | None = None,
    capacity_fill: Mapping[int, float] | None = None,
    common: Common | None = None,
) -> Computed:
    """Due windows of these properties (all open ones if None) from what was known at the end of `as_of`.

    Queries per 500 properties do not depend on the number of components. A property whose records cannot be computed
    with is told apart and does not stop the others.
    """
    revisions = _revisions(property_ids)
    shared = common or load_common(as_of=as_of, zone=zone_then(as_of))
    keys = sorted(revisions)
    found: list[ComputedProperty] = []
    for start in range(0, len(keys), AT_ONCE):
        found.extend(_computed(shared, keys[start : start + AT_ONCE], revisions, capacity_fill))
    return Computed(as_of, tuple(sorted(found, key=lambda item: item.property_id)))


def _revisions(property_ids: Iterable[int] | None) -> dict[int, int]:
    """Read before anything else: a change while computing leaves the property stale, never wrongly fresh."""
    wanted = (
        Property.objects.filter(closed_at=None)
        if property_ids is None
        else Property.objects.filter(id__in=ids_in(property_ids))
    )
    return dict(wanted.values_list("id", "revision"))


def zone_then(as_of: date) -> str:
    """The company's zone on that day; 10:00 UTC lies before the end of the day in every zone there is."""
    return company.at(datetime.combine(as_of, time(10), tzinfo=UTC)).zone


def _computed(
    common: Common,
    keys: Sequence[int],
    revisions: Mapping[int, int],
    capacity_fill: Mapping[int, float] | None,
) -> Iterator[ComputedProperty]:
    """All at once; if that fails, by halves, until the property that cannot be computed stands alone."""
    try:
        inputs = load(common, keys, capacity_fill=capacity_fill)
        by_property, odd = _by_property(inputs)
    except SPOILT as error:
        if len(keys) == 1:
            log.exception("the windows of property %s could not be computed", keys[0])
            yield ComputedProperty(keys[0], revisions[keys[0]], failed=f"{type(error).__name__}: {error}"[:300])
            return
        middle = len(keys) // 2
        yield from _computed(common, keys[:middle], revisions, capacity_fill)
        yield from _computed(common, keys[middle:], revisions, capacity_fill)
        return
    for key in keys:
        yield ComputedProperty(key, revisions[key], tuple(by_property.get(key, ())), odd=tuple(odd.get(key, ())))


def _by_property(inputs: ForecastInputs) -> tuple[dict[int, list[dict[str, Any]]], dict[int, list[OddFound]]]:
    made = forecast(
        inputs.common.as_of,
        inputs.rules,
        inputs.components,
        inputs.readings,
        {"": inputs.common.season},
        inputs.common.settings,
        storms=inputs.storms,
    )
    found: dict[int, list[dict[str, Any]]] = {}
    for window in made.windows:
        found.setdefault(window.property_id, []).append(_row(window, window.component_id in inputs.height_assumed))
    for rows in found.values():
        rows.sort(key=lambda row: (row["best_on"], row["latest_on"], row["component_id"], row["task"], row["who"]))
    return found, _odd(inputs, made.states)


def _odd(inputs: ForecastInputs, states: SiltStates) -> dict[int, list[OddFound]]:
    home = {part.id: part.property_id for part in states.components}
    found: dict[int, list[OddFound]] = {}
    for one in odd_readings(states, inputs.common.settings.odd_times):
        reading = None if one.row < 0 else inputs.reading_ids[int(states.given[one.row])]
        row = OddFound(one.component_id, reading, one.reason.code, dict(one.reason.params))
        found.setdefault(home[one.component_id], []).append(row)
    return found


def _row(window: records.DueWindow, height_assumed: bool) -> dict[str, Any]:
    inputs = dict(window.inputs)
    if height_assumed and window.basis == "silt":
        inputs["silt_height"] = "usual for this kind, not measured"
    return {
        "component_id": window.component_id,
        "property_id": window.property_id,
        "task": window.task,
        "who": window.who,
        "rule_code": window.rule_id,
        "basis": window.basis,
        "earliest_on": window.earliest_useful,
        "best_on": window.best,
        "latest_on": window.latest,
        "chance_at_best": window.chance_over_at_best,
        "threshold": inputs.get("threshold"),
        "left_fill": inputs.get("fill_left"),
        "rate_p10": inputs.get("rate_p10"),
        "rate_p50": inputs.get("rate_p50"),
        "rate_p90": inputs.get("rate_p90"),
        "minutes": window.minutes,
        "reason": {
            "rule": window.rule_id,
            "rule_version": window.rule_version,
            "firmness": window.firmness,
            "look_first": window.look_first,
            "said": [[reason.code, dict(reason.params)] for reason in window.reasons],
        },
        "words": explain(window.reasons),
        "inputs": inputs,
    }
