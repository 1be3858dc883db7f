"""Wait for a condition, never for a time."""

import time
from collections.abc import Callable


def until(condition: Callable[[], object], *, within_s: float, what: str) -> object:
    """The first true value of `condition`; fails the test when none came in time."""
    end = time.monotonic() + within_s
    while True:
        value = condition()
        if value:
            return value
        if time.monotonic() > end:
            raise AssertionError(f"{what}: not within {within_s:g} s")
        time.sleep(0.02)
