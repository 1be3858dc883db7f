"""What the rain asks of each pump of a system: runoff area above its basin, duty flow, volume between the floats. Pure.

Pumps of one basin are taken to share its water and its starts evenly (assumption: they alternate). A pump on the backup
battery runs only when the power fails: the rain asks nothing of it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from hydraulics import network as net
from hydraulics.water_paths import Paths, walk
from maintenance.decide.rating_records import SystemRows, to_system
from maintenance.forecast.pump_load import PumpedBasin

SECONDS_AN_HOUR: Final = 3600.0


def pumped_basins(rows: SystemRows) -> dict[int, PumpedBasin]:
    """By pump: its share of the basin it sits in. Left out where that cannot be rated or the pump moves nothing."""
    mains = [part for part in rows.parts if part.kind == "pump" and part.dims.get("powered_by") != "battery"]
    if not mains:
        return {}
    try:
        system = to_system(rows, {})
        paths = walk(system)
        found: dict[int, PumpedBasin] = {}
        for basin in (part for part in rows.parts if part.kind == "sump_basin"):
            mine = {part.name: part.id for part in mains if part.sits_in == basin.id}
            ready = net.pumped_basin(system, basin.name) if mine else None
            if ready is not None:
                found |= _shares(mine, ready, runoff_area(paths, basin.name))
    except ValueError:
        return {}  # the rating of this system says what is wrong
    return found


def _shares(mine: dict[str, int], ready: net.PumpedBasin, area_m2: float) -> dict[int, PumpedBasin]:
    flows = {tag: line.flow_m3s / len(line.pump_tags) for line in ready.lines for tag in line.pump_tags}
    found = {}
    for pump, tag in zip(ready.pumps, ready.pump_tags, strict=True):
        volume = ready.area_m2 * (float(np.asarray(pump.on_level_m)) - float(np.asarray(pump.off_level_m)))
        flow = flows.get(tag, 0.0)
        if tag in mine and flow > 0 and volume > 0:
            found[mine[tag]] = PumpedBasin(area_m2 / len(mine), flow * SECONDS_AN_HOUR, volume)
    return found


def runoff_area(paths: Paths, basin: str, seen: frozenset[str] = frozenset()) -> float:
    """Sum of runoff coefficient x area whose water comes to a basin [m2], that pumped into it by others included."""
    if basin in seen or basin not in paths.own:
        return 0.0
    waters = (paths.own[basin], paths.arriving[basin])
    direct = sum(area for water in waters for area in water.areas.values())
    lines = [(line, share) for water in waters for line, share in water.pumped.items()]
    beyond = seen | {basin}
    return direct + sum(
        share * runoff_area(paths, paths.pump_lines[line].basin, beyond)
        for line, share in lines
        if line in paths.pump_lines
    )
