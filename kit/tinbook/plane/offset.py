"""Offsets of an outline: each edge by its own amount, lines and arcs exact."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from tinbook.errors import BadValue
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.plane.meeting import (
    TANGENT,
    carriers_meet,
    meet,
    right_of,
    shifted_radius,
    turn,
    turned,
)
from tinbook.tolerances import SAME_POINT


def offset_loop(loop: Loop, out: Sequence[float]) -> Loop:
    """Return an anticlockwise loop with each edge moved outward by its own amount.

    Parameters
    ----------
    loop : Loop
        Anticlockwise, simple, no edge without a name.
    out : sequence of float
        Amount for each edge in order, mm, positive outward.

    Returns
    -------
    Loop
        Lines stay parallel, arcs keep their centre, corners stay sharp.
        Neighbours that run smoothly into each other and move by different
        amounts are joined by a short straight step "A to B".

    Raises
    ------
    BadValue
        A radius or an edge vanishes, or neighbours no longer meet.

    Notes
    -----
    Exact for each edge. Whether parts of the loop far from each other now
    cross is left to the caller (`meeting.self_crossing`).
    """
    edges = loop.edges
    n = len(edges)
    for e, amount in zip(edges, out, strict=True):
        if not e.is_line and shifted_radius(e, amount) <= SAME_POINT:
            raise BadValue(
                f"offset of edge '{e.name}'",
                amount,
                f"less than its radius of {e.radius:.3f} mm towards its centre; or take the edge out with without()",
            )
    starts: list[Point] = [(0.0, 0.0)] * n
    ends: list[Point] = [(0.0, 0.0)] * n
    steps: dict[int, Edge] = {}
    for i, a in enumerate(edges):
        j = (i + 1) % n
        b, da, db = edges[j], out[i], out[j]
        if abs(turn(a, b)) > math.pi - TANGENT:
            raise BadValue(f"offset at corner '{a.name}/{b.name}'", (da, db), "a corner that is not a sharp cusp")
        if abs(turn(a, b)) < TANGENT:
            (ax, ay), (bx, by) = right_of(a.direction(1.0)), right_of(b.direction())
            m = math.hypot(ax + bx, ay + by)
            nx, ny = (ax + bx) / m, (ay + by) / m
            ends[i] = a.end[0] + da * nx, a.end[1] + da * ny
            starts[j] = a.end[0] + db * nx, a.end[1] + db * ny
            if abs(da - db) > SAME_POINT:
                steps[i] = Edge(ends[i], starts[j], 0.0, f"{a.name} to {b.name}")
            else:
                starts[j] = ends[i]
            continue
        corner = meet(a, b, da, db)
        if corner is None:
            raise BadValue(
                f"offset at corner '{a.name}/{b.name}'", (da, db), "amounts with which the two edges still meet"
            )
        ends[i] = starts[j] = corner
    moved: list[Edge] = []
    for i, e in enumerate(edges):
        moved.append(rebuilt(e, starts[i], ends[i], out[i], f"offset of edge '{e.name}'", out[i]))
        if i in steps:
            moved.append(steps[i])
    return Loop(tuple(moved))


def rebuilt(e: Edge, start: Point, end: Point, out: float, field: str, value: object) -> Edge:
    """Return an edge moved to its right by `out`, between new ends on its moved carrier.

    Raises
    ------
    BadValue
        The ends have passed each other (the edge vanishes) or an arc closes on itself.
    """
    gone = f"an amount that leaves something of edge '{e.name}' (it is {e.length:.3f} mm long); or without('{e.name}')"
    if e.is_line:
        t = e.direction()
        if (end[0] - start[0]) * t[0] + (end[1] - start[1]) * t[1] <= SAME_POINT:
            raise BadValue(field, value, gone)
        return replace(e, start=start, end=end)
    c = e.centre
    sweep = e.sweep + turned(c, e.end, end) - turned(c, e.start, start)
    if math.copysign(1.0, e.bulge) * sweep * shifted_radius(e, out) <= SAME_POINT:
        raise BadValue(field, value, gone)
    if abs(sweep) >= math.tau - 1e-9:
        raise BadValue(field, value, f"an amount with which arc '{e.name}' does not close on itself")
    return replace(e, start=start, end=end, bulge=math.tan(sweep / 4.0))


def without_edge(loop: Loop, i: int) -> Loop:
    """Return a loop less its edge `i`, with the two neighbours run on until they meet.

    Where they meet more than once, the place nearest to the middle of the lost edge is taken.

    Raises
    ------
    BadValue
        The neighbours never meet.
    """
    edges, n = loop.edges, len(loop)
    lost, a, b = edges[i], edges[i - 1], edges[(i + 1) % n]
    field = f"without '{lost.name}'"
    if n < 4 and all(e.is_line for e in edges):
        raise BadValue(field, lost.name, "an outline that keeps at least three edges")
    mid = lost.at(0.5)
    places = carriers_meet(a, b, TANGENT)
    if not places:
        raise BadValue(field, lost.name, f"an edge whose neighbours '{a.name}' and '{b.name}' meet when run on")
    corner = min(places, key=lambda p: math.dist(p, mid))
    new_a = rebuilt(a, a.start, corner, 0.0, field, lost.name)
    new_b = rebuilt(b, corner, b.end, 0.0, field, lost.name)
    kept = [{(i - 1) % n: new_a, (i + 1) % n: new_b}.get(k, e) for k, e in enumerate(edges) if k != i]
    return Loop(tuple(kept))
