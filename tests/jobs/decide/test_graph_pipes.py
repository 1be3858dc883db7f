"""Check valves, discharge lines, sizes and slopes along pipes."""

from itertools import pairwise

import pytest

from jobs.decide.graph import check_graph, stops_hand_over
from jobs.decide.graph_records import Edge, Node
from tests.jobs.decide.drawn import PIPE, changed, found, only, pumped


def test_a_check_valve_or_a_recorded_none_follows_each_pump():
    nodes, edges = pumped()
    direct = [edge for edge in edges if "cv" not in (edge.source, edge.target)] + [Edge("pu", "dl")]
    problem = only({k: nodes[k] for k in nodes if k != "cv"}, direct)
    assert problem.code == "no_check_valve"
    assert "none fitted" in problem.message
    changed(nodes, "cv", dims={"valve_type": "none_fitted"})
    assert check_graph(nodes.values(), edges) == ()


def test_a_discharge_line_has_a_pump_above_it():
    nodes = {
        "cb": Node("cb", "catch_basin", "CB-1"),
        "gp": Node("gp", "gravity_pipe", "GP-1", PIPE),
        "dl": Node("dl", "discharge_line", "DL-1"),
        "of": Node("of", "outfall", "OF-1"),
    }
    problems = found(nodes, [Edge("cb", "gp"), Edge("gp", "dl"), Edge("dl", "of")])
    assert set(problems) == {"no_pump_above", "cannot_feed"}
    nodes, edges = pumped()
    nodes["d2"] = Node("d2", "discharge_line", "DL-2")
    assert check_graph(nodes.values(), [*edges[:-1], Edge("dl", "d2"), Edge("d2", "of")]) == ()


def pipes(*bores, between=()):
    nodes = {"cb": Node("cb", "catch_basin", "CB-1")}
    nodes |= {
        f"g{i}": Node(f"g{i}", "gravity_pipe", f"GP-{i}", PIPE | {"inside_diameter_in": b}) for i, b in enumerate(bores)
    }
    row = ["cb", *(f"g{i}" for i in range(len(bores)))]
    for place, kind in between:
        nodes[kind] = Node(kind, kind, kind.upper())
        row.insert(place, kind)
    nodes["of"] = Node("of", "outfall", "OF-1")
    row.append("of")
    return nodes, [Edge(a, b) for a, b in pairwise(row)]


def test_a_pipe_gets_no_smaller_downstream():
    problem = only(*pipes(4, 6, 6, 4))
    assert (problem.code, problem.severity) == ("smaller_downstream", "warning")
    assert problem.tags == ("GP-3", "GP-2")
    assert "4 in inside, smaller than GP-2 above it, 6 in" in problem.message
    assert not stops_hand_over([problem])


def test_a_basin_or_clean_out_between_pipes_hides_nothing():
    nodes, edges = pipes(6, 4, between=[(2, "clean_out")])
    assert only(nodes, edges).tags == ("GP-1", "GP-0")


def test_a_pumped_basin_starts_anew():
    nodes, edges = pumped()
    nodes["gp"] = Node("gp", "gravity_pipe", "GP-1", PIPE)
    assert check_graph(nodes.values(), [*edges[1:], Edge("ch", "gp"), Edge("gp", "sb")]) == ()


@pytest.mark.parametrize(
    ("slope_percent", "reason", "code", "severity"),
    [
        (1.0, "", None, None),
        (0.99, "", "slope_low", "warning"),
        (0.5, "", "slope_low", "warning"),
        (0.49, "", "slope_too_low", "error"),
        (0.0, "", "slope_too_low", "error"),
        (-2.0, "", "slope_too_low", "error"),
        (0.3, "  ", "slope_too_low", "error"),
        (0.3, "tree root, no other way", "slope_accepted", "warning"),
    ],
)
@pytest.mark.parametrize("kind", ["gravity_pipe", "downspout_leader", "french_drain"])
def test_gravity_pipes_fall(kind, slope_percent, reason, code, severity):
    nodes = {
        "gp": Node("gp", kind, "GP-1", {"slope_percent": slope_percent}, slope_reason=reason),
        "of": Node("of", "outfall", "OF-1"),
    }
    problems = check_graph(nodes.values(), [Edge("gp", "of")])
    assert [(p.code, p.severity) for p in problems] == ([(code, severity)] if code else [])
    if code == "slope_accepted":
        assert reason in problems[0].message


def test_an_unknown_slope_or_bore_is_no_problem_of_the_graph():
    nodes = {"gp": Node("gp", "gravity_pipe", "GP-1"), "of": Node("of", "outfall", "OF-1")}
    assert check_graph(nodes.values(), [Edge("gp", "of")]) == ()
