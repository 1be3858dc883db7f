"""What the forecast takes and gives: frozen records and flat arrays, no ORM, no clock.

Days are `date` at the edge and floats inside: the proleptic ordinal of the property's local date plus the share of the
day gone (`maintenance.forecast.days`). Depths are inches, fill is 0 clean to 1 full, chances are 0 to 1.
Only what was recorded by the end of `as_of` may be put in; that is the caller's part of as-of honesty.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

Basis = Literal["calendar", "season", "silt", "wear", "storm"]
Firmness = Literal["firm", "fallback"]
Who = Literal["crew", "owner"]
Anchor = Literal["wet_season", "leaf_fall", "freeze", "thaw", "date"]

GRADES: Final = ("clean", "quarter", "half", "three_quarters", "full", "overflowing")
"""Fills judged by eye, cut at 1/8, 3/8, 5/8, 7/8 and 1; a reading's `grade` is the index in this tuple."""

MEASURED: Final = -1
"""`grade` of a reading that was measured, not judged."""


# --- rules ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class CalendarNumbers:
    """Every so many months since the task was last done. `early_days`: how long before its latest day it is useful."""

    every_months: float
    early_days: int | None = None


@dataclass(frozen=True, slots=True)
class SeasonNumbers:
    """Once a year between `opens_days` and `closes_days` of an anchor day (negative: before it).

    `month` and `day` give the anchor "date"; other anchors come from `Climate`. `grace_days`: how long after closing
    a missed window stays due before the next year's takes its place.
    """

    anchor: Anchor
    opens_days: int
    closes_days: int
    month: int = 1
    day: int = 1
    grace_days: int = 60


@dataclass(frozen=True, slots=True)
class SiltNumbers:
    """Practice limit as fill, and the clear depth to the invert kept where there is room for it (None: not asked)."""

    limit_fill: float
    clear_to_invert_in: float | None = None


@dataclass(frozen=True, slots=True)
class WearNumbers:
    """Weibull life in equivalent years.

    purpose "test": interval from the accepted unavailability (None: the company's). "replace": age of least cost, a
    failure costing `cost_ratio` planned replacements.
    """

    purpose: Literal["test", "replace"]
    median_life_years: float
    shape: float
    unavailability: float | None = None
    cost_ratio: float = 5.0


@dataclass(frozen=True, slots=True)
class StormNumbers:
    """A look within so many days after a storm. Hourly rain known: storms under `least_share` of today's rating are
    skipped; daily rain only: storms under `least_daily_rain_mm` are. A visit within `closed_within_days` closes it."""

    within_days: int = 7
    closed_within_days: int = 30
    least_share: float = 0.5
    least_daily_rain_mm: float = 25.4


RuleNumbers = CalendarNumbers | SeasonNumbers | SiltNumbers | WearNumbers | StormNumbers
NUMBERS: Final[Mapping[str, type]] = {
    "calendar": CalendarNumbers,
    "season": SeasonNumbers,
    "silt": SiltNumbers,
    "wear": WearNumbers,
    "storm": StormNumbers,
}


@dataclass(frozen=True, slots=True)
class Rule:
    """When a task is wanted on a kind of component.

    `id` names the rule through all its versions. A rule with `component_id`, else `property_id`, takes the place of
    the company-wide rule of the same `id` there; `enabled` False takes it away. `also_done_by`: tasks that count as
    this one. `needs_pump` limits it to parts with a pump beside them (a sump's silt rule, say).
    """

    id: str
    kind: str
    task: str
    basis: Basis
    firmness: Firmness
    numbers: RuleNumbers
    minutes: int
    who: Who
    words: str
    source: str
    version: int = 1
    enabled: bool = True
    also_done_by: tuple[str, ...] = ()
    needs_pump: bool = False
    property_id: int | None = None
    component_id: int | None = None


# --- components ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Cleaning:
    """A cleaning at `day` and the fill it left (0 where nothing was recorded)."""

    day: float
    fill_left: float = 0.0


@dataclass(frozen=True, slots=True)
class Done:
    """`task` was done, or found fine, on a local date."""

    task: str
    on: date


@dataclass(frozen=True, slots=True)
class WearState:
    """What is known of one part's wear; None takes the rule's assumption.

    `equivalent_age_years` is at `as_of`; `wear_per_year` the equivalent years one calendar year adds from now on.
    `shape` and `scale_years` replace the rule's life once the company's own failures are enough to fit them.
    """

    equivalent_age_years: float | None = None
    wear_per_year: float = 1.0
    shape: float | None = None
    scale_years: float | None = None
    cost_ratio: float | None = None


@dataclass(frozen=True, slots=True)
class ComponentState:
    """One component as known at `as_of`.

    `silt_height_in`: the depth that can hold silt (basins: bottom to the lowest outlet invert; a pumped sump: to the
    pump's intake; pipes: bore; channels: depth), None where unknown. `watched_for_silt`: silt rules apply.
    `capacity_fill`: fill at which this part alone no longer carries its share of the target storm, None where not
    computed. `known_since`: the day the register first held it. `season`: key into the seasons.
    """

    id: int
    property_id: int
    kind: str
    known_since: date
    canopy: str = "some"
    consequence: str = "building"
    season: str = ""
    tag: str = ""
    installed_on: date | None = None
    silt_height_in: float | None = None
    watched_for_silt: bool = False
    pumped: bool = False
    capacity_fill: float | None = None
    cleanings: tuple[Cleaning, ...] = ()
    done: tuple[Done, ...] = ()
    wear: WearState | None = None

    @property
    def group(self) -> str:
        """Similar parts: kind and canopy."""
        return f"{self.kind}/{self.canopy}"


