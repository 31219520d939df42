"""Where edges meet: exact common points, smallest gaps, and whether a loop crosses itself."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from tinbook.plane.cuts import distance, on_arc
from tinbook.plane.loops import Box, Edge, Loop, Point
from tinbook.tolerances import SAME_POINT

TANGENT: Final = 1e-6
"""rad: neighbours that turn by less run smoothly into each other (bulges carry about 1e-9 rad of rounding)."""


def right_of(t: Point) -> Point:
    """Return the normal to the right of a direction: outward for an anticlockwise loop."""
    return t[1], -t[0]


def cross(a: Point, b: Point) -> float:
    """Return the z component of the cross product."""
    return a[0] * b[1] - a[1] * b[0]


def dot(a: Point, b: Point) -> float:
    """Return the dot product."""
    return a[0] * b[0] + a[1] * b[1]


def turn(a: Edge, b: Edge) -> float:
    """Return the angle turned from the end of `a` to the start of `b`, radians, positive to the left."""
    ta, tb = a.direction(1.0), b.direction()
    return math.atan2(cross(ta, tb), dot(ta, tb))


def turned(centre: Point, a: Point, b: Point) -> float:
    """Return the angle from `a` to `b` about a centre, radians, the short way."""
    return math.remainder(
        math.atan2(b[1] - centre[1], b[0] - centre[0]) - math.atan2(a[1] - centre[1], a[0] - centre[0]), math.tau
    )


def shifted_radius(e: Edge, out: float) -> float:
    """Return the radius of an arc moved to its right by `out` mm; 0 or less when it vanishes."""
    return e.radius + math.copysign(1.0, e.bulge) * out


def meet(a: Edge, b: Edge, out_a: float = 0.0, out_b: float = 0.0) -> Point | None:
    """Return where two neighbours meet after each has moved to its right.

    Parameters
    ----------
    a, b : Edge
        `a` ends where `b` starts, and they turn by more than `TANGENT` there.
    out_a, out_b : float
        How far each moves to its right (outward of an anticlockwise loop), mm.

    Returns
    -------
    (float, float) or None
        The point into which the old corner moves, None when the moved edges no longer reach each other.

    Notes
    -----
    A line and a circle, or two circles, cross twice, once each way round: the
    corner stays the crossing that turns the same way as before.
    """
    corner = a.end
    ta, tb = a.direction(1.0), b.direction()
    left = math.copysign(1.0, cross(ta, tb))
    if a.is_line and b.is_line:
        if out_a == out_b:
            # Stable however little the two lines turn.
            k = out_a / (1.0 + dot(ta, tb))
            return corner[0] + k * (ta[1] + tb[1]), corner[1] - k * (ta[0] + tb[0])
        k = 1.0 / cross(ta, tb)
        return corner[0] + k * (out_b * ta[0] - out_a * tb[0]), corner[1] + k * (out_b * ta[1] - out_a * tb[1])
    if a.is_line:
        start = corner[0] + out_a * ta[1], corner[1] - out_a * ta[0]
        return line_circle(start, ta, b.centre, shifted_radius(b, out_b), math.copysign(1.0, b.bulge * left))
    if b.is_line:
        start = corner[0] + out_b * tb[1], corner[1] - out_b * tb[0]
        return line_circle(start, tb, a.centre, shifted_radius(a, out_a), -math.copysign(1.0, a.bulge * left))
    side = math.copysign(1.0, a.bulge * b.bulge * left)
    return circle_circle(a.centre, shifted_radius(a, out_a), b.centre, shifted_radius(b, out_b), side)


def line_circle(start: Point, t: Point, centre: Point, radius: float, side: float) -> Point | None:
    """Return where a line leaves (`side` +1) or enters (-1) a circle, None when it passes by."""
    f = start[0] - centre[0], start[1] - centre[1]
    h = cross(t, f)
    if radius < 0 or abs(h) > radius:
        return None
    k = math.copysign(math.sqrt((radius - h) * (radius + h)), side)
    # From the foot of the centre, so that a far start costs no digits.
    return centre[0] - h * t[1] + k * t[0], centre[1] + h * t[0] + k * t[1]


def circle_circle(c0: Point, r0: float, c1: Point, r1: float, side: float) -> Point | None:
    """Return the common point of two circles to the left (`side` +1) or right (-1) of the way from c0 to c1."""
    e = c1[0] - c0[0], c1[1] - c0[1]
    d = math.hypot(*e)
    if min(r0, r1) < 0 or d < SAME_POINT:
        return None
    x = (d + (r0 - r1) * (r0 + r1) / d) / 2
    if abs(x) > r0:
        return None
    h = math.copysign(math.sqrt((r0 - x) * (r0 + x)), side)
    return c0[0] + (x * e[0] - h * e[1]) / d, c0[1] + (x * e[1] + h * e[0]) / d


def carriers_meet(a: Edge, b: Edge, flattest: float = 1e-12) -> list[Point]:
    """Return the common points of the endless lines and full circles of two edges; none of lines nearer to parallel, rad."""
    if a.is_line and b.is_line:
        ta, tb = a.direction(), b.direction()
        c = cross(ta, tb)
        if abs(c) <= flattest:
            return []
        s = cross((b.start[0] - a.start[0], b.start[1] - a.start[1]), tb) / c
        return [(a.start[0] + s * ta[0], a.start[1] + s * ta[1])]
    if a.is_line or b.is_line:
        line, arc = (a, b) if a.is_line else (b, a)
        found = [line_circle(line.start, line.direction(), arc.centre, arc.radius, side) for side in (1.0, -1.0)]
    else:
        found = [circle_circle(a.centre, a.radius, b.centre, b.radius, side) for side in (1.0, -1.0)]
    return [p for p in found if p is not None]


def common_points(a: Edge, b: Edge) -> list[Point]:
    """Return the points in which two edges cross, within `SAME_POINT`; overlaps along a length are not listed."""
    return [p for p in carriers_meet(a, b) if distance(a, p) < SAME_POINT and distance(b, p) < SAME_POINT]


def gap(a: Edge, b: Edge) -> tuple[float, Point]:
    """Return the smallest distance between two edges (mm, exact) and a point of `a` or `b` where it lies."""
    hits = common_points(a, b)
    if hits:
        return 0.0, hits[0]
    found = [(distance(b, p), p) for p in (a.start, a.end)] + [(distance(a, p), p) for p in (b.start, b.end)]
    for e, other in ((a, b), (b, a)):
        # The nearest points may lie inside both edges when one of them is an arc.
        if e.is_line:
            continue
        c = e.centre
        if other.is_line:
            t = other.direction()
            h = cross(t, (c[0] - other.start[0], c[1] - other.start[1]))
            towards = h * t[1], -h * t[0]
        else:
            towards = other.centre[0] - c[0], other.centre[1] - c[1]
        n = math.hypot(*towards)
        if n < SAME_POINT:
            continue
        for k in (e.radius / n, -e.radius / n):
            p = c[0] + k * towards[0], c[1] + k * towards[1]
            if on_arc(e, p):
                found.append((distance(other, p), p))
    return min(found)


def _neighbours_cross(a: Edge, b: Edge) -> Point | None:
    """Return a point other than their corner in which two neighbours meet, None when they do not."""
    if distance(b, a.start) < SAME_POINT:
        return a.start
    if distance(a, b.end) < SAME_POINT:
        return b.end
    if a.is_line and b.is_line:
        return None
    p = a.end
    if a.is_line or b.is_line:
        line, arc = (a, b) if a.is_line else (b, a)
        t, c = line.direction(), arc.centre
        k = -2.0 * dot((p[0] - c[0], p[1] - c[1]), t)
        other = p[0] + k * t[0], p[1] + k * t[1]
    else:
        # The second common point of two circles is the first one mirrored in the line of centres.
        ca, cb = a.centre, b.centre
        n = math.dist(ca, cb)
        if n < SAME_POINT:
            return None
        u = (cb[0] - ca[0]) / n, (cb[1] - ca[1]) / n
        k = -2.0 * cross(u, (p[0] - ca[0], p[1] - ca[1]))
        other = p[0] - k * u[1], p[1] + k * u[0]
    reach = math.dist(p, other)
    bend = abs(math.copysign(1.0 / a.radius, -a.bulge) - math.copysign(1.0 / b.radius, b.bulge))
    if reach**2 * bend / 8 < SAME_POINT:
        return None  # neighbours that run smoothly on: the lens between the two crossings is thinner than a point
    return other if distance(a, other) < SAME_POINT and distance(b, other) < SAME_POINT else None


def self_crossing(loop: Loop) -> tuple[Edge, Edge, Point] | None:
    """Return the first two edges of a loop that cross or touch where they should not, and where.

    Parameters
    ----------
    loop : Loop
        Closed, no edge shorter than `SAME_POINT`.

    Returns
    -------
    (Edge, Edge, (float, float)) or None
        None for a simple loop.
    """
    edges = loop.edges
    n = len(edges)
    if n < 3:
        return None  # two arcs, or an arc and its chord, share their ends and cannot meet elsewhere
    boxes = np.array([edge_box(e) for e in edges])
    for i, a in enumerate(edges):
        rest = boxes[i + 1 :]
        near = (
            (rest[:, 0] <= boxes[i, 2] + SAME_POINT)
            & (rest[:, 2] >= boxes[i, 0] - SAME_POINT)
            & (rest[:, 1] <= boxes[i, 3] + SAME_POINT)
            & (rest[:, 3] >= boxes[i, 1] - SAME_POINT)
        )
        for j in np.flatnonzero(near) + i + 1:
            b = edges[j]
            if j == i + 1:
                p = _neighbours_cross(a, b)
            elif j == i + n - 1:
                p = _neighbours_cross(b, a)
            else:
                d, q = gap(a, b)
                p = q if d < SAME_POINT else None
            if p is not None:
                return a, b, p
    return None


def edge_box(e: Edge) -> Box:
    """Return the bounding box of an edge (xmin, ymin, xmax, ymax)."""
    if e.is_line:
        (x0, y0), (x1, y1) = e.start, e.end
        return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)
    return Loop((e, Edge(e.end, e.start))).box
