"""Move the seam of a closed pipe to a ruling that no opening crosses."""

from __future__ import annotations

import itertools
import math

from tinbook.plane.chaining import chain_loops
from tinbook.plane.cuts import crossings
from tinbook.plane.loops import Edge, Move, Point
from tinbook.read.curves import tidy
from tinbook.read.step.outline import Contour
from tinbook.read.step.walk import Walk

CANDIDATES = 720


def away_from_openings(walk: Walk, found: list[Contour]) -> list[Contour] | None:
    """Return the contours of a closed pipe cut open elsewhere, None where the drawn seam is as good.

    Only a skin of one cylinder that goes the whole way round, whose seam is broken
    by openings; a ring of panels is cut at its shortest edge instead.
    """
    region = walk.regions[0]
    seams = [c for contour in found for c in contour.coedges if walk.kinds[c][0] == "seam"]
    round_ = len(walk.regions) == 1 and region.kind == "cylinder" and region.turn[1] - region.turn[0] > math.tau - 1e-6
    if not round_ or len(seams) <= 2 or region.move is None:
        return None
    back = region.move.inverse()
    low, high = sorted(region.chart.scale * t for t in region.turn)
    edges = [back.edge(e) for contour in found for e in contour.loop.edges]
    edges = [e for e in edges if not _on(e, low) and not _on(e, high)]
    at = _best(edges, low, high)
    if at is None:
        return None
    try:
        loops = [tidy([region.move.edge(e) for e in loop]) for loop in chain_loops(_recut(edges, at, high - low))]
    except ValueError:
        return None
    whole = [Contour(loop, (), False) for loop in loops if loop is not None]
    if sum(c.loop.area > 0 for c in whole) != 1:
        return None
    coedges = tuple(c for contour in found for c in contour.coedges)
    return [Contour(c.loop, coedges, False) if c.loop.area > 0 else c for c in whole]


def _on(e: Edge, s: float) -> bool:
    return e.is_line and abs(e.start[1] - s) < 1e-6 and abs(e.end[1] - s) < 1e-6


def _best(edges: list[Edge], low: float, high: float) -> float | None:
    """Return the ruling that meets only the pipe's two ends, furthest from every corner."""
    corners = sorted(p[1] for e in edges for p in (e.start, e.end))
    best: tuple[float, float] | None = None
    for i in range(1, CANDIDATES):
        s = low + (high - low) * i / CANDIDATES
        room = min(abs(s - c) for c in corners)
        if (best is None or room > best[0] + 1e-9) and sum(len(crossings(e, (0.0, s), (1.0, 0.0))) for e in edges) == 2:
            best = (room, s)
    return best[1] if best and best[0] > 1e-3 else None


def _recut(edges: list[Edge], at: float, around: float) -> list[Edge]:
    up = Move(v=around)
    run: list[Edge] = []
    ends: list[Point] = []
    for e in edges:
        stops = [0.0, *(s for s in crossings(e, (0.0, at), (1.0, 0.0)) if 1e-9 < s < 1 - 1e-9), 1.0]
        ends += [e.at(s) for s in stops[1:-1]]
        for a, b in itertools.pairwise(stops):
            piece = e.part(a, b)
            run.append(piece if piece.at(0.5)[1] > at else up.edge(piece))
    left, right = sorted(ends)
    # Metal lies on the left: along the lower seam to the right, back along the upper one.
    return [*run, Edge(left, right), Edge(up(right), up(left))]
