"""Real cycling of pumps in many basins at once, every switching resolved inside a step.

Between two events the flow of the running pumps is straight in the level, so A dh/dt = q_in - q(h) - b (h' - h) has the
closed solution h' = h + (net/A) t phi(b t/A), phi(z) = (1 - e^-z)/z. Every basin keeps a clock of its own and each
round takes every basin to its own next event: end of its step, a float, a knot of the flow table, the rim.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from hydraulics.basin_clock import Clock
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
    """(1 - e^-z) / z, 1 at 0: how far a decaying rate gets, over what it would get undiminished."""
    small = np.abs(z) < 1e-8
    return np.where(small, 1.0 - 0.5 * z, -np.expm1(-z) / np.where(small, 1.0, z))


def phi_psi(z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """phi, and psi = (z - 1 + e^-z) / z^2, 1/2 at 0: the mean of the movement over its span."""
    if not z.any():
        return np.ones_like(z), np.full_like(z, 0.5)
    small = np.abs(z) < 1e-3
    fell = np.expm1(-z)
    safe = np.where(small, 1.0, z)
    far, mean = -fell / safe, (z + fell) / (safe * safe)
    if small.any():
        far = np.where(small, 1.0 - z * (0.5 - z * (1.0 / 6.0 - z * (1.0 / 24.0 - z / 120.0))), far)
        mean = np.where(small, 0.5 - z * (1.0 / 6.0 - z * (1.0 / 24.0 - z / 120.0)), mean)
    return far, mean


class _Run:
    """State of all basins during one run.

    What depends only on which pumps run and on the segment of the flow table is kept between rounds and renewed for the
    basins where one of the two changed: few in any round.
    """

    def __init__(self, fitted: Fitted, area: FloatArray, depth: FloatArray, start: FloatArray) -> None:
        self.fitted, self.area, self.depth = fitted, area, depth
        basins, pumps = fitted.on.shape
        self.rows = np.arange(basins)
        self.level = start.astype(np.float64).copy()
        self.running = np.zeros((pumps, basins), dtype=bool)
        self.slopes = np.diff(fitted.flows, axis=2) / np.maximum(np.diff(fitted.grid, axis=1), 1e-300)
        self.segment = np.zeros(basins, dtype=np.intp)
        self.idle = np.ones(basins, dtype=bool)
        self.low, self.high, self.up, self.down = np.zeros((4, basins))
        self.flow, self.slope = np.zeros((2, basins))
        self.pump_flow, self.pump_slope = np.zeros((2, pumps, basins))
        self.sums = Cycled(
            starts=np.zeros((basins, pumps), dtype=np.int64),
            run_s=np.zeros((pumps, basins)),
            pumped=np.zeros((pumps, basins)),
            returned=np.zeros((basins, pumps)),
            short_cycling=np.zeros((basins, pumps), dtype=bool),
            spilled=np.zeros(basins),
            level=self.level,
            peak=self.level.copy(),
            first_spill_s=np.full(basins, np.nan),
            series=None,
        )
        self.switch(self.rows)

    def switch(self, rows: np.ndarray) -> None:
        """Stop and start what stands at its float in the basins ``rows``.

        Water that comes back through the check valve lifts the level at once, at most to pump-on.
        """
        fit, sums = self.fitted, self.sums
        on, running = fit.on[rows], self.running[:, rows].T
        stops = running & (self.level[rows, None] <= fit.off[rows])
        if stops.any():
            running &= ~stops
            leak = np.where(stops, fit.leak[rows], 0.0)
            if leak.any():
                self._let_back(rows, stops, leak, on)
        begins = fit.running_allowed[rows] & ~running & (self.level[rows, None] >= on)
        running |= begins
        sums.starts[rows] += begins
        self.running[:, rows] = running.T
        at = (fit.grid[rows] <= self.level[rows, None]).sum(axis=1) - 1
        self.segment[rows] = np.clip(at, 0, fit.grid.shape[1] - 2)
        self.renew(rows)

    def _let_back(self, rows: np.ndarray, stops: np.ndarray, leak: FloatArray, on: FloatArray) -> None:
        sums, level, area = self.sums, self.level[rows], self.area[rows]
        room = np.maximum(on - level[:, None], 0.0) * area[:, None]
        back = np.where(stops, np.minimum(leak, room), 0.0)
        sums.short_cycling[rows] |= stops & (leak > room)
        sums.returned[rows] += back
        highest = np.where(stops, on, -np.inf).max(axis=1)
        lifted = np.minimum(level + back.sum(axis=1) / area, highest)
        brim = (stops & (leak >= room)).any(axis=1)
        self.level[rows] = np.where(brim, highest, np.where(back.any(axis=1), lifted, level))

    def renew(self, rows: np.ndarray) -> None:
        """Renew what is kept of the basins ``rows``: bounds of the segment, flow at its foot, next float each way."""
        fit, at = self.fitted, self.segment[rows]
        running = self.running[:, rows]
        low, high = fit.grid[rows, at], fit.grid[rows, at + 1]
        self.low[rows], self.high[rows] = low, high
        self.pump_flow[:, rows] = running * fit.flows[:, rows, at]
        self.pump_slope[:, rows] = running * self.slopes[:, rows, at]
        self.flow[rows] = self.pump_flow[:, rows].sum(axis=0)
        self.slope[rows] = self.pump_slope[:, rows].sum(axis=0)
        waiting = ~running & fit.running_allowed[rows].T
        ons = np.where(waiting, fit.on[rows].T, np.inf).min(axis=0)
        offs = np.where(running, fit.off[rows].T, 0.0).max(axis=0)
        idle = ~running.any(axis=0)
        self.idle[rows] = idle
        self.up[rows] = np.minimum(np.minimum(np.where(idle, np.inf, high), ons), self.depth[rows])
        self.down[rows] = np.maximum(low, offs)

    def fill(self, clock: Clock) -> None:
        """Take every basin without a running pump to its next float, to the rim or to the end of its inflow."""
        rows = np.flatnonzero(self.idle & clock.live & (self.level < self.depth))
        if not rows.size:
            return
        arrives, volume = clock.skip(rows, (self.up[rows] - self.level[rows]) * self.area[rows])
        self.level[rows] = np.where(arrives, self.up[rows], self.level[rows] + volume / self.area[rows])
        self.sums.peak[rows] = np.maximum(self.sums.peak[rows], self.level[rows])
        self.switch(rows[arrives])

    def _move_segment(self, rising: np.ndarray) -> bool:
        """Basins whose level stands at the end of their segment it moves towards go to the next one."""
        beyond = ~self.idle & np.where(rising, self.level >= self.high, self.level <= self.low)
        if not beyond.any():
            return False
        rows = np.flatnonzero(beyond)
        top = self.fitted.grid.shape[1] - 2
        moved = np.clip(self.segment[rows] + np.where(rising[rows], 1, -1), 0, top)
        rows, moved = rows[moved != self.segment[rows]], moved[moved != self.segment[rows]]
        if not rows.size:
            return False
        self.segment[rows] = moved
        self.renew(rows)
        return True

    def advance(self, inflow: FloatArray, left: FloatArray, clock: FloatArray) -> FloatArray:
        """Go to each basin's next event, at most ``left`` [s]; returns the time taken."""
        level = self.level
        q_at = self.flow + self.slope * (level - self.low)
        net = inflow - q_at
        rising = net > 0.0
        while self._move_segment(rising):
            q_at = self.flow + self.slope * (level - self.low)
        target = np.where(rising, self.up, self.down)
        rate, decay = net / self.area, self.slope / self.area
        dt = np.minimum(time_to(target - level, rate, decay), left)
        full = rising & (level >= self.depth)
        if full.any():
            dt = np.where(full, left, dt)
            rate = np.where(full, 0.0, rate)
            self.sums.spilled += np.where(full, net * dt, 0.0)
            first = full & np.isnan(self.sums.first_spill_s)
            self.sums.first_spill_s[first] = clock[first]
        far, mean = phi_psi(decay * dt)
        step = rate * dt
        self._count(dt, level - self.low + step * mean)
        # rounding must not carry a level past its float: it would never be seen there
        arrived = level + step * far
        arrived = np.where(rising, np.minimum(arrived, target), np.maximum(arrived, target))
        arrived = np.where((dt < left) & ~full, target, arrived)
        reached = (arrived == target) & ~full
        self.level[:] = arrived
        np.maximum(self.sums.peak, arrived, out=self.sums.peak)
        if reached.any():
            self.switch(np.flatnonzero(reached))
        return dt

    def _count(self, dt: FloatArray, mean_height: FloatArray) -> None:
        """Add running time and pumped volume; ``mean_height`` is the mean level over the foot of the segment."""
        self.sums.run_s += self.running * dt
        self.sums.pumped += (self.pump_flow + self.pump_slope * mean_height) * dt


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
    """Run all basins: inflow (basins or 1, steps) [m3/s], each step of ``durations`` (steps,) [s].

    A basin with no pump running goes straight to its next float, over any number of steps, unless the level at each of
    them is asked for.
    """
    run, clock = _Run(fitted, area, depth, start), Clock(inflow, durations, start.size)
    levels = np.empty((durations.size, start.size)) if series else None
    while clock.live.any():
        if levels is None:
            run.fill(clock)
        dt = run.advance(clock.inflow, clock.left, clock.now())
        rows = clock.take(dt)
        if not rows.size:
            continue
        if levels is not None:
            levels[clock.step[rows], rows] = run.level[rows]
        clock.go_on(rows)
    run.sums.series = None if levels is None else levels.T
    run.sums.run_s, run.sums.pumped = run.sums.run_s.T, run.sums.pumped.T
    return run.sums
