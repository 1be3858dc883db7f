"""Runoff: the rational method, times of concentration, inflow series of a storm, SCS curve number.

The rational method in SI needs no factor; in US units Q [ft3/s] = 1.00833 C i [in/h] A [ac], and the 1.00833 that many
handbooks drop is kept here because the units are exact.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from hydraulics.limits import scalar_or_array, within
from hydraulics.units import FOOT_M, INCH_M, FloatArray

LEAST_CONCENTRATION_MIN: Final = 5.0
_MM_H = 1.0 / 3.6e6


def rational_flow(c: ArrayLike, intensity_mm_h: ArrayLike, area_m2: ArrayLike) -> float | FloatArray:
    """Peak runoff Q = C i A [m3/s]; the three broadcast and C is never rounded.

    c: runoff coefficient [-], 0 to 1; intensity_mm_h: 0 to 2000 [mm/h]; area_m2: 0 to 1e6 [m2].
    Source: Kuichling 1889; FHWA HEC-22 (2009) section 3.2.2.

    >>> round(rational_flow(0.9, 100.0, 120.0), 6)
    0.003
    """
    coefficient = within("runoff coefficient", c, 0.0, 1.0, "")
    intensity = within("rain intensity", intensity_mm_h, 0.0, 2000.0, "mm/h")
    area = within("drainage area", area_m2, 0.0, 1e6, "m2")
    return scalar_or_array(np.asarray(coefficient * intensity * area * _MM_H))


def kirpich_minutes(length_m: ArrayLike, slope: ArrayLike) -> float | FloatArray:
    """Time of concentration of a small natural catchment, t = 0.01947 L^0.77 S^-0.385 [min].

    length_m: longest way of the water, 1 to 10,000 [m]; slope: 0.0001 to 1 [m/m]. Source: Kirpich 1940.

    >>> round(kirpich_minutes(3000.0, 0.003), 2)
    86.71
    """
    length = within("flow length", length_m, 1.0, 1e4, "m")
    fall = within("slope", slope, 1e-4, 1.0, "m/m")
    return scalar_or_array(np.asarray(0.01947 * length**0.77 * fall**-0.385))


def faa_minutes(c: ArrayLike, length_m: ArrayLike, slope: ArrayLike) -> float | FloatArray:
    """Time of concentration over a surface, t = 1.8 (1.1 - C) L^0.5 S^-1/3 [min], L in ft and S in percent there.

    c: runoff coefficient [-], 0 to 1; length_m: 0.3 to 300 [m]; slope: 0.0005 to 1 [m/m] (the change to percent is
    made here). Source: FAA AC 150/5320-5.

    >>> round(faa_minutes(0.35, 30.48, 0.02), 2)
    10.71
    """
    coefficient = within("runoff coefficient", c, 0.0, 1.0, "")
    feet = within("flow length", length_m, 0.3, 300.0, "m") / FOOT_M
    percent = 100.0 * within("slope", slope, 5e-4, 1.0, "m/m")
    return scalar_or_array(np.asarray(1.8 * (1.1 - coefficient) * np.sqrt(feet) / np.cbrt(percent)))


def sheet_minutes(
    length_m: ArrayLike, slope: ArrayLike, manning_n: ArrayLike, rain_2yr_24h_mm: ArrayLike
) -> FloatArray:
    """Travel time of sheet flow, t = 0.42 (n L)^0.8 / (P2^0.5 S^0.4) [min], L in ft and P2 in inches there.

    length_m: 0.3 to 100 [m]; slope: 0.0005 to 1 [m/m]; manning_n: sheet-flow roughness, 0.005 to 0.8;
    rain_2yr_24h_mm: 5 to 500 [mm]. Source: TR-55 (1986) eq. 3-3.

    >>> from hydraulics.units import to_si
    >>> round(float(sheet_minutes(to_si(300.0, "ft"), 0.035, 0.011, 25.4 * 3.45)), 2)
    2.25
    """
    feet = within("sheet flow length", length_m, 0.3, 100.0, "m") / FOOT_M
    fall = within("slope", slope, 5e-4, 1.0, "m/m")
    roughness = within("sheet flow roughness", manning_n, 0.005, 0.8, "")
    inches = within("2-year 24-hour rain", rain_2yr_24h_mm, 5.0, 500.0, "mm") / (1000.0 * INCH_M)
    return np.asarray(60.0 * 0.007 * (roughness * feet) ** 0.8 / (np.sqrt(inches) * fall**0.4))


def shallow_minutes(length_m: ArrayLike, slope: ArrayLike, *, paved: bool) -> FloatArray:
    """Travel time of shallow concentrated flow at V = 20.3282 S^0.5 (paved) or 16.1345 S^0.5 ft/s [min].

    length_m: 0.3 to 3000 [m]; slope: 0.0005 to 1 [m/m]. Source: TR-55 (1986) figure 3-1 and appendix F.

    >>> round(float(shallow_minutes(773 * 0.3048, 0.028, paved=True)), 2)
    3.79
    """
    feet = within("shallow flow length", length_m, 0.3, 3000.0, "m") / FOOT_M
    fall = within("slope", slope, 5e-4, 1.0, "m/m")
    return np.asarray(feet / ((20.3282 if paved else 16.1345) * np.sqrt(fall)) / 60.0)


def channel_minutes(
    length_m: ArrayLike, slope: ArrayLike, manning_n: ArrayLike, area_m2: ArrayLike, wetted_perimeter_m: ArrayLike
) -> FloatArray:
    """Travel time in a channel at Manning's velocity V = R^2/3 S^0.5 / n [min]. Source: TR-55 (1986) eq. 3-4.

    length_m: 0.3 to 10,000 [m]; slope: 0.00001 to 1 [m/m]; manning_n: 0.005 to 0.2; area_m2 [m2], wetted_perimeter_m
    [m] of the flowing section.

    >>> round(float(channel_minutes(262 * 0.3048, 0.057, 0.015, 80 * 0.3048**2, 168 * 0.3048)), 2)
    0.3
    """
    length = within("channel length", length_m, 0.3, 1e4, "m")
    fall = within("slope", slope, 1e-5, 1.0, "m/m")
    roughness = within("Manning n", manning_n, 0.005, 0.2, "")
    radius = within("flow area", area_m2, 1e-6, 1e3, "m2") / within(
        "wetted perimeter", wetted_perimeter_m, 1e-3, 1e3, "m"
    )
    return np.asarray(length * roughness / (radius ** (2.0 / 3.0) * np.sqrt(fall)) / 60.0)


def concentration_minutes(*segments_min: float) -> float:
    """Time of concentration of consecutive segments [min], never under 5 min.

    >>> concentration_minutes(1.2, 0.8)
    5.0
    """
    return max(LEAST_CONCENTRATION_MIN, float(np.sum(within("travel time", segments_min, 0.0, 1440.0, "min"))))


def averaged_rain(blocks_mm: FloatArray, block_min: float, concentration_min: float) -> FloatArray:
    """Mean intensity [mm/h] over the last ``concentration_min`` at the end of each block.

    blocks_mm: (..., blocks) rain of each block. The result is longer by the blocks it takes the rain to run off, so
    that no water is lost. The largest value of an alternating block storm is the rational method's intensity when the
    time of concentration is a whole number of blocks.

    >>> averaged_rain(np.array([1.0, 3.0, 2.0]), 5.0, 10.0).tolist()
    [6.0, 24.0, 30.0, 12.0]
    """
    minutes = float(within("time of concentration", concentration_min, block_min, 1440.0, "min"))
    tail = int(np.ceil(minutes / block_min - 1e-9)) - 1
    whole = np.concatenate([blocks_mm, np.zeros((*blocks_mm.shape[:-1], tail))], axis=-1)
    if tail == 0:
        return whole * (60.0 / minutes)
    fallen = np.concatenate([np.zeros((*whole.shape[:-1], 1)), np.cumsum(whole, axis=-1)], axis=-1)
    back = minutes / block_min
    index = np.arange(1, whole.shape[-1] + 1)
    low = np.floor(np.maximum(index - back, 0.0) + 1e-9).astype(np.intp)
    share = np.clip(np.maximum(index - back, 0.0) - low, 0.0, 1.0)
    before = fallen[..., low] * (1.0 - share) + fallen[..., np.minimum(low + 1, index)] * share
    return (fallen[..., 1:] - before) * (60.0 / minutes)


def curve_number_runoff_mm(rain_mm: ArrayLike, curve_number: ArrayLike) -> float | FloatArray:
    """Runoff depth Q = (P - 0.2 S)^2 / (P + 0.8 S), S = 25400/CN - 254 [mm]; 0 where P is below 0.2 S.

    rain_mm: 0 to 2000 [mm]; curve_number: 30 to 100. Source: TR-55 (1986) eq. 2-1 to 2-4.

    >>> round(curve_number_runoff_mm(152.4, 70) / 25.4, 2)
    2.81
    """
    rain = within("rain", rain_mm, 0.0, 2000.0, "mm")
    storage = 25400.0 / within("curve number", curve_number, 30.0, 100.0, "") - 254.0
    excess = np.maximum(rain - 0.2 * storage, 0.0)
    return scalar_or_array(np.asarray(excess**2 / np.maximum(rain + 0.8 * storage, 1e-12)))
