"""Says what a checked file would add, change and leave as it is."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from jobs.edits import plain
from jobs.exchange.cells import one_line_end
from jobs.exchange.drafts import CustomerDraft, Draft, Holder, PartDraft, PropertyDraft
from jobs.kinds.dimensions import read_dimensions
from jobs.models import Component
from jobs.people import PERSONAL

NOUNS: Final = {
    "property": "properties",
    "customer": "customers",
    "role": "roles",
    "hazard": "hazards",
    "system": "systems",
    "component": "components",
    "connection": "connections",
    "drainage area": "drainage areas",
    "area": "areas",
}


@dataclass
class Counts:
    """How many records of one noun."""

    add: int = 0
    change: int = 0
    unchanged: int = 0
    remove: int = 0


@dataclass(frozen=True, slots=True)
class Change:
    """One value of an existing record that would change; `before` and `after` as the history would keep them."""

    row: int
    noun: str
    label: str
    field: str
    before: Any
    after: Any

    @property
    def words(self) -> str:
        """In one line."""
        return f"row {self.row}, {self.noun} {self.label}: {self.field} {_shown(self.before)} -> {_shown(self.after)}"


def _shown(value: Any) -> str:
    return "unknown" if value in (None, "", [], {}) else str(value)[:60]


def changed_fields(record: Any, values: Mapping[str, Any]) -> dict[str, Any]:
    """Those of `values` the record does not have yet."""
    return {name: value for name, value in values.items() if _differs(getattr(record, name), value)}


def _differs(present: Any, given: Any) -> bool:
    """Texts that differ only in how their lines end are the same."""
    if isinstance(present, str) and isinstance(given, str):
        return one_line_end(present) != given
    return bool(present != given)


def property_changes(draft: PropertyDraft) -> dict[str, Any]:
    """What would change of an existing property; an area that is new stands as None."""
    changed = changed_fields(draft.existing, draft.values)
    area, present = draft.area, draft.existing
    if area is not None and present is not None and (area.existing is None or area.existing.pk != present.area_id):
        changed["area"] = area.existing
    return changed


def part_changes(draft: PartDraft) -> dict[str, Any]:
    """What would change of an existing part; a part or system that is new stands as None under its field."""
    record = draft.existing
    if record is None:
        return {}
    changed = changed_fields(record, draft.values)
    known = read_dimensions(draft.kind, record.dimensions, record.certainty, version=record.kind_version)
    if known.values != draft.dimensions:
        changed["dimensions"] = draft.dimensions
    if known.certainty != draft.certainty:
        changed["certainty"] = draft.certainty
    if draft.system is not None:
        system = draft.system.existing
        if system is None or system.pk != record.system_id:
            changed["system"] = system
    for name in ("sits_in", "part_of"):
        if name in draft.refs:
            holder = draft.refs[name]
            there = _record(holder)
            if (there.pk if there is not None else None) != getattr(record, f"{name}_id") or _is_new(holder):
                changed[name] = there
    return changed


def _record(holder: Holder | None) -> Component | None:
    return holder.existing if isinstance(holder, PartDraft) else holder


def _is_new(holder: Holder | None) -> bool:
    return isinstance(holder, PartDraft) and holder.existing is None


def compare(draft: Draft) -> tuple[dict[str, Counts], tuple[Change, ...]]:
    """Counts by noun and every single change of an existing record."""
    counts = {noun: Counts() for noun in NOUNS}
    changes: list[Change] = []

    def note(noun: str, item: Any, label: str, changed: Mapping[str, Any], after: Mapping[str, Any]) -> None:
        count = counts[noun]
        if item.existing is None:
            count.add += 1
        elif not changed:
            count.unchanged += 1
        else:
            count.change += 1
            for field in changed:
                before = getattr(item.existing, field)
                changes.extend(_changes(item.row, noun, label, field, before, after.get(field)))

    for customer in draft.customers:
        note("customer", customer, *_customer(customer))
    for area in draft.areas:
        note("area", area, area.name, {}, {})
    for home in draft.properties:
        changed = {} if home.existing is None else property_changes(home)
        note("property", home, home.label, changed, {**home.values, "area": home.area.name if home.area else ""})
        for noun, item, label, fields, after in _things(home):
            note(noun, item, label, fields, after)
        counts["connection"].remove += len(home.link_removals)
    return counts, tuple(sorted([*changes, *_removals(draft)], key=lambda change: change.row))


def _customer(draft: CustomerDraft) -> tuple[str, dict[str, Any], dict[str, Any]]:
    changed = changed_fields(draft.existing, draft.values) if draft.existing is not None else {}
    return str(draft.values.get("name", draft.existing)), changed, draft.values


def _things(home: PropertyDraft) -> Iterator[tuple[str, Any, str, dict[str, Any], dict[str, Any]]]:
    """(noun, draft, label, changed fields, values to come) of everything at a property."""
    for system in home.systems:
        changed = changed_fields(system.existing, system.values) if system.existing else {}
        yield "system", system, str(system.values.get("name", system.existing)), changed, system.values
    for part in home.parts:
        after = {**part.values, "dimensions": part.dimensions, "certainty": part.certainty}
        after |= {name: holder.label if isinstance(holder, PartDraft) else holder for name, holder in part.refs.items()}
        after["system"] = part.system.values.get("name", part.system.existing) if part.system else None
        yield "component", part, f"{part.label} at {home.label}", part_changes(part), after
    for link in home.links:
        values = {"kind": link.kind, "certainty": link.certainty}
        changed = changed_fields(link.existing, values) if link.existing else {}
        to_label = link.to_part.label if isinstance(link.to_part, PartDraft) else str(link.to_part)
        yield "connection", link, f"{link.from_part.label} to {to_label} at {home.label}", changed, values
    for surface in home.drains:
        changed = changed_fields(surface.existing, surface.values) if surface.existing else {}
        label = f"{surface.values['surface']} to {surface.part.label} at {home.label}"
        yield "drainage area", surface, label, changed, surface.values
    for hazard in home.hazards:
        changed = changed_fields(hazard.existing, hazard.values) if hazard.existing else {}
        yield "hazard", hazard, f"{hazard.values['kind']} at {home.label}", changed, hazard.values
    for role in home.roles:
        rights = {name: value for name, value in role.values.items() if name not in ("role", "from_date")}
        changed = changed_fields(role.existing, rights) if role.existing else {}
        yield "role", role, f"{role.values['role']} of {home.label}", changed, rights


def _changes(row: int, noun: str, label: str, field: str, before: Any, after: Any) -> Iterator[Change]:
    """One change, or one for each dimension that differs."""
    if isinstance(before, dict) and isinstance(after, dict):
        for name in sorted({*before, *after}):
            if before.get(name) != after.get(name):
                what = f"{name} is" if field == "certainty" else name
                yield Change(row, noun, label, what, before.get(name), after.get(name))
        return
    if field == "gate_code":
        before = after = "(not shown)"
    elif not (noun == "customer" and field in PERSONAL):
        before, after = (value if isinstance(value, str) else _said(value) for value in (before, after))
    yield Change(row, noun, label, field, before, after)


def _said(value: Any) -> Any:
    return str(value) if hasattr(value, "_meta") else plain(value)


def _removals(draft: Draft) -> Iterator[Change]:
    for home in draft.properties:
        labels = {part.existing.pk: part for part in home.parts if part.existing is not None}
        for link in home.link_removals:
            start = labels[link.from_component_id]
            column = "goes_to" if link.kind == "normal" else "overflows_to"
            yield Change(start.row, "connection", f"of {start.label} at {home.label}", column, _end(link, labels), None)


def _end(link: Any, labels: Mapping[int, PartDraft]) -> str:
    part = labels.get(link.to_component_id)
    return part.label if part is not None else str(link.to_component)
