"""One search for many unknowns: the largest value at which a growing measure is not above 0."""

from collections.abc import Callable

import numpy as np

from hydraulics.units import FloatArray


def largest_passing(
    over: Callable[[np.ndarray, FloatArray], FloatArray], over_at_zero: FloatArray, guess: FloatArray
) -> FloatArray:
    """Largest x >= 0 with over(x) <= 0, (n,), where over(0) <= 0 and over grows.

    over(rows, x) gives the measure of the unknowns ``rows`` at their ``x``; guess: where to look first, above 0.
    False position, the weight of a side halved when the other is hit twice ("Illinois" rule), every fourth round
    halving instead, so that each answer stays between one that passes and one that does not. Relative error 1e-11.
    """
    rows = np.arange(guess.size)
    low, over_low = np.zeros(guess.size), over_at_zero.astype(np.float64).copy()
    high = guess.astype(np.float64).copy()
    over_high = over(rows, high)
    for _ in range(100):
        short = np.flatnonzero(over_high <= 0.0)
        if not short.size:
            break
        low[short], over_low[short] = high[short], over_high[short]
        high[short] *= 1.6
        over_high[short] = over(short, high[short])
    hit = np.zeros(guess.size, dtype=np.int8)
    active = rows
    for turn in range(120):
        lo, hi, f_lo, f_hi = low[active], high[active], over_low[active], over_high[active]
        middle = 0.5 * (lo + hi) if turn % 4 == 3 else hi - f_hi * (hi - lo) / (f_hi - f_lo)
        middle = np.where((middle > lo) & (middle < hi), middle, 0.5 * (lo + hi))
        found = over(active, middle)
        passes = found <= 0.0
        over_high[active] = np.where(passes, np.where(hit[active] == 1, 0.5 * f_hi, f_hi), found)
        over_low[active] = np.where(passes, found, np.where(hit[active] == -1, 0.5 * f_lo, f_lo))
        low[active], high[active] = np.where(passes, middle, lo), np.where(passes, hi, middle)
        hit[active] = np.where(passes, 1, -1)
        exact = np.abs(found) <= 1e-13
        low[active] = np.where(exact, middle, low[active])
        done = exact | (high[active] - low[active] <= 1e-11 * high[active])
        active = active[~done]
        if not active.size:
            break
    return low