@dataclass(frozen=True, slots=True)
class Readings:
    """Silt readings of many components as equal-length arrays, in any order.

    `grade` is an index into GRADES or MEASURED; `depth_in` and `step_in` (the smallest step of the tape; 0 unknown)
    count only where measured. A reading at the very time of a cleaning was taken before it.
    """

    component_id: Ints
    day: Floats
    depth_in: Floats
    step_in: Floats
    grade: Ints
    by_owner: Bools

    def __len__(self) -> int:
        return len(self.component_id)

    def take(self, rows: Ints | Bools) -> Readings:
        """Some of the readings."""
        return Readings(*(getattr(self, name)[rows] for name in self.__slots__))

    def of(self, component_ids: Iterable[int]) -> Readings:
        """The readings of these components."""
        wanted = np.fromiter(component_ids, dtype=np.int64)
        return self.take(np.isin(self.component_id, wanted))

    @classmethod
    def joined(cls, parts: Sequence[Readings]) -> Readings:
        """Readings of several lots, one after the other."""
        if not parts:
            return cls.from_rows(())
        return cls(*(np.concatenate([getattr(part, name) for part in parts]) for name in cls.__slots__))

    @classmethod
    def from_rows(cls, rows: Iterable[tuple[int, float, float | None, float | None, int, bool]]) -> Readings:
        """Rows of (component_id, day, depth_in, step_in, grade, by_owner), as one query's values_list gives them."""
        table = list(rows)
        columns = list(zip(*table, strict=True)) if table else [()] * 6
        numbers = [np.array([np.nan if v is None else v for v in columns[i]], dtype=float) for i in (1, 2, 3)]
        return cls(
            component_id=np.array(columns[0], dtype=np.int64),
            day=numbers[0],
            depth_in=numbers[1],
            step_in=np.nan_to_num(numbers[2]),
            grade=np.array(columns[4], dtype=np.int64),
            by_owner=np.array(columns[5], dtype=bool),
        )


@dataclass(frozen=True, slots=True)
class Storm:
    """A storm at one property. `share_of_rating`: of today's storm rating, None where hourly rain is not known."""

    property_id: int
    on: date
    rain_mm: float
    share_of_rating: float | None = None


# --- settings ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class GroupPrior:
    """Silting rate of similar parts: log of fill per mean year ~ Normal(`mu`, `tau`); `s` the log error of a reading.

    `load` weighs rain, leaf fall and the constant share (sum 1, constant at least 0.05). `readings` and `components`
    are what it was learned from: 0 for a rule of thumb.
    """

    group: str
    mu: float
    tau: float
    s: float
    load: tuple[float, float, float]
    source: str
    readings: int = 0
    components: int = 0
    cycle_sd: float | None = None


@dataclass(frozen=True, slots=True)
class ForecastSettings:
    """Company settings a forecast depends on. `groups` replaces the rules of thumb for the groups it names.

    `weather_cv`: spread of a year's rain over its mean (`weather`); 0 takes the weather to come as the climate's mean.
    `lead_days`: best lies so long before latest. A group is pooled from `pool_least_parts` parts with
    `pool_least_readings` readings on; a part `odd_times` faster or slower than similar ones is shown to a person.
    """

    tolerance: Mapping[str, float] = field(
        default_factory=lambda: {"building": 0.05, "outdoor_room": 0.20, "lawn": 0.30}
    )
    unavailability: float = 0.05
    cycle_sd: float = 0.2
    weather_cv: float = 0.17
    basin_limit_fill: float = 0.5
    first_look_days: int = 90
    wide_ratio: float = 3.0
    lead_days: int = 14
    pool_least_parts: int = 8
    pool_least_readings: int = 20
    odd_times: float = 10.0
    nodes: int = 64
    groups: tuple[GroupPrior, ...] = ()


# --- results -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing to say, as a code with named values; `maintenance.forecast.reasons.words` puts it in plain English."""

    code: str
    params: tuple[tuple[str, str | int | float], ...] = ()


@dataclass(frozen=True, slots=True)
class DueWindow:
    """When one task on one component is useful, best and no later than.

    `chance_over_at_best`: silt, chance that it is past its limit on `best`; wear test, chance that it has failed
    unseen; None where the rule knows no chance. `look_first`: the spread is wide, so look and clean only if over half
    the threshold. `inputs` are the numbers used, rounded for showing. Dates may lie in the past: then it is overdue.
    """

    component_id: int
    property_id: int
    task: str
    who: Who
    minutes: int
    earliest_useful: date
    best: date
    latest: date
    chance_over_at_best: float | None
    rule_id: str
    rule_version: int
    basis: Basis
    firmness: Firmness
    look_first: bool
    reasons: tuple[Reason, ...]
    inputs: tuple[tuple[str, str | int | float | None], ...]
