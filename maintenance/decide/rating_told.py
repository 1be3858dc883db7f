"""A rating put into plain values: what is stored, shown and sent, in the units people use. Pure."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from hydraulics import network as net
from hydraulics.basin import least_seconds_to_spill, most_starts_per_hour, route
from hydraulics.pump import PumpCurve
from hydraulics.units import from_si
from maintenance.decide.rating_records import SystemRows, to_system

ESTIMATE: Final = (
    "An estimate from the inputs listed, for planning maintenance; not a guarantee and not an engineer's design."
)
MINUTES_AN_HOUR: Final = 60.0


@dataclass(frozen=True)
class Rated:
    """Ratings of one system by state, its pumps, or the problem that kept it from being rated."""

    ratings: Mapping[str, net.StormRating] = field(default_factory=dict)
    battery: net.StormRating | None = None
    no_power: net.StormRating | None = None
    pumps: tuple[dict[str, Any], ...] = ()
    problem: str = ""

    def multiple(self, state: str) -> float | None:
        """The storm rating in one state, None where not rated; endless where no water reaches the system."""
        rating = self.ratings.get(state)
        return None if rating is None else _finite(rating.multiple)


def _finite(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def has_pump(rows: SystemRows) -> bool:
    """A pump sits in one of its basins."""
    return any(part.kind == "pump" for part in rows.parts)


def has_battery(rows: SystemRows) -> bool:
    """A pump runs on the backup battery."""
    return any(part.kind == "pump" and part.dims.get("powered_by") == "battery" for part in rows.parts)


def needs_of(rated: Rated) -> list[str]:
    """What must be known or mended before it can be rated, in words; empty where it is rated."""
    if rated.problem:
        return [rated.problem]
    rating = rated.ratings["as_new"]
    return [*(str(part) for part in rating.missing), *rating.problems]


def basin_area_in2(rows: SystemRows, pump: int) -> float | None:
    """Plan area of the basin a pump sits in [in2], None where unknown."""
    parts = {part.id: part for part in rows.parts}
    basin = parts.get(parts[pump].sits_in or 0)
    across = basin.dims.get("inside_diameter_in") if basin else None
    return None if not across else math.pi / 4 * float(across) ** 2


def duty_gpm(rows: SystemRows, pump: int) -> float | None:
    """Duty of a pump on its own line, from its curve and line [gpm]; None where it cannot be computed."""
    parts = {part.id: part for part in rows.parts}
    basin = parts.get(parts[pump].sits_in or 0)
    if basin is None:
        return None
    try:
        found = net.pumped_basin(to_system(rows, {}), basin.name)
    except ValueError:
        return None
    for line in found.lines if found else ():
        if parts[pump].name in line.pump_tags and line.flow_m3s > 0:
            return float(from_si(line.flow_m3s, "gpm")) / len(line.pump_tags)
    return None


def rain_told(rating: net.StormRating) -> dict[str, Any]:
    """One state of a system: share of the target, rain, return period, what limits, and every check."""
    return {
        "multiple": _finite(rating.multiple),
        "rain_10min_in_h": _rounded(rating.rain_10min_mm_h, 25.4),
        "rain_60min_in": _rounded(rating.rain_60min_mm, 25.4),
        "return_years": _finite(rating.returns_years),
        "beside_table": rating.beside_table,
        "limiting": rating.limiting,
        "limiting_what": rating.limiting_what,
        "meets_target": rating.meets_target,
        "message": rating.message,
        "checks": [
            {
                "tag": check.tag,
                "what": check.what,
                "reaches_gpm": _rounded(from_si(check.reaches_m3s, "gpm")),
                "capacity_gpm": _rounded(from_si(check.capacity_m3s, "gpm")),
                "multiple": _finite(check.multiple),
            }
            for check in rating.judgements
        ],
    }


def _rounded(value: float | None, divisor: float = 1.0) -> float | None:
    found = _finite(None if value is None else float(value))
    return None if found is None else round(found / divisor, 3)


def detail_of(rows: SystemRows, rated: Rated, table_words: str) -> dict[str, Any]:
    """Everything a page or the API shows of a rating, as JSON-ready values."""
    return {
        "target_years": rows.return_years,
        "rain_table": table_words,
        "states": {state: rain_told(rating) for state, rating in rated.ratings.items() if rating.rated},
        "battery": rain_told(rated.battery)["multiple"] if rated.battery else None,
        "no_power": rain_told(rated.no_power)["multiple"] if rated.no_power else None,
        "has_battery": rated.battery is not None,
        "pumps": list(rated.pumps),
        "note": ESTIMATE,
    }


def pumps_of(rows: SystemRows, system: net.System) -> tuple[dict[str, Any], ...]:
    """Each pump line of each basin: curves, duty, velocity, starts, run time and time to spill in the target storm."""
    found: list[dict[str, Any]] = []
    for part in rows.parts:
        if part.kind != "sump_basin":
            continue
        basin = net.pumped_basin(system, part.name)
        if basin is not None and basin.pumps:
            found += [_line_told(part.name, basin, index) for index in range(len(basin.lines))]
    return tuple(found)


def _line_told(name: str, basin: net.PumpedBasin, index: int) -> dict[str, Any]:
    line = basin.lines[index]
    duty = line.duty
    routed = route(basin.inflow_m3s, basin.step_s, basin.area_m2, basin.depth_m, basin.pumps)
    pump = basin.pumps[0]
    volume = basin.area_m2 * (float(np.asarray(pump.on_level_m)) - float(np.asarray(pump.off_level_m)))
    start = float(np.asarray(pump.on_level_m))
    until = least_seconds_to_spill(basin.inflow_m3s, basin.step_s, basin.area_m2, basin.limit_level_m, start)
    starts = most_starts_per_hour(volume, line.flow_m3s) if line.flow_m3s > 0 else 0.0
    return {
        "basin": name,
        "pumps": list(line.pump_tags),
        "words": str(duty) if duty is not None else "",
        "status": duty.status if duty is not None else "",
        "flow_gpm": _rounded(from_si(line.flow_m3s, "gpm")),
        "duty_gpm": _rounded(from_si(float(np.asarray(duty.flow_m3s)), "gpm")) if duty is not None else None,
        "head_ft": _rounded(from_si(float(np.asarray(duty.head_m)), "ft")) if duty is not None else None,
        "velocity_ft_s": _rounded(from_si(float(np.asarray(duty.velocity_m_s)), "ft")) if duty is not None else None,
        "velocity_flag": str(duty.velocity_flag or "") if duty is not None else "",
        "shutoff_ft": _rounded(from_si(float(np.asarray(duty.shutoff_head_m)), "ft")) if duty is not None else None,
        "lift_ft": _rounded(from_si(float(np.asarray(duty.static_lift_m)), "ft")) if duty is not None else None,
        "most_starts_per_hour": _rounded(float(starts)),
        "starts_in_storm": [int(n) for n in np.atleast_1d(np.asarray(routed.starts)).ravel()],
        "run_minutes_in_storm": [
            round(float(s) / MINUTES_AN_HOUR, 1) for s in np.atleast_1d(np.asarray(routed.run_s)).ravel()
        ],
        "minutes_to_limit_without_pump": _rounded(until, MINUTES_AN_HOUR),
        "curve_gpm_ft": _curve_points(line),
    }


def _curve_points(line: net.LineDuty) -> dict[str, list[list[float]]]:
    """Pump curve and line curve as points to draw [gpm, ft]; empty where they are not those of one pump."""
    if not isinstance(line.curve, PumpCurve) or line.line is None or line.duty is None:
        return {}
    flows = np.linspace(0.0, line.curve.largest_flow_m3s, 25)
    return {"pump": _points(flows, line.curve.head(flows)), "line": _points(flows, line.line.head(flows))}


def _points(flows: np.ndarray, heads: Any) -> list[list[float]]:
    gpm = np.asarray(from_si(flows, "gpm"), dtype=float)
    feet = np.asarray(from_si(heads, "ft"), dtype=float)
    return [[round(float(q), 2), round(float(h), 2)] for q, h in zip(gpm, feet, strict=True) if h >= 0]
