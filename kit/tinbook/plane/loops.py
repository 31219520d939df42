"""Lines and arcs in the plane: the one 2-D geometry that outlines, flats and readers share.

An edge is a line or an arc with a bulge (tangent of a quarter of the included
angle, positive anticlockwise, 1 for a half circle). A loop is a closed chain
of edges; outer loops run anticlockwise, holes clockwise is *not* required.
Everything is a plain value in mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from tinbook.tolerances import CHORD, SAME_POINT
from tinbook.values import dataclass

Point: TypeAlias = tuple[float, float]
Box: TypeAlias = tuple[float, float, float, float]
Array: TypeAlias = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, init=False)
class Edge:
    """A line (bulge 0) or an arc from `start` to `end`.

    Parameters
    ----------
    start, end : (float, float)
        Ends in mm.
    bulge : float
        Tangent of a quarter of the included angle; positive turns anticlockwise.
    name : str
        Name of the edge, "" if it has none.
    """

    start: Point
    end: Point
    bulge: float = 0.0
    name: str = ""

    def __init__(self, start: Point, end: Point, bulge: float = 0.0, name: str = "") -> None:
        # What a frozen dataclass does, without looking up each field's name: a moved slider makes a thousand edges.
        _set_start(self, start)
        _set_end(self, end)
        _set_bulge(self, bulge)
        _set_name(self, name)

    @property
    def chord(self) -> float:
        """Distance between the ends, mm."""
        return math.dist(self.start, self.end)

    @property
    def is_line(self) -> bool:
        """Whether the edge is straight."""
        return self.bulge == 0.0

    @property
    def sweep(self) -> float:
        """Included angle in radians, signed; 0 for a line."""
        return 4.0 * math.atan(self.bulge)

    @property
    def radius(self) -> float:
        """Radius of an arc in mm, infinite for a line."""
        if self.is_line:
            return math.inf
        return self.chord * (1.0 + self.bulge**2) / (4.0 * abs(self.bulge))

    @property
    def centre(self) -> Point:
        """Centre of an arc; a line has none and raises ValueError."""
        if self.is_line:
            raise ValueError("a line has no centre")
        (x0, y0), (x1, y1) = self.start, self.end
        k = (1.0 - self.bulge**2) / (4.0 * self.bulge)
        return (x0 + x1) / 2 - (y1 - y0) * k, (y0 + y1) / 2 + (x1 - x0) * k

    @property
    def length(self) -> float:
        """Length along the edge, mm."""
        return math.dist(self.start, self.end) if self.bulge == 0.0 else self.radius * abs(self.sweep)

    def at(self, s: float) -> Point:
        """Return the point at fraction `s` (0 start, 1 end) of the length."""
        if self.bulge == 0.0:
            (x0, y0), (x1, y1) = self.start, self.end
            return x0 + (x1 - x0) * s, y0 + (y1 - y0) * s
        if s in (0.0, 1.0):
            return self.start if s == 0.0 else self.end
        cx, cy = self.centre
        a = math.atan2(self.start[1] - cy, self.start[0] - cx) + self.sweep * s
        return cx + self.radius * math.cos(a), cy + self.radius * math.sin(a)

    def direction(self, s: float = 0.0) -> Point:
        """Return the unit tangent at fraction `s`."""
        (x0, y0), (x1, y1) = self.start, self.end
        n = math.dist(self.start, self.end) or 1.0
        if self.bulge == 0.0 and self.start != self.end:
            return (x1 - x0) / n, (y1 - y0) / n
        a = math.atan2((y1 - y0) / n, (x1 - x0) / n) + self.sweep * (s - 0.5)
        return math.cos(a), math.sin(a)

    def reversed(self) -> Edge:
        """Return the same edge run the other way."""
        return Edge(self.end, self.start, -self.bulge, self.name)

    def part(self, s0: float, s1: float) -> Edge:
        """Return the piece between two fractions, 0 <= s0 < s1 <= 1."""
        bulge = 0.0 if self.is_line else math.tan(self.sweep * (s1 - s0) / 4.0)
        return Edge(self.at(s0), self.at(s1), bulge, self.name)

    def chords(self, sagitta: float = CHORD) -> Array:
        """Return points along the edge without its end, shape (n, 2), chords within `sagitta` mm."""
        if self.is_line:
            return np.array([self.start])
        r, sweep = self.radius, self.sweep
        step = 2.0 * math.acos(max(1.0 - sagitta / r, 0.0)) if sagitta < r else math.pi / 2
        n = max(2, math.ceil(abs(sweep) / min(step, math.pi / 8)))
        cx, cy = self.centre
        a = math.atan2(self.start[1] - cy, self.start[0] - cx) + sweep * np.arange(n) / n
        out = np.column_stack((cx + r * np.cos(a), cy + r * np.sin(a)))
        out[0] = self.start
        return out


_set_start, _set_end, _set_bulge, _set_name = (getattr(Edge, field.name).__set__ for field in fields(Edge))


class _Kept:
    """Room for what a loop is asked for again and again; no part of its value."""

    __slots__ = ("_area", "_box")
    _area: float
    _box: Box


@dataclass(frozen=True, slots=True)
class Loop(_Kept):
    """A closed chain of edges: each ends where the next one starts.

    Parameters
    ----------
    edges : tuple of Edge
        At least two edges (two arcs make a circle).
    """

    edges: tuple[Edge, ...]

    def __iter__(self) -> Iterator[Edge]:
        return iter(self.edges)

    def __len__(self) -> int:
        return len(self.edges)

    @property
    def area(self) -> float:
        """Exact signed area in mm², positive anticlockwise."""
        if self.is_full_circle:
            first = self.edges[0]
            return math.copysign(math.pi * math.dist(first.start, first.end) ** 2 / 4, first.bulge)
        found: float | None = getattr(self, "_area", None)
        if found is None:
            found = self._find_area()
            object.__setattr__(self, "_area", found)
        return found

    def _find_area(self) -> float:
        twice = 0.0
        # Shift to the first point: far from the origin the cross products would lose digits.
        ox, oy = self.edges[0].start
        for e in self.edges:
            (x0, y0), (x1, y1) = e.start, e.end
            twice += (x0 - ox) * (y1 - oy) - (x1 - ox) * (y0 - oy)
            if e.bulge:
                a = e.sweep
                twice += e.radius**2 * (a - math.sin(a))
        return twice / 2.0

    @property
    def length(self) -> float:
        """Length round the loop, mm."""
        if self.is_full_circle:
            return math.pi * math.dist(self.edges[0].start, self.edges[0].end)
        return math.fsum(e.length for e in self.edges)

    @property
    def points(self) -> tuple[Point, ...]:
        """Corner points in order."""
        return tuple(e.start for e in self.edges)

    @property
    def box(self) -> Box:
        """Exact bounding box (xmin, ymin, xmax, ymax)."""
        if self.is_full_circle:
            (ax, ay), (bx, by) = self.edges[0].start, self.edges[0].end
            x, y, r = (ax + bx) / 2, (ay + by) / 2, math.hypot(bx - ax, by - ay) / 2
            return x - r, y - r, x + r, y + r
        found: Box | None = getattr(self, "_box", None)
        if found is None:
            found = self._find_box()
            object.__setattr__(self, "_box", found)
        return found

    def _find_box(self) -> Box:
        points = [e.start for e in self.edges]
        for e in self.edges:
            if e.bulge:
                (cx, cy), r = e.centre, e.radius
                (x0, y0), (x1, y1) = e.start, e.end
                dx, dy = x1 - x0, y1 - y0
                for x, y in ((cx + r, cy), (cx, cy + r), (cx - r, cy), (cx, cy - r)):
                    # A point of the circle is on the arc when it lies on the arc's side of the chord.
                    if (dx * (y - y0) - dy * (x - x0)) * e.bulge < 0:
                        points.append((x, y))
        xs, ys = zip(*points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def is_full_circle(self) -> bool:
        """Whether the loop is two half circles, as `circle` makes it: the cheap test for most holes."""
        edges = self.edges
        return len(edges) == 2 and abs(edges[0].bulge) == 1.0 and edges[0].bulge == edges[1].bulge

    @property
    def is_circle(self) -> bool:
        """Whether all edges are arcs of one circle."""
        first = self.edges[0]
        if any(e.is_line for e in self.edges):
            return False
        (cx, cy), r = first.centre, first.radius
        return all(
            math.dist(e.centre, (cx, cy)) < SAME_POINT and abs(e.radius - r) < SAME_POINT for e in self.edges
        ) and math.isclose(abs(math.fsum(e.sweep for e in self.edges)), math.tau, rel_tol=1e-9)

    def edge(self, name: str) -> Edge:
        """Return the first edge of that name."""
        for e in self.edges:
            if e.name == name:
                return e
        raise KeyError(name)

    def reversed(self) -> Loop:
        """Return the loop run the other way."""
        return Loop(tuple(e.reversed() for e in reversed(self.edges)))

    def anticlockwise(self) -> Loop:
        """Return the loop run anticlockwise."""
        return self if self.area >= 0 else self.reversed()

    def moved(self, move: Move, dx: float = 0.0, dy: float = 0.0) -> Loop:
        """Return the loop shifted by (dx, dy) and then carried by a rigid move."""
        # As `Move.edge` does, written out: every hole of a part goes this way at every move of a slider.
        a, b, c, d = move.a, move.b, move.c, move.d
        u, v = a * dx + b * dy + move.u, c * dx + d * dy + move.v
        if a == 1.0 == d and b == 0.0 == c and u == 0.0 == v:
            return self
        flips = move.mirrors
        out = []
        before, end = None, (0.0, 0.0)
        for e in self.edges:
            x, y = e.start
            start = end if e.start == before else (a * x + b * y + u, c * x + d * y + v)
            before = x, y = e.end
            end = (a * x + b * y + u, c * x + d * y + v)
            out.append(Edge(start, end, -e.bulge if flips else e.bulge, e.name))
        return Loop(tuple(out))

    def chords(self, sagitta: float = CHORD) -> Array:
        """Return the loop as points, shape (n, 2), not repeating the first."""
        out: list[Sequence[float]] = []
        for e in self.edges:
            if e.bulge == 0.0:
                out.append(e.start)
            else:
                out.extend(e.chords(sagitta).tolist())
        return np.array(out)


@dataclass(frozen=True, slots=True, init=False)
class Move:
    """Rigid move of the plane, with or without mirroring: p -> (a x + b y + u, c x + d y + v)."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    u: float = 0.0
    v: float = 0.0

    def __init__(
        self, a: float = 1.0, b: float = 0.0, c: float = 0.0, d: float = 1.0, u: float = 0.0, v: float = 0.0
    ) -> None:
        _set_a(self, a)  # as in Edge
        _set_b(self, b)
        _set_c(self, c)
        _set_d(self, d)
        _set_u(self, u)
        _set_v(self, v)

    @classmethod
    def to_edge(cls, e: Edge) -> Move:
        """Return the move from an edge's own frame to the plane.

        The frame starts at the edge's end, x runs back along it and y to its
        right: for an edge of an anticlockwise outer loop y points outward, and
        with the edge at the bottom of the picture x runs to the right.
        """
        dx, dy = e.direction(0.5)
        return cls(-dx, dy, -dy, -dx, *e.end)

    @classmethod
    def turn(cls, degrees: float, about: Point = (0.0, 0.0)) -> Move:
        """Return a rotation by `degrees` anticlockwise about a point."""
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        x, y = about
        return cls(c, -s, s, c, x - c * x + s * y, y - s * x - c * y)

    @property
    def mirrors(self) -> bool:
        """Whether the move turns the plane over."""
        return self.a * self.d - self.b * self.c < 0

    def __call__(self, p: Point) -> Point:
        """Return the point moved."""
        x, y = p
        return self.a * x + self.b * y + self.u, self.c * x + self.d * y + self.v

    def edge(self, e: Edge) -> Edge:
        """Carry an edge."""
        return Edge(self(e.start), self(e.end), -e.bulge if self.mirrors else e.bulge, e.name)

    def after(self, first: Move) -> Move:
        """Return the move that does `first` and then this one."""
        u, v = self((first.u, first.v))
        return Move(
            self.a * first.a + self.b * first.c,
            self.a * first.b + self.b * first.d,
            self.c * first.a + self.d * first.c,
            self.c * first.b + self.d * first.d,
            u,
            v,
        )

    def inverse(self) -> Move:
        """Return the move that undoes this one (the matrix part is orthogonal)."""
        return Move(
            self.a, self.c, self.b, self.d, -(self.a * self.u + self.c * self.v), -(self.b * self.u + self.d * self.v)
        )


