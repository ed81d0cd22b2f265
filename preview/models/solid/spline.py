"""Fitting a smooth curve to within a tolerance, where no exact form exists.

A profile's arc and a curved cut meet in a space curve of degree four, which no CAD format can write exactly. It is
interpolated by one spline, which stands for the curve in space and in the two surfaces' own coordinates at once, so
that the three agree at every parameter.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DEGREE = 7
MOST_SPANS = 160
FEWEST_SPANS = 4
NARROWEST = 1e-9
"""Spans are not halved below this share of the whole."""
CHECKS = 5
"""Points in every span where the fit is compared with the curve."""
SHARE = 0.3
"""Spans that stray more than this share of the worst one's excess are halved; the others wait."""


@dataclass(frozen=True)
class Spline:
    """A clamped B-spline of degree 7: knots at `breaks`, each simple but the ends; poles (n, k) in k coordinates.

    residual (k,): the largest distance found from the curve, in each coordinate.
    """

    breaks: Floats
    poles: Floats
    residual: Floats

    def at(self, t: Floats) -> Floats:
        """The values (n, k) at parameters (n,)."""
        return _basis(self.breaks, t) @ self.poles


def fit(curve: Callable[[Floats], Floats], first: float, last: float, tolerance: Floats) -> Spline:
    """Interpolate a curve of k coordinates, parameters (n,) to values (n, k), between two parameters.

    tolerance (k,): how far each coordinate may stray. Spans that stray further are halved, up to 160 spans; what is
    left then is told by `residual`.
    """
    breaks = np.linspace(first, last, FEWEST_SPANS + 1)
    while True:
        nodes = _greville(breaks)
        poles = np.asarray(np.linalg.solve(_basis(breaks, nodes), curve(nodes)), dtype=np.float64)
        steps = (np.arange(CHECKS) + 0.5) / CHECKS
        checks = breaks[:-1, None] + np.diff(breaks)[:, None] * steps
        off = np.abs(_basis(breaks, checks.ravel()) @ poles - curve(checks.ravel()))
        off = off.reshape(len(breaks) - 1, CHECKS, -1).max(axis=1)
        strayed = (off / tolerance).max(axis=1)
        # The worst first: a bad span spoils its neighbors, which come right by themselves when it does.
        coarse = (strayed > max(1.0, SHARE * strayed.max())) & (np.diff(breaks) > NARROWEST * (last - first))
        if not coarse.any() or len(breaks) + coarse.sum() > MOST_SPANS + 1:
            return Spline(breaks, poles, off.max(axis=0))
        middles = (breaks[:-1] + breaks[1:])[coarse] / 2
        breaks = np.sort(np.concatenate([breaks, middles]))


def _knots(breaks: Floats) -> Floats:
    ends = np.ones(DEGREE)
    return np.concatenate([breaks[0] * ends, breaks, breaks[-1] * ends])


def _greville(breaks: Floats) -> Floats:
    """The parameters at which interpolation by a clamped spline is well posed: means of neighboring knots."""
    knots = _knots(breaks)
    windows = np.lib.stride_tricks.sliding_window_view(knots[1:-1], DEGREE)
    nodes: Floats = windows.mean(axis=1)
    nodes[0], nodes[-1] = breaks[0], breaks[-1]
    return nodes


def _basis(breaks: Floats, t: Floats) -> Floats:
    """The values (n, poles) of all basis functions at parameters (n,), by the recursion of Cox and de Boor."""
    knots = _knots(breaks)
    span = np.clip(np.searchsorted(breaks, t, side="right") - 1, 0, len(breaks) - 2) + DEGREE
    steps = np.arange(1, DEGREE + 1)
    before = t[:, None] - knots[span[:, None] + 1 - steps]
    after = knots[span[:, None] + steps] - t[:, None]
    local = np.zeros((len(t), DEGREE + 1))
    local[:, 0] = 1.0
    for p in range(1, DEGREE + 1):
        # Each function of degree p - 1 gives a share to itself and a share to the next.
        part = local[:, :p] / (after[:, :p] + before[:, p - 1 :: -1])
        local[:, :p] = after[:, :p] * part
        local[:, 1 : p + 1] += before[:, p - 1 :: -1] * part
    values = np.zeros((len(t), len(breaks) + DEGREE - 1))
    np.put_along_axis(values, span[:, None] - DEGREE + np.arange(DEGREE + 1), local, axis=1)
    return values
