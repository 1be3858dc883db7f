"""Writes what was found on site that can hurt someone or be broken."""

from typing import Any
from uuid import UUID

from django.db import transaction

from core.act import Act
from jobs import field_checks as checks
from jobs.edits import change_plain, create_once, raise_revision
from jobs.models import Hazard, Property

HAZARD: dict[str, checks.Check] = {
    "kind": checks.one_of(Hazard.Kind.values),
    "note": checks.line(400),
    "x_ft": checks.number(-5000, 5000, "ft"),
    "y_ft": checks.number(-5000, 5000, "ft"),
    "depth_in": checks.number(0, 240, "in"),
}


def add_hazard(
    *,
    act: Act,
    property: Property,
    kind: str,
    note: str = "",
    x_ft: float | None = None,
    y_ft: float | None = None,
    depth_in: float | None = None,
    uid: UUID | None = None,
) -> Hazard:
    """Record something that can hurt someone or be broken. Position in feet from the corner, depth in inches."""
    given = {"kind": kind, "note": note, "x_ft": x_ft, "y_ft": y_ft, "depth_in": depth_in}
    values = checks.cleaned("hazard", HAZARD, given)
    with transaction.atomic():
        made, new = create_once(
            Hazard,
            act=act,
            noun="hazard",
            uid=uid,
            values={"property": property, **values},
            derived={"found_at": act.at},
            at_property=property,
        )
        if new:
            raise_revision(property.pk)
    return made


def change_hazard(*, act: Act, hazard: Hazard, **fields: Any) -> Hazard:
    """Correct a hazard's kind, note, position or depth."""
    values = checks.cleaned("hazard", HAZARD, fields)
    with transaction.atomic():
        present, changed = change_plain(hazard, act=act, noun="hazard", values=values, property_uid=hazard.property.uid)
        if changed:
            raise_revision(hazard.property_id)
    return present


def hazard_gone(*, act: Act, hazard: Hazard, note: str = "") -> Hazard:
    """Say that a hazard is no longer there. Saying it twice changes nothing."""
    why = checks.cleaned("hazard", {"note": checks.line(300)}, {"note": note})["note"]
    if hazard.gone_at is not None:
        return hazard
    with transaction.atomic():
        present, changed = change_plain(
            hazard, act=act, noun="hazard", values={"gone_at": act.at}, property_uid=hazard.property.uid, note=why
        )
        if changed:
            raise_revision(hazard.property_id)
    return present
