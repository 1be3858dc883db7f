"""What the register holds of the addresses in a file, read in a number of queries that does not grow with the rows."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import islice
from typing import Any, Final, TypeVar
from uuid import UUID

from django.db.models import Model

from core import normalise
from jobs.models import Area, Component, Connection, Customer, DrainageArea, Hazard, Property, PropertyRole, System

AT_ONCE: Final = 500
M = TypeVar("M", bound=Model)


def batches(items: Iterable[Any]) -> Iterator[list[Any]]:
    """Lists of at most AT_ONCE."""
    rest = iter(items)
    while batch := list(islice(rest, AT_ONCE)):
        yield batch


@dataclass
class AtProperty:
    """Everything the register holds at one property, in the order it was made."""

    systems: list[System] = field(default_factory=list)
    parts: list[Component] = field(default_factory=list)
    links: list[Connection] = field(default_factory=list)
    drains: list[DrainageArea] = field(default_factory=list)
    hazards: list[Hazard] = field(default_factory=list)
    roles: list[PropertyRole] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Address:
    """A property as the file's addresses are compared with it."""

    pk: int
    uid: UUID
    city: str


def addresses() -> dict[str, list[Address]]:
    """Every property by its folded address. Takes one light query: folding is not SQL's to do."""
    found: dict[str, list[Address]] = defaultdict(list)
    for pk, uid, address, city in Property.objects.order_by("pk").values_list("pk", "uid", "address", "city"):
        found[normalise.folded(address)].append(Address(pk, uid, normalise.folded(city)))
    return found


def properties(*, pks: Collection[int], uids: Collection[UUID]) -> dict[int, Property]:
    """Properties by key."""
    found: dict[int, Property] = {}
    for batch in batches(sorted(pks)):
        found |= {item.pk: item for item in Property.objects.select_related("area").filter(pk__in=batch)}
    for batch in batches(sorted(uids)):
        found |= {item.pk: item for item in Property.objects.select_related("area").filter(uid__in=batch)}
    return found


def at_properties(pks: Collection[int]) -> dict[int, AtProperty]:
    """What is at these properties, by property key; parts come with system, holders and successor."""
    found: dict[int, AtProperty] = defaultdict(AtProperty)
    holders = ("property", "system", "sits_in", "part_of", "successor")
    for batch in batches(sorted(pks)):
        for system in System.objects.select_related("property").filter(property__in=batch).order_by("pk"):
            found[system.property_id].systems.append(system)
        for part in Component.objects.select_related(*holders).filter(property__in=batch).order_by("pk"):
            found[part.property_id].parts.append(part)
        for link in Connection.objects.select_related("property").filter(property__in=batch).order_by("pk"):
            found[link.property_id].links.append(link)
        for area in DrainageArea.objects.select_related("property").filter(property__in=batch).order_by("pk"):
            found[area.property_id].drains.append(area)
        for hazard in Hazard.objects.select_related("property").filter(property__in=batch).order_by("pk"):
            found[hazard.property_id].hazards.append(hazard)
        for role in (
            PropertyRole.objects.select_related("property", "customer").filter(property__in=batch).order_by("pk")
        ):
            found[role.property_id].roles.append(role)
    return found


def areas() -> list[Area]:
    """Every area: a company has few."""
    return list(Area.objects.order_by("pk"))


def customers(*, uids: Collection[UUID], names: Collection[str]) -> list[Customer]:
    """Customers with one of these uids or exactly one of these names, none twice."""
    found: dict[int, Customer] = {}
    for batch in batches(sorted(uids)):
        found |= {item.pk: item for item in Customer.objects.filter(uid__in=batch)}
    for batch in batches(sorted(names)):
        found |= {item.pk: item for item in Customer.objects.filter(name__in=batch, erased_at=None)}
    return [found[pk] for pk in sorted(found)]


def taken(model: type[M], uids: Collection[UUID]) -> set[UUID]:
    """Those of `uids` that records of `model` have already."""
    found: set[UUID] = set()
    for batch in batches(sorted(uids)):
        found |= set(model._default_manager.filter(uid__in=batch).values_list("uid", flat=True))
    return found
