"""Systems drawn for the graph checks, and ways to ask what was found."""

import dataclasses

from jobs.decide.graph import check_graph
from jobs.decide.graph_records import Edge, Node

PIPE = {"inside_diameter_in": 4.0, "slope_percent": 1.0, "length_ft": 20.0}


def pumped():
    """A channel into a pumped basin and out at the curb, with everything that belongs there."""
    nodes = {
        "ch": Node("ch", "channel_run", "CH-1", {"slope_percent": 0.0, "ends": "one_open"}),
        "gr": Node("gr", "grate", part_of="ch"),
        "sb": Node("sb", "sump_basin", "SB-1"),
        "pu": Node("pu", "pump", "PU-1", sits_in="sb"),
        "fl": Node("fl", "float", part_of="pu"),
        "cv": Node("cv", "check_valve", "CV-1", {"valve_type": "swing"}),
        "dl": Node("dl", "discharge_line", "DL-1", {"inside_diameter_in": 1.61}),
        "of": Node("of", "outfall", "OF-1"),
        "bb": Node("bb", "backup_battery", "BB-1", sits_in="sb"),
        "ha": Node("ha", "high_water_alarm", "HA-1", sits_in="sb"),
    }
    edges = [Edge("ch", "sb"), Edge("pu", "cv"), Edge("cv", "dl"), Edge("dl", "of")]
    return nodes, edges


def found(nodes, edges):
    return {problem.code: problem for problem in check_graph(nodes.values(), edges)}


def changed(nodes, key, **changes):
    nodes[key] = dataclasses.replace(nodes[key], **changes)


def only(nodes, edges):
    """The one problem there is."""
    problems = check_graph(nodes.values(), edges)
    assert len(problems) == 1, problems
    return problems[0]
