"""A rim cut into runs, each of them near a line or an arc: the cheapest way by dynamic programming."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.values import dataclass

WINDOW: Final = 9
"""Points from which one knot is taken, as their median: half of them may be wrong."""
KNOTS: Final = 700
"""Knots round a rim, at most: the effort grows with their square."""
LINE, ARC = 0, 1


@dataclass(frozen=True, slots=True)
class Run:
    """Points `first` to `last` (not included) of a rim, in turn; beyond the end they begin again at 0."""

    first: int
    last: int
    kind: int

    def numbers(self, count: int) -> Index:
        """Return the numbers of its points."""
        return np.arange(self.first, self.last) % count


def knots(xy: Array) -> tuple[Array, int]:
    """Return medians of points round a closed rim, and from how many points to the next each stands."""
    stride = max(WINDOW // 2, math.ceil(len(xy) / KNOTS))
    half = max(WINDOW // 2, stride // 2)
    middle = np.arange(0, len(xy) - stride // 2, stride)
    around = (middle[:, None] + np.arange(-half, half + 1)) % len(xy)
    return np.median(xy[around], axis=1), stride


def step_of(xy: Array) -> float:
    """Return the distance from point to point along a closed rim, mm, without what their scatter adds to it."""
    places, _ = knots(xy)
    return float(np.linalg.norm(np.roll(places, -1, axis=0) - places, axis=1).sum()) / len(xy)


def scatter_of(places: Array) -> float:
    """Return the scatter of knots about a smooth curve, mm, from their second differences."""
    second = np.roll(places, -1, axis=0) - 2 * places + np.roll(places, 1, axis=0)
    return float(1.4826 * np.median(np.abs(second)) / math.sqrt(6))


def cut(xy: Array, tol: float) -> list[Run]:
    """Return a closed rim cut into lines and arcs.

    Parameters
    ----------
    xy : array, shape (n, 2)
        At least three windows of points in turn.
    tol : float
        mm; within half of it a line or an arc holds.

    Returns
    -------
    list of Run
        In turn, together all points.
    """
    places, stride = knots(xy)
    turn = _sharpest(places)
    places = np.roll(places, -turn, axis=0)
    cost = _Costs(places, max(scatter_of(places), tol / 2))
    n = len(places)
    best, origin, kind = np.full(n + 1, np.inf), np.zeros(n + 1, int), np.zeros(n + 1, int)
    best[0] = 0.0
    for j in range(3, n + 1):
        line, arc = cost.of(j)
        both = best[: j - 2] + np.minimum(line, arc)
        i = int(both.argmin())
        best[j], origin[j], kind[j] = both[i], i, ARC if arc[i] < line[i] else LINE
    ends, j = [], n
    while j > 0:
        ends.append((int(origin[j]), int(kind[j])))
        j = int(origin[j])
    ends.reverse()
    # Where a run begins among the points; the last one ends where the first begins.
    begin = [(i + turn) * stride - stride // 2 for i, _ in ends]
    begin.append(begin[0] + len(xy))
    return [Run(a, b, how) for a, b, (_, how) in zip(begin, begin[1:], ends, strict=False)]


def _sharpest(places: Array) -> int:
    """Return the knot at which the rim turns most."""
    ahead, behind = np.roll(places, -4, axis=0) - places, places - np.roll(places, 4, axis=0)
    cosine = (ahead * behind).sum(axis=1) / np.maximum(np.hypot(*ahead.T) * np.hypot(*behind.T), 1e-12)
    return int(cosine.argmin())


class _Costs:
    """What runs of knots cost, from sums of powers of their coordinates."""

    def __init__(self, places: Array, scatter: float) -> None:
        centre, self.size = places.mean(axis=0), float(np.abs(places - places.mean(axis=0)).max())
        x, y = ((places - centre) / self.size).T
        z = x * x + y * y
        terms = (np.ones_like(x), x, y, x * x, x * y, y * y, x * z, y * z, z * z)
        self.sums = np.concatenate((np.zeros((1, 9)), np.cumsum(np.column_stack(terms), axis=0)))
        self.unit = (scatter / self.size) ** 2
        self.line, self.arc = 3 * math.log(len(places)), 4 * math.log(len(places))

    def of(self, j: int) -> tuple[Array, Array]:
        """Return what a line and an arc from each knot 0 to j - 3 up to knot j - 1 costs."""
        n, x, y, xx, xy, yy, xz, yz, zz = (self.sums[j] - self.sums[: j - 2]).T
        mx, my, mz = x / n, y / n, (xx + yy) / n
        a, b, c = xx - n * mx * mx, xy - n * mx * my, yy - n * my * my
        line = (a + c) / 2 - np.sqrt(((a - c) / 2) ** 2 + b * b)
        # The circle x² + y² + D x + E y + F = 0 by least squares; over 4 R² its squares are those of distances.
        u, v, w = xz - n * mx * mz, yz - n * my * mz, zz - n * mz * mz
        det = np.maximum(a * c - b * b, 1e-30)
        d, e = (b * v - c * u) / det, (b * u - a * v) / det
        square = np.maximum((d * d + e * e) / 4 + mz + d * mx + e * my, 1e-12)
        rest = np.maximum(w + d * u + e * v, 0.0)
        arc = np.where(n >= 5, rest / (4 * square), np.inf)
        return np.maximum(line, 0.0) / self.unit + self.line, arc / self.unit + self.arc
