"""A suite that runs fewer tests than before has lost some: tests/minimum_counts.toml says how many there must be."""

import tomllib
from pathlib import Path

FILE = Path(__file__).with_name("minimum_counts.toml")


def minimum(suite: str) -> int:
    """Least number of passing tests of `suite`; an unknown suite is an error."""
    counts = tomllib.loads(FILE.read_text())["suites"]
    if suite not in counts:
        raise KeyError(f"{FILE.name} has no suite {suite}: it knows {', '.join(counts)}")
    return counts[suite]


def complaint(suite: str, passed: int) -> str | None:
    """What is wrong with `passed` tests in `suite`, or None."""
    least = minimum(suite)
    if passed >= least:
        return None
    return f"only {passed} tests of the suite {suite} passed; {FILE.name} asks for {least} at least"
