"""How full is too full: fill as a share of what can hold silt, practice limits, and a part's own margin.

Fill counts to the lowest outlet invert, never over the whole depth of a basin (EPA Region 1, MA MS4 General Permit
2016, 2.3.7.a: "full" is measured from the interior bottom to the invert of the deepest outlet; value from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from maintenance.forecast.records import Reason, SiltNumbers

LEAST_THRESHOLD: Final = 1 / 8
"""No threshold lies below this fill: it is the first cut of what can be judged by eye."""

ROOM_FOR_CLEAR_IN: Final = 12.0
"""The clear depth to the invert is asked only where the depth below the invert is this or more [in]."""

CAPACITY_KINDS: Final = frozenset({"channel_run", "gravity_pipe", "french_drain"})
"""Kinds whose capacity falls with fill; a catch basin's does not."""


@dataclass(frozen=True, slots=True)
class Threshold:
    """The fill at which a part counts as over its limit, and why that one."""

    fill: float
    reason: Reason


def fill_of(silt_depth_in: float, silt_height_in: float) -> float:
    """Silt depth over the depth that holds silt (basin: bottom to lowest outlet invert), both [in] -> fill [-].

    >>> fill_of(6, 12)
    0.5
    """
    if not silt_height_in > 0:
        raise ValueError(f"the depth that holds silt is {silt_height_in} in: give a depth above 0 in")
    if silt_depth_in < 0:
        raise ValueError(f"silt depth is {silt_depth_in} in: give 0 in or more")
    return silt_depth_in / silt_height_in


def is_over(fill: float, threshold: float) -> bool:
    """A part found at its threshold counts as due: at or over, not only over (250-RICR-150-10-8.30, 2018).

    A billionth is forgiven, so that 7.2 in of 12 in is 60 %.
    """
    return fill >= threshold - 1e-9


def practice_limit(
    kind: str, numbers: SiltNumbers, silt_height_in: float | None, basin_limit_fill: float = 0.5
) -> Threshold:
    """The rule's limit for this part [fill].

    A catch basin takes at most `basin_limit_fill`. Where the rule asks for clear depth below the invert and 12 in or
    more lie below it, silt must stop that far short (Snohomish County Drainage Manual 2010, vol. V: 6 in).
    """
    limit = numbers.limit_fill
    reason = Reason("limit_practice", (("threshold", limit),))
    if kind == "catch_basin" and limit > basin_limit_fill:
        limit = basin_limit_fill
        reason = Reason("limit_basin", (("threshold", limit),))
    clear = numbers.clear_to_invert_in
    if clear is not None and silt_height_in is not None and silt_height_in >= ROOM_FOR_CLEAR_IN:
        short = 1 - clear / silt_height_in
        if LEAST_THRESHOLD <= short < limit:
            limit = short
            reason = Reason("limit_clear", (("threshold", limit), ("clear_in", clear)))
    return Threshold(max(limit, LEAST_THRESHOLD), reason)


def threshold_of(
    kind: str,
    numbers: SiltNumbers,
    silt_height_in: float | None,
    capacity_fill: float | None,
    basin_limit_fill: float = 0.5,
) -> Threshold:
    """The smaller of the practice limit and the fill at which the part alone no longer carries its share [fill].

    A part whose clean margin would put it below 1/8 has no margin for silt: it is reported, the practice limit holds.
    """
    practice = practice_limit(kind, numbers, silt_height_in, basin_limit_fill)
    if capacity_fill is None or kind not in CAPACITY_KINDS or capacity_fill >= practice.fill:
        return practice
    if capacity_fill < LEAST_THRESHOLD:
        return Threshold(practice.fill, Reason("limit_no_margin", practice.reason.params))
    return Threshold(capacity_fill, Reason("limit_capacity", (("threshold", capacity_fill),)))
