"""Adds and changes components. Every change appends a ComponentVersion, so that an earlier day computes the same."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from core import limits, normalise
from core.act import Act
from core.problem import BadInput, Conflict, FieldProblem
from jobs import field_checks as checks
from jobs.component_versions import record_version, record_versions
from jobs.drainage_areas import refuse_retired
from jobs.edits import change_if_unchanged, create_once, raise_revision
from jobs.kinds import registry
from jobs.kinds.base import Kind
from jobs.kinds.dimensions import DimensionError, Known, clean_dimensions
from jobs.kinds.words import CERTAINTIES
from jobs.models import Component, Property, System

__all__ = ["add_component", "change_component", "known_dimensions", "record_version", "record_versions"]

AHEAD = timedelta(days=366)
COMPONENT: dict[str, checks.Check] = {
    "tag": checks.line(limits.TAG),
    "name": checks.line(limits.NAME),
    "system": checks.record_of(System),
    "sits_in": checks.record_of(Component),
    "part_of": checks.record_of(Component),
    "place": checks.points,
    "place_certainty": checks.one_of(CERTAINTIES, empty=True),
    "cover_in": checks.number(0, 240, "in"),
    "canopy": checks.one_of(Property.Canopy.values, empty=True),
    "slope_reason": checks.line(200),
    "note": checks.note(),
}


def add_component(
    *,
    act: Act,
    property: Property,
    kind: str,
    tag: str = "",
    dimensions: Mapping[str, Any] | None = None,
    certainty: Mapping[str, str] | None = None,
    system: System | None = None,
    sits_in: Component | None = None,
    part_of: Component | None = None,
    name: str = "",
    place: list[list[float]] | None = None,
    cover_in: float | None = None,
    installed_on: date | None = None,
    canopy: str = "",
    note: str = "",
    place_certainty: str = "",
    slope_reason: str = "",
    uid: UUID | None = None,
) -> Component:
    """Record a part in the ground; kind and tag are enough, everything else may be unknown.

    Dimensions are those of the kind (jobs/kinds), in its units; certainty says measured or assumed per key. Raises
    BadInput with every bad value, Conflict where the tag is taken or the uid belongs to something else.
    """
    declared = kind_of(kind)
    given = {
        "tag": tag,
        "name": name,
        "system": system,
        "sits_in": sits_in,
        "part_of": part_of,
        "place": place,
        "place_certainty": place_certainty,
        "cover_in": cover_in,
        "canopy": canopy,
        "slope_reason": slope_reason,
        "note": note,
        "installed_on": installed_on,
    }
    values = checks.cleaned("component", table_at(act), given)
    refuse_misplaced(declared, property, values)
    known = known_dimensions(declared, dimensions or {}, certainty or {})
    values = {"kind": kind, **values, "dimensions": known.values, "certainty": known.certainty}
    with transaction.atomic():
        made, new = create_component(act=act, property=property, values=values, uid=uid)
        if new:
            raise_revision(property.pk)
    return made


def create_component(
    *, act: Act, property: Property, values: dict[str, Any], uid: UUID | None, note: str = ""
) -> tuple[Component, bool]:
    """Create the row and its first version from checked values. Call inside a transaction."""
    derived = {
        "tag_key": normalise.tag_key(values["tag"]),
        "kind_version": registry.get(values["kind"]).version,
        "created_at": act.at,
    }
    try:
        with transaction.atomic():
            made, new = create_once(
                Component,
                act=act,
                noun="component",
                uid=uid,
                values={"property": property, **values},
                derived=derived,
                at_property=property,
                note=note,
            )
    except IntegrityError:
        raise tag_taken(property, values["tag"]) from None
    if new:
        record_version(made, act.at)
    return made, new


def change_component(*, act: Act, component: Component, revision: int, **fields: Any) -> Component:
    """Change the given fields if the component still has `revision`. Raises BadInput, Conflict, StaleVersion.

    `dimensions` replaces all of them: what is left out is unknown from now on. Without `certainty` each unchanged value
    keeps its own. A part that was taken out takes a corrected note, name, day or dimension, but no tag or place.
    """
    declared = registry.get(component.kind)
    sizes: dict[str, Any] = {name: fields.pop(name) for name in ("dimensions", "certainty") if name in fields}
    values = checks.cleaned("component", table_at(act), fields)
    if component.retired_on is not None and values.keys() & {"tag", "system", "sits_in", "part_of"}:
        refuse_retired(component, component.retired_on)
    refuse_misplaced(declared, component.property, values, component)
    if sizes:
        known = _changed_dimensions(declared, component, sizes)
        values |= {"dimensions": known.values, "certainty": known.certainty}
    derived: dict[str, Any] = {"kind_version": declared.version} if sizes else {}
    if "tag" in values:
        derived["tag_key"] = normalise.tag_key(values["tag"])
    try:
        with transaction.atomic():
            present, changed = change_if_unchanged(
                component,
                act=act,
                noun="component",
                revision=revision,
                values=values,
                derived=derived,
                property_uid=component.property.uid,
            )
            if changed:
                record_version(present, act.at)
                raise_revision(component.property_id)
    except IntegrityError:
        raise tag_taken(component.property, str(values.get("tag", ""))) from None
    return present


def _changed_dimensions(kind: Kind, component: Component, sizes: Mapping[str, Any]) -> Known:
    values = sizes.get("dimensions", component.dimensions) or {}
    certainty = sizes.get("certainty")
    if certainty is None:
        unchanged = {name for name, value in values.items() if component.dimensions.get(name) == value}
        certainty = {name: sure for name, sure in component.certainty.items() if name in unchanged}
    return known_dimensions(kind, values, certainty)


def table_at(act: Act) -> dict[str, checks.Check]:
    """The checks of a component's fields on the day of the act: an install lies at most a year ahead."""
    return {**COMPONENT, "installed_on": checks.day(latest=act.at.date() + AHEAD)}


