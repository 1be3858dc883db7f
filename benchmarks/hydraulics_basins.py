"""One 24 h storm at 10 s steps through 1,000 basins in one call beside 1,000 runs of package swmm-toolkit.

Basins are large against their pumps (cycles of minutes), so that the engine's 10 s steps still count starts well. A few
of them run in the engine at 0.5 s too, to show whose starts are nearer.
"""

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import math  # noqa: E402
import time  # noqa: E402

import numpy as np  # noqa: E402

from benchmarks.hydraulics_swmm import BasinModel, run_basin  # noqa: E402
from benchmarks.hydraulics_yards import RAIN  # noqa: E402
from hydraulics.basin import BasinPump, LevelFlow, route  # noqa: E402
from hydraulics.rain import alternating_block  # noqa: E402
from hydraulics.runoff import averaged_rain  # noqa: E402
from hydraulics.units import to_si  # noqa: E402

BASINS = 1_000
STEP_S = 10.0
FINE = 20
TABLE_LEVELS = np.array([0.0, 0.3, 0.6, 0.9])
TABLE_SHARES = np.array([0.90, 0.95, 1.0, 1.05])


def _basins() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Area, pump flow at 0.6 m, on level and drained C A of each basin."""
    rng = np.random.default_rng(7)
    area = math.pi / 4 * to_si(rng.choice([30.0, 36.0, 48.0], BASINS), "in") ** 2
    flow = to_si(rng.uniform(25, 60, BASINS), "gpm")
    on = to_si(rng.choice([18.0, 20.0, 22.0], BASINS), "in")
    return area, flow, on, to_si(rng.uniform(300, 1500, BASINS), "ft2")


def main() -> None:
    """Print seconds, the ratio and how the starts compare."""
    area, flow, on, drained = _basins()
    rain = averaged_rain(alternating_block(RAIN, 10.0), 5.0, 5.0)
    blocks = drained[:, None] * rain[None, :] / 3.6e6
    inflow = np.repeat(blocks, round(300.0 / STEP_S), axis=1)
    off, depth = to_si(6.0, "in"), 0.9
    pumps = [BasinPump(on, off, LevelFlow(TABLE_LEVELS, flow[:, None] * TABLE_SHARES))]

    found = route(inflow, STEP_S, area, depth, pumps, off)
    ours = _better_of_two(inflow, STEP_S, area, depth, pumps, off)
    # the same water, but no two steps alike: nothing can be taken together
    ripple = inflow * (1.0 + 1e-6 * np.resize([1.0, -1.0], inflow.shape[1]))
    rippled = _better_of_two(ripple, STEP_S, area, depth, pumps, off)
    every_step = _better_of_two(inflow, STEP_S, area, depth, pumps, off, series=True)

    models = [
        BasinModel(a, depth, o, off, list(zip(TABLE_LEVELS.tolist(), (q * TABLE_SHARES).tolist(), strict=True)), off)
        for a, q, o in zip(area.tolist(), flow.tolist(), on.tolist(), strict=True)
    ]
    texts = [model.text(row.tolist(), 300.0, STEP_S) for model, row in zip(models, blocks, strict=True)]
    begin = time.perf_counter()
    engine = np.array([run_basin(text).starts for text in texts])
    theirs = time.perf_counter() - begin
    fine = np.array([run_basin(models[i].text(blocks[i].tolist(), 300.0, 0.5)).starts for i in range(FINE)])

    starts = found.starts[:, 0]
    spread = np.abs(starts - engine) / np.maximum(engine, 1)
    print(f"basins: one 24 h storm at {STEP_S:g} s steps through {BASINS:,} basins")
    print(f"  one call                    {ours:8.2f} s (equal steps taken as one)")
    print(f"  one call, no steps equal    {rippled:8.2f} s")
    print(f"  one call, level every step  {every_step:8.2f} s")
    print(f"  {BASINS:,} runs of the engine    {theirs:8.2f} s")
    print(f"  ratio, no steps equal       {theirs / rippled:8.1f} times faster (goal 20)")
    print(f"  ratio, equal steps as one   {theirs / ours:8.1f} times faster")
    print(f"  ratio, level every step     {theirs / every_step:8.1f} times faster")
    print(f"  starts                      {starts.sum():,} here, {engine.sum():,} in the engine at {STEP_S:g} s;")
    print(f"                              median difference {np.median(spread):.1%}, largest {spread.max():.1%}")
    print(f"  the first {FINE} in the engine at 0.5 s: {fine.sum():,} starts, {starts[:FINE].sum():,} here")
    print(f"  largest gap of the water balance {_balance(found):.1e} of the inflow")


def _better_of_two(*arguments, **options) -> float:
    """Seconds of a routing, the better of two: the first also asks the machine for its memory."""
    seconds = []
    for _ in range(2):
        begin = time.perf_counter()
        route(*arguments, **options)
        seconds.append(time.perf_counter() - begin)
    return min(seconds)


def _balance(found) -> float:
    gap = found.inflow_m3 - found.pumped_m3[:, 0] - found.spilled_m3 - found.stored_m3
    return float(np.max(np.abs(gap) / found.inflow_m3))


if __name__ == "__main__":
    main()
