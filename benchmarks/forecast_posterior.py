"""Speed of the silt posterior: `python -m benchmarks.forecast_posterior [--components 100000] [--cycle-sd 0]`.

100,000 components with about 450,000 readings, half of them graded: rates, chances and dates in chunks of 10,000 as the
nightly refresh takes them, on one core, with peak memory, growth from 1,000 on, and the ratio to a loop that takes one
component after the other (plain Python over nodes and readings, and the same function a component a call; timed on a
sample).
"""

from __future__ import annotations

import argparse
import math
import os
import resource
import sys
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from maintenance.forecast.likelihood import RateGroups, RateReadings, fill_intervals
from maintenance.forecast.records import MEASURED
from maintenance.forecast.season import Curve, Season, climate_of
from maintenance.forecast.silting import day_at_chance, posterior

CHUNK = 10_000
MU, TAU, S = math.log(0.5), 0.6, 0.25


def made(n: int, seed: int = 11) -> tuple[RateGroups, RateReadings]:
    """n components with 4.5 readings each on average over a few cycles, half graded, a third with silt left behind."""
    rng = np.random.default_rng(seed)
    counts = rng.integers(0, 10, n)
    part = np.repeat(np.arange(n), counts)
    size = len(part)
    cycle = rng.integers(0, 4, size)
    time_ = rng.uniform(0.05, 1.5, size)
    left = np.where(rng.random(size) < 0.33, rng.uniform(0.02, 0.1, size), 0.0)
    fill = (left + np.exp(MU + TAU * rng.normal(size=n))[part] * time_) * np.exp(S * rng.normal(size=size))
    graded = rng.random(size) < 0.5
    grade = np.where(graded, np.searchsorted([1 / 8, 3 / 8, 5 / 8, 7 / 8, 1.0], fill), MEASURED)
    low, high, rounding = fill_intervals(
        np.round(fill * 96) / 8, np.full(size, 12.0), np.full(size, 0.125), grade, rng.random(size) < 0.1
    )
    groups = RateGroups(np.full(n, MU), np.full(n, TAU), np.full(n, S), np.where(rng.random(n) < 0.4, 0.6, np.inf))
    return groups, RateReadings(part, cycle, time_, left, low, high, rounding)


def forecast(groups: RateGroups, readings: RateReadings, cycle_sd: float) -> np.ndarray:
    """Median, 10 and 90 % rates and the date at which one chance in five is reached, chunk by chunk."""
    curve = Curve(Season(climate_of([80.0] * 12)), (0.6, 0.3, 0.1))
    results = []
    for begin in range(0, len(groups), CHUNK):
        some = np.arange(begin, min(begin + CHUNK, len(groups)))
        first, last = np.searchsorted(readings.component, [some[0], some[-1] + 1])
        local = _renamed(readings.take(np.arange(first, last)), begin)
        post = posterior(groups.take(some), local, cycle_sd=cycle_sd)
        none = np.zeros(len(some))
        dates = day_at_chance(post, curve, none + 739_000.0, none, none + 0.5, 0.2)
        results.append(np.stack([post.log_quantile(p) for p in (0.1, 0.5, 0.9)] + [dates]))
    return np.concatenate(results, axis=1)


def one_by_one(groups: RateGroups, readings: RateReadings, parts: int) -> tuple[float, np.ndarray]:
    """CPU seconds a component of a plain loop over nodes and readings in two passes, and the log medians it finds."""
    medians = []
    began = time.process_time()
    for i in range(parts):
        rows = range(*np.searchsorted(readings.component, [i, i + 1]).tolist())
        coarse = [MU + TAU * (-8 + 16 * k / 47) for k in range(48)]
        logs = [_log_density(groups, readings, i, rows, x) for x in coarse]
        kept = [x for x, v in zip(coarse, logs, strict=True) if v > max(logs) - 20]
        step = coarse[1] - coarse[0]
        fine = [kept[0] - step + (kept[-1] - kept[0] + 2 * step) * k / 63 for k in range(64)]
        logs = [_log_density(groups, readings, i, rows, x) for x in fine]
        top = max(logs)
        running, below = 0.0, []
        for value in logs:
            running += math.exp(value - top)
            below.append(running - math.exp(value - top) / 2)
        medians.append(float(np.interp(running / 2, below, fine)))
    return (time.process_time() - began) / parts, np.array(medians)


def _log_density(groups: RateGroups, readings: RateReadings, part: int, rows: range, x: float) -> float:
    total, rate, cap = -0.5 * ((x - MU) / TAU) ** 2, math.exp(x), float(groups.cap[part])
    for k in rows:
        middle = math.log(min(float(readings.fill_left[k]) + rate * float(readings.exposure[k]), cap))
        low, high = float(readings.low[k]), float(readings.high[k])
        spread = math.hypot(S, float(readings.rounding[k]))
        if low == high:
            total += -0.5 * ((math.log(low) - middle) / spread) ** 2
        else:
            a = -40.0 if low == 0 else (math.log(low) - middle) / spread
            b = 40.0 if high == math.inf else (math.log(high) - middle) / spread
            inside = 0.5 * (math.erfc(a / math.sqrt(2)) - math.erfc(b / math.sqrt(2)))
            total += math.log(max(inside, 1e-300))
    return total


def called_one_by_one(groups: RateGroups, readings: RateReadings, parts: int, cycle_sd: float) -> float:
    """CPU seconds a component of the same function, called for each component alone."""
    began = time.process_time()
    for i in range(parts):
        mine = readings.take(np.arange(*np.searchsorted(readings.component, [i, i + 1])))
        posterior(groups.take(np.array([i])), _renamed(mine, i), cycle_sd=cycle_sd).log_quantile(0.5)
    return (time.process_time() - began) / parts


def _renamed(readings: RateReadings, begin: int) -> RateReadings:
    """The same readings, components counted from `begin`."""
    rest = (getattr(readings, name) for name in RateReadings.__slots__[1:])
    return RateReadings(readings.component - begin, *rest)


def main(arguments: list[str]) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="Speed of the silt posterior, against a loop over components.")
    parser.add_argument("--components", type=int, default=100_000)
    parser.add_argument("--cycle-sd", type=float, default=0.0)
    given = parser.parse_args(arguments)
    groups, readings = made(given.components)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{len(groups):,} components, {len(readings):,} readings, cycle_sd {given.cycle_sd:g}; CPU seconds of one core"
    )
    began = time.process_time()
    found = forecast(groups, readings, given.cycle_sd)
    seconds = time.process_time() - began
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    each = seconds / len(groups)
    print(f"posterior, three quantiles and dates: {seconds:.2f} s, {each * 1e6:.0f} us a component")
    print(f"peak memory {peak:.0f} MB, of it {before:.0f} MB before it began (Python, NumPy, the inputs)")
    for size in (1_000, 10_000):
        small, rows = made(size)
        began = time.process_time()
        forecast(small, rows, given.cycle_sd)
        print(f"  of {size:,} components: {(time.process_time() - began) / size * 1e6:.0f} us a component")
    sample = min(300, given.components)
    alone = called_one_by_one(groups, readings, sample, given.cycle_sd)
    print(f"the same function, one component a call: {alone * 1e6:.0f} us, {alone / each:.0f} times as long")
    if given.cycle_sd == 0:
        plain, medians = one_by_one(groups, readings, sample)
        apart = float(np.max(np.abs(medians - found[1, :sample])))
        print(f"a plain loop, median alone: {plain * 1e6:.0f} us a component, {plain / each:.0f} times as long")
        print(f"  its log medians agree within {apart:.4f}")


if __name__ == "__main__":
    main(sys.argv[1:])
