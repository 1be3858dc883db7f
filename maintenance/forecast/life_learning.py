"""Lives of parts that wear, from the company's own failures and from what still lives or was taken out sound.

A part taken out sound counts as living to that age (right-censored). A part that was in the ground before anyone kept
its record can only have failed since: it counts from its age then (left-truncated), or survivors would be flattered.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from maintenance.forecast.records import WearNumbers
from maintenance.forecast.watched_life import fit_watched
from maintenance.forecast.wear import FEW_FAILURES, LifePrior, scale_of_median

LEAST_AGE_YEARS = 1 / 365.2425
"""A part that failed on the day it went in had lived a day."""


@dataclass(frozen=True, slots=True)
class LifeSeen:
    """One part's life as far as it was watched [equivalent years]: from `entered` to `age`, ended by failing or not."""

    kind: str
    age: float
    failed: bool
    entered: float = 0.0


@dataclass(frozen=True, slots=True)
class LifeLearned:
    """One kind's life. `learned` False: too few failures, `shape` and `scale_years` are the assumed ones."""

    kind: str
    failures: int
    survivors: int
    shape: float
    scale_years: float
    learned: bool
    why: str


def learn_lives(seen: Sequence[LifeSeen], assumed: Mapping[str, WearNumbers]) -> tuple[LifeLearned, ...]:
    """One result for every kind with an assumed life, by kind; the assumption is the prior of the fit."""
    found = []
    for kind, numbers in sorted(assumed.items()):
        mine = [life for life in seen if life.kind == kind and life.age > life.entered]
        found.append(_learned(kind, mine, numbers))
    return tuple(found)


def _learned(kind: str, mine: Sequence[LifeSeen], numbers: WearNumbers) -> LifeLearned:
    scale = scale_of_median(numbers.median_life_years, numbers.shape)
    failures = sum(life.failed for life in mine)
    survivors = len(mine) - failures
    if failures < FEW_FAILURES:
        why = f"assumed life kept: {_counted(failures)}, {FEW_FAILURES} are needed"
        return LifeLearned(kind, failures, survivors, numbers.shape, scale, False, why)
    entered = np.array([life.entered for life in mine])
    fit = fit_watched(
        np.maximum([life.age for life in mine], entered + LEAST_AGE_YEARS),
        [life.failed for life in mine],
        entered,
        LifePrior(numbers.shape, scale),
    )
    why = f"from {_counted(failures)} and {survivors} still sound or taken out sound"
    return LifeLearned(kind, failures, survivors, fit.shape, fit.scale, True, why)


def _counted(failures: int) -> str:
    return "1 failure" if failures == 1 else f"{failures} failures"