def kind_of(code: str) -> Kind:
    """The declaration of a kind. Raises BadInput naming the kinds there are."""
    try:
        return registry.get(code)
    except registry.UnknownKind as error:
        raise BadInput(str(error), fields=(FieldProblem("kind", str(error), checks.shown(code)),)) from None


def known_dimensions(kind: Kind, values: Mapping[str, Any], certainty: Mapping[str, str]) -> Known:
    """Checked dimensions. Raises BadInput with every problem; fields are named as in the kind."""
    try:
        return clean_dimensions(kind, values, certainty)
    except DimensionError as error:
        fields = tuple(
            FieldProblem(f"dimensions.{problem.field}", problem.message, checks.shown(problem.value))
            for problem in error.problems
        )
        raise BadInput(str(error), fields=fields) from None


def refuse_misplaced(
    kind: Kind, property: Property, values: Mapping[str, Any], component: Component | None = None
) -> None:
    """Raise BadInput where tag, system, sits_in or part_of cannot belong to a component of this kind there."""
    problems = []
    if kind.is_part and values.get("tag"):
        words = f"tag is {values['tag']!r}: {kind.a_name} is a sub-part and has none; say what it is part of."
        problems.append(FieldProblem("tag", words, values["tag"]))
    if len(normalise.tag_key(values.get("tag"))) > limits.TAG:
        words = f"tag is {values['tag']!r}: give at most {limits.TAG} characters, ligatures counted singly."
        problems.append(FieldProblem("tag", words, values["tag"]))
    system = values.get("system")
    if system is not None and system.property_id != property.pk:
        problems.append(FieldProblem("system", f"system {system} is not at {property}.", str(system)))
    for name, allowed in (("sits_in", kind.sits_in), ("part_of", kind.part_of)):
        words = _holder_problem(name, kind, allowed, property, values.get(name), component)
        if words:
            problems.append(FieldProblem(name, words, str(values.get(name))))
    checks.refuse(problems)


def _holder_problem(
    name: str, kind: Kind, allowed: frozenset[str], property: Property, holder: Component | None, own: Component | None
) -> str:
    if holder is None:
        return ""
    if not allowed:
        return f"{name}: {kind.a_name} does not belong to another component; leave it empty."
    choices = " or ".join(registry.get(code).a_name for code in sorted(allowed))
    if holder.property_id != property.pk or holder.kind not in allowed or (own is not None and own.pk == holder.pk):
        return f"{name} is {holder}: give {choices} at {property}."
    if holder.retired_on is not None and (own is None or getattr(own, f"{name}_id") != holder.pk):
        return f"{name} is {holder}, which was taken out on {holder.retired_on}: give {choices} that is in the ground."
    return ""


def tag_taken(property: Property, tag: str) -> Conflict:
    """The error that names the part which has this tag already."""
    other = (
        Component.objects.select_related("system")
        .filter(property=property, tag_key=normalise.tag_key(tag), retired_on=None)
        .first()
    )
    if other is None:
        return Conflict("This part clashes with another one that was recorded meanwhile: look again.")
    kind = registry.get(other.kind).a_name
    where = f"of {other.system.name} at {property}" if other.system else f"at {property}"
    words = f"The tag {tag} is taken by {other.tag}, {kind} {where}: give another tag, or take that part out first."
    return Conflict(words, code="tag_taken", fields=(FieldProblem("tag", words, tag),))
