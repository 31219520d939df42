"""Lines and arcs out of curves and splinters: fitting within a stated tolerance, and loops without splinters."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tinbook.plane.loops import Array, Edge, Loop, Move, Point
from tinbook.plane.meeting import dot
from tinbook.read.fitting import beyond, out_of, point

STRAIGHT = 2e-4
"""mm: consecutive lines (or arcs) that one line (or arc) covers this closely become one."""

SHORT = 5e-4
"""mm: an edge shorter than this is dropped and its neighbours meet."""


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


def onto(e: Edge, target: Edge) -> Move:
    """Return the move that lays the chord of an edge along that of another, their middles on each other."""
    (px, py), (qx, qy) = ((x.end[0] - x.start[0], x.end[1] - x.start[1]) for x in (target, e))
    a = math.atan2(py, px) - math.atan2(qy, qx)
    c, s = math.cos(a), math.sin(a)
    (px, py), (qx, qy) = (((x.start[0] + x.end[0]) / 2, (x.start[1] + x.end[1]) / 2) for x in (target, e))
    return Move(c, -s, s, c, px - c * qx + s * qy, py - s * qx - c * qy)


def groups(count: int, pairs: Sequence[tuple[int, int]]) -> list[int]:
    """Return for each of `count` things the first of those that pairs join it to, itself included.

    A library of graphs would take longer to load than this takes: a STEP file is shown half a second sooner.
    """
    first = list(range(count))

    def head(k: int) -> int:
        while first[k] != k:
            first[k] = first[first[k]]
            k = first[k]
        return k

    for a, b in pairs:
        one, other = sorted((head(a), head(b)))
        first[other] = one
    return [head(k) for k in range(count)]


def through(start: Array, middle: Array, end: Array) -> Edge:
    """Return the arc (or line) from `start` through `middle` to `end`."""
    a, b = point(start), point(end)
    ux, uy = middle[0] - start[0], middle[1] - start[1]
    vx, vy = end[0] - middle[0], end[1] - middle[1]
    # The turn at the middle point is half the sweep, whichever way round.
    turn = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    return Edge(a, b, math.tan(turn / 2.0))


def off(edge: Edge, points: Array) -> float:
    """Return the largest distance of points from an edge's line or circle, inf when they run outside it or back."""
    if edge.start == edge.end:
        return float(np.hypot(*(points - edge.start).T).max())
    before, after = beyond(edge, points)
    if np.any(np.diff(before) > 1e-9) or before[0] > 1e-7 or after[-1] > 1e-7:
        return math.inf
    return float(np.abs(out_of(edge, points)).max())


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


def tidy(edges: list[Edge]) -> Loop | None:
    """Return a loop without splinters: spikes trimmed, tiny edges dropped, pieces of one line or arc made one."""
    run = _trim_spikes(list(edges))
    run = _drop_short(run)
    if len(run) < 2:
        return None
    joined: list[Edge] = []
    for e in run:
        one = _merged(joined[-1], e) if joined else None
        if one is not None:
            joined[-1] = one
        else:
            joined.append(e)
    while len(joined) > 2:
        one = _merged(joined[-1], joined[0])
        if one is None:
            break
        joined[0] = one
        joined.pop()
    # Ends are shared exactly, so that the loop is closed to the last bit.
    closed = [replace(e, start=joined[i - 1].end, name="") for i, e in enumerate(joined)]
    return Loop(tuple(closed)) if len(closed) > 1 else None


def _drop_short(run: list[Edge]) -> list[Edge]:
    kept: list[Edge] = []
    for e in run:
        if e.chord < SHORT and e.length < 2 * SHORT:
            if kept:
                kept[-1] = replace(kept[-1], end=e.end)
            continue
        if kept and kept[-1].end != e.start:
            e = replace(e, start=kept[-1].end)
        kept.append(e)
    if kept and kept[-1].end != kept[0].start:
        kept[0] = replace(kept[0], start=kept[-1].end)
    return kept


def _trim_spikes(run: list[Edge]) -> list[Edge]:
    """Cut lines back to where they cross when a bridge runs against both its neighbours."""
    i = 0
    while i < len(run) and len(run) > 3:
        e = run[i]
        before, after = run[i - 1], run[(i + 1) % len(run)]
        if e.name == "bridge" and before.is_line and after.is_line and against(e, before) and against(e, after):
            p = _crossing(before, after)
            j = (i + 1) % len(run)
            run[i - 1] = replace(before, end=p)
            run[j] = replace(after, start=p)
            run.pop(i)
            continue
        i += 1
    return run


def against(a: Edge, b: Edge) -> bool:
    """Whether two edges start in opposite directions."""
    return dot(a.direction(), b.direction()) < 0


def _crossing(a: Edge, b: Edge) -> Point:
    (ax, ay), (bx, by) = a.direction(), b.direction()
    turn = ax * by - ay * bx
    wx, wy = b.start[0] - a.end[0], b.start[1] - a.end[1]
    if abs(turn) < 1e-6:
        return (a.end[0] + b.start[0]) / 2, (a.end[1] + b.start[1]) / 2
    s = (wx * by - wy * bx) / turn
    return a.end[0] + s * ax, a.end[1] + s * ay


def _merged(a: Edge, b: Edge) -> Edge | None:
    """Return one edge for two that continue each other, None when they do not."""
    if a.is_line != b.is_line:
        return None
    (ax, ay), (bx, by) = a.direction(1.0), b.direction(0.0)
    if ax * bx + ay * by < 0.999:
        return None
    if a.is_line:
        whole = Edge(a.start, b.end)
        n = whole.chord
        if n == 0.0:
            return None
        off = (a.end[0] - a.start[0]) * (b.end[1] - a.start[1]) - (a.end[1] - a.start[1]) * (b.end[0] - a.start[0])
        return whole if abs(off) / n <= STRAIGHT else None
    if a.bulge * b.bulge < 0 or abs(a.sweep + b.sweep) > math.pi * 1.0001:
        return None
    if abs(a.radius - b.radius) > STRAIGHT or math.dist(a.centre, b.centre) > STRAIGHT:
        return None
    return Edge(a.start, b.end, math.tan((a.sweep + b.sweep) / 4.0))
