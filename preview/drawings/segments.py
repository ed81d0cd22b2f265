"""Cutting a row of noisy points into stretches that are each one line or one circular arc.

Every pair of cuts is priced from running sums: the scatter about the best line or circle between them, in units
of the noise, plus a price for the numbers that it takes to say so (Schwarz's criterion); dynamic programming then
finds the cheapest way from the first point to the last. Circles are fitted as Taubin does (IEEE Trans. PAMI 13,
1991, 1115), with Newton steps for the root; his measure is, unlike simpler ones, not drawn to small circles by
short noisy arcs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from preview.drawings.curves import Floats

Ints = NDArray[np.int_]
MOST_CUTS = 300
"""Places between points where the first cut may fall; later ones fall between any two points."""
LEAST_LINE, LEAST_ARC = 2, 5
"""Points that a line or an arc stands on."""
LEAST_SIZE = 6.0
"""Nothing is seen that is shorter, and no arc of a smaller radius, than this many times the noise."""


@dataclass(frozen=True)
class Stretch:
    """Points `first` up to, and without, `last`, and whether an arc fits them better than a line."""

    first: int
    last: int
    round: bool


class Sums:
    """Running sums of x, y, x² + y² and their products, from which any stretch is fitted at once."""

    def __init__(self, points: Floats) -> None:
        self.origin = points.mean(axis=0)
        self.scale = float(np.abs(points - self.origin).max())
        x, y = ((points - self.origin) / self.scale).T
        z = x * x + y * y
        rows = np.stack([np.ones_like(x), x, y, z, x * x, x * y, y * y, x * z, y * z, z * z])
        self.sums = np.concatenate([np.zeros((10, 1)), np.cumsum(rows, axis=1)], axis=1)

    def scatter(self, first: Ints, last: Ints) -> tuple[Floats, Floats, Floats, Floats]:
        """The sums of squares, mm², about each stretch's best line and best circle; its length and radius, mm."""
        with np.errstate(all="ignore"):
            n, sx, sy, sz, sxx, sxy, syy, sxz, syz, szz = self.sums[:, last] - self.sums[:, first]
            mx, my, mz = sx / n, sy / n, sz / n
            xx, xy, yy = sxx / n - mx * mx, sxy / n - mx * my, syy / n - my * my
            xz, yz, zz = sxz / n - mx * mz, syz / n - my * mz, szz / n - mz * mz
            # About the middle of the stretch z is z - 2 mx x - 2 my y + ...; its moments follow.
            cxz, cyz = xz - 2 * mx * xx - 2 * my * xy, yz - 2 * mx * xy - 2 * my * yy
            czz = zz - 4 * (mx * xz + my * yz) + 4 * (mx * mx * xx + 2 * mx * my * xy + my * my * yy)
            mean = xx + yy
            apart = np.hypot(xx - yy, 2 * xy)
            line, long = n * (mean - apart) / 2, np.sqrt(6 * (mean + apart))  # as of points spread evenly
            cov = xx * yy - xy * xy
            raw = czz + mean * mean
            a3, a2 = 4 * mean, -3 * mean * mean - raw
            a1 = czz * mean + 4 * cov * mean - cxz * cxz - cyz * cyz
            a0 = cxz * (cxz * yy - cyz * xy) + cyz * (cyz * xx - cxz * xy) - czz * cov
            root = np.zeros_like(mean)
            for _ in range(12):
                value = a0 + root * (a1 + root * (a2 + root * a3))
                slope = a1 + root * (2 * a2 + 3 * root * a3)
                moved = np.where(slope != 0, value / slope, 0.0)
                root = root - moved
                if not (np.abs(moved) > 1e-14 * mean).any():
                    break
            below = 2 * (root * root - root * mean + cov)
            cx = (cxz * (yy - root) - cyz * xy) / below
            cy = (cyz * (xx - root) - cxz * xy) / below
            radius2 = cx * cx + cy * cy + mean
            off = czz + 4 * (cx * cx * xx + 2 * cx * cy * xy + cy * cy * yy) - 4 * (cx * cxz + cy * cyz)
            arc = n * off / (4 * radius2)
        size = self.scale**2
        line = np.where(np.isfinite(line), np.maximum(line, 0.0) * size, np.inf)
        arc = np.where(np.isfinite(arc), np.maximum(arc, 0.0) * size, np.inf)
        return (
            line,
            arc,
            np.nan_to_num(long) * self.scale,
            np.sqrt(np.maximum(np.nan_to_num(radius2), 0.0)) * self.scale,
        )

    def price(self, first: Ints, last: Ints, noise: float) -> tuple[Floats, NDArray[np.bool_]]:
        """What each stretch costs as the cheaper of a line and an arc, and whether that is the arc."""
        line, arc, long, radius = self.scatter(first, last)
        least = LEAST_SIZE * noise
        word = math.log(self.sums.shape[1])
        count = last - first
        line = np.where((count >= LEAST_LINE) & (long >= least), line / noise**2 + 3 * word, np.inf)
        arc = np.where((count >= LEAST_ARC) & (long >= least) & (radius >= least), arc / noise**2 + 4 * word, np.inf)
        return np.minimum(line, arc), arc < line


def noise_of(points: Floats) -> float:
    """The scatter of points about a smooth curve, mm in each direction, from their second differences.

    A difference p - 2 q + r of independent errors has six times their variance; the median keeps corners out.
    """
    apart = points[:-2] - 2 * points[1:-1] + points[2:]
    return float(np.median(np.abs(apart), axis=0).max() / 0.6745 / math.sqrt(6))


def cut(points: Floats, noise: float) -> list[Stretch]:
    """The cheapest way to say a row of points (n, 2) as lines and arcs, with `noise` their scatter, mm."""
    count = len(points)
    sums = Sums(points)
    cuts = np.unique(np.linspace(0, count, min(count // 2, MOST_CUTS) + 1).round().astype(int))
    best = np.full(len(cuts), np.inf)
    best[0] = 0.0
    came = np.zeros(len(cuts), dtype=int)
    for j in range(1, len(cuts)):
        price = best[:j] + sums.price(cuts[:j], np.full(j, cuts[j]), noise)[0]
        came[j] = int(price.argmin())
        best[j] = price[came[j]]
    chosen = [len(cuts) - 1]
    while chosen[-1]:
        chosen.append(int(came[chosen[-1]]))
    at = _shifted([int(cuts[i]) for i in reversed(chosen)], sums, noise, 2 * max(1, count // MOST_CUTS))
    rounds = sums.price(np.array(at[:-1]), np.array(at[1:]), noise)[1]
    return [Stretch(a, b, bool(r)) for a, b, r in zip(at[:-1], at[1:], rounds, strict=True)]


def _shifted(at: list[int], sums: Sums, noise: float, reach: int) -> list[int]:
    """The cuts, each moved by up to `reach` points to where its two neighbors together cost least."""
    for _ in range(3):
        for i in range(1, len(at) - 1):
            low, high = max(at[i - 1] + LEAST_LINE, at[i] - reach), min(at[i + 1] - LEAST_LINE, at[i] + reach)
            if low < high:
                tries = np.arange(low, high + 1)
                left = sums.price(np.full(len(tries), at[i - 1]), tries, noise)[0]
                right = sums.price(tries, np.full(len(tries), at[i + 1]), noise)[0]
                at[i] = int(tries[(left + right).argmin()])
    return at
