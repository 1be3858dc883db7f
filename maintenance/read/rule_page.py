"""Rules as the office reads them: in the order water meets the parts, numbers in words, one rule with its versions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import F, OuterRef, QuerySet, Subquery

from core.act import Act
from jobs.kinds import registry, words
from maintenance.decide.rule_numbers import MODELS
from maintenance.models import Rule, RuleOverride, RuleVersion
from maintenance.read.rules import RuleInForce, in_force

ANCHORS = {
    "wet_season": "the wet season",
    "leaf_fall": "leaf fall",
    "freeze": "the first frost",
    "thaw": "the thaw",
    "date": "a date",
}


@dataclass(frozen=True, slots=True)
class RuleSeen:
    """A rule in words."""

    rule: RuleInForce
    task: str
    numbers: str


@dataclass(frozen=True, slots=True)
class KindRules:
    """The rules of one kind of part."""

    kind: str
    name: str
    rules: tuple[RuleSeen, ...]


def by_kind(act: Act, *, kind: str = "", active: bool | None = None) -> tuple[KindRules, ...]:
    """Every rule by kind. One query."""
    rows = [rule for rule in in_force(act.at) if active is None or rule.active == active]
    found = []
    for one in registry.ALL:
        own = tuple(seen(rule) for rule in rows if rule.kind == one.code)
        if own and kind in ("", one.code):
            found.append(KindRules(one.code, one.name, own))
    return tuple(found)


def one(act: Act, uid: str) -> RuleSeen | None:
    """One rule by its uid."""
    return next((seen(rule) for rule in in_force(act.at) if rule.uid == uid), None)


def seen(rule: RuleInForce) -> RuleSeen:
    """A rule with its task and numbers in words."""
    task = words.TASKS.get(rule.task)
    return RuleSeen(rule, task.words if task else rule.task, number_words(rule.basis, rule.numbers))


def number_words(basis: str, numbers: Mapping[str, Any]) -> str:
    """'clean at 0.5 fill; clear below the outlet 6 in' for the numbers of a rule."""
    fields = MODELS[basis].model_fields
    parts = []
    for name, field in fields.items():
        if name not in numbers:
            continue
        extra = field.json_schema_extra
        unit = str(extra.get("x-unit", "")) if isinstance(extra, dict) else ""
        value = numbers[name]
        shown = ANCHORS.get(value, value) if isinstance(value, str) else f"{value:g}"
        parts.append(f"{(field.title or name).lower()} {shown} {unit}".strip())
    return "; ".join(parts)


def versions(rule_id: int) -> list[tuple[RuleVersion, str]]:
    """Every version, newest first, with its numbers in words."""
    rows = RuleVersion.objects.filter(rule_id=rule_id).order_by("-recorded_at", "-id")
    return [(row, number_words(row.basis, row.numbers)) for row in rows]


def overrides(rule: Rule) -> QuerySet[RuleOverride]:
    """What holds in single places of this rule: the newest of each place, those taken back left out."""
    same = RuleOverride.objects.filter(rule=OuterRef("rule"), property=OuterRef("property"))
    here = same.filter(component=OuterRef("component")).order_by("-recorded_at", "-id")
    whole = same.filter(component=None).order_by("-recorded_at", "-id")
    rows = RuleOverride.objects.filter(rule=rule, ended=False).annotate(
        newest_here=Subquery(here.values("pk")[:1]), newest_whole=Subquery(whole.values("pk")[:1])
    )
    newest = rows.filter(component=None, pk=F("newest_whole")) | rows.filter(
        component__isnull=False, pk=F("newest_here")
    )
    return newest.select_related("property", "component").order_by("property__address", "id")
