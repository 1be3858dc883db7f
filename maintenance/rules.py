"""Changes the rules. Nothing is overwritten: every change is a new version or a new override, with author and date."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from django.db import transaction

from core.act import Act
from core.dispatch import after_commit
from core.history import record_change
from core.problem import BadInput, Conflict, FieldProblem, StaleVersion
from jobs.edits import raise_revision
from jobs.models import Component, Property
from maintenance.decide.rule_library import LibraryRule, RuleLibraryError, clean_rule, load_library
from maintenance.decide.rule_numbers import RuleNumbersError, clean_numbers
from maintenance.models import Rule, RuleOverride, RuleVersion

LIBRARY: Final = "library"
"""`recorded_by` of a version that came from the library and not from a person."""

_LIBRARY_UID: Final = "00000000-0000-4000-8000-00000000b00c"

FIELDS: Final = (
    "active",
    "basis",
    "standing",
    "numbers",
    "minutes",
    "who",
    "words_office",
    "words_homeowner",
    "source",
)
"""What a version says; `code`, `kind` and `task` belong to the rule and never change."""


@dataclass(frozen=True, slots=True)
class LibraryInstalled:
    """What installing the library did. `kept`: rules the company has changed, left as they are."""

    added: int
    renewed: int
    kept: int


def install_library(*, act: Act, library: Iterable[LibraryRule] | None = None) -> LibraryInstalled:
    """Add the library's rules; a text the library changed becomes a new version unless the company changed the rule.

    Repeatable: a second run writes nothing. Raises Conflict where a code now names another kind or task.
    """
    wanted = tuple(load_library() if library is None else library)
    with transaction.atomic():
        present = {rule.code: rule for rule in Rule.objects.all()}
        newest = _newest_versions()
        fresh = [
            Rule(code=item.code, kind=item.kind, task=item.task, origin="library")
            for item in wanted
            if item.code not in present
        ]
        for rule in Rule.objects.bulk_create(fresh, batch_size=100):
            present[rule.code] = rule
        versions, kept = [], 0
        for item in wanted:
            rule = present[item.code]
            if (rule.kind, rule.task) != (item.kind, item.task):
                raise Conflict(f"Rule {item.code} is for {rule.kind} {rule.task}: give the library's rule a new code.")
            before = newest.get(rule.pk)
            if before is not None and before.recorded_by != LIBRARY:
                kept += 1
            elif before is None or _said(before) != _given(item):
                versions.append(_version(rule, act, _given(item), by=LIBRARY, why="library"))
        RuleVersion.objects.bulk_create(versions, batch_size=50)
        result = LibraryInstalled(len(fresh), len(versions) - len(fresh), kept)
        if versions:
            _note(
                act,
                _LIBRARY_UID,
                "library",
                after={"added": result.added, "renewed": result.renewed},
            )
    return result


def add_rule(*, act: Act, why: str = "", **fields: Any) -> RuleVersion:
    """A rule of the company's own: the fields of `LibraryRule`, `code` made from kind and task where not given.

    Raises BadInput naming each bad field; Conflict where the code is taken.
    """
    fields = {**fields, "code": fields.get("code") or _free_code(fields)}
    item = _checked(fields)
    with transaction.atomic():
        if Rule.objects.filter(code=item.code).exists():
            raise Conflict(f"There is already a rule {item.code}: give another code.")
        rule = Rule.objects.create(code=item.code, kind=item.kind, task=item.task, origin="company")
        version = _version(rule, act, _given(item), by=act.who, why=why)
        version.save()
        _note(
            act,
            rule.uid,
            "create",
            after={"code": rule.code, "kind": rule.kind, "task": rule.task, **_given(item)},
            why=why,
        )
    return version


def change_rule(*, act: Act, rule: Rule, why: str = "", version_id: int | None = None, **fields: Any) -> RuleVersion:
    """A new version with `fields` changed; nothing is written where nothing differs.

    `version_id`: the version the person edited; StaleVersion if a newer one is there. Raises BadInput.
    """
    unknown = sorted(set(fields) - set(FIELDS))
    if unknown:
        problems = tuple(FieldProblem(name, "Cannot be changed: add another rule instead.") for name in unknown)
        raise BadInput(f"A rule keeps its {', '.join(unknown)}.", fields=problems)
    with transaction.atomic():
        Rule.objects.select_for_update().get(pk=rule.pk)
        before = rule.versions.order_by("-recorded_at", "-id").first()
        if before is None:
            raise Conflict(f"Rule {rule.code} has no version to change.")
        if version_id is not None and before.pk != version_id:
            raise StaleVersion(
                f"Rule {rule.code} was changed by {before.recorded_name or before.recorded_by} meanwhile."
            )
        said = _said(before)
        if fields.get("basis", said["basis"]) != said["basis"] and "numbers" not in fields:
            raise BadInput(
                "Another basis needs its own numbers.",
                fields=(FieldProblem("numbers", "Give the numbers of the new basis."),),
            )
        item = _checked({"code": rule.code, "kind": rule.kind, "task": rule.task, **said, **fields})
        if _given(item) == said:
            return before
        version = _version(rule, act, _given(item), by=act.who, why=why)
        version.save()
        _note(act, rule.uid, "change", before=said, after=_given(item), why=why)
    return version


def switch_off(*, act: Act, rule: Rule, why: str = "") -> RuleVersion:
    """The rule asks for nothing any more, anywhere; its versions stay."""
    return change_rule(act=act, rule=rule, why=why, active=False)


def switch_on(*, act: Act, rule: Rule, why: str = "") -> RuleVersion:
    """The rule holds again as it was."""
    return change_rule(act=act, rule=rule, why=why, active=True)


def override_rule(
    *,
    act: Act,
    rule: Rule,
    property: Property,
    component: Component | None = None,
    off: bool = False,
    numbers: Mapping[str, Any] | None = None,
    why: str = "",
) -> RuleOverride:
    """Other numbers for one property or component, or the rule off there. The newest override of a place holds.

    `numbers` are laid over the rule's own. Raises BadInput naming each bad number.
    """
    newest = rule.versions.order_by("-recorded_at", "-id").first()
    if newest is None:
        raise Conflict(f"Rule {rule.code} has no version to override.")
    if component is not None and component.property_id != property.pk:
        raise BadInput(
            "The component is at another property.", fields=(FieldProblem("component", "Give one of this property."),)
        )
    if component is not None and component.kind != rule.kind:
        problem = FieldProblem("component", f"The rule is for the kind {rule.kind}.", component.kind)
        raise BadInput(f"Rule {rule.code} is not for a {component.kind}.", fields=(problem,))
    if not off and not numbers:
        raise BadInput(
            "Nothing differs from the rule.", fields=(FieldProblem("numbers", "Give a number, or switch it off here."),)
        )
    try:
        merged = clean_numbers(newest.basis, {**newest.numbers, **(numbers or {})})
    except RuleNumbersError as error:
        problems = tuple(FieldProblem(name, message) for name, message in error.problems)
        raise BadInput("Some numbers were not taken.", fields=problems) from error
    own = {name: merged[name] for name in (numbers or {}) if name in merged}
    return _override(act, rule, property, component, off=off, numbers=own, why=why)


def end_override(*, act: Act, override: RuleOverride, why: str = "") -> RuleOverride:
    """Take an override back: from now on the rule's own numbers hold in its place again."""
    return _override(
        act, override.rule, override.property, override.component, off=False, numbers={}, why=why, ended=True
    )


