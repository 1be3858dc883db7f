"""Four years of visits like a real company's: late ones, odd ones, grades by eye. Pure, by seed and anchor."""

import math
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random
from typing import Final

from jobs.kinds import registry
from jobs.kinds.dimensions import clean_dimensions, fill_assumptions
from maintenance.demo.houses import FAILED_PUMP, FAST_CHANNEL, DemoSystem, House, Part
from maintenance.forecast.priors import rule_of_thumb

YEARS: Final = 4
GRADES: Final = ((1 / 8, "clean"), (3 / 8, "quarter"), (5 / 8, "half"), (7 / 8, "three_quarters"), (1.0, "full"))
CLEAN_OVER: Final = 0.22
NOT_AT_A_VISIT: Final = frozenset({"clean", "flush", "replace", "drain_for_frost", "restart", "pour_bucket"})
OWNER_TASKS: Final = {
    "grate": "clear_grate",
    "sump_basin": "pour_bucket",
    "channel_run": "pour_bucket",
    "outfall": "clear_outfall",
    "high_water_alarm": "test_alarm",
}


@dataclass(frozen=True)
class PastReading:
    """One reading as the crew entered it."""

    key: str
    code: str
    value: float | None = None
    unit: str = ""
    grade: str = ""


@dataclass(frozen=True)
class PastTask:
    """One task and its outcome; fills as known, 0 clean to 1 full."""

    key: str
    task: str
    outcome: str
    reason: str = ""
    found_fill: float | None = None
    left_fill: float | None = None


@dataclass
class PastVisit:
    """One visit that was done."""

    house: int
    system: int
    on: date
    late_days: int
    technician: int
    minutes: int
    tasks: list[PastTask] = field(default_factory=list)
    readings: list[PastReading] = field(default_factory=list)
    replaces: tuple[str, str] | None = None


def silt_room_in(part: Part) -> float | None:
    """The depth that can hold silt [in], None where the kind holds none."""
    kind = registry.get(part.kind)
    if kind.silt is None:
        return None
    known = clean_dimensions(kind, part.dims, part.certainty)
    filled = fill_assumptions(kind, known).values
    if kind.silt.only_if and not filled.get(kind.silt.only_if):
        return None
    room = filled.get(kind.silt.dimension)
    return float(room) if room else None


def past_visits(house: House, seed: int, anchor: date) -> list[PastVisit]:
    """Every done visit at one house in the last four years, oldest first."""
    rng = Random(f"years {seed} {house.number}")
    found: list[PastVisit] = []
    for index, system in enumerate(house.systems):
        if system.installed_on is not None:
            found += _of_system(rng, house, index, system, anchor)
    return sorted(found, key=lambda visit: visit.on)


def _of_system(rng: Random, house: House, index: int, system: DemoSystem, anchor: date) -> list[PastVisit]:
    rates = {part.key: _true_rate(rng, house, part) for part in system.parts if silt_room_in(part)}
    fills = dict.fromkeys(rates, (system.installed_on or anchor, 0.0))
    start = max(system.installed_on or anchor, anchor - timedelta(days=365 * YEARS))
    visits: list[PastVisit] = []
    due = start + timedelta(days=rng.randrange(150, 210))
    while True:
        late = rng.choices((0, rng.randrange(5, 25), rng.randrange(30, 60)), (14, 4, 1))[0]
        on = due + timedelta(days=late)
        on += timedelta(days={5: 2, 6: 1}.get(on.weekday(), 0))
        if on >= anchor - timedelta(days=12):
            return visits
        visit = PastVisit(house.number, index, on, late, rng.randrange(3), rng.randrange(35, 110))
        for part in system.parts:
            _work_on(rng, visit, part, rates, fills)
            _test(rng, visit, part, house, anchor)
        visits.append(visit)
        due = on + timedelta(days=rng.randrange(120, 178))


