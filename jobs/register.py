"""Writes properties, areas and systems; hands on the writers of hazards and drainage areas."""

from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from core import company, limits, normalise
from core.act import Act
from core.problem import BadInput, Conflict
from jobs import field_checks as checks
from jobs.component_versions import record_versions
from jobs.drainage_areas import add_drainage_area, change_drainage_area, remove_drainage_area
from jobs.edits import change_if_unchanged, create_once, raise_revision
from jobs.hazards import add_hazard, change_hazard, hazard_gone
from jobs.models import Area, Component, Property, System
from jobs.read import checks as graph_checks

__all__ = [
    "add_drainage_area",
    "add_hazard",
    "change_drainage_area",
    "change_hazard",
    "change_property",
    "change_system",
    "create_area",
    "create_property",
    "create_system",
    "hazard_gone",
    "raise_revision",
    "remove_drainage_area",
]

PROPERTY: dict[str, checks.Check] = {
    "address": checks.line(limits.ADDRESS, required=True),
    "city": checks.line(80),
    "region": checks.line(40),
    "postcode": checks.line(20),
    "zone": checks.zone,
    "lat": checks.number(-90, 90, "degrees"),
    "lon": checks.number(-180, 180, "degrees"),
    "area": checks.record_of(Area),
    "access_note": checks.note(),
    "gate_code": checks.line(40),
    "notice_only": checks.yes_no,
    "consequence": checks.one_of(Property.Consequence.values),
    "canopy": checks.one_of(Property.Canopy.values),
    "corner": checks.line(80),
    "plan": checks.json_object,
    "note": checks.note(),
    "closed_at": checks.instant,
}
SYSTEM: dict[str, checks.Check] = {
    "name": checks.line(80, required=True),
    "target_return_years": checks.number(1, 1000, "years", required=True),
    "installed_on": checks.day(),
    "ours": checks.yes_no,
    "warranty_until": checks.day(),
    "handed_over_on": checks.day(),
    "note": checks.note(),
}


def property_search(values: dict[str, Any]) -> str:
    """The stored search text of a property."""
    return normalise.search_text(*(values.get(name) for name in ("address", "city", "region", "postcode")))


def create_property(
    *, act: Act, address: str, zone: str | None = None, uid: UUID | None = None, **fields: Any
) -> Property:
    """Record an address. `zone` defaults to the company's; fields: PROPERTY above. Raises BadInput, Conflict."""
    given = {"address": address, "zone": zone or company.at(act.at).zone, **fields}
    values = checks.cleaned("property", PROPERTY, given)
    derived = {"search": property_search(values), "created_at": act.at}
    with transaction.atomic():
        made, _ = create_once(Property, act=act, noun="property", uid=uid, values=values, derived=derived)
    return made


def change_property(*, act: Act, property: Property, revision: int, **fields: Any) -> Property:
    """Change the given fields if the property still has `revision`. Raises BadInput, StaleVersion.

    A change of canopy or consequence is kept as a new version of every component there.
    """
    values = checks.cleaned("property", PROPERTY, fields)
    names = ("address", "city", "region", "postcode")
    search = property_search({name: values.get(name, getattr(property, name)) for name in names})
    with transaction.atomic():
        present, changed = change_if_unchanged(
            property,
            act=act,
            noun="property",
            revision=revision,
            values=values,
            derived={"search": search} if changed_any(values, names) else None,
            property_uid=property.uid,
        )
        if changed_any(changed, ("canopy", "consequence")):
            parts = Component.objects.filter(property=present, retired_on=None)
            record_versions(parts.select_related("property", "system", "sits_in", "part_of"), act.at)
    return present


def changed_any(changed: Any, names: tuple[str, ...]) -> bool:
    """Whether any of `names` is among `changed`."""
    return any(name in changed for name in names)


def create_area(*, act: Act, name: str, uid: UUID | None = None) -> Area:
    """Name a group of properties that one trip covers. Raises Conflict where the name is taken."""
    values = checks.cleaned("area", {"name": checks.line(80, required=True)}, {"name": name})
    try:
        with transaction.atomic():
            made, _ = create_once(Area, act=act, noun="area", uid=uid, values=values)
    except IntegrityError:
        raise Conflict(f"There is an area named {values['name']} already: use it, or give another name.") from None
    return made


def create_system(*, act: Act, property: Property, name: str, uid: UUID | None = None, **fields: Any) -> System:
    """Record a system at a property; fields: SYSTEM above. Raises BadInput, Conflict."""
    values = checks.cleaned("system", SYSTEM, {"name": name, **fields})
    with transaction.atomic():
        made, new = create_once(
            System,
            act=act,
            noun="system",
            uid=uid,
            values={"property": property, **values},
            derived={"created_at": act.at},
            at_property=property,
        )
        if new:
            raise_revision(property.pk)
    return made


def change_system(*, act: Act, system: System, revision: int, **fields: Any) -> System:
    """Change the given fields if the system still has `revision`. Raises BadInput, StaleVersion.

    Handing over an install of ours is refused while its checks find errors.
    """
    values = checks.cleaned("system", SYSTEM, fields)
    if values.get("handed_over_on") and not system.handed_over_on and values.get("ours", system.ours):
        refuse_with_errors(system, "handed over")
    with transaction.atomic():
        present, changed = change_if_unchanged(
            system, act=act, noun="system", revision=revision, values=values, property_uid=system.property.uid
        )
        if changed:
            raise_revision(system.property_id)
    return present


def refuse_with_errors(system: System, what: str) -> None:
    """Raise BadInput naming what the graph checks of `system` found, if any of it is an error."""
    errors = [found.message for found in graph_checks.problems_of(system) if found.severity == "error"]
    if errors:
        more = f" And {len(errors) - 5} more." if len(errors) > 5 else ""
        raise BadInput(f"{system.name} cannot be {what} yet. " + " ".join(errors[:5]) + more, code="system_has_errors")
