"""Writes what a checked file changes of existing things, each by the register's own service."""

from dataclasses import dataclass

from core.act import Act
from jobs import change_component, connect, drainage_areas, hazards, people, register
from jobs.exchange.compare import changed_fields, part_changes, property_changes
from jobs.exchange.drafts import (
    CustomerDraft,
    Draft,
    DrainsDraft,
    HazardDraft,
    PartDraft,
    PropertyDraft,
    RoleDraft,
    SystemDraft,
)
from jobs.models import Property


@dataclass(frozen=True)
class Found:
    """The drafts whose record the register had before anything was written."""

    customers: tuple[CustomerDraft, ...]
    properties: tuple[PropertyDraft, ...]
    systems: tuple[SystemDraft, ...]
    parts: tuple[PartDraft, ...]
    drains: tuple[DrainsDraft, ...]
    hazards: tuple[HazardDraft, ...]
    roles: tuple[RoleDraft, ...]


def found_in(draft: Draft) -> Found:
    """Remember which drafts were found: afterwards the new ones have a record too."""
    homes = draft.properties
    return Found(
        customers=tuple(item for item in draft.customers if item.existing is not None),
        properties=tuple(home for home in homes if home.existing is not None),
        systems=tuple(item for home in homes for item in home.systems if item.existing is not None),
        parts=tuple(item for home in homes for item in home.parts if item.existing is not None),
        drains=tuple(item for home in homes for item in home.drains if item.existing is not None),
        hazards=tuple(item for home in homes for item in home.hazards if item.existing is not None),
        roles=tuple(item for home in homes for item in home.roles if item.existing is not None),
    )


def end_links(*, act: Act, draft: Draft) -> None:
    """Take back connections that a row no longer names, before new ones are written.

    One that is now of another kind or certainty ends too and begins again, for a connection has no change of its own.
    """
    for home in draft.properties:
        for link in home.link_removals:
            connect.disconnect(act=act, connection=link)
        for made in home.links:
            values = {"kind": made.kind, "certainty": made.certainty}
            if made.existing is not None and changed_fields(made.existing, values):
                connect.disconnect(act=act, connection=made.existing)
                made.existing = None


def write_changes(*, act: Act, found: Found) -> None:
    """Change what differs of what was found. After the new records are written, since a change may name one."""
    for customer in found.customers:
        record, changed = customer.existing, changed_fields(customer.existing, customer.values)
        if changed and record is not None:
            people.change_customer(act=act, customer=record, revision=record.revision, **changed)
    for home in found.properties:
        changed = property_changes(home)
        if changed and home.existing is not None:
            # Records added at the property raised its revision within this same transaction.
            place = Property.objects.get(pk=home.existing.pk)
            register.change_property(act=act, property=place, revision=place.revision, **changed)
    for system in found.systems:
        changed = changed_fields(system.existing, system.values)
        if changed and system.existing is not None:
            register.change_system(act=act, system=system.existing, revision=system.existing.revision, **changed)
    for part in found.parts:
        _change_part(act, part)
    _change_small(act, found)


def _change_part(act: Act, draft: PartDraft) -> None:
    changed = part_changes(draft)
    if not changed or draft.existing is None:
        return
    if "dimensions" in changed or "certainty" in changed:
        changed |= {"dimensions": draft.dimensions, "certainty": draft.certainty}
    component = draft.existing
    change_component.change_component(act=act, component=component, revision=component.revision, **changed)


def _change_small(act: Act, found: Found) -> None:
    """Records without a revision of their own."""
    for surface in found.drains:
        changed = changed_fields(surface.existing, surface.values)
        if changed and surface.existing is not None:
            drainage_areas.change_drainage_area(act=act, drainage_area=surface.existing, **changed)
    for hazard in found.hazards:
        changed = changed_fields(hazard.existing, hazard.values)
        if changed and hazard.existing is not None:
            hazards.change_hazard(act=act, hazard=hazard.existing, **changed)
    for role in found.roles:
        rights = {name: value for name, value in role.values.items() if name in people.RIGHTS}
        changed = changed_fields(role.existing, rights)
        if changed and role.existing is not None:
            people.change_role(act=act, role=role.existing, **changed)
