"""Corners of an outline: rounded by a radius or clipped straight."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, TypeAlias

from tinbook import units
from tinbook.errors import BadValue, UnknownName
from tinbook.plane.cuts import on_arc
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.plane.meeting import TANGENT, meet, turn, turned
from tinbook.tolerances import SAME_POINT

CornerKey: TypeAlias = "str | tuple[str, str]"


def corner_index(loop: Loop, key: object) -> int:
    """Return the place of the edge before a corner named "front/right" or ("front", "right").

    The order of the two names matters only where two edges meet twice.
    """
    pair = tuple(key.split("/")) if isinstance(key, str) else key
    names = [e.name for e in loop.edges]
    n = len(names)
    if isinstance(pair, tuple) and len(pair) == 2:
        for a, b in (pair, pair[::-1]):
            for i in range(n):
                if (names[i], names[(i + 1) % n]) == (a, b):
                    return i
    raise UnknownName("corner", key, [f"{names[i]}/{names[(i + 1) % n]}" for i in range(n)])


def rounded_loop(loop: Loop, radius: Any) -> Loop:
    """Return a loop with corners rounded; see `Outline.rounded`."""
    cuts: dict[int, tuple[float, float, float]] = {}
    for i, value in _per_corner(loop, radius, "corner radius").items():
        a, b = loop.edges[i], loop.edges[(i + 1) % len(loop)]
        r = units.positive(value, f"corner '{a.name}/{b.name}' radius")
        angle = turn(a, b)
        out = -math.copysign(r, angle)
        centre = meet(a, b, out, out)
        field = f"corner '{a.name}/{b.name}' radius"
        if centre is None:
            raise BadValue(field, value, "a radius small enough to touch both edges")
        pa, pb = _foot(a, centre), _foot(b, centre)
        arc = turned(centre, pa, pb)
        if arc * angle <= 0:
            raise BadValue(field, value, "a radius small enough to touch both edges")
        cuts[i] = _fraction(a, pa, field, value), _fraction(b, pb, field, value), math.tan(arc / 4.0)
    return _cut(loop, cuts, radius)


def clipped_loop(loop: Loop, size: Any) -> Loop:
    """Return a loop with corners clipped; see `Outline.clipped`."""
    cuts: dict[int, tuple[float, float, float]] = {}
    for i, value in _per_corner(loop, size, "corner clip").items():
        a, b = loop.edges[i], loop.edges[(i + 1) % len(loop)]
        field = f"corner '{a.name}/{b.name}' clip"
        pair = isinstance(value, (tuple, list))
        if pair and len(value) != 2:
            raise BadValue(field, value, "one length, or a pair: along the first edge and along the second")
        la, lb = (units.positive(v, field) for v in (value if pair else (value, value)))
        for e, along in ((a, la), (b, lb)):
            if along > e.length:
                raise BadValue(field, value, f"at most {e.length:.3f} mm, the length of edge '{e.name}'")
        cuts[i] = 1.0 - la / a.length, lb / b.length, 0.0
    return _cut(loop, cuts, size)


def _per_corner(loop: Loop, value: Any, field: str) -> dict[int, Any]:
    """Return the value of each corner to be treated; one value alone goes to every corner that turns."""
    if isinstance(value, Mapping):
        chosen: dict[int, Any] = {}
        for key, v in value.items():
            i = corner_index(loop, key)
            if i in chosen:
                raise BadValue(field, key, "each corner once")
            a, b = loop.edges[i], loop.edges[(i + 1) % len(loop)]
            if not TANGENT < abs(turn(a, b)) < math.pi - TANGENT:
                raise BadValue(field, key, "a corner that turns; these edges run smoothly into each other")
            chosen[i] = v
        return chosen
    n = len(loop)
    turns = [abs(turn(loop.edges[i], loop.edges[(i + 1) % n])) for i in range(n)]
    return {i: value for i in range(n) if TANGENT < turns[i] < math.pi - TANGENT}


def _foot(e: Edge, p: Point) -> Point:
    """Return the point of an edge's line or circle nearest to `p`."""
    if e.is_line:
        (x0, y0), (x1, y1) = e.start, e.end
        dx, dy = x1 - x0, y1 - y0
        s = ((p[0] - x0) * dx + (p[1] - y0) * dy) / (dx * dx + dy * dy)
        return x0 + s * dx, y0 + s * dy
    c = e.centre
    k = e.radius / math.dist(c, p)
    return c[0] + k * (p[0] - c[0]), c[1] + k * (p[1] - c[1])


def _fraction(e: Edge, p: Point, field: str, value: object) -> float:
    """Return where along an edge a point of its carrier lies, 0..1."""
    slack = SAME_POINT / e.length
    if e.is_line:
        s = ((p[0] - e.start[0]) * (e.end[0] - e.start[0]) + (p[1] - e.start[1]) * (e.end[1] - e.start[1])) / e.chord**2
    elif math.dist(p, e.start) < SAME_POINT or math.dist(p, e.end) < SAME_POINT:
        s = 0.0 if math.dist(p, e.start) < SAME_POINT else 1.0
    elif on_arc(e, p):
        c = e.centre
        a = math.atan2(p[1] - c[1], p[0] - c[0]) - math.atan2(e.start[1] - c[1], e.start[0] - c[0])
        s = (a % math.tau if e.bulge > 0 else -(-a % math.tau)) / e.sweep
    else:
        s = -1.0
    if not -slack <= s <= 1.0 + slack:
        raise BadValue(field, value, f"a size that stays on edge '{e.name}' ({e.length:.3f} mm long)")
    return min(max(s, 0.0), 1.0)


def _cut(loop: Loop, cuts: Mapping[int, tuple[float, float, float]], value: object) -> Loop:
    """Return a loop with corners replaced: {corner: (fraction on the edge before, after, bulge between)}.

    An edge that two cuts use up to the last bit (a full round end) is left out.
    """
    n = len(loop)
    taken = {e.name for e in loop.edges}
    kept: list[Edge] = []
    for i, e in enumerate(loop.edges):
        s0 = cuts[(i - 1) % n][1] if (i - 1) % n in cuts else 0.0
        s1 = cuts[i][0] if i in cuts else 1.0
        left = (s1 - s0) * e.length
        if left < -SAME_POINT:
            raise BadValue("corner sizes", value, f"sizes that fit on edge '{e.name}' ({e.length:.3f} mm long)")
        if left > SAME_POINT:
            kept.append(e if (s0, s1) == (0.0, 1.0) else e.part(s0, s1))
        if i in cuts:
            b = loop.edges[(i + 1) % n]
            name = f"{e.name}-{b.name}"
            while name in taken:
                name += "+"
            taken.add(name)
            kept.append(Edge(e.at(s1), b.at(cuts[i][1]), cuts[i][2], name))
    return Loop(tuple(kept))
