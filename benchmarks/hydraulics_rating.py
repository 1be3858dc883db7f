"""Storm ratings of many systems in one call beside the same systems one call at a time, on one core."""

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import resource  # noqa: E402
import time  # noqa: E402

from benchmarks.hydraulics_yards import yards  # noqa: E402
from hydraulics.network import storm_rating, storm_ratings  # noqa: E402

ONE_BY_ONE = 300
MANY = (1_000, 10_000)


def main() -> None:
    """Print seconds, the ratio, growth and memory; the two ways must agree."""
    systems = yards(MANY[-1])
    components = sum(len(system.components) for system in systems)
    storm_ratings(systems[:20])
    begin = time.perf_counter()
    alone = [storm_rating(system) for system in systems[:ONE_BY_ONE]]
    one = (time.perf_counter() - begin) / ONE_BY_ONE
    seconds = {}
    for count in MANY:
        begin = time.perf_counter()
        together = storm_ratings(systems[:count])
        seconds[count] = time.perf_counter() - begin
    worst = max(abs(a.multiple / b.multiple - 1.0) for a, b in zip(alone, together, strict=False))
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    each = seconds[MANY[-1]] / MANY[-1]
    print(f"storm ratings: {MANY[-1]:,} systems, {components:,} components, one core")
    print(f"  one at a time   {1e3 * one:8.2f} ms a system (the first {ONE_BY_ONE} of the same systems)")
    print(f"  all in one call {1e3 * each:8.2f} ms a system, {seconds[MANY[-1]]:.2f} s in all")
    print(f"  ratio           {one / each:8.1f} times faster (goal 30)")
    growth = seconds[MANY[-1]] / seconds[MANY[0]]
    print(f"  growth          {growth:8.2f} times the time for 10 times the systems (goal 10)")
    print(f"  peak memory     {memory:8.0f} MB (goal 500)")
    print(f"  largest difference of a rating between the two ways {worst:.1e}")


if __name__ == "__main__":
    main()
