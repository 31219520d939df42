"""Join the developed faces of a skin into closed contours, edge by edge as the solid has them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from tinbook.plane.loops import Edge, Loop, Point
from tinbook.read.curves import tidy
from tinbook.read.step.faces import Coedge
from tinbook.read.step.walk import Region, Walk


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
