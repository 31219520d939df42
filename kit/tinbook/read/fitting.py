"""Least-squares plane, line and arc through measured points, and the corners where fitted lines and arcs meet."""

from __future__ import annotations

import math
from typing import Final, TypeAlias

import numpy as np

from tinbook.errors import BadValue
from tinbook.plane.loops import Array, Edge, Loop, Point
from tinbook.plane.meeting import circle_circle, cross, dot, line_circle
from tinbook.tolerances import FITTED, FITTED_BULGE
from tinbook.values import dataclass

SMOOTH: Final = math.radians(3.0)
"""rad: edges that turn by less have no corner that measured points could place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """A plane through points.

    Parameters
    ----------
    centre : ndarray, shape (3,)
        Mean of the points.
    axes : ndarray, shape (3, 3)
        Rows x, y, normal: right-handed, unit length.
    """

    centre: Array
    axes: Array


@dataclass(frozen=True, slots=True)
class Straight:
    """An endless line: a point on it and a unit direction."""

    point: Point
    direction: Point

    def out(self, xy: Array) -> Array:
        """Return distances to the right of the line, shape (n,), mm."""
        (px, py), (dx, dy) = self.point, self.direction
        return np.asarray((xy[:, 0] - px) * dy - (xy[:, 1] - py) * dx)

    def foot(self, p: Point) -> Point:
        """Return the nearest point of the line."""
        (px, py), (dx, dy) = self.point, self.direction
        s = (p[0] - px) * dx + (p[1] - py) * dy
        return px + s * dx, py + s * dy

    def heading(self, p: Point) -> Point:
        """Return the unit direction at the foot of `p`."""
        return self.direction


@dataclass(frozen=True, slots=True)
class Circle:
    """A full circle run one way: `turn` +1 anticlockwise, -1 clockwise."""

    centre: Point
    radius: float
    turn: float

    def out(self, xy: Array) -> Array:
        """Return distances to the right of the circle's run, shape (n,), mm."""
        far = np.hypot(xy[:, 0] - self.centre[0], xy[:, 1] - self.centre[1])
        return np.asarray((far - self.radius) * self.turn)

    def foot(self, p: Point) -> Point:
        """Return the nearest point of the circle."""
        dx, dy = p[0] - self.centre[0], p[1] - self.centre[1]
        k = self.radius / (math.hypot(dx, dy) or 1.0)
        return self.centre[0] + k * dx, self.centre[1] + k * dy

    def heading(self, p: Point) -> Point:
        """Return the unit direction of the run at the foot of `p`."""
        dx, dy = p[0] - self.centre[0], p[1] - self.centre[1]
        n = math.hypot(dx, dy) or 1.0
        return -self.turn * dy / n, self.turn * dx / n


Carrier: TypeAlias = Straight | Circle


def point(xy: Array) -> Point:
    """Return an array of two numbers as plain floats."""
    return float(xy[0]), float(xy[1])


def fit_plane(xyz: Array) -> Plane:
    """Return the plane with the smallest sum of squared distances.

    Parameters
    ----------
    xyz : ndarray, shape (n, 3)
        At least three points, not on one line, mm.

    Raises
    ------
    BadValue
        The points lie on one line, so that any plane through it would do.
    """
    centre = xyz.mean(axis=0)
    _, spread, axes = np.linalg.svd(xyz - centre, full_matrices=False)
    # A line of points spreads across itself only by rounding.
    if len(xyz) < 3 or spread[1] <= 1e-9 * max(spread[0], 1e-300):
        raise BadValue("measured points", f"{len(xyz)} points", "points that do not all lie on one line")
    axes[2] = np.cross(axes[0], axes[1])
    return Plane(centre=centre, axes=axes)


def rounded(loop: Loop) -> Loop:
    """Return a loop that was fitted, without the digits that depend on the processor."""

    def place(p: Point) -> Point:
        return round(p[0], FITTED) + 0.0, round(p[1], FITTED) + 0.0

    return Loop(tuple(Edge(place(e.start), place(e.end), round(e.bulge, FITTED_BULGE), e.name) for e in loop.edges))


def fit_line(xy: Array) -> Straight:
    """Return the line with the smallest sum of squared distances, run from the first point to the last.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        At least two different points, mm.
    """
    centre = xy.mean(axis=0)
    _, _, axes = np.linalg.svd(xy - centre, full_matrices=False)
    dx, dy = axes[0]
    if (xy[-1] - xy[0]) @ axes[0] < 0:
        dx, dy = -dx, -dy
    return Straight(point(centre), (float(dx), float(dy)))