def _override(
    act: Act,
    rule: Rule,
    property: Property,
    component: Component | None,
    *,
    off: bool,
    numbers: dict[str, Any],
    why: str,
    ended: bool = False,
) -> RuleOverride:
    with transaction.atomic():
        row = RuleOverride.objects.create(
            rule=rule,
            property=property,
            component=component,
            recorded_at=act.at,
            recorded_by=act.who,
            recorded_name=act.name[:80],
            off=off,
            ended=ended,
            numbers=numbers,
            why=why[:300],
        )
        raise_revision(property.pk)
        record_change(
            act=act,
            noun="rule override",
            uid=row.uid,
            action="end" if ended else "create",
            after={"rule": rule.code, "component": component and str(component.uid), "off": off, "numbers": numbers},
            property_uid=property.uid,
            note=why,
        )
        after_commit("maintenance.tasks.refresh_property", property.pk)
    return row


def _newest_versions() -> dict[int, RuleVersion]:
    return {version.rule_id: version for version in RuleVersion.objects.order_by("recorded_at", "id")}


def _said(version: RuleVersion) -> dict[str, Any]:
    return {name: getattr(version, name) for name in FIELDS}


def _given(item: LibraryRule) -> dict[str, Any]:
    return {name: getattr(item, name) for name in FIELDS}


def _version(rule: Rule, act: Act, said: Mapping[str, Any], *, by: str, why: str) -> RuleVersion:
    name = "" if by == LIBRARY else act.name[:80]
    return RuleVersion(rule=rule, recorded_at=act.at, recorded_by=by, recorded_name=name, why=why[:300], **said)


def _checked(fields: Mapping[str, Any]) -> LibraryRule:
    try:
        return clean_rule(fields)
    except RuleLibraryError as error:
        problems = tuple(FieldProblem(*map(str.strip, problem.split(":", 1))) for problem in error.problems)
        raise BadInput("Some values of the rule were not taken.", fields=problems) from error


def _free_code(fields: Mapping[str, Any]) -> str:
    stem = f"own_{fields.get('kind', '')}_{fields.get('task', '')}"[:52]
    taken = set(Rule.objects.filter(code__startswith=stem).values_list("code", flat=True))
    return next(code for n in range(1, len(taken) + 2) if (code := f"{stem}_{n}") not in taken)


def _note(
    act: Act, uid: Any, action: str, *, after: dict[str, Any], before: dict[str, Any] | None = None, why: str = ""
) -> None:
    record_change(act=act, noun="rule", uid=uid, action=action, before=before, after=after, note=why)
    after_commit("maintenance.tasks.refresh_stale", queue="pulse")
