"""Small makers of forecast inputs for tests: plain defaults, one line a part."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np

from maintenance.forecast.days import day_number
from maintenance.forecast.likelihood import RateGroups, RateReadings, fill_intervals
from maintenance.forecast.records import (
    MEASURED,
    CalendarNumbers,
    Cleaning,
    ComponentState,
    DueWindow,
    ForecastSettings,
    Readings,
    Rule,
    RuleNumbers,
    SeasonNumbers,
    SiltNumbers,
    Storm,
    StormNumbers,
    WearNumbers,
)
from maintenance.forecast.season import Season, climate_of
from maintenance.forecast.windows import due_windows

AS_OF = date(2026, 3, 1)
CLIMATE = climate_of([80.0] * 12, wet_season_month=11, freeze_month=12, thaw_month=3)
SEASONS = {"": Season(CLIMATE)}

_BASIS = {
    CalendarNumbers: "calendar",
    SeasonNumbers: "season",
    SiltNumbers: "silt",
    WearNumbers: "wear",
    StormNumbers: "storm",
}


def rule(id: str, numbers: RuleNumbers, *, kind: str = "catch_basin", task: str = "clean", **more: Any) -> Rule:
    """A firm crew rule with words that nobody reads."""
    basis: Any = _BASIS[type(numbers)]
    given: dict[str, Any] = {"firmness": "firm", "minutes": 20, "who": "crew", "words": id, "source": "test", **more}
    return Rule(id=id, kind=kind, task=task, basis=basis, numbers=numbers, **given)


def basin(id: int = 1, **more: Any) -> ComponentState:
    """A catch basin 12 in to its outlet, in service for two years, water going to a finished outdoor room."""
    given: dict[str, Any] = {
        "property_id": 1,
        "kind": "catch_basin",
        "known_since": date(2024, 1, 1),
        "installed_on": date(2024, 1, 1),
        "consequence": "outdoor_room",
        "silt_height_in": 12.0,
        "watched_for_silt": True,
        **more,
    }
    return ComponentState(id=id, **given)


def cleaned(*days: date, left: float = 0.0) -> tuple[Cleaning, ...]:
    """Cleanings late on these days."""
    return tuple(Cleaning(day_number(day) + 0.9, left) for day in days)


def measured(component: int, on: date, depth_in: float, *, owner: bool = False) -> tuple[Any, ...]:
    return (component, day_number(on) + 0.4, depth_in, 0.125, MEASURED, owner)


def graded(component: int, on: date, grade: int, *, owner: bool = False) -> tuple[Any, ...]:
    return (component, day_number(on) + 0.4, None, None, grade, owner)


def windows(
    rules: list[Rule],
    parts: list[ComponentState],
    rows: list[Any] | None = None,
    *,
    as_of: date = AS_OF,
    storms: tuple[Storm, ...] = (),
    settings: ForecastSettings | None = None,
    seasons: dict[str, Season] | None = None,
) -> list[DueWindow]:
    return due_windows(
        as_of,
        rules,
        parts,
        Readings.from_rows(rows or []),
        seasons or SEASONS,
        settings or ForecastSettings(cycle_sd=0.0),
        storms=storms,
    )


def made_readings(
    n: int,
    seed: int,
    *,
    graded_share: float = 0.5,
    cap: float = np.inf,
    cycle_sd: float = 0.0,
    from_clean: bool = False,
    mu: float = float(np.log(0.5)),
    tau: float = 0.6,
    s: float = 0.25,
) -> tuple[RateGroups, RateReadings]:
    """Groups and readings of n parts over three cycles, drawn from the model itself."""
    rng = np.random.default_rng(seed)
    rows: list[tuple[Any, ...]] = []
    for part in range(n):
        rate = mu + tau * rng.normal()
        for cycle in range(3):
            r = np.exp(rate + cycle_sd * rng.normal())
            left = 0.0 if from_clean else float(rng.choice([0.0, 0.08]))
            time = 0.0
            for _ in range(rng.integers(0, 4)):
                time += rng.uniform(0.1, 0.6)
                fill = min(left + r * time, cap) * np.exp(s * rng.normal())
                if rng.random() < graded_share:
                    grade = int(np.searchsorted([1 / 8, 3 / 8, 5 / 8, 7 / 8, 1], fill))
                    rows.append((part, cycle, time, left, np.nan, grade, rng.random() < 0.3))
                else:
                    rows.append((part, cycle, time, left, max(fill * 12, 0.3), MEASURED, False))
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    size = len(rows)
    low, high, rounding = fill_intervals(
        columns[4].astype(float), np.full(size, 12.0), np.full(size, 0.125), columns[5].astype(int), columns[6]
    )
    groups = RateGroups(np.full(n, mu), np.full(n, tau), np.full(n, s), np.full(n, cap))
    return groups, RateReadings(
        columns[0].astype(int), columns[1].astype(int), columns[2], columns[3], low, high, rounding
    )
