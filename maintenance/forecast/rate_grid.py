"""Posteriors that have no closed form, on panels of nodes placed in two passes.

The first pass finds where each posterior lies, the second integrates there. With a cycle_sd the rate of the component
and of each of its cycles differ: the same nodes serve both, and one Gaussian kernel carries what a cycle says to the
component and from there to the cycle under way.
"""

from __future__ import annotations

import itertools
from typing import Final

import numpy as np

from maintenance.forecast.likelihood import RateGroups, RateReadings, cycle_starts, log_likelihood, naive_log_rates
from maintenance.forecast.normal import LOG_SQRT_2PI
from maintenance.forecast.panels import (
    PER_PANEL,
    PanelDensity,
    density_from_log,
    even_edges,
    joined,
    nodes_of,
    weights_of,
    with_bends,
)
from maintenance.forecast.records import Floats, Ints

_COARSE: Final = 48
_DROP: Final = 20.0  # log density below the top at which the posterior is cut: 2e-9 of it
_MOST_PANELS: Final = 96
_WIDEST_PANEL: Final = 2.2  # in standard deviations of the sharpest factor: 8 nodes resolve a normal curve so wide
_VALUES_AT_ONCE: Final = 60_000
_KERNELS_AT_ONCE: Final = 600_000


def on_grid(
    groups: RateGroups, rows: RateReadings, which: Ints, evidence: Floats, nodes: int, cycle_sd: float
) -> list[PanelDensity]:
    """Densities of log r of the components `which`, in chunks that stay in the processor's cache.

    `rows` are sorted by component and cycle; the log evidence of each component is written into `evidence`.
    """
    begin = np.searchsorted(rows.component, which)
    end = np.searchsorted(rows.component, which, side="right")
    per_row = max(nodes, _COARSE) if cycle_sd == 0 else 4 * nodes
    size = np.maximum(end - begin, 1) * per_row
    if cycle_sd:
        size = size + (2 * nodes) ** 2
    chunk = np.cumsum(size) // (_KERNELS_AT_ONCE if cycle_sd else _VALUES_AT_ONCE)
    densities: list[PanelDensity] = []
    for first, last in _runs(chunk):
        some = which[first:last]
        part = rows.take(np.arange(begin[first], end[last - 1]))
        keep = np.isin(part.component, some)
        part = part.take(keep)
        local = np.searchsorted(some, part.component)
        densities.extend(_chunk(groups.take(some), part, local, some, evidence, nodes, cycle_sd))
    return joined(densities)


def _runs(values: Ints) -> list[tuple[int, int]]:
    if not len(values):
        return []
    edges = [0, *(np.flatnonzero(np.diff(values)) + 1).tolist(), len(values)]
    return list(itertools.pairwise(edges))


