"""What a register file says, record by record, beside what the register holds of the same thing.

`values` are checked and named as in the services; `existing` is the record that was found again, None for a new one.
"""

from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

from jobs.exchange.cells import Ref
from jobs.kinds.base import Kind
from jobs.models import Area, Component, Connection, Customer, DrainageArea, Hazard, Property, PropertyRole, System

Said = dict[str, tuple[Any, int]]
"""Column name -> (raw cell, row that said it first)."""


@dataclass
class AreaNamed:
    """A group of properties by name."""

    name: str
    row: int
    uid: UUID | None = None
    existing: Area | None = None


@dataclass
class PropertyDraft:
    """One address with everything the file says of it."""

    row: int
    uid: UUID | None = None
    city: str = ""
    existing: Property | None = None
    said: Said = field(default_factory=dict)
    values: dict[str, Any] = field(default_factory=dict)
    area: AreaNamed | None = None
    systems: list["SystemDraft"] = field(default_factory=list)
    parts: list["PartDraft"] = field(default_factory=list)
    links: list["LinkDraft"] = field(default_factory=list)
    link_removals: list[Connection] = field(default_factory=list)
    drains: list["DrainsDraft"] = field(default_factory=list)
    hazards: list["HazardDraft"] = field(default_factory=list)
    roles: list["RoleDraft"] = field(default_factory=list)

    @property
    def label(self) -> str:
        """The address."""
        return str(self.values.get("address") or self.existing or "?")


@dataclass
class SystemDraft:
    """One system at a property."""

    at: PropertyDraft
    row: int
    uid: UUID | None = None
    existing: System | None = None
    said: Said = field(default_factory=dict)
    values: dict[str, Any] = field(default_factory=dict)


@dataclass
class PartDraft:
    """One component. `dimensions` and `certainty` are whole: what the file says over what the register holds.

    `refs` are the parts it names, by column field: sits_in, part_of, successor.
    """

    at: PropertyDraft
    row: int
    kind: Kind
    uid: UUID | None = None
    system: SystemDraft | None = None
    existing: Component | None = None
    values: dict[str, Any] = field(default_factory=dict)
    sizes: dict[str, Any] = field(default_factory=dict)
    assumed: set[str] = field(default_factory=set)
    unknown: set[str] = field(default_factory=set)
    dimensions: dict[str, Any] = field(default_factory=dict)
    certainty: dict[str, str] = field(default_factory=dict)
    named: dict[str, Ref] = field(default_factory=dict)
    named_lists: dict[str, list[Ref]] = field(default_factory=dict)
    refs: dict[str, "PartDraft | Component | None"] = field(default_factory=dict)
    retired_on: date | None = None
    retired_reason: str = ""
    retired_because: str = ""

    @property
    def tag(self) -> str:
        """The tag it will have."""
        return str(self.values.get("tag") or (self.existing.tag if self.existing else ""))

    @property
    def label(self) -> str:
        """How a message names it."""
        return self.tag or f"{self.kind.name} of row {self.row}"

    @property
    def is_retired(self) -> bool:
        """Taken out, by the file or in the register."""
        return self.retired_on is not None or (self.existing is not None and self.existing.retired_on is not None)


Holder = PartDraft | Component


@dataclass
class LinkDraft:
    """Water goes from one part to another."""

    row: int
    column: str
    from_part: PartDraft
    to_part: Holder
    kind: str
    certainty: str
    existing: Connection | None = None


@dataclass
class DrainsDraft:
    """A surface that drains to a part."""

    part: PartDraft
    row: int
    number: int
    values: dict[str, Any]
    uid: UUID | None = None
    existing: DrainageArea | None = None


@dataclass
class HazardDraft:
    """Something found at a property."""

    at: PropertyDraft
    row: int
    number: int
    values: dict[str, Any]
    found_at: Any = None
    gone_at: Any = None
    uid: UUID | None = None
    existing: Hazard | None = None


@dataclass
class CustomerDraft:
    """A person or association; the same one at several addresses is one draft."""

    row: int
    values: dict[str, Any]
    said_by: dict[str, int]
    uid: UUID | None = None
    existing: Customer | None = None


@dataclass
class RoleDraft:
    """What a customer is at a property."""

    at: PropertyDraft
    customer: CustomerDraft
    row: int
    values: dict[str, Any]
    until_date: date | None = None
    uid: UUID | None = None
    existing: PropertyRole | None = None


@dataclass
class Draft:
    """A whole file."""

    properties: list[PropertyDraft] = field(default_factory=list)
    areas: list[AreaNamed] = field(default_factory=list)
    customers: list[CustomerDraft] = field(default_factory=list)
