"""Fitted lines and circles met at corners and closed to a loop."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from tinbook.plane.loops import Array, Edge, Point
from tinbook.plane.meeting import circle_circle, cross, dot, line_circle
from tinbook.read.fitting import Carrier, Circle, Straight

SMOOTH: Final = math.radians(3.0)
"""rad: edges that turn by less have no corner that measured points could place."""


@dataclass(frozen=True, slots=True)
class Corner:
    """Where two fitted edges meet: the point, and the angle turned there (radians, 0 where smooth)."""

    point: Point
    turn: float

    def slack(self, tol: float, spacing: float) -> float:
        """Return how far a measured point may lie beyond the corner by scatter alone, mm."""
        if self.turn == 0.0:
            return spacing + 5 * tol
        return tol * (1.0 + 1.0 / abs(math.sin(self.turn)))


def join(a: Carrier, b: Carrier, last: Point, first: Point, tol: float) -> Corner | float:
    """Return the corner between two fitted edges, or the gap by which they miss each other (mm).

    Parameters
    ----------
    a, b : Straight or Circle
        In the order of the outline, each with its sense of run.
    last, first : (float, float)
        Last measured point of `a`, first of `b`: of two crossings the one next to these is the corner.
    tol : float
        Edges that miss each other by no more than this are met halfway, mm.
    """
    mid = _halfway(last, first)
    near = _nearest(a, b)
    if near is None or math.dist(_halfway(*near), mid) > math.dist(last, first):
        near = a.foot(mid), b.foot(mid)
    gap, place = math.dist(*near), _halfway(*near)
    if abs(_turn(a, b, place)) < SMOOTH and gap <= tol:
        return Corner(place, 0.0)
    found = crossings(a, b)
    if found:
        p = min(found, key=lambda q: math.dist(q, last) + math.dist(q, first))
        turn = _turn(a, b, p)
        return Corner(p, turn if abs(turn) >= SMOOTH else 0.0)
    return gap


def crossings(a: Carrier, b: Carrier) -> list[Point]:
    """Return where two endless lines or full circles cross."""
    if isinstance(a, Straight) and isinstance(b, Straight):
        c = cross(a.direction, b.direction)
        if abs(c) < math.sin(SMOOTH) / 10:
            return []
        s = cross((b.point[0] - a.point[0], b.point[1] - a.point[1]), b.direction) / c
        return [(a.point[0] + s * a.direction[0], a.point[1] + s * a.direction[1])]
    found: list[Point | None]
    if isinstance(a, Circle) and isinstance(b, Circle):
        found = [circle_circle(a.centre, a.radius, b.centre, b.radius, k) for k in (1.0, -1.0)]
    else:
        line, arc = (a, b) if isinstance(a, Straight) else (b, a)
        assert isinstance(line, Straight)
        assert isinstance(arc, Circle)
        found = [line_circle(line.point, line.direction, arc.centre, arc.radius, k) for k in (1.0, -1.0)]
    return [p for p in found if p is not None]


def arc_or_line(name: str, on: Carrier, start: Point, end: Point) -> Edge:
    """Return the edge between two corners, run the way its carrier runs."""
    if isinstance(on, Straight):
        return Edge(start, end, 0.0, name)
    (cx, cy), k = on.centre, on.turn
    sweep = (k * (math.atan2(end[1] - cy, end[0] - cx) - math.atan2(start[1] - cy, start[0] - cx))) % math.tau
    return Edge(start, end, k * math.tan(sweep / 4.0), name)


def beyond(e: Edge, xy: Array) -> tuple[Array, Array]:
    """Return how far points lie before the start and past the end of an edge, measured along it, mm."""
    if e.is_line:
        d = np.subtract(e.end, e.start) / e.chord
        s = (xy - e.start) @ d
        return -s, s - e.chord
    (cx, cy), r, sweep = e.centre, e.radius, abs(e.sweep)
    k = math.copysign(1.0, e.bulge)
    a = k * (np.arctan2(xy[:, 1] - cy, xy[:, 0] - cx) - math.atan2(e.start[1] - cy, e.start[0] - cx))
    # Counted from the middle of the arc, so that both sides show.
    a = (a - sweep / 2 + math.pi) % math.tau - math.pi
    return (-a - sweep / 2) * r, (a - sweep / 2) * r


def out_of(e: Edge, xy: Array) -> Array:
    """Return distances to the right of an edge's line or circle, shape (n,), mm."""
    if e.is_line:
        return Straight(e.start, e.direction()).out(xy)
    return Circle(e.centre, e.radius, math.copysign(1.0, e.bulge)).out(xy)


def _turn(a: Carrier, b: Carrier, p: Point) -> float:
    ta, tb = a.heading(p), b.heading(p)
    return math.atan2(cross(ta, tb), dot(ta, tb))


def _halfway(p: Point, q: Point) -> Point:
    return (p[0] + q[0]) / 2, (p[1] + q[1]) / 2


def _nearest(a: Carrier, b: Carrier) -> tuple[Point, Point] | None:
    """Return where a line and a circle, or two circles, touch or come nearest to touching; None for two lines."""
    if isinstance(a, Straight) and isinstance(b, Straight):
        return None
    if isinstance(a, Straight):
        assert isinstance(b, Circle)
        foot = a.foot(b.centre)
        return foot, b.foot(foot)
    if isinstance(b, Straight):
        foot = b.foot(a.centre)
        return a.foot(foot), foot
    if math.dist(a.centre, b.centre) < 1e-6 * max(a.radius, b.radius):
        return None
    # On the line of centres: the smaller circle's two points there, each against the other circle.
    small, large = (a, b) if a.radius <= b.radius else (b, a)
    p = min((small.foot(large.centre), _opposite(small, large.centre)), key=lambda q: math.dist(q, large.foot(q)))
    return (p, large.foot(p)) if small is a else (large.foot(p), p)


def _opposite(c: Circle, p: Point) -> Point:
    """Return the point of a circle farthest from `p`."""
    x, y = c.foot(p)
    return 2 * c.centre[0] - x, 2 * c.centre[1] - y