def _true_rate(rng: Random, house: House, part: Part) -> float:
    prior = rule_of_thumb(part.kind, house.canopy)
    fast = 3.5 if house.number == FAST_CHANNEL and part.kind == "channel_run" else 1.0
    return math.exp(rng.gauss(prior.mu, 0.45)) * fast


def _work_on(rng: Random, visit: PastVisit, part: Part, rates: dict, fills: dict) -> None:
    """Look at a part that holds silt; clean it where it is worth it."""
    room = silt_room_in(part)
    if part.key not in rates or room is None or rng.random() < 0.08:
        return
    since, left = fills[part.key]
    fill = left + rates[part.key] * max((visit.on - since).days, 1) / 365.25
    seen = min(fill, 0.6 if part.kind == "catch_basin" else 1.0)
    told = max(seen * math.exp(rng.gauss(0, 0.15)), 0.01)
    if rng.random() < 0.35:
        visit.readings.append(PastReading(part.key, "grade", grade=grade_of(told)))
    else:
        depth = round(min(told, 1.2) * room * 4) / 4
        visit.readings.append(PastReading(part.key, "silt_depth_in", depth, "in"))
    if told < CLEAN_OVER:
        visit.tasks.append(PastTask(part.key, "clean", "found_fine", found_fill=told))
        return
    if rng.random() < 0.03:
        visit.tasks.append(PastTask(part.key, "clean", "could_not", "stuck", found_fill=told))
        return
    after = rng.choice((0.0, 0.0, 0.03, 0.06))
    visit.tasks.append(PastTask(part.key, "clean", "done", found_fill=told, left_fill=after))
    fills[part.key] = (visit.on, after)


def grade_of(fill: float) -> str:
    """The grade a person would give."""
    return next((grade for limit, grade in GRADES if fill < limit), "full")


def _test(rng: Random, visit: PastVisit, part: Part, house: House, anchor: date) -> None:
    """Pump-down tests and the small tests of what wears."""
    if part.kind == "pump":
        age = (anchor - visit.on).days
        failing = house.number == FAILED_PUMP and visit.replaces is None and 150 < age < 420
        seconds = rng.uniform(11.5, 14.5) * (3.1 if failing else 1.0)
        visit.readings += [
            PastReading(part.key, "drawdown_drop_in", 6.0, "in"),
            PastReading(part.key, "drawdown_seconds", round(seconds, 1), "s"),
            PastReading(part.key, "amps", round(rng.uniform(6.8, 7.6) * (0.62 if failing else 1.0), 1), "A"),
        ]
        visit.tasks.append(PastTask(part.key, "test_pump", "done"))
        if failing:
            visit.replaces = (part.key, "moved a third of its flow with low amps: impeller worn")
    elif part.kind == "high_water_alarm":
        visit.readings.append(PastReading(part.key, "alarm_sounded", 1.0))
    _rest(rng, visit, part)


def _rest(rng: Random, visit: PastVisit, part: Part) -> None:
    """Everything else a visit looks at; a part in twenty is passed over."""
    told = {(task.key, task.task) for task in visit.tasks}
    for task in registry.get(part.kind).tasks:
        if task in NOT_AT_A_VISIT or (part.key, task) in told or rng.random() < 0.05:
            continue
        visit.tasks.append(PastTask(part.key, task, rng.choices(("found_fine", "done"), (3, 1))[0]))


def owner_done(house: House, seed: int, anchor: date) -> list[tuple[int, str, str, date]]:
    """(system, part key, task, day) of the owner's own tasks; most owners do them, some never do."""
    rng = Random(f"owner {seed} {house.number}")
    if rng.random() < 0.2:
        return []
    day = anchor - timedelta(days=rng.randrange(3, 75))
    return [
        (index, part.key, OWNER_TASKS[part.kind], day)
        for index, system in enumerate(house.systems)
        for part in system.parts
        if system.installed_on and part.kind in OWNER_TASKS
    ]
