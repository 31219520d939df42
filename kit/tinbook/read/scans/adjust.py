"""All edges of a rim adjusted together: each point goes to the edge on whose side of the corners it lies.

Fitted alone, an edge leaves out the points at its ends, for they may belong to a corner. On a short edge these are a
tenth of its points and those that hold its direction. Where two edges meet in a sharp corner, the corner itself says
which points are whose, so both take theirs up to it; corners, points and fits follow each other until they stand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array, Point
from tinbook.read.fitting import Straight, fit_arc, fit_line
from tinbook.read.scans.closing import closed
from tinbook.read.scans.pieces import CUT, ENDS, SHARP, Piece, best, corner_of

ROUNDS: Final = 4
"""Times that corners and edges are found from each other; the points are the same after two or three."""
BESIDE: Final = 2.0
"""Standard deviations along an edge within which a point by the corner may be either edge's."""
SHARED: Final = 0.8
"""Share of the points by a corner that lie on one of its edges where it is sharp, strays apart (own proposal)."""


def adjusted(xy: Array, found: Sequence[Piece], tol: float) -> list[Piece]:
    """Return the edges of a rim fitted together.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Points of the rim, anticlockwise round the opening.
    found : sequence of Piece
        The edges in turn, each fitted to its inner points.
    tol : float
        As in `pieces.best`, mm.
    """
    made = list(found)
    # One scanner took them all: an edge that scatters less by chance does not lose points for it.
    usual = float(np.median([p.scatter for p in found])) if found else 0.0
    for _ in range(ROUNDS):
        corners = [_sharp(xy, a, b) for a, b in zip(made, [*made[1:], made[0]], strict=True)]
        then = [
            _between(xy, made[i], corners[i - 1], corners[i], _free(made, i, len(xy)), usual, tol)
            for i in range(len(made))
        ]
        if all(np.array_equal(a.numbers, b.numbers) for a, b in zip(made, then, strict=True)):
            break
        made = then
    return closed(xy, made, tol)


def _sharp(xy: Array, a: Piece, b: Piece) -> Point | None:
    """Return the corner of two edges that run into it as they are; None where it is round, missing or too flat."""
    at = corner_of(xy, a, b)
    if at is None:
        return None
    (ax, ay), (bx, by) = a.on.heading(at), b.on.heading(at)
    if ax * bx + ay * by > math.cos(math.radians(SHARP)):
        return None
    last, first = int(a.numbers[-1]), int(b.numbers[0])
    near = np.arange(last - ENDS, last + 1 + _ahead(last, first, len(xy)) + ENDS) % len(xy)
    # Between the edge and its corner a patch may be missing; what lies by the corner itself says whether it is sharp.
    k = int(np.hypot(*(xy[near] - at).T).argmin())
    near = near[max(0, k - ENDS) : k + ENDS + 1]
    off = np.minimum(
        np.abs(a.on.out(xy[near])) / max(a.scatter, 1e-9), np.abs(b.on.out(xy[near])) / max(b.scatter, 1e-9)
    )
    return at if float((off <= CUT).mean()) >= SHARED else None


def _ahead(a: int, b: int, count: int) -> int:
    """Return how many points on from one point another lies; by a corner an edge may end a few beyond the next one's first."""
    steps = (b - a) % count
    return steps if steps < count / 2 else 0


def _free(made: Sequence[Piece], i: int, count: int) -> Index:
    """Return the numbers of the points that may be an edge's: its own, and those up to its neighbours and a little on."""
    p, before, after = made[i], made[i - 1], made[(i + 1) % len(made)]
    first, last = int(p.numbers[0]), int(p.numbers[-1])
    long = (last - first) % count
    ahead, behind = _ahead(last, int(after.numbers[0]), count), _ahead(int(before.numbers[-1]), first, count)
    return np.arange(first - behind - ENDS, first + long + ahead + ENDS + 1) % count


def _between(
    xy: Array, p: Piece, start: Point | None, end: Point | None, free: Index, usual: float, tol: float
) -> Piece:
    """Return an edge fitted to all points between its sharp corners; at other ends it keeps those it had."""
    first, last = (int(np.flatnonzero(free == p.numbers[k])[0]) for k in (0, -1))
    span = free[0 if start else first : len(free) if end else last + 1]
    keep = np.abs(p.on.out(xy[span])) <= CUT * max(p.scatter, usual)
    for corner, way in ((start, 1.0), (end, -1.0)):
        if corner is not None:
            keep &= way * ((xy[span] - corner) @ np.array(p.on.heading(corner))) > BESIDE * p.scatter
    fit = best(xy, span[keep], tol) if keep.sum() >= 5 else None
    if fit is None:
        return p
    # The cut is the usual one of all edges, and every point within it counts.
    on = (fit_line if isinstance(fit[0], Straight) else fit_arc)(xy[span[keep]]) or fit[0]
    return replace(p, numbers=span[keep], on=on, scatter=fit[2])
