"""Check a system's graph: each check is pure, linear in components and connections, and says what to do.

Errors stop only the hand-over of an install of our own. A half-known yard gives problems, never a refusal.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from itertools import chain
from typing import Final

from jobs.decide.graph_cycles import check_cycles
from jobs.decide.graph_pipes import (
    check_check_valves,
    check_discharge_lines,
    check_pipe_sizes,
    check_slopes,
)
from jobs.decide.graph_records import Edge, Graph, Node, Problem, tag_key
from jobs.kinds import registry
from jobs.kinds.dimensions import DimensionError, clean_dimensions


def check_graph(nodes: Iterable[Node], edges: Iterable[Edge]) -> tuple[Problem, ...]:
    """Every problem of one system, errors first, in a fixed order."""
    graph = Graph(nodes, edges)
    found = list(chain.from_iterable(check(graph) for check in CHECKS))
    return tuple(sorted(found, key=lambda problem: problem.severity != "error"))


def stops_hand_over(problems: Iterable[Problem]) -> bool:
    """Whether an install of our own cannot be handed over yet."""
    return any(problem.severity == "error" for problem in problems)


def check_kinds_and_ends(graph: Graph) -> list[Problem]:
    """Each node has a known kind and an id of its own; each connection joins two different nodes of this system."""
    found = []
    seen = set()
    for node in graph.nodes:
        if node.kind not in registry.BY_CODE:
            message = f"{node.tag or node.id} is of kind {node.kind!r}: give one of {', '.join(registry.BY_CODE)}."
            found.append(graph.problem("unknown_kind", "error", [node.id], message))
        if node.id in seen:
            message = f"{graph.name(node.id)} is listed twice: keep one of them."
            found.append(graph.problem("listed_twice", "error", [node.id], message))
        seen.add(node.id)
    for edge in graph.edges:
        ends = [end for end in (edge.source, edge.target) if end in graph.by_id]
        if len(ends) < 2:
            whose = f"of {graph.names(ends)} " if ends else ""
            message = f"A connection {whose}leads to or from a component that is not in this system: remove it."
            found.append(graph.problem("connection_end_missing", "error", ends, message))
    return found


def check_tags(graph: Graph) -> list[Problem]:
    """Tags are unique however they are written; all but sub-parts have one."""
    found = []
    by_key = defaultdict(list)
    for node in graph.by_id.values():
        if tag_key(node.tag):
            by_key[tag_key(node.tag)].append(node.id)
        elif node.id in graph.known and not graph.kind(node.id).is_part:
            message = f"A {graph.kind(node.id).name} has no tag: write one on the part and in the drawing."
            found.append(graph.problem("no_tag", "warning", [node.id], message))
    for ids in by_key.values():
        if len(ids) > 1:
            message = f"The tag {graph.by_id[ids[0]].tag} is used {len(ids)} times: give each component its own tag."
            found.append(graph.problem("tag_used_twice", "error", ids, message))
    return found


def check_dimensions(graph: Graph) -> list[Problem]:
    """Every known dimension is a dimension of its kind and within its range."""
    found: list[Problem] = []
    for node in graph.by_id.values():
        if node.id not in graph.known:
            continue
        try:
            clean_dimensions(graph.kind(node.id), node.dims, node.certainty)
        except DimensionError as error:
            name = graph.name(node.id)
            found.extend(
                graph.problem("dimension_out_of_range", "error", [node.id], f"{name}: {problem.message}")
                for problem in error.problems
            )
    return found


def check_belonging(graph: Graph) -> list[Problem]:
    """Pump, float, battery and alarm say which basin they sit in; grate and float say what they are part of."""
    found = []
    for node in graph.by_id.values():
        if node.id not in graph.known:
            continue
        kind = graph.kind(node.id)
        parent = graph.by_id.get(node.part_of)
        # A float is where its pump is.
        basin = node.sits_in or (parent.sits_in if parent is not None and kind.sits_in else "")
        found.extend(_belongs(graph, node, "sits_in", basin, kind.sits_in))
        found.extend(_belongs(graph, node, "part_of", node.part_of, kind.part_of))
    return found


def _belongs(graph: Graph, node: Node, relation: str, to: str, allowed: frozenset[str]) -> list[Problem]:
    name = graph.name(node.id)
    verb = "sit in" if relation == "sits_in" else "be part of"
    choices = " or ".join(registry.get(code).a_name for code in sorted(allowed))
    if not allowed:
        if not to:
            return []
        message = f"{name} is {graph.kind(node.id).a_name}, which does not {verb} another component: remove that."
    elif not to:
        message = f"{name} must {verb} {choices}: say which one."
    elif to not in graph.known or graph.known[to].code not in allowed:
        message = f"{name} cannot {verb} {graph.name(to)}: choose {choices} of this system."
    else:
        return []
    return [graph.problem(f"{relation}_wrong", "error", [node.id], message)]


def check_receivers(graph: Graph) -> list[Problem]:
    """Each connection leads to a kind that can take that water."""
    found = []
    for edge in graph.edges:
        if edge.source not in graph.known or edge.target not in graph.known:
            continue
        source, target = graph.kind(edge.source), graph.kind(edge.target)
        start, end = graph.name(edge.source), graph.name(edge.target)
        ids = [edge.source, edge.target]
        if edge.flow == "overflow":
            if not source.may_overflow or not (target.takes_in or target.ends or target.needs_fall):
                message = f"{start} cannot overflow into {end}: lead the excess from an open part to one that takes it."
                found.append(graph.problem("cannot_overflow", "error", ids, message))
        elif not source.may_feed:
            message = f"{start} is {source.a_name} and feeds nothing: remove its connection to {end}."
            if source.may_overflow:
                message = f"{start} is {source.a_name}, where water ends: make its connection to {end} an overflow."
            found.append(graph.problem("cannot_feed", "error", ids, message))
        elif target.code not in source.may_feed:
            choices = ", ".join(item.name for item in registry.ALL if item.code in source.may_feed)
            message = f"{start} cannot feed {end}, {target.a_name}: {source.a_name} feeds one of {choices}."
            found.append(graph.problem("cannot_feed", "error", ids, message))
        elif target.code == "pump" and graph.by_id[edge.target].sits_in != edge.source:
            message = f"{start} feeds {end}, which does not sit in it: say that {end} sits in {start}."
            found.append(graph.problem("pump_elsewhere", "error", ids, message))
    return found


def check_outgoing(graph: Graph) -> list[Problem]:
    """One normal connection leaves each component; two, half each, leave a level channel with two open ends."""
    found = []
    for node_id, kind in graph.known.items():
        targets = graph.out[node_id]
        if kind.code == "channel_run" and graph.by_id[node_id].dims.get("ends") == "two_open":
            found.extend(_two_open_ends(graph, node_id, targets))
        elif kind.code == "sump_basin" and graph.pumps_in[node_id]:
            by_gravity = [item for item in targets if graph.kind(item).code != "pump"]
            if by_gravity:
                message = (
                    f"{graph.name(node_id)} is pumped and also leads to {graph.names(by_gravity)}: "
                    "make that an overflow connection."
                )
                found.append(graph.problem("too_many_outlets", "error", [node_id], message))
        elif len(targets) > 1:
            message = (
                f"{graph.name(node_id)} leads to {graph.names(targets)}: keep one normal connection and make the "
                "others overflow connections."
            )
            found.append(graph.problem("too_many_outlets", "error", [node_id], message))
    return found


def _two_open_ends(graph: Graph, node_id: str, targets: list[str]) -> list[Problem]:
    name = graph.name(node_id)
    found = []
    slope = graph.by_id[node_id].dims.get("slope_percent") or 0
    if slope != 0:
        message = (
            f"{name} has two open ends and a slope of {slope:g} %: two open ends need a level floor. "
            "Set the slope to 0 % or leave one end open."
        )
        found.append(graph.problem("two_ends_need_level", "error", [node_id], message))
    if len(targets) == 1:
        message = f"{name} has two open ends but one connection: connect the other end, or record one open end."
        found.append(graph.problem("open_end_unconnected", "error", [node_id], message))
    elif len(targets) > 2:
        message = f"{name} has two open ends but leads to {graph.names(targets)}: keep two of them."
        found.append(graph.problem("too_many_outlets", "error", [node_id], message))
    return found


def check_way_out(graph: Graph) -> list[Problem]:
    """Every inlet reaches an outfall or a dry well by normal connections; each dead end is named once."""
    stops = [item for item, kind in graph.known.items() if kind.carries_water and not kind.ends and not graph.out[item]]
    held: dict[str, list[str]] = {item: [] for item in stops}
    # In reverse order each node knows where its own water stops before those above it ask.
    stopped_at: dict[str, str] = {}
    for item in reversed(graph.order):
        kind = graph.known[item]
        below = [stopped_at.get(target, "") for target in graph.out[item]]
        # One good pump is enough for a basin; a channel needs both of its ways.
        way_out = kind.code == "sump_basin" and "" in below
        stopped_at[item] = item if item in held else "" if way_out else next((place for place in below if place), "")
        if stopped_at[item] and stopped_at[item] != item and kind.takes_in:
            held[stopped_at[item]].append(item)
    return [_stop(graph, item, sorted(inlets, key=graph.name)) for item, inlets in held.items()]


def _stop(graph: Graph, item: str, inlets: list[str]) -> Problem:
    name, kind = graph.name(item), graph.known[item]
    what = "connect it to where its water goes, down to an outfall or a dry well"
    if kind.code == "sump_basin":
        what = "say which pump sits in it, or connect it to where its water goes"
    also = f", so water from {graph.names(inlets)} stops there" if inlets else ""
    message = f"{name} leads nowhere{also}: {what}."
    return graph.problem("leads_nowhere", "error", [item, *inlets], message)


CHECKS: Final[tuple[Callable[[Graph], list[Problem]], ...]] = (
    check_kinds_and_ends,
    check_tags,
    check_dimensions,
    check_belonging,
    check_receivers,
    check_outgoing,
    check_way_out,
    check_cycles,
    check_check_valves,
    check_discharge_lines,
    check_pipe_sizes,
    check_slopes,
)
