"""Writes which surface drains to which inlet."""

from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction

from core.act import Act
from core.problem import Conflict
from jobs import field_checks as checks
from jobs.edits import change_plain, create_once, raise_revision, remove
from jobs.kinds import registry
from jobs.kinds.words import CERTAINTIES
from jobs.models import Component, DrainageArea

DRAINAGE_AREA: dict[str, checks.Check] = {
    "name": checks.line(80),
    "surface": checks.one_of(DrainageArea.Surface.values),
    "area_ft2": checks.number(0, 1_000_000, "ft2", required=True, above=True),
    "runoff_c": checks.number(0, 1, "", required=True, above=True),
    "concentration_min": checks.number(5, 1440, "min", required=True),
    "certainty": checks.one_of(CERTAINTIES),
}


def add_drainage_area(
    *,
    act: Act,
    component: Component,
    surface: str,
    area_ft2: float,
    runoff_c: float,
    concentration_min: float = 5,
    name: str = "",
    certainty: str = "assumed",
    uid: UUID | None = None,
) -> DrainageArea:
    """Say which surface drains to an inlet: area in ft2, runoff coefficient 0 to 1, concentration at least 5 min."""
    given = {
        "name": name,
        "surface": surface,
        "area_ft2": area_ft2,
        "runoff_c": runoff_c,
        "concentration_min": concentration_min,
        "certainty": certainty,
    }
    values = checks.cleaned("drainage area", DRAINAGE_AREA, given)
    refuse_retired(component, component.retired_on)
    if not registry.get(component.kind).takes_in:
        kinds = ", ".join(kind.name for kind in registry.ALL if kind.takes_in)
        words = f"{component} is {registry.get(component.kind).a_name}: give the inlet the water enters ({kinds})."
        checks.refuse_field("component", words, str(component))
    with transaction.atomic():
        made, new = create_once(
            DrainageArea,
            act=act,
            noun="drainage_area",
            uid=uid,
            values={"property": component.property, "component": component, **values},
            at_property=component.property,
        )
        if new:
            raise_revision(component.property_id)
    return made


def refuse_retired(component: Component, retired_on: date | None) -> None:
    """Raise Conflict when the component was taken out."""
    if retired_on is not None:
        raise Conflict(f"{component} was taken out on {retired_on}: choose a part that is in the ground.")


def change_drainage_area(*, act: Act, drainage_area: DrainageArea, **fields: Any) -> DrainageArea:
    """Correct a drainage area, or say with `component` where its water goes now (an inlet of the same property)."""
    values = checks.cleaned("drainage area", {**DRAINAGE_AREA, "component": checks.record_of(Component)}, fields)
    inlet = values.get("component")
    if "component" in values and (inlet is None or inlet.property_id != drainage_area.property_id):
        checks.refuse_field("component", "component: give an inlet of the same property.", str(inlet))
    if inlet is not None:
        refuse_retired(inlet, inlet.retired_on)
    with transaction.atomic():
        present, changed = change_plain(
            drainage_area,
            act=act,
            noun="drainage_area",
            values=values,
            property_uid=drainage_area.property.uid,
        )
        if changed:
            raise_revision(drainage_area.property_id)
    return present


def remove_drainage_area(*, act: Act, drainage_area: DrainageArea) -> None:
    """Take a drainage area out of the register; what it said stays in the history."""
    kept = {name: getattr(drainage_area, name) for name in (*DRAINAGE_AREA, "component")}
    with transaction.atomic():
        remove(drainage_area, act=act, noun="drainage_area", values=kept, at_property=drainage_area.property)
        raise_revision(drainage_area.property_id)
