"""Each check of a system's graph finds what it is for, says what to do, and leaves a sound system alone."""

import pytest

from jobs.decide.graph import CHECKS, check_graph, stops_hand_over
from jobs.decide.graph_records import Edge, Node, tag_key
from tests.jobs.decide.drawn import PIPE, changed, found, only, pumped


def test_a_sound_pumped_system_has_no_problem():
    nodes, edges = pumped()
    assert check_graph(nodes.values(), edges) == ()
    assert check_graph(nodes.values(), [*edges, Edge("sb", "pu")]) == (), "drawing basin to pump says nothing new"


def test_nothing_at_all_has_no_problem():
    assert check_graph([], []) == ()


def test_an_inlet_that_reaches_nothing_is_named_with_the_place_where_its_water_stops():
    nodes, edges = pumped()
    problem = only(nodes, edges[:-1])
    assert (problem.code, problem.severity) == ("leads_nowhere", "error")
    assert problem.tags == ("DL-1", "CH-1", "SB-1")
    assert problem.message == (
        "DL-1 leads nowhere, so water from CH-1 and SB-1 stops there: connect it to where its water goes, down to an "
        "outfall or a dry well."
    )


def test_a_basin_without_a_pump_is_told_to_get_one():
    nodes = {"sb": Node("sb", "sump_basin", "SB-1")}
    assert "say which pump sits in it" in only(nodes, []).message


def test_one_working_pump_is_enough_for_the_basins_inlets():
    nodes, edges = pumped()
    nodes["p2"] = Node("p2", "pump", "PU-2", sits_in="sb")
    problem = only(nodes, edges)
    assert problem.tags == ("PU-2",)


def test_two_pumps_may_share_one_line():
    nodes, edges = pumped()
    nodes["p2"] = Node("p2", "pump", "PU-2", sits_in="sb")
    nodes["c2"] = Node("c2", "check_valve", "CV-2", {"valve_type": "ball"})
    assert check_graph(nodes.values(), [*edges, Edge("p2", "c2"), Edge("c2", "dl")]) == ()


def test_one_normal_connection_leaves_each_component():
    nodes, edges = pumped()
    nodes["o2"] = Node("o2", "outfall", "OF-2")
    problem = only(nodes, [*edges, Edge("ch", "o2")])
    assert problem.code == "too_many_outlets"
    assert problem.message.startswith("CH-1 leads to SB-1 and OF-2: keep one normal connection")
    assert check_graph(nodes.values(), [*edges, Edge("ch", "o2", "overflow")]) == ()


def test_a_pumped_basin_has_no_normal_connection_by_gravity():
    nodes, edges = pumped()
    nodes["o2"] = Node("o2", "outfall", "OF-2")
    assert only(nodes, [*edges, Edge("sb", "o2")]).code == "too_many_outlets"
    assert check_graph(nodes.values(), [*edges, Edge("sb", "o2", "overflow")]) == ()


def two_ended(slope_percent):
    nodes, edges = pumped()
    nodes["cb"] = Node("cb", "catch_basin", "CB-1")
    nodes["o2"] = Node("o2", "outfall", "OF-2")
    dims = {"ends": "two_open"} if slope_percent is None else {"ends": "two_open", "slope_percent": slope_percent}
    changed(nodes, "ch", dims=dims)
    return nodes, [*edges, Edge("ch", "cb"), Edge("cb", "o2")]


@pytest.mark.parametrize("slope_percent", [None, 0, 0.0])
def test_a_level_channel_may_leave_by_two_open_ends(slope_percent):
    nodes, edges = two_ended(slope_percent)
    assert check_graph(nodes.values(), edges) == ()


def test_two_open_ends_need_a_level_floor():
    nodes, edges = two_ended(0.5)
    assert only(nodes, edges).code == "two_ends_need_level"


def test_both_open_ends_lead_somewhere_and_no_third_way_does():
    nodes, edges = two_ended(0)
    assert only({k: nodes[k] for k in nodes if k not in ("cb", "o2")}, edges[:-2]).code == "open_end_unconnected"
    nodes["o3"] = Node("o3", "outfall", "OF-3")
    assert only(nodes, [*edges, Edge("ch", "o3")]).code == "too_many_outlets"


def test_both_ways_of_a_two_ended_channel_must_reach_an_end():
    nodes, edges = two_ended(0)
    problem = only({k: nodes[k] for k in nodes if k != "o2"}, edges[:-1])
    assert (problem.code, problem.tags) == ("leads_nowhere", ("CB-1", "CH-1"))


def test_overflow_is_no_way_out_in_the_rating():
    nodes = {"cb": Node("cb", "catch_basin", "CB-1"), "of": Node("of", "outfall", "OF-1")}
    assert only(nodes, [Edge("cb", "of", "overflow")]).code == "leads_nowhere"


def test_a_dry_well_ends_the_water_and_may_overflow():
    nodes = {
        "fd": Node("fd", "french_drain", "FD-1", PIPE),
        "dw": Node("dw", "dry_well", "DW-1"),
        "of": Node("of", "outfall", "OF-1"),
    }
    assert check_graph(nodes.values(), [Edge("fd", "dw"), Edge("dw", "of", "overflow")]) == ()
    problem = only(nodes, [Edge("fd", "dw"), Edge("dw", "of")])
    assert problem.code == "cannot_feed"
    assert "an overflow" in problem.message


