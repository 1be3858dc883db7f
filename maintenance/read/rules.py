"""Rules as they stood at an instant: the newest version of each recorded by then, and what holds at one property."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from jobs.kinds.words import TASKS
from maintenance.decide.rule_library import needs_pump
from maintenance.decide.rule_numbers import forecast_numbers
from maintenance.forecast import records
from maintenance.models import RuleOverride, RuleVersion
from maintenance.read.id_list import ids_in


@dataclass(frozen=True, slots=True)
class RuleInForce:
    """A rule by its newest version. `version` counts its versions from 1; `changed_at` and on say who made this one."""

    rule_id: int
    uid: str
    code: str
    kind: str
    task: str
    origin: str
    version: int
    active: bool
    basis: str
    standing: str
    numbers: dict[str, Any]
    minutes: int
    who: str
    words_office: str
    words_homeowner: str
    source: str
    changed_at: datetime
    changed_by: str
    changed_name: str
    why: str


def in_force(at: datetime) -> tuple[RuleInForce, ...]:
    """Every rule recorded by `at`, the switched-off ones too, in the order of their codes. One query."""
    versions = RuleVersion.objects.filter(recorded_at__lte=at).select_related("rule")
    newest: dict[int, tuple[RuleVersion, int]] = {}
    for version in versions.order_by("rule__code", "recorded_at", "id"):
        newest[version.rule_id] = (version, newest.get(version.rule_id, (version, 0))[1] + 1)
    return tuple(_told(version, count) for version, count in newest.values())


def _told(version: RuleVersion, count: int) -> RuleInForce:
    return RuleInForce(
        rule_id=version.rule_id,
        uid=str(version.rule.uid),
        code=version.rule.code,
        kind=version.rule.kind,
        task=version.rule.task,
        origin=version.rule.origin,
        version=count,
        active=version.active,
        basis=version.basis,
        standing=version.standing,
        numbers=version.numbers,
        minutes=version.minutes,
        who=version.who,
        words_office=version.words_office,
        words_homeowner=version.words_homeowner,
        source=version.source,
        changed_at=version.recorded_at,
        changed_by=version.recorded_by,
        changed_name=version.recorded_name,
        why=version.why,
    )


def overrides_in_force(at: datetime, property_ids: Iterable[int]) -> tuple[RuleOverride, ...]:
    """The newest override of each rule and place recorded by `at`, those taken back left out. One query."""
    rows = (
        RuleOverride.objects.filter(recorded_at__lte=at, property_id__in=ids_in(property_ids))
        .select_related("rule", "component")
        .order_by("recorded_at", "id")
    )
    newest = {(row.rule_id, row.property_id, row.component_id): row for row in rows}
    kept = [row for row in newest.values() if not row.ended]
    return tuple(sorted(kept, key=lambda row: (row.rule.code, row.property_id, row.component_id or 0)))


def forecast_rules(rules: Iterable[RuleInForce], overrides: Iterable[RuleOverride]) -> tuple[records.Rule, ...]:
    """The rules as the forecast takes them: first those of the whole company, then what holds in one place."""
    by_id = {rule.rule_id: rule for rule in rules}
    company_wide = [_forecast_rule(rule, rule.numbers, rule.active, None, None) for rule in by_id.values()]
    places = []
    for row in overrides:
        rule = by_id.get(row.rule_id)
        if rule is not None:
            numbers = {**rule.numbers, **row.numbers}
            places.append(_forecast_rule(rule, numbers, rule.active and not row.off, row.property_id, row.component_id))
    return (*company_wide, *places)


def _forecast_rule(
    rule: RuleInForce, numbers: dict[str, Any], enabled: bool, property_id: int | None, component_id: int | None
) -> records.Rule:
    return records.Rule(
        id=rule.code,
        kind=rule.kind,
        task=rule.task,
        basis=rule.basis,  # type: ignore[arg-type]  # the model's choices are the same codes
        firmness=rule.standing,  # type: ignore[arg-type]
        numbers=forecast_numbers(rule.basis, numbers),
        minutes=rule.minutes,
        who=rule.who,  # type: ignore[arg-type]
        words=rule.words_office,
        source=rule.source,
        version=rule.version,
        enabled=enabled,
        also_done_by=TASKS[rule.task].also_done_by,
        needs_pump=needs_pump(rule.kind, rule.basis),
        property_id=property_id,
        component_id=component_id,
    )


def versions_of(rule_id: int) -> list[RuleVersion]:
    """Every version of a rule, newest first, with author, date and why."""
    return list(RuleVersion.objects.filter(rule_id=rule_id).order_by("-recorded_at", "-id"))
