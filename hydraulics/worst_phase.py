"""The conservative routing the storm rating is judged by: the level starts at pump-on and never falls below it.

A pump counts from its own on-level up, whatever the float did before; between the knots of the flow table the level
has the closed solution of ``basin_cycling``. The basin has no rim here: the peak is what the level would reach.
With the real cycling a larger storm may pass where a smaller one fails, by the phase the peak meets the pump in; this
routing is monotone and its level is never below the real one.
"""

from dataclasses import dataclass

import numpy as np

from hydraulics.basin_cycling import phi, time_to
from hydraulics.basin_pumps import Fitted
from hydraulics.units import FloatArray


@dataclass(frozen=True)
class Steps:
    """Flow of all pumps that count, segment by segment from the floor up: arrays (basins, segments).

    low, high: bounds [m], the last one without end; flow: at the low bound [m3/s]; slope: of flow over level [m2/s].
    """

    floor: FloatArray
    low: FloatArray
    high: FloatArray
    flow: FloatArray
    slope: FloatArray

    def pick(self, rows: np.ndarray) -> "Steps":
        """The basins of ``rows``."""
        return Steps(self.floor[rows], self.low[rows], self.high[rows], self.flow[rows], self.slope[rows])


def flow_steps(fitted: Fitted) -> Steps:
    """Segments of the counting pumps' total flow. The floor is the lowest pump-on level, failed pumps included."""
    floor = fitted.on.min(axis=1)
    bounds = np.sort(np.concatenate([fitted.grid, fitted.on], axis=1), axis=1)
    bounds = np.maximum(bounds, floor[:, None])
    middles = 0.5 * (bounds[:, :-1] + bounds[:, 1:])
    counts = fitted.running_allowed[:, :, None] & (fitted.on[:, :, None] <= middles[:, None, :])
    low_flow = (_read(fitted, bounds[:, :-1]) * counts).sum(axis=1)
    high_flow = (_read(fitted, bounds[:, 1:]) * counts).sum(axis=1)
    width = bounds[:, 1:] - bounds[:, :-1]
    slope = np.divide(high_flow - low_flow, width, out=np.zeros_like(width), where=width > 1e-12)
    top = bounds[:, -1:]
    above = fitted.running_allowed & (fitted.on <= top)
    top_flow = (_read(fitted, top)[:, :, 0] * above).sum(axis=1)
    return Steps(
        floor=floor,
        low=bounds,
        high=np.concatenate([bounds[:, 1:], np.full_like(top, np.inf)], axis=1),
        flow=np.concatenate([low_flow, top_flow[:, None]], axis=1),
        slope=np.concatenate([slope, np.zeros_like(top)], axis=1),
    )


def _read(fitted: Fitted, levels: FloatArray) -> FloatArray:
    """Flow of each pump at levels (basins, n): (basins, pumps, n), level beyond the ends."""
    grid = fitted.grid
    index = np.clip((grid[:, None, :] <= levels[:, :, None]).sum(axis=2) - 1, 0, grid.shape[1] - 2)
    low, high = np.take_along_axis(grid, index, 1), np.take_along_axis(grid, index + 1, 1)
    share = np.clip((levels - low) / np.where(high > low, high - low, 1.0), 0.0, 1.0)
    rows = np.arange(grid.shape[0])[:, None]
    first, last = fitted.flows[:, rows, index], fitted.flows[:, rows, index + 1]
    return np.moveaxis(first + (last - first) * share, 0, 1)


def peak_level(inflow: FloatArray, step_s: float, area: FloatArray, steps: Steps) -> FloatArray:
    """Highest level [m], (basins,), for inflow (basins, steps) [m3/s] in steps of ``step_s`` [s]."""
    level = steps.floor.copy()
    peak = level.copy()
    floor_flow = _total(steps, level)
    last_need = inflow.shape[1] - np.argmax((inflow > floor_flow[:, None])[:, ::-1], axis=1)
    last_need[~(inflow > floor_flow[:, None]).any(axis=1)] = 0
    for index in range(int(last_need.max(initial=0))):
        moving = np.flatnonzero((level > steps.floor) | (inflow[:, index] > floor_flow))
        if not moving.size:
            continue
        level[moving], highest = _one_step(
            level[moving], inflow[moving, index], step_s, area[moving], steps.pick(moving)
        )
        peak[moving] = np.maximum(peak[moving], highest)
    return peak


def _total(steps: Steps, level: FloatArray) -> FloatArray:
    """Flow at a level, the upper one where it jumps."""
    at = (steps.low <= level[:, None]).sum(axis=1) - 1
    rows = np.arange(level.size)
    return np.asarray(steps.flow[rows, at] + steps.slope[rows, at] * (level - steps.low[rows, at]))


def _one_step(
    level: FloatArray, inflow: FloatArray, step_s: float, area: FloatArray, steps: Steps
) -> tuple[FloatArray, FloatArray]:
    """Level after one step and the highest level within it; segment bounds inside the step are met exactly."""
    rows = np.arange(level.size)
    left = np.full(level.size, step_s)
    highest = level.copy()
    todo = rows
    while todo.size:
        here = level[todo]
        bounds, q = steps.low[todo], inflow[todo]
        row = np.arange(todo.size)
        up = (bounds <= here[:, None]).sum(axis=1) - 1
        down = np.maximum((bounds < here[:, None]).sum(axis=1) - 1, 0)
        flow, slope = steps.flow[todo], steps.slope[todo]
        net_up = q - (flow[row, up] + slope[row, up] * (here - bounds[row, up]))
        net_down = q - (flow[row, down] + slope[row, down] * (here - bounds[row, down]))
        rising = net_up > 0.0
        falling = ~rising & (net_down < 0.0) & (here > steps.floor[todo])
        at = np.where(rising, up, down)
        net = np.where(rising, net_up, np.where(falling, net_down, 0.0))
        target = np.where(rising, steps.high[todo][row, at], np.maximum(bounds[row, at], steps.floor[todo]))
        decay = slope[row, at] / area[todo]
        rate = net / area[todo]
        needed = time_to(target - here, rate, decay)
        dt = np.minimum(needed, left[todo])
        arrives = needed <= left[todo]
        level[todo] = np.where(arrives, target, here + rate * dt * phi(decay * dt))
        highest[todo] = np.maximum(highest[todo], level[todo])
        left[todo] = np.where(net == 0.0, 0.0, left[todo] - dt)
        todo = todo[left[todo] > 0.0]
    return level, highest
