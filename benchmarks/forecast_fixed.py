"""The rival: the best fixed interval for each group of parts, chosen with hindsight over the same weather."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from benchmarks.forecast_company import Company
from benchmarks.forecast_replay import DAYS, days_over, lateness, leftover, next_rate
from maintenance.forecast.records import Floats

MONTHS: Final = (1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 21, 24, 30, 36, 48, 60, 96)


@dataclass(frozen=True)
class Fixed:
    """One group cleaned every so often: visits, visits that found under half the limit, days over the limit."""

    months: float
    visits: int
    wasted: int
    days_over: float


def by_interval(company: Company, days: int = DAYS) -> dict[str, list[Fixed]]:
    """Every interval tried on every group."""
    groups: dict[str, list[int]] = {}
    for part in range(len(company)):
        groups.setdefault(company.group(part), []).append(part)
    return {
        group: [_tried(company, parts, months, days) for months in MONTHS] for group, parts in sorted(groups.items())
    }


def _tried(company: Company, parts: list[int], months: float, days: int) -> Fixed:
    visits, wasted, over = 0, 0, 0.0
    for part in parts:
        since, left, rate = int(company.put_in[part]), 0.0, float(company.rate[part])
        while True:
            day = since + round(months * 30.44) + lateness(company)
            over += days_over(company, part, left, rate, since, min(day, days))
            if day >= days:
                break
            where = np.array([part])
            fill = company.fill(where, np.array([left]), np.array([rate]), np.array([since]), np.array([day]))[0]
            visits += 1
            wasted += fill < company.threshold[part] / 2
            left, _ = leftover(company)
            since, rate = day, next_rate(company, part)
    return Fixed(months, visits, int(wasted), over)


def best_mixtures(tried: dict[str, list[Fixed]]) -> list[tuple[float, float, float]]:
    """(visits, wasted, days over) of the best choices of one interval a group: least days over for their visits.

    Found by weighing visits against days over from cheap to dear, which gives the lower edge of all choices.
    """
    found = set()
    for weight in np.geomspace(1e-3, 1e4, 400):
        chosen = [min(options, key=lambda one: one.days_over + weight * one.visits) for options in tried.values()]
        found.add(
            (
                float(sum(one.visits for one in chosen)),
                float(sum(one.wasted for one in chosen)),
                float(sum(one.days_over for one in chosen)),
            )
        )
    return sorted(found)


def at_equal(edge: list[tuple[float, float, float]], visits: float, days: float) -> tuple[float, float, float, float]:
    """On the edge: (days over, wasted) at so many visits, and (visits, wasted) at so many days over."""
    table: Floats = np.array(edge)
    more = np.argsort(table[:, 2])
    return (
        float(np.interp(visits, table[:, 0], table[:, 2])),
        float(np.interp(visits, table[:, 0], table[:, 1])),
        float(np.interp(days, table[more, 2], table[more, 0])),
        float(np.interp(days, table[more, 2], table[more, 1])),
    )
