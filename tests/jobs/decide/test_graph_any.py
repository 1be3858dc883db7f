"""Any records at all, and very many of them."""

import time
from itertools import pairwise

import networkx
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.decide.graph import check_graph
from jobs.decide.graph_records import Edge, Graph, Node
from jobs.kinds import registry
from tests.jobs.decide.drawn import PIPE

kinds = st.sampled_from([kind.code for kind in registry.ALL])


@st.composite
def systems(draw):
    count = draw(st.integers(0, 12))
    ids = [f"n{i}" for i in range(count)]
    some = st.sampled_from([*ids, "", "gone"])
    slopes = st.sampled_from([{}, {"slope_percent": 0.2}, {"slope_percent": 2.0}, {"ends": "two_open"}])
    nodes = [
        Node(i, draw(kinds), draw(st.sampled_from(["", i, "A"])), draw(slopes), {}, draw(some), draw(some)) for i in ids
    ]
    flows = st.sampled_from(["normal", "normal", "overflow"])
    edges = draw(st.lists(st.builds(Edge, some, some, flows), max_size=20))
    return nodes, edges


@given(systems())
@settings(derandomize=True, max_examples=400, deadline=None)
def test_any_records_are_judged_and_agree_with_another_librarys_walk(system):
    nodes, edges = system
    problems = check_graph(nodes, edges)
    assert all(problem.message.endswith((".", "?")) or problem.code == "slope_accepted" for problem in problems)
    assert check_graph(nodes, edges) == problems
    graph = Graph(nodes, edges)
    other = networkx.DiGraph()
    other.add_nodes_from(graph.known)
    other.add_edges_from((a, b) for a in graph.known for b in [*graph.out[a], *graph.overflow[a]])
    knots = [knot for knot in networkx.strongly_connected_components(other) if len(knot) > 1]
    loops = [{item} for item in networkx.nodes_with_selfloops(other) if not any(item in knot for knot in knots)]
    named = [problem.ids for problem in problems if problem.code == "cycle"]
    assert len(named) == len(knots) + len(loops)
    for ids in named:
        assert any(set(ids) <= knot for knot in [*knots, *loops])
        assert all(other.has_edge(a, b) for a, b in zip(ids, [*ids[1:], ids[0]], strict=True))


@given(systems())
@settings(derandomize=True, max_examples=400, deadline=None)
def test_without_cycles_each_stuck_inlet_is_named_and_no_other(system):
    nodes, edges = system
    graph = Graph(nodes, edges)
    if len(graph.order) < len(graph.known):
        return
    problems = check_graph(nodes, edges)
    named = {item for problem in problems if problem.code == "leads_nowhere" for item in problem.ids}

    def reaches(item):
        kind = graph.known[item]
        if kind.ends:
            return True
        ways = [reaches(target) for target in graph.out[item]]
        return bool(ways) and (any(ways) if kind.code == "sump_basin" else all(ways))

    def leads_on(item):
        """No water passes a kind that carries none; its wrong connections are told by another check."""
        return all(graph.known[t].carries_water and leads_on(t) for t in graph.out[item])

    for item, kind in graph.known.items():
        if kind.takes_in and not kind.ends and leads_on(item):
            assert (item in named) == (not reaches(item))


def test_ten_thousand_components_are_checked_within_a_generous_ceiling():
    def seconds(count):
        nodes = [Node("ch", "channel_run", "CH-1")]
        nodes += [Node(f"g{i}", "gravity_pipe", f"GP-{i}", PIPE) for i in range(count)]
        nodes.append(Node("of", "outfall", "OF-1"))
        row = [node.id for node in nodes]
        edges = [Edge(a, b) for a, b in pairwise(row)]
        edges += [Edge(f"g{i}", "g0", "overflow") for i in range(1, count, 2)]
        started = time.process_time()
        problems = check_graph(nodes, edges)
        assert sum(problem.code == "cycle" for problem in problems) == 1
        return time.process_time() - started

    # Under a second here; a quadratic walk would make a hundred million steps, well over this ceiling in Python.
    assert seconds(10_000) < 5
