"""Fit lines and arcs to a densely sampled smooth curve, within a stated tolerance."""

from __future__ import annotations

import math

import numpy as np

from tinbook.plane import Array, Edge


def fit(points: Array, tol: float) -> list[Edge]:
    """Return lines and arcs that follow sampled points of one smooth curve.

    Parameters
    ----------
    points : ndarray, shape (n, 2), n >= 2
        Points along the curve, spaced so closely that the curve between two
        of them differs from an arc by far less than `tol`. The ends are kept.
    tol : float
        Largest distance of any point from the result, mm.

    Returns
    -------
    list of Edge
        From the first point to the last; as few pieces as a greedy search finds.
    """
    n = len(points)
    made: list[Edge] = []
    i = 0
    while i < n - 1:
        good, j = i + 1, i + 2
        step = 2
        while j < n and _edge(points[i : j + 1], tol) is not None:
            good = j
            step *= 2
            j = i + step
        low, high = good, min(j, n)
        while high - low > 1:
            mid = (low + high) // 2
            if _edge(points[i : mid + 1], tol) is not None:
                low = mid
            else:
                high = mid
        edge = _edge(points[i : low + 1], tol)
        assert edge is not None  # two points always make a line
        if edge.chord > 0:
            made.append(edge)
        i = low
    return made


def through(start: Array, middle: Array, end: Array) -> Edge:
    """Return the arc (or line) from `start` through `middle` to `end`."""
    a, b = (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))
    ux, uy = middle[0] - start[0], middle[1] - start[1]
    vx, vy = end[0] - middle[0], end[1] - middle[1]
    # The turn at the middle point is half the sweep, whichever way round.
    turn = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    return Edge(a, b, math.tan(turn / 2.0))


def off(edge: Edge, points: Array) -> float:
    """Return the largest distance of points from an edge's line or circle, inf when they run outside it."""
    start = np.array(edge.start)
    if edge.is_line:
        d = np.array(edge.end) - start
        n = math.hypot(d[0], d[1])
        if n == 0.0:
            return float(np.max(np.hypot(*(points - start).T)))
        rel = points - start
        along = (rel @ d) / n
        if np.any(np.diff(along) < -1e-9) or along[0] < -1e-9 or along[-1] > n + 1e-9:
            return math.inf
        return float(np.max(np.abs(rel[:, 0] * d[1] - rel[:, 1] * d[0]))) / n
    c, r = np.array(edge.centre), edge.radius
    rel = points - c
    a = np.unwrap(np.arctan2(rel[:, 1], rel[:, 0]))
    swept = (a - a[0]) * math.copysign(1.0, edge.bulge)
    if np.any(np.diff(swept) < -1e-9) or abs(swept[-1] - abs(edge.sweep)) > 1e-3:
        return math.inf
    return float(np.max(np.abs(np.hypot(rel[:, 0], rel[:, 1]) - r)))


def _edge(points: Array, tol: float) -> Edge | None:
    n = len(points)
    line = Edge((float(points[0, 0]), float(points[0, 1])), (float(points[-1, 0]), float(points[-1, 1])))
    if n == 2 or off(line, points) <= min(tol, 1e-4):
        return line
    arc = through(points[0], points[n // 2], points[-1])
    # Half a circle at most, so that a piece never closes on itself.
    if abs(arc.bulge) <= 1.0 + 1e-9 and abs(arc.bulge) > 1e-9 and off(arc, points) <= tol:
        return arc
    return line if off(line, points) <= tol else None
