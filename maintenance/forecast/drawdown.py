"""The pump-down test: how much a pump still moves, measured by how fast the water falls, and what that says.

Flow = (basin area - what stands in it) x drop / seconds + inflow, the inflow measured with the pump off before and
after. Three runs, the median counts. Lengths in inches, areas in square inches, flows in US gallons a minute.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

CUBIC_INCHES_PER_GALLON: Final = 231.0
"""1 US gallon is 231 cubic inches (definition)."""

SHORTEST_RUN_S: Final = 10.0
"""A run shorter than this [s] is too short to judge (common practice, no source)."""
MOST_INFLOW: Final = 0.30
"""With more inflow than this share of the pump's flow the test is refused."""

AGAINST_BASELINE: Final = (0.9, 0.8)
AGAINST_DUTY: Final = (0.85, 0.7)
"""Shares of the expected flow: good from the first, worn under the second, between them watched. Against the computed
duty both are lower, as the curve and the line are themselves uncertain."""
NO_FLOW: Final = 0.1
"""Under this share of the expected flow the pump has failed (assumption)."""

Verdict = Literal["good", "watch", "worn", "failed", "too_short", "refused"]

VERDICT_WORDS: Final[dict[str, str]] = {
    "good": "good",
    "watch": "between good and worn: test again at the next visit",
    "worn": "worn",
    "failed": "failed: it moves hardly any water",
    "too_short": "too short to judge: a run must last 10 seconds or more",
    "refused": "not judged: too much water was running in; come back when less than 30 % of the pump's flow runs in",
}

CHECK_WORDS: Final[dict[str, str]] = {
    "jammed": "Low flow and current above the plate: jammed. Lock out, clear the intake.",
    "blocked_or_worn": (
        "Low flow and low current: blocked line, air lock or worn impeller. "
        "Clear the vent hole, open the outlet, retest."
    ),
    "leaks_back": "The water rises after the pump stops with nothing running in: the check valve leaks back.",
    "float": "Good flow but short cycles: look at the float.",
}
"""What tells the faults apart (common practice, no source)."""

_PLATE_MARGIN: Final = 1.05
_LEAK_RISE_IN: Final = 0.5


@dataclass(frozen=True, slots=True)
class Run:
    """One run of the pump: the water's fall [in] and how long it took [s]."""

    drop_in: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Basin:
    """Plan area of the basin and of what stands in it at the tested level (pump, pipe) [in2]."""

    area_in2: float
    standing_in2: float = 0.0

    @property
    def water_in2(self) -> float:
        """Area of the water's surface [in2]."""
        return self.area_in2 - self.standing_in2


@dataclass(frozen=True, slots=True)
class Signs:
    """What else was seen; None where it was not looked at. `fall_back_in`: rise after the stop with no inflow."""

    amps: float | None = None
    plate_amps: float | None = None
    fall_back_in: float | None = None
    short_cycles: bool | None = None


@dataclass(frozen=True, slots=True)
class DrawdownResult:
    """Flow [gpm], its share of what was expected, the verdict and the checks the signs point to (codes).

    `flow_gpm` and `ratio` are None where the test was not judged.
    """

    verdict: Verdict
    flow_gpm: float | None
    ratio: float | None
    inflow_gpm: float
    checks: tuple[str, ...]

    @property
    def words(self) -> str:
        """Verdict and checks as text."""
        return " ".join([VERDICT_WORDS[self.verdict] + ".", *(CHECK_WORDS[check] for check in self.checks)])


def flow_of(basin: Basin, run: Run, inflow_gpm: float = 0.0) -> float:
    """Pump flow [gpm]: (area - standing) x drop / seconds + inflow.

    >>> round(flow_of(Basin(11309.7336), Run(6, 120)), 1)
    146.9
    """
    if not basin.water_in2 > 0:
        raise ValueError(
            f"basin is {basin.area_in2} in2 with {basin.standing_in2} in2 standing in it: no water surface"
        )
    if not run.seconds > 0:
        raise ValueError(f"the run took {run.seconds} s: give more than 0 s")
    return basin.water_in2 * run.drop_in / CUBIC_INCHES_PER_GALLON / run.seconds * 60 + inflow_gpm


def judge(
    basin: Basin,
    runs: Sequence[Run],
    *,
    inflow_before: Run | None,
    inflow_after: Run | None,
    expected_gpm: float,
    against_baseline: bool,
    signs: Signs | None = None,
) -> DrawdownResult:
    """Judge a pump-down test.

    `inflow_before`, `inflow_after`: the water's rise with the pump off (None: none seen, 0). `expected_gpm`: this
    pump's own flow at hand-over (`against_baseline`), else the duty at the test's mean level. Raises ValueError
    without a run or without an expected flow above 0.
    """
    if not runs:
        raise ValueError("no run was given: three are usual")
    if not expected_gpm > 0:
        raise ValueError(f"the expected flow is {expected_gpm} gpm: give a flow above 0 gpm")
    rises = [flow_of(basin, rise) if rise is not None else 0.0 for rise in (inflow_before, inflow_after)]
    inflow = sum(rises) / 2
    long_enough = [run for run in runs if run.seconds >= SHORTEST_RUN_S]
    if not long_enough:
        return DrawdownResult("too_short", None, None, inflow, _leaks(signs, inflow))
    flow = statistics.median(flow_of(basin, run, inflow) for run in long_enough)
    if inflow > MOST_INFLOW * max(flow, 0.0) or inflow > MOST_INFLOW * expected_gpm:
        return DrawdownResult("refused", None, None, inflow, ())
    ratio = flow / expected_gpm
    verdict = _verdict(ratio, AGAINST_BASELINE if against_baseline else AGAINST_DUTY)
    return DrawdownResult(verdict, flow, ratio, inflow, _checks(verdict, signs, inflow))


def _verdict(ratio: float, limits: tuple[float, float]) -> Verdict:
    good, worn = limits
    if ratio >= good:
        return "good"
    if ratio < NO_FLOW:
        return "failed"
    return "worn" if ratio < worn else "watch"


def _checks(verdict: Verdict, signs: Signs | None, inflow: float) -> tuple[str, ...]:
    found = []
    if signs is not None and verdict in ("worn", "failed", "watch") and signs.amps is not None and signs.plate_amps:
        high = signs.amps > signs.plate_amps * _PLATE_MARGIN
        found.append("jammed" if high else "blocked_or_worn")
    found.extend(_leaks(signs, inflow))
    if signs is not None and verdict == "good" and signs.short_cycles:
        found.append("float")
    return tuple(found)


def _leaks(signs: Signs | None, inflow: float) -> tuple[str, ...]:
    leaking = signs is not None and (signs.fall_back_in or 0) >= _LEAK_RISE_IN and inflow == 0
    return ("leaks_back",) if leaking else ()