def _chunk(
    groups: RateGroups, rows: RateReadings, row: Ints, name: Ints, evidence: Floats, nodes: int, cycle_sd: float
) -> list[PanelDensity]:
    starts = cycle_starts(rows)
    sizes = np.diff(np.append(starts, len(rows)))
    low, high = _region(groups, rows, row, np.repeat(sizes, sizes), cycle_sd)
    panels = np.full(len(groups), -(-nodes // PER_PANEL))
    if cycle_sd:
        low, high = low - 6 * cycle_sd, high + 6 * cycle_sd
        sharpest = np.full(len(groups), cycle_sd)
        np.minimum.at(sharpest, row[starts], groups.s[row[starts]] / np.sqrt(sizes))
        widest = _WIDEST_PANEL * max(64 / nodes, 0.4) * sharpest
        needed = np.ceil((high - low) / widest / 4).astype(np.int64) * 4
        panels = np.clip(needed, panels, _MOST_PANELS)
    bends = np.bincount(row, weights=np.isfinite(groups.cap[row]), minlength=len(groups)).astype(np.int64)
    # Alike in panels and bends go together, so that no component pays for another's.
    alike = panels * 1000 + -(-bends // 4)
    densities = []
    for key in np.unique(alike):
        some = np.flatnonzero(alike == key)
        mine = np.isin(row, some)
        part, at = rows.take(mine), np.searchsorted(some, row[mine])
        sub = groups.take(some)
        edges = _bent_at_caps(even_edges(low[some], high[some], int(panels[some[0]])), sub, part, at)
        log_density = _log_density(sub, part, at, edges, cycle_sd)
        density, evidence[name[some]] = density_from_log(name[some], edges, log_density)
        densities.append(density)
    return densities


def _log_prior(x: Floats, mu: Floats, sd: Floats) -> Floats:
    z = (x - mu[:, None]) / sd[:, None]
    return -0.5 * z * z - np.log(sd)[:, None] - LOG_SQRT_2PI


def _region(groups: RateGroups, rows: RateReadings, row: Ints, shared: Ints, cycle_sd: float) -> tuple[Floats, Floats]:
    """First pass: the interval of log r that holds all but a billionth of each posterior.

    Readings that share a cycle share its deviation, so their errors are widened by it before they are multiplied.
    """
    wide = np.hypot(groups.tau, cycle_sd)
    low, high = groups.mu - 8 * wide, groups.mu + 8 * wide
    for ends in naive_log_rates(rows):
        real = np.isfinite(ends)
        np.minimum.at(low, row[real], ends[real] - 1)
        np.maximum.at(high, row[real], ends[real] + 1)
    low, high = np.maximum(low, groups.mu - 40 * wide), np.minimum(high, groups.mu + 40 * wide)
    s = np.sqrt(groups.s[row] ** 2 + shared * cycle_sd**2)
    open_ = np.arange(len(groups))
    for _ in range(4):
        mine = np.isin(row, open_)
        sub, at = groups.take(open_), np.searchsorted(open_, row[mine])
        x = low[open_, None] + (high - low)[open_, None] * np.linspace(0, 1, _COARSE)
        likelihood = log_likelihood(rows.take(mine), s[mine], sub.cap[at], at, x)
        log_density = _log_prior(x, sub.mu, wide[open_]) + np.add.reduceat(likelihood, _first_rows(at, len(open_)))
        kept = log_density >= log_density.max(axis=1, keepdims=True) - _DROP
        left = np.maximum(kept.argmax(axis=1) - 1, 0)
        right = np.minimum(_COARSE - kept[:, ::-1].argmax(axis=1), _COARSE - 1)
        lines = np.arange(len(open_))
        low[open_], high[open_] = x[lines, left], x[lines, right]
        # A peak only a few nodes wide was seen too coarsely: look again inside.
        open_ = open_[right - left < 10]
        if not len(open_):
            break
    return low, high


def _first_rows(row: Ints, n: int) -> Ints:
    return np.searchsorted(row, np.arange(n))


def _bent_at_caps(edges: Floats, groups: RateGroups, rows: RateReadings, row: Ints) -> Floats:
    """The likelihood bends where a basin's fill meets its trapping limit: put panel edges there."""
    cap = groups.cap[row]
    bends = np.isfinite(cap) & (rows.fill_left < cap)
    if not bends.any():
        return edges
    return with_bends(edges, row[bends], np.log((cap - rows.fill_left)[bends] / rows.exposure[bends]))


def _log_density(groups: RateGroups, rows: RateReadings, row: Ints, edges: Floats, cycle_sd: float) -> Floats:
    """Unnormalised log posterior density of log r at the nodes of `edges`; its integral is the evidence."""
    x = nodes_of(edges)
    likelihood = log_likelihood(rows, groups.s[row], groups.cap[row], row, x)
    if cycle_sd == 0:
        return _log_prior(x, groups.mu, groups.tau) + np.add.reduceat(likelihood, _first_rows(row, len(groups)))
    starts = cycle_starts(rows)
    by_cycle = np.add.reduceat(likelihood, starts)
    component, past = row[starts], rows.cycle[starts] > 0
    result = _log_prior(x, groups.mu, np.hypot(groups.tau, cycle_sd))
    learned = np.unique(component[past])
    if len(learned):
        at = np.searchsorted(learned, component[past])
        result[learned] = _from_past_cycles(
            groups.take(learned), x[learned], weights_of(edges[learned]), by_cycle[past], at, cycle_sd
        )
    result[component[~past]] += by_cycle[~past]
    return result


def _from_past_cycles(
    groups: RateGroups, x: Floats, weights: Floats, by_cycle: Floats, component: Ints, cycle_sd: float
) -> Floats:
    """log density that past cycles give the present log r: to the component's own rate and back, cycle_sd each way."""
    gap = (x[:, :, None] - x[:, None, :]) / cycle_sd
    kernel = np.exp(-0.5 * gap * gap) / (cycle_sd * np.sqrt(2 * np.pi)) * weights[:, None, :]
    own = _log_prior(x, groups.mu, groups.tau)
    rank = np.arange(len(component)) - _first_rows(component, len(groups))[component]
    with np.errstate(divide="ignore"):
        for r in range(int(rank.max()) + 1):
            now = rank == r
            top = by_cycle[now].max(axis=1, keepdims=True)
            seen = np.matmul(kernel[component[now]], np.exp(by_cycle[now] - top)[:, :, None])[:, :, 0]
            own[component[now]] += np.log(seen) + top
        top = own.max(axis=1, keepdims=True)
        return np.log(np.matmul(kernel, np.exp(own - top)[:, :, None])[:, :, 0]) + top
