"""Finds the parts a closeout speaks of: by uid or tag, as they stood when the work was done."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

from core import normalise
from jobs.kinds import registry
from jobs.kinds.base import Kind
from jobs.models import Component
from maintenance.closeout_hold import Waits
from maintenance.decide.closeout_values import known_dimensions


@dataclass(frozen=True, slots=True)
class Found:
    """A part, and whether it stands in for another that had been taken out before the work was done."""

    component: Component
    instead_of: Component | None = None


@dataclass(slots=True)
class Yard:
    """Every part of one property, loaded once, retired ones too. `swapped`: replaced by this very closeout."""

    by_id: dict[int, Component]
    by_uid: dict[UUID, Component]
    by_tag: dict[str, Component]
    swapped: dict[int, Component] = field(default_factory=dict)

    @classmethod
    def of(cls, property_id: int) -> "Yard":
        """One query."""
        parts = list(Component.objects.filter(property_id=property_id).select_related("property").order_by("id"))
        return cls(
            by_id={part.pk: part for part in parts},
            by_uid={part.uid: part for part in parts},
            by_tag={part.tag_key: part for part in parts if part.tag_key and part.retired_on is None},
        )

    def named(self, uid: UUID | None, tag: str) -> Component:
        """The part a closeout names. Raises Waits where the property holds none such."""
        part = self.by_uid.get(uid) if uid else self.by_tag.get(normalise.tag_key(tag))
        if part is None:
            raise Waits("unknown", f"No part {uid or tag} is on record at this property.", {"named": str(uid or tag)})
        return part

    def at(self, uid: UUID | None, tag: str, on: date, *, after: bool) -> Found:
        """The part meant by work on a day.

        One taken out before that day gives way to its successor; a tag means the part that carried it that day.
        `after`: for a tag whose part this very closeout replaced, the new one is meant.
        """
        part = self.named(uid, tag)
        if uid is None:
            part = self._earlier(part, on)
            return Found(self.swapped.get(part.pk, part) if after else part)
        present = part
        while present.retired_on is not None and on > present.retired_on and present.successor_id in self.by_id:
            present = self.by_id[present.successor_id]
        return Found(present, part if present.pk != part.pk else None)

    def put_in(self, old: Component, new: Component) -> None:
        """Remember a replacement made by this closeout."""
        self.swapped[old.pk] = new
        self.by_id[new.pk] = new
        self.by_uid[new.uid] = new

    def line_of(self, part: Component) -> set[int]:
        """Keys of a part and of those before and after it in the same place."""
        keys = {part.pk}
        while True:
            more = {p.successor_id for p in self.by_id.values() if p.pk in keys and p.successor_id}
            more |= {p.pk for p in self.by_id.values() if p.successor_id in keys}
            more |= {new.pk for old, new in self.swapped.items() if old in keys}
            if more <= keys:
                return keys
            keys |= more

    def _earlier(self, part: Component, on: date) -> Component:
        before = {p.successor_id: p for p in self.by_id.values() if p.successor_id}
        while part.installed_on is not None and on < part.installed_on and part.pk in before:
            part = before[part.pk]
        return part


def kind_and_known(part: Component) -> tuple[Kind, Mapping[str, Any]]:
    """The kind of a part and its dimensions completed by assumptions."""
    kind = registry.get(part.kind)
    return kind, known_dimensions(kind, part.dimensions, part.certainty, part.kind_version)
