"""One edge of a solid: straight, circular or free, told from its curve whatever form the file gives it."""

from __future__ import annotations

import itertools
import math
from dataclasses import field
from typing import Any, Literal

from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.GeomAbs import GeomAbs_Circle, GeomAbs_Line
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TopExp import TopExp
from OCP.TopoDS import TopoDS

from tinbook.read.step.vectors import length, minus, unit, vector
from tinbook.space import Vec, cross, dot, plus
from tinbook.values import dataclass

Kind = Literal["line", "circle", "other", "none"]

ZERO: Vec = (0.0, 0.0, 0.0)

TRUE = 1e-5
"""mm: a spline that stands off a line or circle less than this is one."""


@dataclass(slots=True)
class EdgeOf:
    """One edge: its ends and, for a circle, what is needed to draw it true.

    Parameters
    ----------
    first, last : int
        Vertices at the curve's start and end.
    t0, t1 : float
        The curve's own parameters there.
    sweep : float
        Of a circle: angle turned through about `axis` in the curve's sense, radians.
    """

    kind: Kind
    first: int
    last: int
    p0: Vec = ZERO
    p1: Vec = ZERO
    t0: float = 0.0
    t1: float = 0.0
    centre: Vec = ZERO
    axis: Vec = ZERO
    radius: float = 0.0
    sweep: float = 0.0
    curve: Any = None
    faces: list[int] = field(default_factory=list)

    @property
    def closed(self) -> bool:
        """Whether it starts and ends in one vertex."""
        return self.first == self.last

    @property
    def span(self) -> float:
        """Length for a line or circle, chord for others, mm."""
        if self.kind == "circle":
            return self.radius * abs(self.sweep)
        return length(minus(self.p1, self.p0))

    def middle(self) -> tuple[Vec, Vec]:
        """Return the point half way and the unit tangent in the curve's own sense."""
        if self.kind == "line":
            d = minus(self.p1, self.p0)
            return plus(self.p0, d, 0.5), unit(d)
        p, v = gp_Pnt(), gp_Vec()
        self.curve.D1((self.t0 + self.t1) / 2, p, v)
        return vector(p), unit(vector(v))


def read_edge(shape: Any, vertex_map: Any) -> EdgeOf:
    """Read an edge's curve; a spline that is a straight line or a circle is taken as one."""
    edge = TopoDS.Edge_s(shape)
    v0, v1 = TopExp.FirstVertex_s(edge), TopExp.LastVertex_s(edge)
    first, last = vertex_map.FindIndex(v0) - 1, vertex_map.FindIndex(v1) - 1
    if BRep_Tool.Degenerated_s(edge) or first < 0 or last < 0:
        return EdgeOf("none", first, last)
    found = EdgeOf("other", first, last, vector(BRep_Tool.Pnt_s(v0)), vector(BRep_Tool.Pnt_s(v1)))
    curve = found.curve = BRepAdaptor_Curve(edge)
    found.t0, found.t1 = curve.FirstParameter(), curve.LastParameter()
    if curve.GetType() == GeomAbs_Line:
        found.kind = "line"
    elif curve.GetType() == GeomAbs_Circle:
        found.kind, circle = "circle", curve.Circle()
        found.centre, found.axis = vector(circle.Location()), vector(circle.Axis().Direction())
        found.radius, found.sweep = circle.Radius(), found.t1 - found.t0
    else:
        _recognise(found)
    return found


def _recognise(edge: EdgeOf) -> None:
    """Take a spline as the line or circle that it is, if it is one."""
    t0, t1, n = edge.t0, edge.t1, 16
    points = [vector(edge.curve.Value(t0 + (t1 - t0) * i / n)) for i in range(n + 1)]
    a, m, b = points[0], points[n // 3], points[2 * n // 3]
    along = minus(points[-1], a)
    span = length(along)
    if span > TRUE and all(length(cross(minus(p, a), along)) / span < TRUE for p in points):
        edge.kind = "line"
        return
    u, v = minus(m, a), minus(b, a)
    w = cross(u, v)
    ww = dot(w, w)
    if ww < TRUE**4:
        return
    # Centre of the circle through three points.
    part1, part2 = cross(v, w), cross(w, u)
    k1, k2 = dot(u, u) / (2 * ww), dot(v, v) / (2 * ww)
    centre = plus(plus(a, part1, k1), part2, k2)
    radius, axis = length(minus(a, centre)), unit(w)
    if any(abs(length(minus(p, centre)) - radius) > TRUE or abs(dot(minus(p, a), axis)) > TRUE for p in points):
        return
    turned = 0.0
    for p, q in itertools.pairwise(points):
        d, e = minus(p, centre), minus(q, centre)
        step = math.atan2(dot(cross(d, e), axis), dot(d, e))
        if step * (turned or step) <= 0:
            return
        turned += step
    edge.kind, edge.centre, edge.axis, edge.radius, edge.sweep = "circle", centre, axis, radius, turned
