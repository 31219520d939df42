"""How a bend ends on its edge: reliefs, notches and the corner that two bends meet at.

Points are given beside an edge as (s, h): s along it from its start, h inward from it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

from tinbook.finding import Refused
from tinbook.part.features import Relief
from tinbook.plane.cuts import beside_edge, crossings
from tinbook.plane.loops import Edge, Point
from tinbook.tolerances import SLIT
from tinbook.values import dataclass

STEEP = math.radians(20.0)
"""Reflex corners turned back more than this get their relief inside the fold, not beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BendOnEdge:
    """One bend line on a panel's edge.

    Parameters
    ----------
    name : str
        Name of the fold.
    edge : int
        Index of the edge in the panel's loop.
    start, stop : float
        Stretch on the mould line, mm from the edge's start.
    setback : float
        From the mould line to the tangent line, mm.
    relief_width, relief_depth : float
        Relief width, and how far it reaches past the tangent line, mm.
    span : (float, float) or None
        Strip span already fixed by the parent (the panel's own root).
    narrow : (float, float)
        Limits that the strip must keep to, mm from the edge's start, for the sake of the leg's own sides.
    """

    name: str
    edge: int
    start: float
    stop: float
    setback: float
    relief_width: float
    relief_depth: float
    relief: Relief
    span: tuple[float, float] | None = None
    narrow: tuple[float, float] = (-math.inf, math.inf)


@dataclass(slots=True)
class BendEnd:
    """How one end of an edge's path meets its vertex: where the edge is trimmed, what connects, how far the strip is pulled in."""

    trim: float = 0.0
    pull: float = 0.0
    path: tuple[Edge, ...] = ()


def relief_sizes(relief: Relief, thickness: float) -> tuple[float, float]:
    """Return width and depth past the tangent line of a relief in mm, defaults filled in.

    Common practice: as wide as the sheet is thick, at least 1 mm for a laser.
    """
    width = SLIT if relief.kind == "tear" else (relief.width or max(thickness, 1.0))
    depth = max(0.5 * thickness, 0.5) if relief.depth is None else relief.depth
    return width, max(depth, width / 2 if relief.kind == "round" else 0.05)


def notch_edges(
    at: Callable[[float, float], Point], points: Sequence[Point], round_bottom: bool, width: float
) -> tuple[Edge, ...]:
    """Return straight edges through (s, h) points; the bottom (second to third) may be a half circle."""
    if round_bottom:
        (s1, h1), (s2, h2) = points[1], points[2]
        points = [points[0], (s1, h1 - width / 2), (s2, h2 - width / 2), *points[3:]]
    real = [at(s, h) for s, h in points]
    return tuple(
        Edge(a, b, -1.0 if round_bottom and k == 1 else 0.0, "relief")
        for k, (a, b) in enumerate(itertools.pairwise(real))
    )


def end_beside_free_edge(e: Edge, j: BendOnEdge, other: Edge, *, at_stop: bool, where: str) -> tuple[BendEnd, float]:
    """Settle an end of a fold at a vertex whose other edge carries none.

    `other` runs away from the vertex. Returns this edge's end and the fraction of `other` that is cut off at the vertex.
    """
    length, setback, width = e.length, j.setback, j.relief_width
    bottom = setback + j.relief_depth
    at = beside_edge(e)
    sign = -1.0 if at_stop else 1.0

    def s_of(inward: float) -> float:
        return length - inward if at_stop else inward

    def finish(
        points: Sequence[tuple[float, float]], lead: Point | None, pull: float, trim: float, notch: bool
    ) -> tuple[BendEnd, float]:
        ordered = [(s_of(a), h) for a, h in points]
        if at_stop:
            ordered.reverse()
        round_bottom = notch and j.relief.kind == "round"
        path = list(notch_edges(at, ordered, round_bottom, width)) if len(ordered) > 1 else []
        if lead is not None:
            near = at(s_of(points[0][0]), points[0][1])
            if math.dist(lead, near) > 1e-9:
                path = [*path, Edge(near, lead, 0.0, "relief")] if at_stop else [Edge(lead, near, 0.0, "relief"), *path]
        return BendEnd(pull=pull, path=tuple(path)), trim

    (ux, uy), (ox, oy) = e.direction(), other.direction()
    along, inward = sign * (ux * ox + uy * oy), -uy * ox + ux * oy
    angle = math.atan2(inward, along)  # of `other`, from the fold's own direction: 0 < angle < 180 inside the panel
    hits = [f for f in crossings(other, at(0, setback), (ux, uy)) if f > 1e-9]
    q = other.at(hits[0]) if hits and angle > 1e-6 else None
    inner = sign * ((q[0] - e.start[0]) * ux + (q[1] - e.start[1]) * uy - (length if at_stop else 0.0)) if q else 0.0
    if j.span is not None:
        fixed = length - j.span[1] if at_stop else j.span[0]
        if q is None:
            raise Refused(
                "fold.side_in_bend", f"fold {j.name!r}", "a side of the leg ends before its bend does", "a longer leg"
            )
        return finish([(fixed, setback)], q, fixed, hits[0], notch=False)
    if q is not None and inner > -(width + setback):
        pull = inner if inner > -0.05 else 0.0
        return finish([(pull, setback)], q, pull, hits[0], notch=False)
    if angle < -STEEP or angle > math.pi + STEEP or (angle <= 0 and along < 0 and inward < -math.sin(STEEP)):
        return finish([(0, 0), (0, bottom), (width, bottom), (width, setback)], None, width, 0.0, notch=True)
    beside = [f for f in crossings(other, at(s_of(-width), 0), (-uy, ux)) if f > 1e-9]
    if not beside:
        what = f"there is no room for its relief beside the end of the edge on {where}"
        remedy = "end the fold short of the corner, or make the neighbouring edge longer than the relief"
        raise Refused("fold.relief", f"fold {j.name!r}", what, remedy)
    lead = other.at(beside[0])
    return finish([(-width, bottom), (0, bottom), (0, setback)], lead, 0.0, beside[0], notch=False)


