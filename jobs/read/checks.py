"""What the graph checks say about a property or a system; loads the graph once into frozen records."""

from collections.abc import Iterable

from jobs.decide.graph import check_graph
from jobs.decide.graph_records import Edge, Node, Problem
from jobs.models import Component, Connection, DrainageArea, Property, System


def problems(property: Property) -> tuple[Problem, ...]:
    """Every problem of everything in the ground at a property, errors first. Ids are component uids. Three queries."""
    parts = list(Component.objects.filter(property=property))
    links = Connection.objects.filter(property=property)
    return problems_among(parts, links, DrainageArea.objects.filter(property=property))


def problems_of(system: System) -> tuple[Problem, ...]:
    """The problems that touch this system's components, or no component at all; checked with the whole property.

    Two systems of one yard may share a basin or a line, so a system is never checked alone.
    """
    own = {str(uid) for uid in Component.objects.filter(system=system).values_list("uid", flat=True)}
    return tuple(found for found in problems(system.property) if own.intersection(found.ids))


def problems_among(
    parts: Iterable[Component], links: Iterable[Connection], areas: Iterable[DrainageArea]
) -> tuple[Problem, ...]:
    """The same from rows already loaded, retired parts among them. No query."""
    by_key = {part.pk: part for part in parts}
    nodes = [_node(part, by_key) for part in by_key.values() if part.retired_on is None]
    edges = [
        Edge(
            str(by_key[link.from_component_id].uid),
            str(by_key[link.to_component_id].uid),
            "overflow" if link.kind == Connection.Kind.OVERFLOW else "normal",
        )
        for link in links
        if link.from_component_id in by_key and link.to_component_id in by_key
    ]
    found = [*check_graph(nodes, edges), *_lost_areas(areas, by_key)]
    return tuple(sorted(found, key=lambda problem: problem.severity != "error"))


def _node(part: Component, by_key: dict[int, Component]) -> Node:
    basin, whole = by_key.get(part.sits_in_id or 0), by_key.get(part.part_of_id or 0)
    return Node(
        id=str(part.uid),
        kind=part.kind,
        tag=part.tag,
        dims=part.dimensions,
        certainty=part.certainty,
        sits_in=str(basin.uid) if basin else "",
        part_of=str(whole.uid) if whole else "",
        slope_reason=part.slope_reason,
    )


def _lost_areas(areas: Iterable[DrainageArea], by_key: dict[int, Component]) -> list[Problem]:
    """A surface that drained to a part since taken out drains somewhere still."""
    found = []
    for area in areas:
        part = by_key.get(area.component_id)
        if part is None or part.retired_on is None:
            continue
        message = (
            f"{area.name or area.get_surface_display()} ({area.area_ft2:g} ft2) drained to {part}, "
            f"taken out on {part.retired_on}: say which inlet takes its water now, or remove it."
        )
        found.append(Problem("area_without_inlet", "warning", (str(part),), message, (str(part.uid),)))
    return found
