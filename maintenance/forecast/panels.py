"""Densities on panels of Gauss-Legendre nodes: integrals, chances and quantiles for many components at once.

Each density lives on its own panels, 8 nodes in each, so a kink can lie on a panel edge and cost no accuracy. Inside a
panel the density is its interpolating polynomial, and its integral is taken exactly.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from maintenance.forecast.records import Floats, Ints

PER_PANEL: Final = 8
_U, _W = np.polynomial.legendre.leggauss(PER_PANEL)
_ORDERS: Final = np.arange(PER_PANEL)
# Row j: weights giving the j-th Legendre coefficient of the polynomial through the node values.
_TO_COEFFICIENTS: Final[Floats] = (
    np.polynomial.legendre.legvander(_U, PER_PANEL - 1).T * _W * (2 * _ORDERS[:, None] + 1) / 2
)


def nodes_of(edges: Floats) -> Floats:
    """Node positions (n, panels x 8) of panels given by their edges (n, panels + 1)."""
    half = np.diff(edges, axis=1) / 2
    middle = (edges[:, 1:] + edges[:, :-1]) / 2
    return (middle[:, :, None] + half[:, :, None] * _U).reshape(len(edges), -1)


def weights_of(edges: Floats) -> Floats:
    """Quadrature weights (n, panels x 8) belonging to `nodes_of`."""
    half = np.diff(edges, axis=1) / 2
    return (half[:, :, None] * _W).reshape(len(edges), -1)


@dataclass(frozen=True, eq=False, slots=True)
class PanelDensity:
    """Densities of some components: `component` their indices, `edges` (n, P + 1), `values` (n, P, 8) normalised.

    `below` (n, P + 1): the chance left of each edge.
    """

    component: Ints
    edges: Floats
    values: Floats
    below: Floats

    def chance_below(self, x: Floats) -> Floats:
        """P(X <= x) for one x per component, shape (n,)."""
        panel = np.clip(np.sum(self.edges[:, 1:-1] <= x[:, None], axis=1), 0, self.edges.shape[1] - 2)
        rows = np.arange(len(x))
        low, high = self.edges[rows, panel], self.edges[rows, panel + 1]
        width = np.where(high > low, high - low, 1.0)
        u = np.clip((2 * x - low - high) / width, -1, 1)
        part = _partial(self._coefficients(panel), u) * (high - low) / 2
        return np.clip(self.below[rows, panel] + part, 0, 1)

    def quantile(self, p: Floats) -> Floats:
        """x with P(X <= x) = p for one p per component, shape (n,)."""
        panel = np.clip(np.sum(self.below[:, 1:-1] <= p[:, None], axis=1), 0, self.edges.shape[1] - 2)
        rows = np.arange(len(p))
        low, high = self.edges[rows, panel], self.edges[rows, panel + 1]
        half = np.where(high > low, high - low, 1.0) / 2
        coefficients = self._coefficients(panel)
        wanted = (p - self.below[rows, panel]) / half
        left, right = np.full(len(p), -1.0), np.full(len(p), 1.0)
        u = np.zeros(len(p))
        for step in range(40):
            # Bisection first, then Newton kept inside the bracket: sure and, at the end, exact.
            error = _partial(coefficients, u) - wanted
            open_ = np.abs(error) * half > 1e-14
            if not open_.any():
                break
            left, right = np.where(error < 0, u, left), np.where(error < 0, right, u)
            slope = _value(coefficients, u)
            newton = u - error / np.where(np.abs(slope) < 1e-300, 1.0, slope)
            inside = (step >= 3) & (newton > left) & (newton < right)
            # Only what is not there yet moves: a component's result never depends on its neighbours'.
            u = np.where(open_, np.where(inside, newton, (left + right) / 2), u)
        return low + half * (u + 1)

    def _coefficients(self, panel: Ints) -> Floats:
        values = self.values[np.arange(len(panel)), panel]
        return np.sum(values[:, None, :] * _TO_COEFFICIENTS, axis=2)


def density_from_log(component: Ints, edges: Floats, log_density: Floats) -> tuple[PanelDensity, Floats]:
    """Normalise log densities given at `nodes_of(edges)`; also gives the log of each integral, shape (n,)."""
    top = log_density.max(axis=1)
    values = np.exp(log_density - top[:, None])
    shape = (len(edges), edges.shape[1] - 1, PER_PANEL)
    pieces = np.sum((values * weights_of(edges)).reshape(shape), axis=2)
    total = pieces.sum(axis=1)
    below = np.concatenate((np.zeros((len(edges), 1)), np.cumsum(pieces, axis=1)), axis=1) / total[:, None]
    density = PanelDensity(component, edges, values.reshape(shape) / total[:, None, None], below)
    return density, top + np.log(total)


def joined(densities: list[PanelDensity]) -> list[PanelDensity]:
    """Densities with equal numbers of panels put together, so that few calls ask them all."""
    alike: dict[int, list[PanelDensity]] = {}
    for density in densities:
        alike.setdefault(density.edges.shape[1], []).append(density)
    return [
        PanelDensity(*(np.concatenate([getattr(d, name) for d in some]) for name in PanelDensity.__slots__))
        for _, some in sorted(alike.items())
    ]


def even_edges(low: Floats, high: Floats, panels: int) -> Floats:
    """Edges (n, panels + 1) dividing each [low, high] evenly."""
    return low[:, None] + (high - low)[:, None] * np.linspace(0, 1, panels + 1)


def with_bends(edges: Floats, row: Ints, bend: Floats) -> Floats:
    """`edges` with every `bend` of its `row` as an edge more, so that no panel holds one inside; rows sorted.

    Rows with fewer bends get panels of no width at their low end.
    """
    inside = (edges[row, 0] < bend) & (bend < edges[row, -1])
    row, bend = row[inside], bend[inside]
    rank = np.arange(len(row)) - np.searchsorted(row, row)
    more = np.repeat(edges[:, :1], int(rank.max()) + 1 if len(rank) else 0, axis=1)
    more[row, rank] = bend
    return np.sort(np.concatenate((edges, more), axis=1), axis=1)


def _legendre(u: Floats, order: int) -> list[Floats]:
    found = [np.ones_like(u), u]
    for k in range(1, order):
        found.append(((2 * k + 1) * u * found[k] - k * found[k - 1]) / (k + 1))
    return found


def _partial(coefficients: Floats, u: Floats) -> Floats:
    """Integral of the panel's polynomial from -1 to u, local coordinates."""
    p = _legendre(u, PER_PANEL)
    total = coefficients[:, 0] * (u + 1)
    for k in range(1, PER_PANEL):
        total = total + coefficients[:, k] * (p[k + 1] - p[k - 1]) / (2 * k + 1)
    return total


def _value(coefficients: Floats, u: Floats) -> Floats:
    p = _legendre(u, PER_PANEL - 1)
    total = coefficients[:, 0].copy()
    for k in range(1, PER_PANEL):
        total = total + coefficients[:, k] * p[k]
    return total
