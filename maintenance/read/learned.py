"""What the company's own yards had taught by an instant: silting rates by group, lives by kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from maintenance.forecast.records import GroupPrior
from maintenance.models import LearnedLife, LearnedRate


@dataclass(frozen=True, slots=True)
class LifeKnown:
    """A fitted life [equivalent years], in force because the company's own failures are enough."""

    shape: float
    scale_years: float


LivesKnown = Mapping[str, LifeKnown]


def newest_rates(at: datetime) -> QuerySet[LearnedRate]:
    """Every group of the newest pooling recorded by `at`, thin ones among them; none where nothing was pooled."""
    runs = LearnedRate.objects.filter(recorded_at__lte=at).order_by("-recorded_at", "-id")
    return LearnedRate.objects.filter(run__in=runs.values("run")[:1]).order_by("group")


def newest_lives(at: datetime) -> QuerySet[LearnedLife]:
    """Every kind of the newest learning of lives recorded by `at`."""
    runs = LearnedLife.objects.filter(recorded_at__lte=at).order_by("-recorded_at", "-id")
    return LearnedLife.objects.filter(run__in=runs.values("run")[:1]).order_by("kind")


def learned_rates(at: datetime) -> tuple[GroupPrior, ...]:
    """Priors of the groups that have been learned, as the forecast takes them; thin groups are left out. One query."""
    return tuple(prior_of(row) for row in newest_rates(at) if row.learned)


def prior_of(row: LearnedRate) -> GroupPrior:
    """A stored group as the forecast takes it."""
    rain, leaves, constant = row.load
    return GroupPrior(
        group=row.group,
        mu=row.mu,
        tau=row.tau,
        s=row.s,
        load=(rain, leaves, constant),
        source=row.source,
        readings=row.readings,
        components=row.parts,
        cycle_sd=row.cycle_sd,
    )


def learned_lives(at: datetime) -> dict[str, LifeKnown]:
    """Fitted lives by kind; kinds with too few failures are left out and keep their rule's assumption. One query."""
    return {row.kind: LifeKnown(row.shape, row.scale_years) for row in newest_lives(at) if row.learned}
