"""Checks along pipes: check valves, discharge lines, sizes and slopes."""

from typing import Final

from jobs.decide.graph_records import Graph, Problem

LEAST_SLOPE_PERCENT: Final = 0.5
"""Below this a gravity pipe is an error unless someone says why it was accepted."""

GOOD_SLOPE_PERCENT: Final = 1.0
"""Below this a gravity pipe is worth a warning: silt settles and a small sag holds water."""


def check_check_valves(graph: Graph) -> list[Problem]:
    """A check valve, or one recorded as none fitted, follows each pump directly."""
    found = []
    for item, kind in graph.known.items():
        if kind.code != "pump" or not graph.out[item]:
            continue
        if not any(graph.kind(target).code == "check_valve" for target in graph.out[item]):
            message = (
                f"No check valve follows {graph.name(item)}: add one between it and its discharge line, "
                "of type 'none fitted' if there is none."
            )
            found.append(graph.problem("no_check_valve", "error", [item], message))
    return found


def check_discharge_lines(graph: Graph) -> list[Problem]:
    """Each discharge line has a pump above it."""
    pumped: dict[str, bool] = {}
    found = []
    for item in graph.order:
        code = graph.kind(item).code
        above = any(pumped[source] for source in graph.into[item])
        pumped[item] = code == "pump" or (above and code in ("check_valve", "discharge_line"))
        if code == "discharge_line" and not above:
            message = (
                f"{graph.name(item)} is a discharge line without a pump above it: connect its pump, "
                "or record it as a gravity pipe."
            )
            found.append(graph.problem("no_pump_above", "error", [item], message))
    return found


def check_pipe_sizes(graph: Graph) -> list[Problem]:
    """A pipe gets no smaller downstream, through basins and clean-outs too; a sump basin starts anew."""
    bore_above: dict[str, tuple[float, str]] = {}
    nothing = (0.0, "")
    found = []
    for item in graph.order:
        kind = graph.kind(item)
        widest = max((bore_above[source] for source in graph.into[item]), default=nothing, key=lambda pair: pair[0])
        bore_above[item] = nothing if kind.code in ("sump_basin", "pump") else widest
        bore = graph.by_id[item].dims.get(kind.bore) if kind.bore else None
        if not isinstance(bore, int | float):
            continue
        bore_above[item] = (float(bore), item)
        if bore < widest[0]:
            message = (
                f"{graph.name(item)} is {bore:g} in inside, smaller than {graph.name(widest[1])} above it, "
                f"{widest[0]:g} in: measure both, or lay a pipe at least as large."
            )
            found.append(graph.problem("smaller_downstream", "warning", [item, widest[1]], message))
    return found


def check_slopes(graph: Graph) -> list[Problem]:
    """A gravity pipe falls at least 1 % (warning), at least 0.5 % (error unless a reason was given)."""
    found = []
    for item, kind in graph.known.items():
        node = graph.by_id[item]
        slope = node.dims.get("slope_percent") if kind.needs_fall else None
        if not isinstance(slope, int | float) or slope >= GOOD_SLOPE_PERCENT:
            continue
        name, reason = graph.name(item), node.slope_reason.strip()
        if slope >= LEAST_SLOPE_PERCENT:
            message = f"{name} falls {slope:g} %: lay it at 1 % or more where there is room, so that silt keeps moving."
            found.append(graph.problem("slope_low", "warning", [item], message))
        elif reason:
            message = f"{name} falls {slope:g} %, less than 0.5 %, accepted because: {reason}"
            found.append(graph.problem("slope_accepted", "warning", [item], message))
        else:
            message = f"{name} falls {slope:g} %: relay it at 0.5 % or more, or write down why it was accepted."
            found.append(graph.problem("slope_too_low", "error", [item], message))
    return found
