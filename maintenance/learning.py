"""What the company's yards teach, learned once a night: silting rates by group, lives by kind. Appended, never changed.

A closeout learns nothing for other parts; it is computed with the newest run there is.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final
from uuid import UUID, uuid4

from django.db import transaction

from core import clock, company
from core.act import Act
from jobs.models import Property
from maintenance.forecast import records
from maintenance.forecast.group_learning import learn_groups
from maintenance.forecast.life_learning import LifeLearned, learn_lives
from maintenance.forecast.pooling import Pooled
from maintenance.forecast.priors import group_prior
from maintenance.models import LearnedLife, LearnedRate
from maintenance.read.forecast_inputs import Common, load_common, silting_inputs
from maintenance.read.lives_seen import lives_seen
from maintenance.read.rules import forecast_rules
from maintenance.read.wear_known import assumed_lives
from maintenance.read.windows import AT_ONCE, SPOILT

MOST_PARTS: Final = 400
"""Parts of one group that are pooled, evenly taken from all with readings: more would hardly move what is learned (the
mean of a group with tau 0.6 is then known to 0.03) and would take the night."""


@dataclass(frozen=True, slots=True)
class Learned:
    """What one run learned: groups and kinds, and how many of them speak for themselves."""

    run: UUID
    groups: int
    groups_learned: int
    kinds: int
    kinds_learned: int


@dataclass(slots=True)
class _Group:
    parts: list[records.ComponentState]
    readings: records.Readings
    known: int


def learn(*, act: Act, run: UUID | None = None, still: Callable[[], None] | None = None) -> Learned:
    """Learn from everything recorded by now and append it as one run.

    `run` names the run: the same one again is not learned twice. `still` is called between groups, so that whoever
    holds a lease can keep it (and may raise to give up: nothing is written before all is learned).
    """
    key = run or uuid4()
    zone = company.at(act.at).zone
    as_of = clock.local_date(act.at, zone)
    if not LearnedLife.objects.filter(run=key).exists() and not LearnedRate.objects.filter(run=key).exists():
        common = load_common(as_of=as_of, zone=zone)
        rates = [_rate(act, key, common, *one) for one in _pooled(common, still)]
        lives = [_life(act, key, common, *one) for one in _lives(common)]
        with transaction.atomic():
            LearnedRate.objects.bulk_create(rates)
            LearnedLife.objects.bulk_create(lives)
    made = list(LearnedRate.objects.filter(run=key).values_list("learned", flat=True))
    kinds = list(LearnedLife.objects.filter(run=key).values_list("learned", flat=True))
    return Learned(key, len(made), sum(made), len(kinds), sum(kinds))


def _pooled(common: Common, still: Callable[[], None] | None) -> Iterable[tuple[_Group, Pooled]]:
    settings = dataclasses.replace(common.settings, groups=())
    for group in _groups(common, still):
        if still is not None:
            still()
        (pooled,) = learn_groups(group.parts, group.readings, {"": common.season}, settings)
        yield group, pooled


def _groups(common: Common, still: Callable[[], None] | None) -> list[_Group]:
    """Every group among the parts watched for silt, each with at most 400 of its parts that have readings.

    A property whose records cannot be read teaches nothing and stops nobody; its windows say what is wrong.
    """
    keys = list(Property.objects.filter(closed_at=None).order_by("id").values_list("id", flat=True))
    seen: dict[str, list[records.ComponentState]] = {}
    rows: list[records.Readings] = []
    for start in range(0, len(keys), AT_ONCE):
        if still is not None:
            still()
        for parts, readings in _silting(common, keys[start : start + AT_ONCE]):
            with_readings = set(readings.component_id.tolist())
            for part in parts:
                seen.setdefault(part.group, [])
                if part.id in with_readings:
                    seen[part.group].append(part)
            rows.append(readings)
    readings = records.Readings.joined(rows)
    found = []
    for name, members in sorted(seen.items()):
        chosen = _evenly(members)
        found.append(_Group(chosen or [_nobody(name)], readings.of(part.id for part in chosen), len(members)))
    return found


def _silting(common: Common, keys: list[int]) -> Iterable[tuple[tuple[records.ComponentState, ...], records.Readings]]:
    try:
        yield silting_inputs(common, keys)
    except SPOILT:
        middle = len(keys) // 2
        if middle:
            yield from _silting(common, keys[:middle])
            yield from _silting(common, keys[middle:])


def _evenly(parts: list[records.ComponentState]) -> list[records.ComponentState]:
    step = max(len(parts) / MOST_PARTS, 1.0)
    return [parts[math.floor(k * step)] for k in range(min(len(parts), MOST_PARTS))]


def _nobody(group: str) -> records.ComponentState:
    """A part without readings, so that a group nobody has looked into is told as such."""
    kind, _, canopy = group.partition("/")
    return records.ComponentState(0, 0, kind, date.min, canopy=canopy, watched_for_silt=True)


def _rate(act: Act, run: UUID, common: Common, group: _Group, pooled: Pooled) -> LearnedRate:
    prior = pooled.prior
    return LearnedRate(
        run=run,
        recorded_at=act.at,
        as_of=common.as_of,
        group=prior.group,
        mu=prior.mu,
        tau=prior.tau,
        s=prior.s,
        cycle_sd=prior.cycle_sd,
        load=list(prior.load),
        readings=prior.readings if pooled.learned else len(group.readings),
        parts=prior.components if pooled.learned else min(group.known, MOST_PARTS),
        parts_known=group.known,
        learned=pooled.learned,
        s_learned=pooled.s_learned,
        cycle_sd_learned=pooled.cycle_sd_learned,
        thumb_mu=group_prior(prior.group).mu,
        source=prior.source,
        why=pooled.why[:200],
    )


def _lives(common: Common) -> Iterable[tuple[LifeLearned, records.WearNumbers]]:
    assumed = assumed_lives(forecast_rules(common.rules, ()))
    for life in learn_lives(list(lives_seen(common)), assumed):
        yield life, assumed[life.kind]


def _life(act: Act, run: UUID, common: Common, life: LifeLearned, numbers: records.WearNumbers) -> LearnedLife:
    return LearnedLife(
        run=run,
        recorded_at=act.at,
        as_of=common.as_of,
        kind=life.kind,
        failures=life.failures,
        survivors=life.survivors,
        shape=life.shape,
        scale_years=life.scale_years,
        assumed_shape=numbers.shape,
        assumed_median_years=numbers.median_life_years,
        learned=life.learned,
        why=life.why[:200],
    )
