"""Checks of arguments where they enter: an error names the quantity, its value, the limit and the unit."""

import numpy as np
from numpy.typing import ArrayLike

from hydraulics.units import FloatArray


def within(name: str, value: ArrayLike, low: float, high: float, unit: str, *, open_low: bool = False) -> FloatArray:
    """``value`` as a float array if every entry lies in [low, high] (``open_low``: in (low, high]).

    Raises ValueError naming the first entry outside, NaN and infinity included.

    >>> float(within("slope", 0.01, 0.0, 0.2, "m/m"))
    0.01
    """
    array = np.asarray(value, dtype=np.float64)
    inside = (array > low if open_low else array >= low) & (array <= high) & np.isfinite(array)
    if not inside.all():
        worst = float(np.ravel(array)[np.argmin(np.ravel(inside))])
        least = f"above {low:g}" if open_low else f"at least {low:g}"
        raise ValueError(f"{name} is {worst:g} {unit}; it must be {least} and at most {high:g} {unit}")
    return array


def scalar_or_array(value: FloatArray) -> float | FloatArray:
    """A zero-dimensional result as a plain float, anything else as it is."""
    return float(value) if value.ndim == 0 else value