def test_a_cycle_is_named_in_flow_order_and_once():
    nodes = {key: Node(key, "gravity_pipe", key.upper(), PIPE) for key in ("a", "b", "c", "d")}
    edges = [Edge("a", "b"), Edge("b", "c"), Edge("c", "d"), Edge("d", "b")]
    problem = only(nodes, edges)
    assert (problem.code, problem.tags) == ("cycle", ("B", "C", "D"))
    assert "through B, C and D: reverse or remove" in problem.message


def test_overflow_may_not_close_a_circle_either():
    nodes, edges = pumped()
    assert [p.code for p in check_graph(nodes.values(), [*edges, Edge("sb", "ch", "overflow")])] == ["cycle"]


def test_a_component_that_feeds_itself():
    nodes = {"a": Node("a", "gravity_pipe", "GP-1", PIPE)}
    assert "GP-1 leads to itself" in only(nodes, [Edge("a", "a")]).message


@pytest.mark.parametrize("key", ["pu", "bb", "ha"])
def test_what_belongs_to_a_basin_says_which(key):
    nodes, edges = pumped()
    changed(nodes, key, sits_in="")
    assert "must sit in a sump basin: say which one" in found(nodes, edges)["sits_in_wrong"].message
    changed(nodes, key, sits_in="of")
    assert "cannot sit in OF-1" in found(nodes, edges)["sits_in_wrong"].message
    changed(nodes, key, sits_in="gone")
    assert "not in this system" in found(nodes, edges)["sits_in_wrong"].message


def test_other_parts_sit_in_nothing_and_sub_parts_have_a_parent():
    nodes, edges = pumped()
    changed(nodes, "ch", sits_in="sb")
    assert "remove that" in only(nodes, edges).message
    nodes, edges = pumped()
    changed(nodes, "gr", part_of="")
    problem = only(nodes, edges)
    assert problem.code == "part_of_wrong"
    assert "a channel run" in problem.message
    assert "grate without a tag" in problem.message


def test_a_float_is_where_its_pump_is():
    nodes, edges = pumped()
    changed(nodes, "fl", part_of="")
    assert {p.code for p in check_graph(nodes.values(), edges)} == {"sits_in_wrong", "part_of_wrong"}


def test_tags_are_unique_however_they_are_written():
    # "é" as one code point and as "e" with a combining accent, upper and lower case, blanks: all one tag (Unicode
    # Standard Annex 15, normalization form C; Unicode core specification section 5.18, case folding).
    assert tag_key(" Caf\u00e9  1") == tag_key("CAFE\u0301 1")
    nodes, edges = pumped()
    changed(nodes, "of", tag="ch-1 ")
    problem = only(nodes, edges)
    assert (problem.code, set(problem.ids)) == ("tag_used_twice", {"ch", "of"})


def test_a_missing_tag_is_a_warning_and_sub_parts_need_none():
    nodes, edges = pumped()
    changed(nodes, "dl", tag="")
    problem = only(nodes, edges)
    assert (problem.code, problem.severity) == ("no_tag", "warning")


def test_dimensions_are_checked_with_the_graph():
    nodes, edges = pumped()
    changed(nodes, "sb", dims={"inside_diameter_in": 500})
    problem = only(nodes, edges)
    assert problem.message == "SB-1: inside_diameter_in is 500 in: give a number from 8 to 72 in."


def test_connections_lead_to_kinds_that_take_the_water():
    nodes, edges = pumped()
    problems = found(nodes, [*edges, Edge("of", "ch")])
    assert "OF-1 is an outfall and feeds nothing" in problems["cannot_feed"].message
    nodes, edges = pumped()
    nodes["c2"] = Node("c2", "channel_run", "CH-2")
    problem = only(nodes, [*edges, Edge("c2", "cv")])
    assert (problem.code, problem.tags) == ("cannot_feed", ("CH-2", "CV-1"))
    assert "sump basin" in problem.message
    assert found(nodes, [*edges, Edge("c2", "sb"), Edge("pu", "ch", "overflow")])["cannot_overflow"].tags == (
        "PU-1",
        "CH-1",
    )


def test_water_reaches_a_pump_only_through_the_basin_it_sits_in():
    nodes, edges = pumped()
    nodes["s2"] = Node("s2", "sump_basin", "SB-2")
    assert only(nodes, [*edges, Edge("s2", "pu")]).code == "pump_elsewhere"


def test_records_that_do_not_fit_together_are_named_not_stumbled_over():
    nodes, edges = pumped()
    listed = [*nodes.values(), nodes["ch"], Node("x", "moat", "MO-1")]
    problems = check_graph(listed, [*edges, Edge("ch", "gone"), Edge("gone", "lost"), Edge("x", "ch")])
    codes = [problem.code for problem in problems]
    assert sorted(codes) == ["connection_end_missing", "connection_end_missing", "listed_twice", "unknown_kind"]
    assert "MO-1 is of kind 'moat'" in next(p.message for p in problems if p.code == "unknown_kind")


def test_errors_come_first():
    nodes, edges = pumped()
    changed(nodes, "dl", tag="")
    problems = check_graph(nodes.values(), edges[:-1])
    assert [problem.severity for problem in problems] == ["error", "warning"]
    assert stops_hand_over(problems)


def test_each_check_stands_in_the_list():
    assert len(set(CHECKS)) == 12
