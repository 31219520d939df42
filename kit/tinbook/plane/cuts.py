"""Where edges and loops meet lines and points: crossings, clipping, inside or outside, distance."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

from tinbook.plane.loops import Edge, Loop, Point, chain
from tinbook.tolerances import SAME_POINT


def on_arc(e: Edge, p: Point) -> bool:
    """Whether a point of the arc's circle lies within its sweep."""
    (x0, y0), (x1, y1) = e.start, e.end
    across = (x1 - x0) * (p[1] - y0) - (y1 - y0) * (p[0] - x0)
    # On the arc's side of the chord, or past an end by 1e-9 rad, for rounding.
    return math.copysign(across, across * e.bulge) <= 5e-10 * e.chord**2


def beside_edge(e: Edge) -> Callable[[float, float], Point]:
    """Return the way from (s, h), along a straight edge and to its left, to a point of the plane."""
    (ux, uy), (x, y) = e.direction(), e.start
    return lambda s, h: (x + ux * s - uy * h, y + uy * s + ux * h)


def seen_from(e: Edge, p: Point) -> Point:
    """Return how far along a straight edge, and how far to its left, a point lies."""
    (ux, uy), (x, y) = e.direction(), (p[0] - e.start[0], p[1] - e.start[1])
    return ux * x + uy * y, -uy * x + ux * y


def crossings(e: Edge, origin: Point, direction: Point) -> list[float]:
    """Return the fractions along `e` where it crosses the endless line through `origin` (sorted, 0..1)."""
    ox, oy = origin
    dx, dy = direction
    n = math.hypot(dx, dy)
    nx, ny = -dy / n, dx / n
    h0 = (e.start[0] - ox) * nx + (e.start[1] - oy) * ny
    h1 = (e.end[0] - ox) * nx + (e.end[1] - oy) * ny
    if e.is_line:
        if abs(h1 - h0) < 1e-12:
            return []
        s = h0 / (h0 - h1)
        return [min(max(s, 0.0), 1.0)] if -1e-9 <= s <= 1 + 1e-9 else []
    (cx, cy), r = e.centre, e.radius
    h = (cx - ox) * nx + (cy - oy) * ny
    if abs(h) > r:
        return []
    along = math.sqrt(max(r * r - h * h, 0.0))
    a0 = math.atan2(e.start[1] - cy, e.start[0] - cx)
    found = []
    for sign in (-1.0, 1.0):
        px, py = cx - h * nx + sign * along * dx / n, cy - h * ny + sign * along * dy / n
        a = math.atan2(py - cy, px - cx) - a0
        a = a % math.tau if e.sweep > 0 else -(-a % math.tau)
        s = a / e.sweep
        if s > 1 + 1e-9 and math.isclose(abs(a), math.tau, abs_tol=1e-9):
            s = 0.0
        if s <= 1 + 1e-9:
            found.append(min(s, 1.0))
    return sorted(found)


def clip(loop: Loop, origin: Point, direction: Point, cut_name: str = "") -> list[Loop]:
    """Return the parts of an anticlockwise loop left of a directed line.

    Parameters
    ----------
    loop : Loop
        Simple, anticlockwise.
    origin, direction : (float, float)
        The line; what lies to its left is kept.
    cut_name : str
        Name given to the new edges along the line.

    Returns
    -------
    list of Loop
        Anticlockwise, possibly empty; the loop itself when it is not crossed.
    """
    n = math.hypot(*direction)
    ux, uy = direction[0] / n, direction[1] / n

    def height(p: Point) -> float:
        return (p[0] - origin[0]) * -uy + (p[1] - origin[1]) * ux

    def along(p: Point) -> float:
        return (p[0] - origin[0]) * ux + (p[1] - origin[1]) * uy

    runs: list[list[Edge]] = []
    inside_before = False
    for e in loop.edges:
        stops = [0.0, *[s for s in crossings(e, origin, direction) if 1e-9 < s < 1 - 1e-9], 1.0]
        for s0, s1 in pairwise(stops):
            if s1 - s0 < 1e-9:
                continue
            piece = e.part(s0, s1) if (s0, s1) != (0.0, 1.0) else e
            if height(piece.at(0.5)) <= SAME_POINT / 10:
                inside_before = False
                continue
            if inside_before and runs:
                runs[-1].append(piece)
            else:
                runs.append([piece])
            inside_before = True
    if not runs:
        return []
    if len(runs) == 1 and math.dist(runs[0][0].start, runs[0][-1].end) <= SAME_POINT:
        return [chain(runs[0])]
    if len(runs) > 1 and inside_before and math.dist(runs[-1][-1].end, runs[0][0].start) <= SAME_POINT:
        if height(runs[0][0].start) > SAME_POINT:
            runs[0] = runs.pop() + runs[0]
    # Each run leaves the line at its start and comes back at its end; join an end to the next start along +u.
    left, result = list(runs), []
    while left:
        current = left.pop(0)
        path = list(current)
        while True:
            end = along(path[-1].end)
            ahead = [r for r in left if along(r[0].start) >= end - SAME_POINT]
            own = along(path[0].start)
            nearest = min(ahead, key=lambda r: along(r[0].start)) if ahead else None
            if nearest is not None and (along(nearest[0].start) < own or own < end - SAME_POINT):
                left.remove(nearest)
                path.append(Edge(path[-1].end, nearest[0].start, 0.0, cut_name))
                path.extend(nearest)
            else:
                path.append(Edge(path[-1].end, path[0].start, 0.0, cut_name))
                break
        made = chain(path)
        if len(made) > 1 and abs(made.area) > 1e-9:
            result.append(made)
    return result


def contains(loop: Loop, p: Point) -> bool:
    """Whether a point lies inside the loop (winding of its chords about the point, exact at arcs)."""
    total = 0.0
    for e in loop.edges:
        a = math.atan2(e.start[1] - p[1], e.start[0] - p[0])
        b = math.atan2(e.end[1] - p[1], e.end[0] - p[0])
        turn = math.remainder(b - a, math.tau)
        if not e.is_line and math.dist(e.centre, p) < e.radius:
            # A point between chord and arc is passed on the other side.
            side = (e.end[0] - e.start[0]) * (p[1] - e.start[1]) - (e.end[1] - e.start[1]) * (p[0] - e.start[0])
            if abs(side) <= 1e-12 * e.chord**2:
                # On the chord half a turn may come out either way; the arc says which.
                total += math.copysign(math.pi, e.bulge)
                continue
            if side * e.bulge < 0:
                total += math.copysign(math.tau, e.bulge)
        total += turn
    return abs(total) > math.pi


def distance(e: Edge, p: Point) -> float:
    """Return the smallest distance from a point to an edge, mm."""
    if e.is_line:
        (x0, y0), (x1, y1) = e.start, e.end
        dx, dy = x1 - x0, y1 - y0
        q = dx * dx + dy * dy
        s = 0.0 if q == 0 else min(max(((p[0] - x0) * dx + (p[1] - y0) * dy) / q, 0.0), 1.0)
        return math.dist(p, (x0 + s * dx, y0 + s * dy))
    c = e.centre
    d = math.dist(p, c)
    if d > 0:
        foot = (c[0] + (p[0] - c[0]) * e.radius / d, c[1] + (p[1] - c[1]) * e.radius / d)
        if on_arc(e, foot):
            return abs(d - e.radius)
    return min(math.dist(p, e.start), math.dist(p, e.end))
