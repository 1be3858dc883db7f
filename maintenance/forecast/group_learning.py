"""Every group of similar parts re-estimated from the company's own readings: the work of a night, not of a closeout."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from typing import Final

from maintenance.forecast.likelihood import TRAPPING_LIMIT
from maintenance.forecast.pooling import Pooled, pool
from maintenance.forecast.priors import group_prior
from maintenance.forecast.records import ComponentState, ForecastSettings, Readings
from maintenance.forecast.season import Season
from maintenance.forecast.silt_states import silt_states

STEADIED: Final = 0.3
"""How far tau, s and cycle_sd of a group are believed to lie from where they start, as a log standard deviation
(assumption): seven groups in ten within a factor 1.35."""


def learn_groups(
    components: Sequence[ComponentState],
    readings: Readings,
    seasons: Mapping[str, Season],
    settings: ForecastSettings,
) -> tuple[Pooled, ...]:
    """One result per group among the components watched for silt, by group; thin groups keep their rule of thumb.

    The priors of those with `learned` go into `ForecastSettings.groups`. What was learned before plays no part, so a
    night's result does not depend on the nights before it.
    """
    by_group: dict[str, list[ComponentState]] = {}
    for component in components:
        if component.watched_for_silt:
            by_group.setdefault(component.group, []).append(component)
    untaught = dataclasses.replace(settings, groups=())
    found = []
    for group, parts in sorted(by_group.items()):
        rows = silt_states(parts, readings, seasons, untaught).rows
        cap = TRAPPING_LIMIT if parts[0].kind == "catch_basin" else math.inf
        start = settings.cycle_sd
        found.append(
            pool(
                group_prior(group),
                rows,
                cap=cap,
                cycle_sd=None,
                cycle_sd_start=start,
                steadied=STEADIED,
                least_components=settings.pool_least_parts,
                least_readings=settings.pool_least_readings,
            )
        )
    return tuple(found)
