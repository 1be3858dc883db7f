"""Where each of many basins stands in its inflow series: every one has a clock of its own."""

from typing import Final

import numpy as np

from hydraulics.units import FloatArray

NO_FLOW_M3S: Final = 1e-30
"""Less than this brings no water in any time [m3/s]."""


class Clock:
    """Step, time left in it and inflow of each basin, arrays (basins,)."""

    def __init__(self, inflow: FloatArray, durations: FloatArray, basins: int) -> None:
        """Inflow (basins or 1, steps) [m3/s], even over each step of ``durations`` (steps,) [s]."""
        self._by_step = np.ascontiguousarray(inflow.T)
        self._durations, self._ends_at = durations, np.cumsum(durations)
        self._fallen = np.zeros((durations.size + 1, self._by_step.shape[1]))
        np.multiply(self._by_step, durations[:, None], out=self._fallen[1:])
        np.cumsum(self._fallen[1:], axis=0, out=self._fallen[1:])
        self._column = np.zeros(basins, dtype=np.intp) if inflow.shape[0] == 1 else np.arange(basins)
        self.steps = durations.size
        self.step = np.zeros(basins, dtype=np.intp)
        self.live = np.ones(basins, dtype=bool)
        self.inflow = self._by_step[0, self._column]
        self.left = np.full(basins, durations[0])
        self._end = np.full(basins, self._ends_at[0])

    def now(self) -> FloatArray:
        """Time since the start [s]."""
        return self._end - self.left

    def take(self, dt: FloatArray) -> np.ndarray:
        """Let ``dt`` pass; returns the basins whose step ended, with ``step`` still at it: call ``go_on`` for them."""
        self.left -= dt
        return np.flatnonzero(self.live & (self.left <= 0.0))

    def go_on(self, rows: np.ndarray) -> None:
        """Start the next step of the basins ``rows``."""
        self._set(rows, self.step[rows] + 1, None)

    def _set(self, rows: np.ndarray, step: np.ndarray, left: FloatArray | None) -> None:
        self.step[rows] = step
        lives = step < self.steps
        self.live[rows] = lives
        at = np.minimum(step, self.steps - 1)
        self.inflow[rows] = np.where(lives, self._by_step[at, self._column[rows]], 0.0)
        self.left[rows] = np.where(lives, self._durations[at] if left is None else left, 0.0)
        self._end[rows] = self._ends_at[at]

    def skip(self, rows: np.ndarray, volume: FloatArray) -> tuple[np.ndarray, FloatArray]:
        """Go straight to where ``volume`` [m3] more has come in; for basins with no pump running.

        Returns which of ``rows`` get there before their series ends, and what came in until there or until the end.
        """
        column = self._column[rows]
        at = self._fallen[self.step[rows] + 1, column] - self.inflow[rows] * self.left[rows]
        target = at + volume
        arrives = self._fallen[-1, column] >= target
        low, high = self.step[rows], np.full(rows.size, self.steps)
        while (high - low > 1).any():
            middle = (low + high) // 2
            enough = self._fallen[middle, column] >= target
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        step = np.where(arrives, high - 1, self.steps)
        flow = self._by_step[high - 1, column]
        over = self._fallen[high, column] - target
        left = np.divide(over, flow, out=np.zeros(rows.size), where=flow > NO_FLOW_M3S)
        self._set(rows, step, np.clip(left, 0.0, self._durations[high - 1]))
        return arrives, np.where(arrives, volume, self._fallen[-1, column] - at)
