"""Checks what the file says of properties, areas, systems and hazards, and finds those the register has already."""

from collections.abc import Iterable
from typing import Any, TypeVar
from uuid import UUID

from core import normalise
from jobs import hazards as hazard_services
from jobs import register
from jobs.exchange import present
from jobs.exchange.cells import Cell
from jobs.exchange.checking import Checking, checked, column_of, keep_spelling, read_said
from jobs.exchange.drafts import AreaNamed, HazardDraft, PropertyDraft, SystemDraft
from jobs.exchange.present import AtProperty
from jobs.models import Hazard, System

M = TypeVar("M")
OWN = frozenset({"uid", "area", "area_uid"})


def check_properties(checking: Checking) -> None:
    """Fill `values` and `area` of every property."""
    areas = _Areas(checking)
    for draft in checking.draft.properties:
        names = [name for name in draft.said if column_of(name).scope == "property"]
        read = read_said(checking, draft.said, names)
        plain = {name: cell for name, cell in read.items() if column_of(name).field not in OWN}
        draft.values = checked(checking, "property", register.PROPERTY, plain)
        draft.area = areas.named(read)
        if draft.existing is not None and draft.uid is None:
            keep_spelling(draft.values, draft.existing, "address", "city")
        if draft.existing is None and not draft.values.get("address") and "address" not in draft.said:
            words = f"No property has the uid {draft.uid}: give its address, or the right uid."
            checking.refuse(draft.row, "property_uid", words, str(draft.uid))


class _Areas:
    """Areas by folded name, the register's first."""

    def __init__(self, checking: Checking) -> None:
        self._checking = checking
        self._found: dict[str, AreaNamed] = {}
        self._by_uid: dict[UUID, AreaNamed] = {}
        for area in present.areas():
            named = AreaNamed(area.name, 0, area.uid, area)
            self._found.setdefault(normalise.folded(area.name), named)
            self._by_uid[area.uid] = named

    def named(self, read: dict[str, tuple[Cell, int]]) -> AreaNamed | None:
        uid = read["area_uid"][0].value if "area_uid" in read else None
        if "area" not in read:
            return self._by_uid.get(uid) if uid is not None else None
        name = checked(self._checking, "area", {"area": register.PROPERTY["city"]}, {"area": read["area"]}).get("area")
        if not name:
            return None
        key = normalise.folded(name)
        if key not in self._found:
            made = AreaNamed(name, read["area"][1], uid if uid not in self._by_uid else None)
            self._found[key] = made
            self._checking.draft.areas.append(made)
            if uid is not None:
                self._by_uid.setdefault(uid, made)
        return self._found[key]


def check_systems(checking: Checking, there: dict[int, AtProperty]) -> None:
    """Fill `values` and `existing` of every system; uids of another property's systems are problems."""
    drafts = [draft for home in checking.draft.properties for draft in home.systems]
    taken = present.taken(System, {draft.uid for draft in drafts if draft.uid is not None})
    for draft in drafts:
        names = [name for name in draft.said if column_of(name).field != "uid"]
        draft.values = checked(checking, "system", register.SYSTEM, read_said(checking, draft.said, names))
        mine = there[draft.at.existing.pk].systems if draft.at.existing else []
        draft.existing = _system_there(checking, draft, mine)
        if draft.existing is not None and draft.uid is None:
            keep_spelling(draft.values, draft.existing, "name")
        if draft.existing is None and draft.uid in taken:
            words = f"system_uid {draft.uid} belongs to a system of another property: empty the cell."
            checking.refuse(draft.row, "system_uid", words, str(draft.uid))
        if draft.existing is None and "system" not in draft.said:
            words = f"No system at {draft.at.label} has the uid {draft.uid}: give its name, or the right uid."
            checking.refuse(draft.row, "system", words)