_set_a, _set_b, _set_c, _set_d, _set_u, _set_v = (getattr(Move, field.name).__set__ for field in fields(Move))


def circle(centre: Point, dia: float, name: str = "") -> Loop:
    """Return an anticlockwise circle as two half arcs."""
    x, y = centre
    r = dia / 2
    left, right = (x - r, y), (x + r, y)
    return Loop((Edge(left, right, 1.0, name), Edge(right, left, 1.0, name)))


def slot(centre: Point, length: float, width: float, degrees: float = 0.0, name: str = "") -> Loop:
    """Return an anticlockwise slot with round ends; `length` over all, along `degrees`."""
    h, r = length / 2 - width / 2, width / 2
    loop = ring([(-h, -r), (h, -r), (h, r), (-h, r)], (0.0, 1.0, 0.0, 1.0), name)
    return loop.moved(Move(u=centre[0], v=centre[1]).after(Move.turn(degrees)))


def ring(points: Sequence[Point], bulges: Sequence[float], name: str = "") -> Loop:
    """Return a loop of lines and arcs through points, a bulge for each edge in order."""
    ends = (*points[1:], *points[:1])
    return Loop(tuple(Edge(a, b, bulge, name) for a, b, bulge in zip(points, ends, bulges, strict=True)))


def polygon(points: Sequence[Point], names: Sequence[str] = ()) -> Loop:
    """Return a loop of straight edges through points; names go to the edges in order."""
    called = (*names, *[""] * (len(points) - len(names)))
    return Loop(tuple(Edge(a, b, 0.0, c) for a, b, c in zip(points, (*points[1:], *points[:1]), called, strict=False)))


def chain(edges: Iterable[Edge], tol: float = SAME_POINT) -> Loop:
    """Return a loop from consecutive edges, dropping those shorter than `tol` and closing tiny gaps."""
    kept: list[Edge] = []
    for e in edges:
        if e.chord <= tol:
            continue
        if kept and kept[-1].end != e.start and math.dist(kept[-1].end, e.start) <= 2 * tol:
            e = Edge(kept[-1].end, e.end, e.bulge, e.name)
        kept.append(e)
    if kept and kept[-1].end != kept[0].start and math.dist(kept[-1].end, kept[0].start) <= 2 * tol:
        last = kept[-1]
        kept[-1] = Edge(last.start, kept[0].start, last.bulge, last.name)
    return Loop(tuple(kept))
