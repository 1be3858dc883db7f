"""Find where water would go round in a circle. Linear in components and connections, without recursion."""

from collections.abc import Iterator
from itertools import chain

from jobs.decide.graph_records import Graph, Problem


def check_cycles(graph: Graph) -> list[Problem]:
    """No water comes back to where it was; of each knot of cycles one is named, in flow order."""
    listed = {item: place for place, item in enumerate(graph.known)}
    loops = [_loop(graph, min(knot, key=listed.__getitem__), set(knot)) for knot in _knots(graph)]
    return [_named(graph, loop) for loop in loops if loop]


def _below(graph: Graph, item: str) -> Iterator[str]:
    """Where water can go from here, overflow included."""
    return chain(graph.out[item], graph.overflow[item])


def _finished_order(graph: Graph) -> list[str]:
    """Ids in the order in which a depth-first walk leaves them."""
    done: list[str] = []
    seen: set[str] = set()
    for start in graph.known:
        if start in seen:
            continue
        seen.add(start)
        path = [(start, _below(graph, start))]
        while path:
            item, branches = path[-1]
            target = next((branch for branch in branches if branch not in seen), None)
            if target is None:
                done.append(item)
                path.pop()
            else:
                seen.add(target)
                path.append((target, _below(graph, target)))
    return done


def _knots(graph: Graph) -> list[list[str]]:
    """Groups of ids in which each can reach each other (strongly connected components)."""
    above: dict[str, list[str]] = {item: [] for item in graph.known}
    for item in graph.known:
        for target in _below(graph, item):
            above[target].append(item)
    knots = []
    taken: set[str] = set()
    for start in reversed(_finished_order(graph)):
        if start in taken:
            continue
        taken.add(start)
        knot = [start]
        for item in knot:  # grows while it is walked
            fresh = [source for source in dict.fromkeys(above[item]) if source not in taken]
            taken.update(fresh)
            knot.extend(fresh)
        knots.append(knot)
    return knots


def _loop(graph: Graph, start: str, inside: set[str]) -> list[str]:
    """One cycle within a knot, found by going on until a place comes again; empty where there is none."""
    place: dict[str, int] = {}
    path: list[str] = []
    item: str | None = start
    while item is not None and item not in place:
        place[item] = len(path)
        path.append(item)
        item = next((target for target in _below(graph, item) if target in inside), None)
    return [] if item is None else path[place[item] :]


def _named(graph: Graph, ids: list[str]) -> Problem:
    if len(ids) == 1:
        message = f"{graph.name(ids[0])} leads to itself: remove that connection."
    else:
        message = f"Water goes round in a circle through {graph.names(ids)}: reverse or remove one of the connections."
    return graph.problem("cycle", "error", ids, message)
