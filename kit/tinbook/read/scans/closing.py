"""Edges that run smoothly into each other, adjusted as one closed line: corners are shared, so none can miss its neighbour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from tinbook.plane.loops import Array, Edge, Point
from tinbook.plane.meeting import turn
from tinbook.read.fitting import Carrier, Circle, arc_or_line, carrier_of, nearest_places, out_of, point
from tinbook.read.scans.pieces import CUT, Piece, corner_of

SMOOTH: Final = 0.5
"""Degrees that such a joint may turn by, as a standard deviation: it keeps the corner from sliding along both edges."""
ROUNDS: Final = 3
"""Times that corners and points are found from each other."""


def closed(xy: Array, found: Sequence[Piece], tol: float) -> list[Piece]:
    """Return edges whose corners all meet, by least squares over corners and bulges together where some do not.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Points of the rim.
    found : sequence of Piece
        In turn, each with its own points.
    tol : float
        Edges that miss or overlap each other by no more run smoothly into each other, mm.

    Returns
    -------
    list of Piece
        As they are where every corner is a sharp one, which is what their own fits give already.
    """
    made, n = list(found), len(found)
    met = [_met(xy, made[k - 1], made[k], tol) for k in range(n)]
    smooth = [s for _, s in met]
    if n < 3 or not any(smooth):
        return made
    corners = np.array([p for p, _ in met])
    for _ in range(ROUNDS):
        edges = _together(xy, made, corners, smooth)
        corners = np.array([e.start for e in edges])
        near = [int(np.hypot(*(xy - c).T).argmin()) for c in corners]
        made = [
            _with_points(
                xy,
                made[k],
                edges[k],
                near[k] if smooth[k] else None,
                near[(k + 1) % n] if smooth[(k + 1) % n] else None,
            )
            for k in range(n)
        ]
    return made


def _met(xy: Array, a: Piece, b: Piece, tol: float) -> tuple[Point, bool]:
    """Return where two edges meet or come nearest to it, and whether they run smoothly into each other there."""
    last, first = xy[a.numbers[-1]], xy[b.numbers[0]]
    crossing = corner_of(xy, a, b)
    if crossing is not None and _overlap(a.on, b.on, crossing) > tol:
        return crossing, False
    middle = point((last + first) / 2)
    one, other = nearest_places(a.on, b.on) or (a.on.foot(middle), b.on.foot(middle))
    touching = (one[0] + other[0]) / 2, (one[1] + other[1]) / 2
    return touching, math.dist(one, other) <= tol


def _overlap(a: Carrier, b: Carrier, at: Point) -> float:
    """Return how far two edges reach over each other between their crossings, mm; infinite for two lines."""
    bend = abs(_curvature(a) - _curvature(b))
    (ax, ay), (bx, by) = a.heading(at), b.heading(at)
    return (1 - (ax * bx + ay * by)) / bend if bend > 0 else math.inf


def _curvature(on: Carrier) -> float:
    return on.turn / on.radius if isinstance(on, Circle) else 0.0


def _together(xy: Array, found: Sequence[Piece], corners: Array, smooth: Sequence[bool]) -> list[Edge]:
    """Return the edges with shared corners that fit all points best."""
    from scipy.optimize import least_squares

    n = len(found)
    places = [point(c) for c in corners]
    arcs = [k for k, p in enumerate(found) if isinstance(p.on, Circle)]
    bulges = [arc_or_line("", found[k].on, places[k], places[(k + 1) % n]).bulge for k in arcs]

    def edges(x: Array) -> list[Edge]:
        bulge = dict(zip(arcs, x[2 * n :].tolist(), strict=True))
        p = [point(x[2 * k :]) for k in range(n)]
        return [Edge(p[k], p[(k + 1) % n], bulge.get(k, 0.0)) for k in range(n)]

    def off(x: Array) -> Array:
        made = edges(x)
        rows = [out_of(e, xy[p.numbers]) / max(p.scatter, 1e-3) for e, p in zip(made, found, strict=True)]
        turns = [math.degrees(turn(made[k - 1], made[k])) / SMOOTH for k in range(n) if smooth[k]]
        return np.concatenate((*rows, turns))

    return edges(least_squares(off, np.concatenate((np.ravel(places), bulges)), x_scale="jac", max_nfev=60).x)


def _with_points(xy: Array, p: Piece, e: Edge, start: int | None, end: int | None) -> Piece:
    """Return a piece on its new edge, with all points between smooth corners that lie near it."""
    first, last = int(p.numbers[0]) if start is None else start, int(p.numbers[-1]) if end is None else end
    span = np.arange(first, first + (last - first) % len(xy) + 1) % len(xy)
    off = np.abs(out_of(e, xy[span]))
    scatter = 1.4826 * float(np.median(off))
    near = off <= CUT * max(scatter, 1e-6)
    if near.sum() < 4:
        return replace(p, on=carrier_of(e))
    return replace(p, on=carrier_of(e), numbers=span[near], scatter=scatter)
