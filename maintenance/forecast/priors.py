"""Rules of thumb for silting rates, by kind and canopy: what a company starts from before its yards have spoken.

No published record of residential parts gives these rates, so all of them are assumptions. They are set so that the
median part reaches its practice limit about when published practice cleans it: catch basins at half full once or twice
a year (Rhode Island 250-RICR-150-10-8.30, 2018: yearly at half; Urban Storm Drainage Criteria Manual vol. 3, fact sheet
S-12: half-yearly in residential areas at 40 to 50 %), pipes much later. Trees raise the rate and the leaf share
(direction: Rietveld et al., Urban Water Journal 17(6), 2020; Selbig, USGS, 2016).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final

from maintenance.forecast.records import GroupPrior

CANOPIES: Final = ("open", "some", "heavy")

# Median rate [fill per mean year] under open sky, some trees, heavy trees.
_MEDIAN_RATE: Final = {
    "catch_basin": (0.40, 0.55, 0.85),
    "channel_run": (0.30, 0.45, 0.75),
    "gravity_pipe": (0.05, 0.07, 0.10),
    "french_drain": (0.04, 0.05, 0.07),
    "sump_basin": (0.15, 0.20, 0.30),
}
_OTHER: Final = (0.20, 0.30, 0.50)

# Shares of rain, leaf fall and a constant part in the yearly load.
_LOAD: Final = {"open": (0.80, 0.10, 0.10), "some": (0.60, 0.30, 0.10), "heavy": (0.40, 0.50, 0.10)}

TAU: Final = 0.6
"""Spread of log rates within a group (assumption): nine parts in ten within a factor 2.7 of the median."""
S: Final = 0.25
"""Log error of a measured depth (assumption: uneven silt, a tape in muddy water)."""

SOURCE: Final = "assumption, set from published cleaning intervals"


def rule_of_thumb(kind: str, canopy: str) -> GroupPrior:
    """The starting prior of a group; kinds without a line of their own take a middling one, said in the source."""
    index = CANOPIES.index(canopy) if canopy in CANOPIES else 1
    median = _MEDIAN_RATE.get(kind, _OTHER)[index]
    source = SOURCE if kind in _MEDIAN_RATE else SOURCE + " of other parts"
    return GroupPrior(f"{kind}/{canopy}", math.log(median), TAU, S, _LOAD[CANOPIES[index]], source)


def group_prior(group: str, learned: Iterable[GroupPrior] = ()) -> GroupPrior:
    """The prior of `group` ("kind/canopy"): the learned one if given, else the rule of thumb."""
    for prior in learned:
        if prior.group == group:
            return prior
    kind, _, canopy = group.partition("/")
    return rule_of_thumb(kind, canopy)
