"""Join the developed faces of a skin into closed contours, edge by edge as the solid has them, a pipe cut where it is best."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

from tinbook.plane.chaining import chain_loops
from tinbook.plane.cuts import crossings
from tinbook.plane.loops import Edge, Loop, Move, Point
from tinbook.read.curves import tidy
from tinbook.read.step.faces import Coedge
from tinbook.read.step.walk import Region, Walk
from tinbook.values import dataclass

CANDIDATES = 720
"""Rulings of a pipe that are tried for its seam."""


@dataclass(frozen=True, slots=True)
class Contour:
    """A closed contour of the flat and the coedges that make it.

    Parameters
    ----------
    formed : bool
        Whether some of it borders on metal that was not developed.
    blind : bool
        Whether it is cut into this skin and does not come out of the other.
    gaps : tuple of ((float, float), (float, float))
        Where a straight line had to be drawn across such metal or a corner.
    """

    loop: Loop
    coedges: tuple[Coedge, ...]
    formed: bool
    gaps: tuple[tuple[Point, Point], ...] = ()
    blind: bool = False


def contours(walk: Walk, only: Region | None = None) -> list[Contour]:
    """Return all contours, material on the left: one anticlockwise, its openings clockwise.

    Parameters
    ----------
    only : Region, optional
        Draw this region alone in its own chart, as if nothing were joined to it.
    """
    regions = [only] if only else [r for r in walk.regions if r.move is not None]
    inside = set(only.faces) if only else None
    joined = {c: d for c, d in walk.joined.items() if inside is None or {c.face, d.face} <= inside}
    free = [c for r in regions for f in r.faces for c in walk.body.coedges(f) if c not in joined]
    drawn = walk.pieces.__getitem__ if only else walk.placed
    left = set(free)
    made = []
    for first in free:
        if first not in left:
            continue
        run: list[Coedge] = []
        edges: list[Edge] = []
        gaps: list[tuple[Point, Point]] = []
        c = first
        while c in left:
            left.discard(c)
            run.append(c)
            edges.extend(drawn(c))
            c, sharp = _next(walk, joined, c)
            start = drawn(c)[0].start
            if edges and math.dist(edges[-1].end, start) > 1e-9:
                _bridge(edges, drawn(c), sharp, gaps)
        if not edges:
            continue
        loop = tidy(edges)
        if loop is not None:
            formed = any(walk.kinds[c][0] == "formed" for c in run)
            made.append(Contour(loop, tuple(run), formed, tuple(gaps)))
    return made


def _next(walk: Walk, joined: dict[Coedge, Coedge], c: Coedge) -> tuple[Coedge, bool]:
    """Return the next free coedge round the skin's edge and whether a fold without radius was crossed."""
    wire = walk.body.wires(c.face)[c.wire]
    n = wire[(c.at + 1) % len(wire)]
    sharp = False
    for _ in range(10_000):
        if n not in joined:
            return n, sharp
        sharp = sharp or n in walk.sharps
        p = joined[n]
        wire = walk.body.wires(p.face)[p.wire]
        n = wire[(p.at + 1) % len(wire)]
    return n, sharp


def _bridge(edges: list[Edge], ahead: tuple[Edge, ...], sharp: bool, gaps: list[tuple[Point, Point]]) -> None:
    """Close the gap before the next coedge: across the strip of a sharp fold by a line, else by moving the end."""
    a, b = edges[-1].end, ahead[0].start
    if math.dist(a, b) < 0.02 and not sharp:
        edges[-1] = replace(edges[-1], end=b)
        return
    edges.append(Edge(a, b, 0.0, "bridge"))
    if not sharp:
        gaps.append((a, b))


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
