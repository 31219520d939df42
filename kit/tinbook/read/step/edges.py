"""One edge of a solid: straight, circular or free, told from its curve whatever form the file gives it."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import Any, Literal

from tinbook.read.step.vectors import Vec, add, cross, dot, length, sub, unit

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

    index: int
    kind: Literal["line", "circle", "other", "none"]
    first: int
    last: int
    p0: Vec
    p1: Vec
    t0: float
    t1: float
    centre: Vec
    axis: Vec
    radius: float
    sweep: float
    curve: Any
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
        return length(sub(self.p1, self.p0))

    def middle(self) -> tuple[Vec, Vec]:
        """Return the point half way and the unit tangent in the curve's own sense."""
        if self.kind == "line":
            d = sub(self.p1, self.p0)
            return add(self.p0, d, 0.5), unit(d)
        from OCP.gp import gp_Pnt, gp_Vec

        p, v = gp_Pnt(), gp_Vec()
        self.curve.D1((self.t0 + self.t1) / 2, p, v)
        return (p.X(), p.Y(), p.Z()), unit((v.X(), v.Y(), v.Z()))


def read_edge(shape: Any, index: int, vertex_map: Any) -> EdgeOf:
    """Read an edge's curve; a spline that is a straight line or a circle is taken as one."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepAdaptor import BRepAdaptor_Curve
    from OCP.GeomAbs import GeomAbs_Circle, GeomAbs_Line
    from OCP.TopExp import TopExp
    from OCP.TopoDS import TopoDS

    zero = (0.0, 0.0, 0.0)
    edge = TopoDS.Edge_s(shape)
    v0, v1 = TopExp.FirstVertex_s(edge), TopExp.LastVertex_s(edge)
    first, last = vertex_map.FindIndex(v0) - 1, vertex_map.FindIndex(v1) - 1
    if BRep_Tool.Degenerated_s(edge) or first < 0 or last < 0:
        return EdgeOf(index, "none", first, last, zero, zero, 0.0, 0.0, zero, zero, 0.0, 0.0, None)
    p0, p1 = BRep_Tool.Pnt_s(v0), BRep_Tool.Pnt_s(v1)
    curve = BRepAdaptor_Curve(edge)
    t0, t1 = curve.FirstParameter(), curve.LastParameter()
    ends = (p0.X(), p0.Y(), p0.Z()), (p1.X(), p1.Y(), p1.Z())
    kind, centre, axis, radius, sweep = "other", zero, zero, 0.0, t1 - t0
    if curve.GetType() == GeomAbs_Line:
        kind = "line"
    elif curve.GetType() == GeomAbs_Circle:
        kind, circle = "circle", curve.Circle()
        c, d = circle.Location(), circle.Axis().Direction()
        centre, axis, radius = (c.X(), c.Y(), c.Z()), (d.X(), d.Y(), d.Z()), circle.Radius()
    else:
        kind, centre, axis, radius, sweep = _recognised(curve, t0, t1)
    return EdgeOf(
        index,
        kind,  # type: ignore[arg-type]
        first,
        last,
        *ends,
        t0,
        t1,
        centre,
        axis,
        radius,
        sweep,
        curve,
    )


def _recognised(curve: Any, t0: float, t1: float) -> tuple[str, Vec, Vec, float, float]:
    """Return kind, centre, axis, radius and sweep of a spline."""
    zero = (0.0, 0.0, 0.0)
    free = ("other", zero, zero, 0.0, 0.0)
    n = 16
    points = [(p.X(), p.Y(), p.Z()) for p in (curve.Value(t0 + (t1 - t0) * i / n) for i in range(n + 1))]
    a, m, b = points[0], points[n // 3], points[2 * n // 3]
    along = sub(points[-1], a)
    span = length(along)
    if span > TRUE and all(length(cross(sub(p, a), along)) / span < TRUE for p in points):
        return ("line", zero, zero, 0.0, 0.0)
    u, v = sub(m, a), sub(b, a)
    w = cross(u, v)
    ww = dot(w, w)
    if ww < TRUE**4:
        return free
    # Centre of the circle through three points.
    part1, part2 = cross(v, w), cross(w, u)
    k1, k2 = dot(u, u) / (2 * ww), dot(v, v) / (2 * ww)
    centre = add(add(a, part1, k1), part2, k2)
    radius, axis = length(sub(a, centre)), unit(w)
    if any(abs(length(sub(p, centre)) - radius) > TRUE or abs(dot(sub(p, a), axis)) > TRUE for p in points):
        return free
    turned = 0.0
    for p, q in itertools.pairwise(points):
        d, e = sub(p, centre), sub(q, centre)
        step = math.atan2(dot(cross(d, e), axis), dot(d, e))
        if step * (turned or step) <= 0:
            return free
        turned += step
    return ("circle", centre, axis, radius, turned)
