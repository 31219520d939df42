"""Join the developed faces of a skin into closed contours, edge by edge as the solid has them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from tinbook.plane import Edge, Loop, Point
from tinbook.read.step_faces import Coedge
from tinbook.read.step_walk import Region, Walk

STRAIGHT = 2e-4
"""mm: consecutive lines (or arcs) that one line (or arc) covers this closely become one."""

SHORT = 5e-4
"""mm: an edge shorter than this is dropped and its neighbours meet."""


@dataclass(frozen=True, slots=True)
class Contour:
    """A closed contour of the flat and the coedges that make it.

    Parameters
    ----------
    formed : bool
        Whether some of it borders on metal that was not developed.
    gaps : tuple of ((float, float), (float, float))
        Where a straight line had to be drawn across such metal or a corner.
    """

    loop: Loop
    coedges: tuple[Coedge, ...]
    formed: bool
    gaps: tuple[tuple[Point, Point], ...] = ()


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
        if e.name == "bridge" and before.is_line and after.is_line and _against(e, before) and _against(e, after):
            p = _crossing(before, after)
            j = (i + 1) % len(run)
            run[i - 1] = replace(before, end=p)
            run[j] = replace(after, start=p)
            run.pop(i)
            continue
        i += 1
    return run


def _against(a: Edge, b: Edge) -> bool:
    (ax, ay), (bx, by) = a.direction(), b.direction()
    return ax * bx + ay * by < 0


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