def corner_of_two_bends(a: Edge, ja: BendOnEdge, b: Edge, jb: BendOnEdge) -> tuple[BendEnd, tuple[Edge, ...], BendEnd]:
    """Settle a vertex where both edges carry folds: notch, or the reflex corner's slot."""
    (ux, uy), (vx, vy) = a.direction(), b.direction()
    on_a, on_b = beside_edge(a), beside_edge(b)
    turn = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    kind = "tear" if "tear" in (ja.relief.kind, jb.relief.kind) else ja.relief.kind
    width = max(ja.relief_width, jb.relief_width) if kind != "tear" else SLIT
    depth = max(ja.relief_depth, jb.relief_depth)
    length = a.length
    if turn > 1e-6:
        # Where the two tangent lines cross, as a distance from the vertex along each edge.
        sin = math.sin(turn)
        pa = (jb.setback - ja.setback * math.cos(turn)) / sin if sin > 1e-9 else 0.0
        pb = (ja.setback - jb.setback * math.cos(turn)) / sin if sin > 1e-9 else 0.0
        end, start = on_a(length - pa - width, ja.setback), on_b(pb + width, jb.setback)
        tip = on_a(length - pa, ja.setback)
        if kind == "round":
            path: tuple[Edge, ...] = (Edge(end, start, -math.tan((math.pi - turn) / 4), "relief"),)
        elif kind == "tear":
            path = (Edge(end, tip, 0.0, "relief"), Edge(tip, start, 0.0, "relief"))
        else:
            # In a sharp corner the square's two sides meet before they are `width` deep.
            deep = width * min(math.tan((math.pi - turn) / 2), 1.0)
            inner_a, inner_b = on_a(length - pa - width, ja.setback + deep), on_b(pb + width, jb.setback + deep)
            path = tuple(
                Edge(p, q, 0.0, "relief")
                for p, q in ((end, inner_a), (inner_a, inner_b), (inner_b, start))
                if math.dist(p, q) > 1e-9
            )
        return BendEnd(pull=pa + width), path, BendEnd(pull=pb + width)
    if turn > -STEEP:
        half = width / 2
        points = [
            on_a(length - half, ja.setback),
            on_a(length - half, ja.setback + depth),
            on_b(half, jb.setback + depth),
            on_b(half, jb.setback),
        ]
        pull = half
    else:
        sin = math.sin(turn)
        da, db = ja.setback + depth, jb.setback + depth
        corner = on_a(length - (db - da * math.cos(turn)) / sin, da)
        points = [
            on_a(length - width, ja.setback),
            on_a(length - width, da),
            corner,
            on_b(width, db),
            on_b(width, jb.setback),
        ]
        pull = width
    path = tuple(Edge(p, q, 0.0, "relief") for p, q in itertools.pairwise(points))
    return BendEnd(pull=pull), path, BendEnd(pull=pull)