def _system_there(checking: Checking, draft: SystemDraft, mine: list[System]) -> System | None:
    by_uid = next((system for system in mine if system.uid == draft.uid), None)
    if draft.uid is not None:
        return by_uid
    name = normalise.folded(draft.values.get("name"))
    claimed = {other.uid for other in draft.at.systems if other.uid is not None}
    found = [system for system in mine if normalise.folded(system.name) == name and system.uid not in claimed]
    if len(found) > 1:
        words = f"{len(found)} systems at {draft.at.label} are named {found[0].name}: give the system_uid too."
        checking.refuse(draft.row, "system_uid", words)
    return found[0] if found else None


def check_hazards(checking: Checking, there: dict[int, AtProperty]) -> None:
    """Make the hazards of every property."""
    drafts: list[HazardDraft] = []
    for home in checking.draft.properties:
        for number in numbers_of(home, "hazard"):
            draft = _hazard(checking, home, number)
            if draft is not None:
                home.hazards.append(draft)
        drafts += home.hazards
        mine = there[home.existing.pk].hazards if home.existing else []
        match_in_order(home.hazards, mine, lambda item: (item.values.get("kind"), _note(item)), _key_of_hazard)
    taken = present.taken(Hazard, {draft.uid for draft in drafts if draft.uid is not None})
    for draft in drafts:
        if draft.existing is None and draft.uid in taken:
            words = f"The uid {draft.uid} belongs to a hazard of another property: empty the cell."
            checking.refuse(draft.row, f"hazard_{draft.number}_uid", words, str(draft.uid))
        _refuse_past(checking, draft)


def _note(draft: HazardDraft) -> str:
    return normalise.folded(draft.values.get("note"))


def _key_of_hazard(hazard: Hazard) -> tuple[str, str]:
    return hazard.kind, normalise.folded(hazard.note)


def _refuse_past(checking: Checking, draft: HazardDraft) -> None:
    """When a hazard of the register was found or gone is not for a file to say."""
    if draft.existing is None:
        return
    for name in ("found_at", "gone_at"):
        given = getattr(draft, name)
        if given is not None and given != getattr(draft.existing, name):
            words = f"{name} differs from the register's: say on the property's page when a hazard is gone."
            checking.refuse(draft.row, f"hazard_{draft.number}_{name}", words, given.isoformat())


def _hazard(checking: Checking, home: PropertyDraft, number: int) -> HazardDraft | None:
    names = [name for name in home.said if is_of(name, "hazard", number)]
    read = read_said(checking, home.said, names)
    by_field = {column_of(name).field: cell.value for name, (cell, _) in read.items()}
    row = min(home.said[name][1] for name in names)
    plain = {name: cell for name, cell in read.items() if column_of(name).field in hazard_services.HAZARD}
    values = checked(checking, "hazard", hazard_services.HAZARD, plain)
    if f"hazard_{number}_kind" not in home.said:
        words = f"hazard_{number}_kind is empty: say what the hazard is, or empty its other cells."
        checking.refuse(row, f"hazard_{number}_kind", words)
    if "kind" not in values:
        return None
    times = {"found_at": by_field.get("found_at"), "gone_at": by_field.get("gone_at")}
    return HazardDraft(home, row, number, values, uid=by_field.get("uid"), **times)


def numbers_of(home: PropertyDraft, prefix: str) -> list[int]:
    """The numbers for which the property's rows say anything of `prefix`, rising."""
    found = {column_of(name).number for name in home.said if column_of(name).prefix == prefix}
    return sorted(found)


def is_of(name: str, prefix: str, number: int) -> bool:
    """Whether the column belongs to this person, hazard or drainage area."""
    column = column_of(name)
    return column.prefix == prefix and column.number == number


def match_in_order(drafts: Iterable[Any], records: Iterable[Any], key: Any, key_of: Any) -> None:
    """Give each draft its record: by uid, else the first free one with the same key; none of a uid not there."""
    free = {record.uid: record for record in records}
    waiting = []
    for draft in drafts:
        if draft.uid is None:
            waiting.append(draft)
        else:
            draft.existing = free.pop(draft.uid, None)
    for draft in waiting:
        wanted = key(draft)
        found = next((record for record in free.values() if key_of(record) == wanted), None)
        if found is not None:
            draft.existing = free.pop(found.uid)
