"""Storm rating of drainage systems: what each carries, what reaches it, which component limits.

Definition: the largest multiple m of the rating storm (alternating blocks of 5 min over 24 h at the system's target
return period) such that every gravity component's peak, the sum over the drainage areas above it of C A m i(own time of
concentration), is within its capacity, and every pumped basin stays at or below its limit level, routed in the worst
phase of the pump cycle. Peaks of areas are summed whatever their timing: on the safe side, and adding an area never
raises a rating. An estimate for planning maintenance, not an engineer's design.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from hydraulics.basin import BasinPump
from hydraulics.demands import STEP_S, Rains
from hydraulics.duty_tables import LineDuty, flow_tables, line_duty, line_task, routed_pumps
from hydraulics.flat_parts import Flat, Unrated, limit_level, take_apart
from hydraulics.judging import Judge
from hydraulics.parts import (
    CatchBasin,
    ChannelRun,
    CheckValve,
    CleanOut,
    Component,
    Connection,
    DischargePipe,
    DrainageArea,
    DryWell,
    Grate,
    GravityPipe,
    Outfall,
    Power,
    Pump,
    SumpBasin,
    System,
)
from hydraulics.silt_limits import SiltLimit, silt_limits
from hydraulics.units import FloatArray
from hydraulics.water_paths import Missing, walk

__all__ = [
    "CatchBasin", "ChannelRun", "CheckValve", "CleanOut", "Component", "Connection", "DischargePipe", "DrainageArea",
    "DryWell", "Grate", "GravityPipe", "Judgement", "LineDuty", "Missing", "Outfall", "Power", "Pump", "PumpedBasin",
    "SiltLimit", "StormRating", "SumpBasin", "System", "as_new", "cleaned", "flows", "pumped_basin", "storm_rating",
    "storm_ratings", "threshold_fill", "threshold_fills",
]  # fmt: skip

RETURN_ROUNDS: Final = 20
"""Most halvings of the logarithm of the return period; they end where it is known to 0.05 %."""


@dataclass(frozen=True)
class Judgement:
    """One check of one component at the target storm.

    what: "running full", "its outlet", "its grate", "full to the rim" or "its level"; reaches_m3s: peak at the target
    storm, pumped flow included; capacity_m3s: what it carries (for a basin, the storm's peak inflow it just passes);
    multiple: largest multiple of the target storm it passes, infinite if no storm water reaches it.
    """

    tag: str
    what: str
    reaches_m3s: float
    capacity_m3s: float
    multiple: float


@dataclass(frozen=True)
class StormRating:
    """Rating of one system in one state.

    multiple: largest multiple of the rating storm it passes, also its share of the target; None if not rated.
    rain_10min_mm_h, rain_60min_mm: the same told as rain over ten minutes [mm/h] and in an hour [mm].
    returns_years: largest return period inside the table whose own storm passes; None with ``beside_table`` "below the
    table" or "above the table" otherwise. limiting: tag of the component that limits, limiting_what: by which check.
    """

    multiple: float | None
    target_years: float
    rain_10min_mm_h: float | None = None
    rain_60min_mm: float | None = None
    returns_years: float | None = None
    beside_table: str = ""
    limiting: str | None = None
    limiting_what: str = ""
    judgements: tuple[Judgement, ...] = ()
    missing: tuple[Missing, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def rated(self) -> bool:
        """Whether there is a rating."""
        return self.multiple is not None

    @property
    def meets_target(self) -> bool:
        """Whether the system passes its own target storm."""
        return self.multiple is not None and self.multiple >= 1.0 - 1e-9

    @property
    def message(self) -> str:
        """One line: "not rated: needs CH-1 length", or the share of the target and what limits."""
        if self.multiple is None:
            needs = ["needs " + ", ".join(str(part) for part in self.missing)] if self.missing else []
            return "not rated: " + "; ".join([*needs, *self.problems])
        return f"{self.multiple:.0%} of the {self.target_years:g}-year storm, limited by {self.limiting}"


def storm_rating(system: System, power: Power = "mains") -> StormRating:
    """Rate one system in the state its record gives. ``power``: which pumps run. ValueError: a number out of range."""
    return storm_ratings([system], power)[0]


def storm_ratings(systems: Sequence[System], power: Power = "mains") -> list[StormRating]:
    """Rate many systems at once, in order; the same results as one by one, many times faster."""
    flat = Flat()
    answers: list[StormRating | None] = [None] * len(systems)
    rated: list[int] = []
    for index, system in enumerate(systems):
        unrated = take_apart(flat, len(rated), system, power)
        if unrated is None:
            rated.append(index)
        else:
            answers[index] = _unrated(system, unrated)
    if rated:
        chosen = [systems[index] for index in rated]
        for index, rating in zip(rated, _rate(flat, chosen), strict=True):
            answers[index] = rating
    return [answer for answer in answers if answer is not None]


def _unrated(system: System, unrated: Unrated) -> StormRating:
    return StormRating(None, float(system.return_years), missing=unrated.missing, problems=unrated.problems)


def _rate(flat: Flat, systems: Sequence[System]) -> list[StormRating]:
    rains = Rains(systems)
    judge = Judge(flat, rains)
    checks: list[list[Judgement]] = [[] for _ in systems]
    least = np.full(len(systems), np.inf)
    for judged in judge.judged:
        reaches = judged.fixed + judged.flow
        rows = zip(judged.owner, reaches.tolist(), judged.capacity.tolist(), judged.multiple.tolist(), strict=True)
        for (system, tag), reach, capacity, multiple in rows:
            checks[system].append(Judgement(tag, judged.what, reach, capacity, multiple))
            least[system] = min(least[system], multiple)
    returns, beside = _return_periods(judge, rains, least)
    every = np.arange(len(systems))
    ten, sixty = (rains.intensity(every, np.full(every.size, m), rains.target_years) for m in (10.0, 60.0))
    return [
        _told(system, checks[index], least[index], ten[index], sixty[index], returns[index], beside[index])
        for index, system in enumerate(systems)
    ]


def _told(
    system: System, checks: list[Judgement], multiple: float, ten: float, sixty: float, years: float, beside: str
) -> StormRating:
    if not np.isfinite(multiple):
        return StormRating(None, float(system.return_years), problems=("no component whose capacity can be computed",))
    worst = min(checks, key=lambda check: check.multiple)
    return StormRating(
        multiple=float(multiple),
        target_years=float(system.return_years),
        rain_10min_mm_h=float(multiple * ten),
        rain_60min_mm=float(multiple * sixty),
        returns_years=None if beside else float(years),
        beside_table=beside,
        limiting=worst.tag,
        limiting_what=worst.what,
        judgements=tuple(checks),
    )


def _return_periods(judge: Judge, rains: Rains, least: FloatArray) -> tuple[FloatArray, list[str]]:
    """Largest return period each system passes in its own table, and "below" or "above the table" beside it."""
    every = np.arange(least.size)
    low, high = rains.ends()
    passes_low, passes_high = judge.passes(low, every), judge.passes(high, every)
    inside = passes_low & ~passes_high
    log_low, log_high = np.log(low), np.log(high)
    # the target storm itself is known to pass or not: start the halving there
    target = np.log(rains.target_years)
    meets = least >= 1.0
    log_low = np.where(inside & meets, np.maximum(log_low, target), log_low)
    log_high = np.where(inside & ~meets, np.minimum(log_high, target), log_high)
    for _ in range(RETURN_ROUNDS):
        asked = np.flatnonzero(inside & (log_high - log_low > 5e-4))
        if not asked.size:
            break
        middle = 0.5 * (log_low + log_high)
        passes = judge.passes(np.exp(middle), asked)[asked]
        log_low[asked] = np.where(passes, middle[asked], log_low[asked])
        log_high[asked] = np.where(passes, log_high[asked], middle[asked])
    words = np.where(~passes_low, "below the table", np.where(passes_high, "above the table", ""))
    return np.exp(log_low), [str(word) for word in words]


def flows(system: System, power: Power = "mains") -> dict[str, float]:
    """Peak flow [m3/s] that reaches each component at the target storm, pumped flow included, by tag.

    Empty where the system is not rated; components without water are left out.
    """
    peaks: dict[str, float] = {}
    for check in storm_rating(system, power).judgements:
        peaks[check.tag] = max(peaks.get(check.tag, 0.0), check.reaches_m3s)
    return peaks


def as_new(system: System) -> System:
    """The system without silt and clogging, every pump at its duty."""
    return replace(system, fills={}, drawdown_ratios={}, blocked={})


def cleaned(system: System, tags: Collection[str]) -> System:
    """The system after cleaning: no silt in ``tags``, those that have a clean task; pumps as they are."""
    kept = {tag: fill for tag, fill in system.fills.items() if tag not in tags}
    return replace(system, fills=kept, blocked={tag: part for tag, part in system.blocked.items() if tag not in tags})


def threshold_fills(systems: Sequence[System], share: float = 1.0) -> list[dict[str, SiltLimit]]:
    """For each channel and pipe the fill at which it alone no longer carries its share of the target storm, by tag.

    share: of the target storm, 1 for the whole. All other components count as clean. Empty for systems not rated.
    """
    flat = Flat()
    rated: list[int] = []
    for index, system in enumerate(systems):
        if take_apart(flat, len(rated), as_new(system), "mains") is None:
            rated.append(index)
    answers: list[dict[str, SiltLimit]] = [{} for _ in systems]
    if rated:
        judge = Judge(flat, Rains([systems[index] for index in rated]))
        for (place, tag), limit in silt_limits(judge, share).items():
            answers[rated[place]][tag] = limit
    return answers


def threshold_fill(system: System, tag: str, share: float = 1.0) -> SiltLimit | None:
    """The same for one component; None if it is no channel or pipe with water, or the system is not rated."""
    return threshold_fills([system], share)[0].get(tag)


@dataclass(frozen=True)
class PumpedBasin:
    """What ``basin.route`` needs for one basin of a system, and the inflow of its target storm.

    inflow_m3s: (steps,), what other basins pump in included; pumps and pump_tags: in one order; lines: curves and duty
    point of each pump line.
    """

    area_m2: float
    depth_m: float
    limit_level_m: float
    pumps: tuple[BasinPump, ...]
    pump_tags: tuple[str, ...]
    lines: tuple[LineDuty, ...]
    inflow_m3s: FloatArray
    step_s: float


def pumped_basin(system: System, tag: str, multiple: float = 1.0, power: Power = "mains") -> PumpedBasin | None:
    """One basin of a system ready to route in ``multiple`` times the target storm; None if it cannot be rated."""
    flat = Flat()
    if take_apart(flat, 0, system, power) is not None or (0, tag) not in flat.basins.owner:
        return None
    judge = Judge(flat, Rains([system]))
    row = flat.basins.owner.index((0, tag))
    series = judge.basin_series(np.array([row]), judge.rains.target_years)[0] * multiple
    paths = walk(system)
    basin = paths.parts[tag]
    if not isinstance(basin, SumpBasin):
        return None
    groups = [group for group in paths.pump_lines.values() if group.basin == tag]
    tasks = [line_task(basin, group, system.drawdown_ratios, power) for group in groups]
    tables = flow_tables(tasks)
    pumps: list[BasinPump] = []
    for task, table in zip(tasks, tables, strict=True):
        pumps += routed_pumps(task, table)
    return PumpedBasin(
        area_m2=float(basin.area_m2 or 0.0),
        depth_m=float(basin.depth_m or 0.0),
        limit_level_m=limit_level(basin),
        pumps=tuple(pumps),
        pump_tags=tuple(pump.tag for task in tasks for pump in task.pumps),
        lines=tuple(line_duty(task, table) for task, table in zip(tasks, tables, strict=True)),
        inflow_m3s=series + float(judge.fixed["basins"][row]),
        step_s=STEP_S,
    )
