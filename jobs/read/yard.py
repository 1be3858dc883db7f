"""Everything in the ground at one property, and who belongs to it, in a bounded number of queries."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from core.act import Act
from jobs.decide.graph_records import Problem
from jobs.kinds import registry
from jobs.kinds.base import Kind
from jobs.models import (
    Component,
    Connection,
    DrainageArea,
    Hazard,
    Job,
    Photo,
    Property,
    PropertyRole,
    System,
)
from jobs.read import checks, visible

PHOTOS = 24


@dataclass(frozen=True, slots=True)
class Part:
    """A component in the ground with what belongs to it. `kind` is None where the code is not declared (any more)."""

    component: Component
    kind: Kind | None
    goes_to: tuple[Connection, ...]
    comes_from: tuple[Connection, ...]
    drainage_areas: tuple[DrainageArea, ...]
    parts: tuple["Part", ...]
    holds: tuple[Component, ...]


@dataclass(frozen=True, slots=True)
class SystemThere:
    """A system with its parts in the order of their tags, sub-parts under theirs, and what the checks found."""

    system: System | None
    parts: tuple[Part, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Yard:
    """One property as the property page and the drawing need it. `systems` ends with parts of no system, if any.

    `people` are roles in force, with their customer; `earlier_people` those that ended or are yet to begin.
    `photos` are the newest PHOTOS.
    """

    property: Property
    people: tuple[PropertyRole, ...]
    earlier_people: tuple[PropertyRole, ...]
    hazards: tuple[Hazard, ...]
    hazards_gone: tuple[Hazard, ...]
    systems: tuple[SystemThere, ...]
    connections: tuple[Connection, ...]
    drainage_areas: tuple[DrainageArea, ...]
    retired: tuple[Component, ...]
    problems: tuple[Problem, ...]
    jobs: tuple[Job, ...]
    photos: tuple[Photo, ...]


def of(act: Act, property: Property) -> Yard:
    """The yard of a property this person may see (take it from visible.properties), in at most 13 queries.

    People, jobs and photos are limited to what this person may see of them.
    """
    day = visible.today(act)
    roles = list(visible.roles(act).filter(property=property).select_related("customer"))
    hazards = list(Hazard.objects.filter(property=property))
    components = list(
        Component.objects.filter(property=property).select_related("system", "sits_in", "part_of", "successor")
    )
    connections = tuple(Connection.objects.filter(property=property).select_related("from_component", "to_component"))
    areas = tuple(DrainageArea.objects.filter(property=property).select_related("component"))
    problems = checks.problems_among(components, connections, areas)
    jobs = visible.jobs(act).filter(property=property).select_related("system").prefetch_related("steps")
    photos = visible.photos(act).filter(property=property).select_related("component", "shown")
    holding = {role.pk for role in roles if _holds(role, day)}
    return Yard(
        property=property,
        people=tuple(role for role in roles if role.pk in holding),
        earlier_people=tuple(role for role in roles if role.pk not in holding),
        hazards=tuple(hazard for hazard in hazards if hazard.gone_at is None),
        hazards_gone=tuple(hazard for hazard in hazards if hazard.gone_at is not None),
        systems=_systems(System.objects.filter(property=property), components, connections, areas, problems),
        connections=connections,
        drainage_areas=areas,
        retired=tuple(part for part in components if part.retired_on is not None),
        problems=problems,
        jobs=tuple(jobs),
        photos=tuple(photos[:PHOTOS]),
    )


def _holds(role: PropertyRole, day: date) -> bool:
    return role.from_date <= day and (role.until_date is None or role.until_date > day)


def _systems(
    systems: Iterable[System],
    components: list[Component],
    connections: tuple[Connection, ...],
    areas: tuple[DrainageArea, ...],
    problems: tuple[Problem, ...],
) -> tuple[SystemThere, ...]:
    live = [part for part in components if part.retired_on is None]
    by_system: dict[int | None, list[Part]] = defaultdict(list)
    for part in _parts(live, connections, areas):
        by_system[part.component.system_id].append(part)
    uids: dict[int | None, set[str]] = defaultdict(set)
    for component in components:
        uids[component.system_id].add(str(component.uid))
    found = []
    for system in systems:
        own = tuple(problem for problem in problems if uids[system.pk].intersection(problem.ids))
        found.append(SystemThere(system, tuple(by_system[system.pk]), own))
    if by_system[None]:
        own = tuple(problem for problem in problems if uids[None].intersection(problem.ids))
        found.append(SystemThere(None, tuple(by_system[None]), own))
    return tuple(found)


def _parts(live: list[Component], connections: tuple[Connection, ...], areas: tuple[DrainageArea, ...]) -> list[Part]:
    """Top parts of all systems with everything that belongs to them."""
    out, into, drains = defaultdict(list), defaultdict(list), defaultdict(list)
    for link in connections:
        out[link.from_component_id].append(link)
        into[link.to_component_id].append(link)
    for area in areas:
        drains[area.component_id].append(area)
    held, below = defaultdict(list), defaultdict(list)
    present = {component.pk for component in live}
    for component in live:
        if component.sits_in_id is not None:
            held[component.sits_in_id].append(component)
        if component.part_of_id in present:
            below[component.part_of_id].append(component)

    def part(component: Component) -> Part:
        return Part(
            component=component,
            kind=registry.BY_CODE.get(component.kind),
            goes_to=tuple(out[component.pk]),
            comes_from=tuple(into[component.pk]),
            drainage_areas=tuple(drains[component.pk]),
            # A sub-part has none of its own, so that this ends.
            parts=tuple(part(item) for item in below[component.pk] if item.pk != component.pk),
            holds=tuple(held[component.pk]),
        )

    return [part(component) for component in live if component.part_of_id not in present]
