"""Keeps the stored due windows up to date with the register, the readings, the rain and the rules."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from django.db.models import F

from core import clock, company, health
from core.act import Act
from core.dispatch import after_commit
from maintenance import rating
from maintenance.models import RefreshRun
from maintenance.read.forecast_inputs import load_common
from maintenance.read.stale import changed_since, rules_stamp, stale
from maintenance.read.windows import AT_ONCE, compute
from maintenance.window_rows import Written, write_computed

__all__ = ["compute", "refresh_all", "refresh_properties", "refresh_property", "refresh_stale"]

MOST_ROUNDS: Final = 10_000
"""More rounds than any register needs: a night's work ends even if something made every property stale again."""


def refresh_properties(*, act: Act, property_ids: Iterable[int]) -> int:
    """Compute these properties' windows now and store what changed; returns how many properties were computed.

    Queries per 500 properties do not depend on their components, but for one statement per 5,000 rows written.
    """
    keys = sorted(set(property_ids))
    zone = company.at(act.at).zone
    as_of = clock.local_date(act.at, zone)
    stamp = rules_stamp()
    common = load_common(as_of=as_of, zone=zone)
    total = Written()
    for start in range(0, len(keys), AT_ONCE):
        # Rated first: the limits found there are what the windows are computed with.
        rating.rate_properties(act=act, property_ids=keys[start : start + AT_ONCE], common=common)
        computed = compute(as_of=as_of, property_ids=keys[start : start + AT_ONCE], common=common)
        total += write_computed(act=act, computed=computed.properties, as_of=as_of, stamp=stamp)
    return total.properties


def refresh_property(*, act: Act, property_id: int) -> int:
    """The same for one property, after something changed there; 0 if there is none of this key."""
    return refresh_properties(act=act, property_ids=[property_id])


def refresh_stale(*, act: Act, limit: int = AT_ONCE) -> int:
    """Compute up to `limit` stale properties, those computed longest ago first; rings itself again if more are left.

    While a refresh of the whole register is open, only properties where something changed: the rest is its work.
    """
    health.beat("refresh", at=act.at)
    keys = _stale_keys(act, limit, only_changed=RefreshRun.objects.filter(open=1).exists())
    done = refresh_properties(act=act, property_ids=keys) if keys else 0
    if len(keys) == limit:
        after_commit("maintenance.tasks.refresh_stale", queue="pulse")
    return done


def refresh_all(*, act: Act) -> int:
    """Compute every stale property, for the night and for the command; returns how many were computed."""
    total = 0
    for _ in range(MOST_ROUNDS):
        keys = _stale_keys(act, AT_ONCE)
        if not keys or not (done := refresh_properties(act=act, property_ids=keys)):
            break
        total += done
    return total


def _stale_keys(act: Act, limit: int, *, only_changed: bool = False) -> list[int]:
    today = clock.local_date(act.at, company.at(act.at).zone)
    rows = changed_since() if only_changed else stale(today, rules_stamp())
    found = rows.order_by(F("forecast__computed_at").asc(nulls_first=True), "id")
    return list(found.values_list("id", flat=True)[:limit])
