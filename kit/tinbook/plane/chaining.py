"""Chaining of loose edges into loops, and openings that run over a tangent line."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

from tinbook.plane.cuts import clip
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.tolerances import SHORTEST_EDGE

CUT = "cut:"
"""Prefix of the edges along which `plane.cuts.clip` closed an opening's part."""

HOLE = "hole:"
"""Prefix of the edges of a boundary that belong to an opening over a fold; its name follows."""

_GRID = SHORTEST_EDGE


def chain_loops(edges: Iterable[Edge]) -> list[Loop]:
    """Chain directed edges end to start into loops.

    Parameters
    ----------
    edges : iterable of Edge
        Each end lies within `SHORTEST_EDGE` of a start; the nearest follows.

    Returns
    -------
    list of Loop

    Raises
    ------
    ValueError
        An end meets no start.
    """
    waiting = [e for e in edges if e.chord > 1e-7 or not e.is_line]
    cells: dict[tuple[int, int], list[int]] = {}
    used = [False] * len(waiting)
    exact = {e.start: i for i, e in enumerate(waiting)}

    def follower(p: Point) -> int | None:
        if (same := exact.get(p)) is not None and not used[same]:
            return same
        if not cells:
            for i, e in enumerate(waiting):
                cells.setdefault((round(e.start[0] / _GRID), round(e.start[1] / _GRID)), []).append(i)
        cx, cy = round(p[0] / _GRID), round(p[1] / _GRID)
        best, nearest = None, SHORTEST_EDGE  # laying out may have dropped an edge so short
        for x in (cx - 1, cx, cx + 1):
            for y in (cy - 1, cy, cy + 1):
                for i in cells.get((x, y), ()):
                    d = math.dist(p, waiting[i].start)
                    if not used[i] and d < nearest:
                        best, nearest = i, d
        return best

    loops = []
    for first in range(len(waiting)):
        if used[first]:
            continue
        used[first] = True
        path = [waiting[first]]
        while math.dist(path[-1].end, path[0].start) > 1e-5:
            following = follower(path[-1].end)
            if following is None and math.dist(path[-1].end, path[0].start) <= SHORTEST_EDGE:
                break
            if following is None:
                raise ValueError(f"the boundary breaks off at {path[-1].end}")
            used[following] = True
            path.append(_from(path[-1].end, waiting[following]))
        e = path[-1]
        if e.end != path[0].start:
            path[-1] = Edge(e.start, path[0].start, e.bulge, e.name)
        loops.append(Loop(tuple(path)))
    return loops


def _from(start: Point, e: Edge) -> Edge:
    """Return an edge that begins at a point."""
    return e if e.start == start else Edge(start, e.end, e.bulge, e.name)


def merged(loop: Loop) -> Loop:
    """Return the loop with collinear neighbours and pieces of one arc joined, splinters dropped."""
    edges = [e for e in loop.edges if e.length > SHORTEST_EDGE / 2]
    edges = [_from(edges[k - 1].end, e) for k, e in enumerate(edges)]
    out: list[Edge] = []
    for e in edges:
        if out and _same_carrier(out[-1], e):
            out[-1] = _united(out[-1], e)
        else:
            out.append(e)
    if len(out) > 2 and _same_carrier(out[-1], out[0]):
        out[0] = _united(out.pop(), out[0])
    return Loop(tuple(out))


def _same_carrier(a: Edge, b: Edge) -> bool:
    if a.bulge == 0.0 == b.bulge:
        (x0, y0), (x1, y1), (x2, y2), (x3, y3) = a.start, a.end, b.start, b.end
        ax, ay, bx, by = x1 - x0, y1 - y0, x3 - x2, y3 - y2
        # Off by less than a tenth of a micron over the joined length.
        return ax * bx + ay * by > 0 and abs(ax * by - ay * bx) < 1e-7 * math.sqrt(
            max(ax * ax + ay * ay, bx * bx + by * by)
        )
    if a.is_line or b.is_line or a.bulge * b.bulge < 0:
        return False
    return math.dist(a.centre, b.centre) < 1e-6 and abs(a.sweep + b.sweep) < math.tau - 1e-6


def _united(a: Edge, b: Edge) -> Edge:
    bulge = 0.0 if a.is_line else math.tan((a.sweep + b.sweep) / 4)
    return Edge(a.start, b.end, bulge, a.name if a.length >= b.length else b.name)


def divided(loop: Loop, origin: Point, direction: Point, name: str) -> tuple[list[Loop], list[Loop]]:
    """Part an anticlockwise opening at a line: what lies to its left, what lies to its right."""
    back = (-direction[0], -direction[1])
    return clip(loop, origin, direction, CUT + name), clip(loop, origin, back, CUT + name)


def cut_spans(part: Loop, name: str, origin: Point, direction: Point) -> list[tuple[float, float]]:
    """Return the stretches that a clipped part covers on a line, as distances along `direction` (sorted)."""
    spans = []
    for e in part.edges:
        if e.name == CUT + name:
            s = sorted((p[0] - origin[0]) * direction[0] + (p[1] - origin[1]) * direction[1] for p in (e.start, e.end))
            spans.append((s[0], s[1]))
    return sorted(spans)


def weave(edges: Iterable[Edge], parts: Sequence[Loop], line_of: dict[str, str]) -> list[Loop]:
    """Take parts of openings that end on tangent lines out of a region.

    Parameters
    ----------
    edges : iterable of Edge
        The region's boundary, anticlockwise.
    parts : sequence of Loop
        Anticlockwise parts with edges named CUT + line along tangent lines; the others keep their names.
    line_of : dict of str to str
        Name of a boundary edge that lies on a tangent line -> name of that line.

    Returns
    -------
    list of Loop
        What remains; more than one loop where a part runs right across.
    """
    out: list[Edge] = []
    for e in edges:
        line = line_of.get(e.name)
        if line is None:
            out.append(e)
            continue
        u = e.direction()
        gaps = sorted(s for p in parts for s in cut_spans(p, line, e.start, u))
        at = 0.0
        for s0, s1 in gaps:
            out.append(replace(e, start=_along(e, u, at), end=_along(e, u, s0)))
            at = s1
        out.append(replace(e, start=_along(e, u, at) if at else e.start))
    for p in parts:
        out.extend(e.reversed() for e in reversed(p.edges) if not e.name.startswith(CUT))
    return chain_loops(out)


def _along(e: Edge, u: Point, s: float) -> Point:
    return e.start if s == 0.0 else (e.start[0] + u[0] * s, e.start[1] + u[1] * s)
