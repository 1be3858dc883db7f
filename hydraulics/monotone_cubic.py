"""Shape-preserving cubic through points: no overshoot between them.

Source: Fritsch and Carlson, SIAM J. Numer. Anal. 17(2) 1980, with the weighted harmonic mean slopes of Fritsch and
Butland, SIAM J. Sci. Stat. Comput. 5(2) 1984.
"""

import numpy as np

from hydraulics.units import FloatArray


def slopes(x: FloatArray, y: FloatArray) -> FloatArray:
    """Slope at each of three or more points; ``x`` rising, ``y`` of any shape that starts with the points."""
    widths = np.diff(x)
    rises = np.diff(y) / widths
    first, last = 2.0 * widths[1:] + widths[:-1], widths[1:] + 2.0 * widths[:-1]
    product = rises[:-1] * rises[1:]
    weighted = first * rises[1:] + last * rises[:-1]
    inner = np.divide(
        product * (first + last), weighted, out=np.zeros_like(product), where=(product > 0.0) & (weighted != 0.0)
    )
    return np.concatenate([[_end(widths[0], widths[1], rises[0], rises[1])], inner,
                           [_end(widths[-1], widths[-2], rises[-1], rises[-2])]])  # fmt: skip


def _end(near: float, next_one: float, near_rise: float, next_rise: float) -> float:
    """One-sided three-point slope at an end, held back so that the curve keeps the shape of the points."""
    slope = ((2.0 * near + next_one) * near_rise - near * next_rise) / (near + next_one)
    if slope * near_rise <= 0.0:
        return 0.0
    if near_rise * next_rise <= 0.0 and abs(slope) > 3.0 * abs(near_rise):
        return 3.0 * near_rise
    return float(slope)


def evaluate(x: FloatArray, y: FloatArray, slope: FloatArray, at: FloatArray) -> FloatArray:
    """Value of the cubic at ``at`` [x of the points], which must lie between the first and the last point."""
    index = np.clip(np.searchsorted(x, at, side="right") - 1, 0, x.size - 2)
    width = x[index + 1] - x[index]
    t = (at - x[index]) / width
    rise = y[index + 1] - y[index]
    start, end = slope[index] * width, slope[index + 1] * width
    return np.asarray(y[index] + t * (start + t * ((3.0 * rise - 2.0 * start - end) + t * (start + end - 2.0 * rise))))
