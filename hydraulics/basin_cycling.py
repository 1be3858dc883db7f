"""Real cycling of pumps in many basins at once, every switching resolved inside a step.

Between two events the flow of the running pumps is straight in the level, so A dh/dt = q_in - q(h) - b (h' - h) has the
closed solution h' = h + (net/A) t phi(b t/A), phi(z) = (1 - e^-z)/z. Every basin keeps a clock of its own and each
round takes every basin to its own next event: end of its step, a float, a knot of the flow table, the rim.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from hydraulics.basin_pumps import Fitted
from hydraulics.units import FloatArray

STILL_M_S: Final = 1e-30
"""Slower than this the level stands still [m/s]."""


@dataclass
class Cycled:
    """Sums of one run: (basins, pumps) or (basins,); series (basins, steps) or None."""

    starts: np.ndarray
    run_s: FloatArray
    pumped: FloatArray
    returned: FloatArray
    short_cycling: np.ndarray
    spilled: FloatArray
    level: FloatArray
    peak: FloatArray
    first_spill_s: FloatArray
    series: FloatArray | None


def phi(z: FloatArray) -> FloatArray:
    """(1 - e^-z) / z, 1 at 0."""
    small = np.abs(z) < 1e-8
    return np.where(small, 1.0 - 0.5 * z, -np.expm1(-z) / np.where(small, 1.0, z))


def psi(z: FloatArray) -> FloatArray:
    """(z - 1 + e^-z) / z^2, 1/2 at 0: the mean of the level over a span, beyond its start."""
    small = np.abs(z) < 1e-3
    series = 0.5 - z * (1.0 / 6.0 - z * (1.0 / 24.0 - z / 120.0))
    return np.where(small, series, (z + np.expm1(-z)) / np.where(small, 1.0, z * z))


class _Run:
    """State of all basins during one run."""

    def __init__(self, fitted: Fitted, area: FloatArray, depth: FloatArray, start: FloatArray) -> None:
        self.fitted, self.area, self.depth = fitted, area, depth
        basins, pumps = fitted.on.shape
        self.rows = np.arange(basins)
        self.everywhere = np.ones(basins, dtype=bool)
        self.level = start.astype(np.float64).copy()
        self.running = np.zeros((basins, pumps), dtype=bool)
        self.sums = Cycled(
            starts=np.zeros((basins, pumps), dtype=np.int64),
            run_s=np.zeros((basins, pumps)),
            pumped=np.zeros((basins, pumps)),
            returned=np.zeros((basins, pumps)),
            short_cycling=np.zeros((basins, pumps), dtype=bool),
            spilled=np.zeros(basins),
            level=self.level,
            peak=self.level.copy(),
            first_spill_s=np.full(basins, np.nan),
            series=None,
        )
        self.single = fitted.grid.shape[1] == 2
        self.slopes = np.diff(fitted.flows, axis=2) / np.maximum(np.diff(fitted.grid, axis=1), 1e-300)

    def switch(self) -> None:
        """Stop and start what stands at its float; water coming back lifts the level at once, at most to pump-on."""
        fit, sums = self.fitted, self.sums
        level = self.level[:, None]
        stops = self.running & (level <= fit.off)
        if stops.any():
            self.running &= ~stops
            room = np.maximum(fit.on - level, 0.0) * self.area[:, None]
            back = np.where(stops, np.minimum(fit.leak, room), 0.0)
            sums.short_cycling |= stops & (fit.leak > room)
            sums.returned += back
            rise = back.sum(axis=1) / self.area
            lifted = rise > 0.0
            highest = np.where(stops, fit.on, -np.inf).max(axis=1)
            self.level[lifted] = np.minimum(self.level + rise, highest)[lifted]
            exact = (stops & (fit.leak >= room)).any(axis=1)
            self.level[exact] = highest[exact]
            level = self.level[:, None]
        begins = fit.running_allowed & ~self.running & (level >= fit.on)
        if begins.any():
            self.running |= begins
            sums.starts += begins

    def segment(self, rising: np.ndarray) -> tuple[np.ndarray, FloatArray, FloatArray]:
        """Index and bounds of the flow-table segment each level is in, by the direction it moves."""
        grid = self.fitted.grid
        if self.single:
            return np.zeros(self.rows.size, dtype=np.intp), grid[:, 0], grid[:, 1]
        level = self.level[:, None]
        at = np.where(rising, (grid <= level).sum(axis=1), (grid < level).sum(axis=1)) - 1
        at = np.clip(at, 0, grid.shape[1] - 2)
        return at, grid[self.rows, at], grid[self.rows, at + 1]

    def advance(self, inflow: FloatArray, left: FloatArray, clock: FloatArray) -> FloatArray:
        """Go to each basin's next event, at most ``left`` [s]; returns the time taken."""
        fit = self.fitted
        at, low, high = self.segment(self.everywhere)
        q_at, slope = self._flows(at)
        net = inflow - (q_at * self.running.T).sum(axis=0)
        rising = net > 0.0
        if not self.single:
            at, low, high = self.segment(rising)
            q_at, slope = self._flows(at)
        q_slope = (slope * self.running.T).sum(axis=0)
        level = self.level
        ons = np.where(~self.running & fit.running_allowed & (fit.on > level[:, None]), fit.on, np.inf).min(axis=1)
        offs = np.where(self.running & (fit.off < level[:, None]), fit.off, 0.0).max(axis=1)
        above = np.minimum(np.minimum(np.where(high > level, high, np.inf), ons), self.depth)
        below = np.maximum(np.where(low < level, low, 0.0), offs)
        target = np.where(rising, above, below)
        full = rising & (level >= self.depth)
        rate = net / self.area
        decay = q_slope / self.area
        dt = np.where(full, left, np.minimum(time_to(target - level, rate, decay), left))
        reached = ~full & (dt < left)
        moved = np.where(full, 0.0, rate * dt * phi(decay * dt))
        new_level = np.where(reached, target, np.clip(level + moved, 0.0, self.depth))
        mean_rise = np.where(full, 0.0, rate * dt * psi(decay * dt))
        self._add(inflow, dt, q_at, slope, mean_rise, full, net, clock)
        self.level[:] = new_level
        np.maximum(self.sums.peak, new_level, out=self.sums.peak)
        return dt

    def _flows(self, at: np.ndarray) -> tuple[FloatArray, FloatArray]:
        """Flow of each pump at the level and its slope, (pumps, basins)."""
        if self.single:
            slope = self.slopes[:, :, 0]
            return self.fitted.flows[:, :, 0] + slope * self.level, slope
        slope = self.slopes[:, self.rows, at]
        return self.fitted.flows[:, self.rows, at] + slope * (self.level - self.fitted.grid[self.rows, at]), slope

    def _add(
        self, inflow: FloatArray, dt: FloatArray, q_at: FloatArray, slope: FloatArray,
        mean_rise: FloatArray, full: np.ndarray, net: FloatArray, clock: FloatArray,
    ) -> None:  # fmt: skip
        sums = self.sums
        sums.run_s += self.running * dt[:, None]
        sums.pumped += (self.running.T * (q_at + slope * mean_rise) * dt).T
        if full.any():
            sums.spilled += np.where(full, net * dt, 0.0)
            first = full & np.isnan(sums.first_spill_s)
            sums.first_spill_s[first] = clock[first]