def fit_arc(xy: Array) -> Circle | None:
    """Return the circle with the smallest sum of squared distances, run the way the points do.

    Parameters
    ----------
    xy : ndarray, shape (n, 2)
        At least three points in order along the arc, mm.

    Returns
    -------
    Circle or None
        None when the points show no curvature, or all lie on one spot.

    Notes
    -----
    Starts from the algebraic fit of Taubin (IEEE Trans. PAMI 13, 1991) and goes on by Levenberg and
    Marquardt's method on the true distances. The unknowns are a shift, a tilt and the curvature at
    the point of the circle next to the middle of the data, so that a gentle arc, whose centre is far
    away and ill determined, costs no digits.
    """
    from scipy.optimize import least_squares

    middle = xy.mean(axis=0)
    size = float(np.abs(xy - middle).max())
    if size == 0.0:
        return None
    p = (xy - middle) / size
    start = _taubin(p)
    if start is None:
        return None
    first, way, curvature = start

    def circle(x: Array) -> tuple[Array, Array, float]:
        shift, tilt, k = x
        return first + shift * way, way * math.cos(tilt) + np.array([-way[1], way[0]]) * math.sin(tilt), k

    found = least_squares(
        lambda x: _distances(p, way, *circle(x))[0],
        (0.0, 0.0, curvature),
        lambda x: _distances(p, way, *circle(x))[1],
        method="lm",
        ftol=1e-15,
        xtol=1e-15,
        gtol=1e-15,
    )
    foot, normal, curvature = circle(found.x)
    if abs(curvature) < 1e-9:
        return None
    centre = middle + size * (foot + normal / curvature)
    arms = xy - centre
    swept = float(np.sum(arms[:-1, 0] * arms[1:, 1] - arms[:-1, 1] * arms[1:, 0]))
    return Circle(point(centre), size / abs(curvature), 1.0 if swept >= 0 else -1.0)


def _taubin(p: Array) -> tuple[Array, Array, float] | None:
    """Return Taubin's circle as (foot next to the mean, normal there towards the centre, curvature)."""
    z = (p**2).sum(axis=1)
    mean = float(z.mean())
    if mean <= 0:
        return None
    z0 = (z - mean) / (2 * math.sqrt(mean))
    _, _, v = np.linalg.svd(np.column_stack((z0, p - p.mean(axis=0))), full_matrices=False)
    a, b, c = float(v[2, 0]) / (2 * math.sqrt(mean)), float(v[2, 1]), float(v[2, 2])
    # Circle a (x2 + y2) + b x + c y + e = 0 with e from the mean of all points (their mean is the origin).
    e = -mean * a
    root = math.sqrt(b * b + c * c - 4 * a * e)
    curvature = 2 * abs(a) / root
    if curvature < 1e-12:
        return None
    centre = np.array([-b, -c]) / (2 * a)
    away = float(np.hypot(*centre))
    towards = centre / away if away > 1e-12 else np.array([1.0, 0.0])
    return centre - towards / curvature, towards, curvature


def _distances(p: Array, way: Array, foot: Array, normal: Array, curvature: float) -> tuple[Array, Array]:
    """Return signed distances from a circle (positive towards its centre) and their derivatives, shape (n, 3).

    The derivatives are those by a shift of the foot along `way`, a tilt of the normal and the curvature.

    With q = p - foot and a = q.n - k |q|^2 / 2 the distance is (1 - sqrt(1 - 2 k a)) / k, written so
    that it holds down to k = 0.
    """
    q = p - foot
    across = q @ normal
    along = q @ np.array([-normal[1], normal[0]])
    square = (q**2).sum(axis=1)
    k = curvature
    a = across - k * square / 2
    root = np.sqrt(np.maximum(1 - 2 * k * a, 1e-30))
    d = 2 * a / (1 + root)
    slope = 1 / root
    by_k = np.where(np.abs(k * a) < 1e-6, a * a / 2, (a * slope - d) / (k if k else 1.0))
    jacobian = np.column_stack((slope * (k * (q @ way) - normal @ way), slope * along, by_k - slope * square / 2))
    return d, jacobian


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
    near = nearest_places(a, b)
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
    return carrier_of(e).out(xy)


def carrier_of(e: Edge) -> Carrier:
    """Return the line or circle that an edge lies on."""
    if e.is_line:
        return Straight(e.start, e.direction())
    return Circle(e.centre, e.radius, math.copysign(1.0, e.bulge))


def _turn(a: Carrier, b: Carrier, p: Point) -> float:
    ta, tb = a.heading(p), b.heading(p)
    return math.atan2(cross(ta, tb), dot(ta, tb))


def _halfway(p: Point, q: Point) -> Point:
    return (p[0] + q[0]) / 2, (p[1] + q[1]) / 2


def nearest_places(a: Carrier, b: Carrier) -> tuple[Point, Point] | None:
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