def time_to(gap: FloatArray, rate: FloatArray, decay: FloatArray) -> FloatArray:
    """Time until the level has moved by ``gap`` [m] at a rate [m/s] that decays [1/s]; infinite if it never does."""
    toward = (gap * rate > 0.0) & np.isfinite(gap) & (np.abs(rate) > STILL_M_S)
    plain = np.where(toward, gap / np.where(toward, rate, 1.0), np.inf)
    if not decay.any():
        return plain
    z = decay * np.where(toward, plain, 0.0)
    bends = np.abs(z) > 1e-12
    reaches = bends & (z < 1.0)
    curved = np.where(reaches, -np.log1p(-np.where(reaches, z, 0.0)) / np.where(bends, decay, 1.0), np.inf)
    return np.where(bends, curved, plain)


def cycle(
    inflow: FloatArray,
    durations: FloatArray,
    area: FloatArray,
    depth: FloatArray,
    fitted: Fitted,
    start: FloatArray,
    *,
    series: bool,
) -> Cycled:
    """Run all basins: inflow (basins or 1, steps) [m3/s], each step of ``durations`` (steps,) [s]."""
    run = _Run(fitted, area, depth, start)
    basins, steps = start.size, durations.size
    inflow_row = np.zeros(basins, dtype=np.intp) if inflow.shape[0] == 1 else run.rows
    levels = np.empty((basins, steps)) if series else None
    begins = np.concatenate([[0.0], np.cumsum(durations)])
    step = np.zeros(basins, dtype=np.intp)
    left = np.full(basins, durations[0] if steps else 0.0)
    while True:
        run.switch()
        live = step < steps
        if not live.any():
            break
        now = np.minimum(step, steps - 1)
        dt = run.advance(inflow[inflow_row, now] * live, left, begins[now + 1] - left)
        left -= dt
        ends = live & (left <= 0.0)
        if ends.any():
            if levels is not None:
                levels[run.rows[ends], step[ends]] = run.level[ends]
            step += ends
            left[ends] = np.where(step < steps, durations[np.minimum(step, steps - 1)], 0.0)[ends]
    run.sums.series = levels
    return run.sums
