"""A solid's faces, edges and how they hang together, as plain Python values read once from the kernel."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

from tinbook.read.step_vectors import Vec, add, dot, length, sub, unit

Kind = Literal["plane", "cylinder", "cone", "other"]


class Coedge(NamedTuple):
    """An edge as one face uses it: run so that the face lies on its left, seen from outside."""

    face: int
    wire: int
    at: int
    edge: int
    forward: bool


@dataclass(slots=True)
class FaceOf:
    """One face: its surface with the outward normal.

    Parameters
    ----------
    origin, axis, xdir, ydir : Vec
        The surface's own frame: `axis` is the plane's normal or the axis of a
        cylinder or cone (from the apex to the opening).
    radius : float
        Of a cylinder, mm.
    half_angle : float
        Of a cone, radians, greater than 0; its apex is `origin`.
    sense : float
        1 when the outward normal is the plane's axis or points away from a
        cylinder's or cone's axis (a convex face), else -1.
    """

    index: int
    kind: Kind
    origin: Vec
    axis: Vec
    xdir: Vec
    ydir: Vec
    radius: float
    half_angle: float
    sense: float
    shape: Any
    reversed: bool
    low: list[float] = field(default_factory=lambda: [math.inf] * 3)
    high: list[float] = field(default_factory=lambda: [-math.inf] * 3)

    @property
    def extent(self) -> float:
        """Rough area from the bounding box of its edges, mm²: an upper bound that only sorts faces."""
        d = sorted(h - w for h, w in zip(self.high, self.low, strict=True))
        return math.hypot(d[2], d[1]) * max(d[1], d[0]) if d[2] > 0 else 0.0

    def normal(self, p: Vec) -> Vec:
        """Return the outward normal at a point of the face."""
        if self.kind == "plane":
            return self.axis if self.sense > 0 else (-self.axis[0], -self.axis[1], -self.axis[2])
        if self.kind == "other":
            return _normal_by_projection(self, p)
        rel = sub(p, self.origin)
        radial = unit(add(rel, self.axis, -dot(rel, self.axis)))
        if self.kind == "cone":
            c, s = math.cos(self.half_angle), math.sin(self.half_angle)
            radial = add((radial[0] * c, radial[1] * c, radial[2] * c), self.axis, -s)
        return radial[0] * self.sense, radial[1] * self.sense, radial[2] * self.sense


@dataclass(slots=True)
class EdgeOf:
    """One edge: its ends and, for a circle, what is needed to draw it true."""

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
            return self.radius * abs(self.t1 - self.t0)
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


@dataclass(slots=True)
class Body:
    """A solid as faces and edges; wires are read when first asked for."""

    shape: Any
    faces: list[FaceOf]
    edges: list[EdgeOf]
    edge_map: Any
    _wires: dict[int, tuple[tuple[Coedge, ...], ...]] = field(default_factory=dict)

    def wires(self, f: int) -> tuple[tuple[Coedge, ...], ...]:
        """Return the wires of a face, each in running order with the face on the left."""
        found = self._wires.get(f)
        if found is None:
            found = self._wires[f] = tuple(_wires(self, f))
        return found

    def coedges(self, f: int) -> Iterator[Coedge]:
        """Return every use of an edge by a face."""
        for w in self.wires(f):
            yield from w

    def across(self, c: Coedge) -> int | None:
        """Return the face on the other side of an edge, None for a seam or a free edge."""
        faces = self.edges[c.edge].faces
        if len(faces) != 2:
            return None
        other = faces[1] if faces[0] == c.face else faces[0]
        return None if other == c.face else other

    def ends(self, c: Coedge) -> tuple[Vec, Vec]:
        """Return start and end point in running sense."""
        e = self.edges[c.edge]
        return (e.p0, e.p1) if c.forward else (e.p1, e.p0)


def explore(shape: Any) -> Body:
    """Read a solid's topology and analytic geometry.

    Parameters
    ----------
    shape : TopoDS_Shape
        A solid (or shell); placed as it stands.
    """
    from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_VERTEX
    from OCP.TopExp import TopExp
    from OCP.TopTools import TopTools_IndexedMapOfShape

    edge_map, face_map, vertex_map = (TopTools_IndexedMapOfShape() for _ in range(3))
    TopExp.MapShapes_s(shape, TopAbs_FACE, face_map)
    TopExp.MapShapes_s(shape, TopAbs_EDGE, edge_map)
    TopExp.MapShapes_s(shape, TopAbs_VERTEX, vertex_map)
    edges = [_edge(edge_map.FindKey(i + 1), i, vertex_map) for i in range(edge_map.Extent())]
    faces = _faces(shape, face_map)
    body = Body(shape, faces, edges, edge_map)
    for face in faces:
        for edge_index in _edges_of(body, face):
            edge = edges[edge_index]
            if edge.kind == "none":
                continue
            edge.faces.append(face.index)
            _grow(face, edge)
    return body


def _grow(face: FaceOf, edge: EdgeOf) -> None:
    low, high = face.low, face.high
    points = (edge.p0, edge.p1)
    for k in range(3):
        for p in points:
            low[k] = min(low[k], p[k])
            high[k] = max(high[k], p[k])
        if edge.kind == "circle" and (edge.closed or abs(edge.t1 - edge.t0) > math.pi):
            reach = edge.radius * math.sqrt(max(1.0 - edge.axis[k] ** 2, 0.0))
            low[k] = min(low[k], edge.centre[k] - reach)
            high[k] = max(high[k], edge.centre[k] + reach)


def _edges_of(body: Body, face: FaceOf) -> Iterator[int]:
    from OCP.TopoDS import TopoDS_Iterator

    wires = TopoDS_Iterator(face.shape)
    while wires.More():
        inside = TopoDS_Iterator(wires.Value())
        while inside.More():
            index = body.edge_map.FindIndex(inside.Value()) - 1
            if index >= 0:
                yield index
            inside.Next()
        wires.Next()


def _edge(shape: Any, index: int, vertex_map: Any) -> EdgeOf:
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
        return EdgeOf(index, "none", first, last, zero, zero, 0.0, 0.0, zero, zero, 0.0, None)
    p0, p1 = BRep_Tool.Pnt_s(v0), BRep_Tool.Pnt_s(v1)
    curve = BRepAdaptor_Curve(edge)
    t0, t1 = curve.FirstParameter(), curve.LastParameter()
    kind, centre, axis, radius = "other", zero, zero, 0.0
    if curve.GetType() == GeomAbs_Line:
        kind = "line"
    elif curve.GetType() == GeomAbs_Circle:
        kind, circle = "circle", curve.Circle()
        c, d = circle.Location(), circle.Axis().Direction()
        centre, axis, radius = (c.X(), c.Y(), c.Z()), (d.X(), d.Y(), d.Z()), circle.Radius()
    return EdgeOf(
        index,
        kind,  # type: ignore[arg-type]
        first,
        last,
        (p0.X(), p0.Y(), p0.Z()),
        (p1.X(), p1.Y(), p1.Z()),
        t0,
        t1,
        centre,
        axis,
        radius,
        curve,
    )


def _faces(shape: Any, face_map: Any) -> list[FaceOf]:
    from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    # A face stands in the map with the orientation first met; explore again to be sure of the solid's own sense.
    made: dict[int, FaceOf] = {}
    ex = TopExp_Explorer(shape, TopAbs_FACE)
    while ex.More():
        face = TopoDS.Face_s(ex.Current())
        index = face_map.FindIndex(face) - 1
        if index not in made:
            made[index] = _surface(face, index, face.Orientation() == TopAbs_REVERSED)
        ex.Next()
    return [made[i] for i in range(len(made))]


def _surface(face: Any, index: int, reversed_face: bool) -> FaceOf:
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_Cone, GeomAbs_Cylinder, GeomAbs_Plane

    adaptor = BRepAdaptor_Surface(face, False)
    kind = adaptor.GetType()
    flip = -1.0 if reversed_face else 1.0
    if kind == GeomAbs_Plane:
        return _analytic(face, index, reversed_face, "plane", adaptor.Plane(), flip)
    if kind == GeomAbs_Cylinder:
        return _analytic(face, index, reversed_face, "cylinder", adaptor.Cylinder(), flip)
    if kind == GeomAbs_Cone:
        return _analytic(face, index, reversed_face, "cone", adaptor.Cone(), flip)
    found = _recognised(face)
    if found is not None:
        return _analytic(face, index, reversed_face, found[0], found[1], flip * found[2])
    zero = (0.0, 0.0, 0.0)
    return FaceOf(index, "other", zero, zero, zero, zero, 0.0, 0.0, flip, face, reversed_face)


def _analytic(face: Any, index: int, back: bool, kind: Kind, surface: Any, flip: float) -> FaceOf:
    frame = surface.Position()
    o, a, x, y = frame.Location(), frame.Direction(), frame.XDirection(), frame.YDirection()
    origin, axis = (o.X(), o.Y(), o.Z()), (a.X(), a.Y(), a.Z())
    xdir, ydir = (x.X(), x.Y(), x.Z()), (y.X(), y.Y(), y.Z())
    # A left-handed frame turns the natural normal of a plane over, and that of a cylinder inward.
    sense = flip if frame.Direct() else -flip
    if kind == "plane":
        return FaceOf(index, kind, origin, axis, xdir, ydir, 0.0, 0.0, sense, face, back)
    if not frame.Direct():
        ydir = (-ydir[0], -ydir[1], -ydir[2])
    if kind == "cylinder":
        return FaceOf(index, kind, origin, axis, xdir, ydir, surface.Radius(), 0.0, sense, face, back)
    half = surface.SemiAngle()
    apex = surface.Apex()
    top = (apex.X(), apex.Y(), apex.Z())
    if half < 0:
        axis, ydir, half = (-axis[0], -axis[1], -axis[2]), (-ydir[0], -ydir[1], -ydir[2]), -half
    return FaceOf(index, kind, top, axis, xdir, ydir, 0.0, half, sense, face, back)


def _recognised(face: Any) -> tuple[Kind, Any, float] | None:
    """Return plane, cylinder or cone for a spline surface that is one, with 1 or -1 for the normal's sense."""
    from OCP.BRep import BRep_Tool
    from OCP.BRepTools import BRepTools
    from OCP.Geom import Geom_ConicalSurface, Geom_CylindricalSurface, Geom_Plane
    from OCP.GeomConvert import GeomConvert_SurfToAnaSurf
    from OCP.GeomLProp import GeomLProp_SLProps

    surface = BRep_Tool.Surface_s(face)
    u0, u1, v0, v1 = BRepTools.UVBounds_s(face)
    try:
        found = GeomConvert_SurfToAnaSurf(surface).ConvertToAnalytical(1e-4, u0, u1, v0, v1)
    except Exception:  # noqa: BLE001 - the kernel throws many kinds; then the surface stays what it is
        return None
    props = GeomLProp_SLProps(surface, (u0 + u1) / 2, (v0 + v1) / 2, 1, 1e-9)
    if found is None or not props.IsNormalDefined():
        return None
    kinds: list[tuple[Kind, Any, str]] = [
        ("plane", Geom_Plane, "Pln"),
        ("cylinder", Geom_CylindricalSurface, "Cylinder"),
        ("cone", Geom_ConicalSurface, "Cone"),
    ]
    for kind, cls, getter in kinds:
        if isinstance(found, cls):
            analytic = getattr(found, getter)()
            flat = _analytic(face, 0, False, kind, analytic, 1.0)
            n, p = props.Normal(), props.Value()
            same = dot(flat.normal((p.X(), p.Y(), p.Z())), (n.X(), n.Y(), n.Z()))
            # _analytic turns the sense over for a left-handed frame by itself; here only compare.
            return kind, analytic, 1.0 if same > 0 else -1.0
    return None


def _normal_by_projection(face: FaceOf, p: Vec) -> Vec:
    from OCP.BRep import BRep_Tool
    from OCP.GeomLProp import GeomLProp_SLProps
    from OCP.gp import gp_Pnt
    from OCP.ShapeAnalysis import ShapeAnalysis_Surface

    surface = BRep_Tool.Surface_s(face.shape)
    uv = ShapeAnalysis_Surface(surface).ValueOfUV(gp_Pnt(*p), 1e-6)
    props = GeomLProp_SLProps(surface, uv.X(), uv.Y(), 1, 1e-9)
    if not props.IsNormalDefined():
        return 0.0, 0.0, 0.0
    n = props.Normal()
    s = -1.0 if face.reversed else 1.0
    return n.X() * s, n.Y() * s, n.Z() * s


def _wires(body: Body, f: int) -> Iterator[tuple[Coedge, ...]]:
    from OCP.BRepTools import BRepTools, BRepTools_WireExplorer
    from OCP.TopAbs import TopAbs_FORWARD
    from OCP.TopoDS import TopoDS, TopoDS_Iterator

    info = body.faces[f]
    face = TopoDS.Face_s(info.shape.Oriented(TopAbs_FORWARD))
    outer = BRepTools.OuterWire_s(face)
    wires: list[Any] = []
    it = TopoDS_Iterator(face)
    while it.More():
        wire = TopoDS.Wire_s(it.Value())
        wires.insert(0, wire) if wire.IsSame(outer) else wires.append(wire)
        it.Next()
    for w, wire in enumerate(wires):
        run: list[tuple[int, bool]] = []
        ex = BRepTools_WireExplorer(wire, face)
        while ex.More():
            index = body.edge_map.FindIndex(ex.Current()) - 1
            if body.edges[index].kind != "none":
                run.append((index, ex.Current().Orientation() == TopAbs_FORWARD))
            ex.Next()
        run = _complete(body, wire, run)
        if info.reversed:
            run = [(e, not forward) for e, forward in reversed(run)]
        yield tuple(Coedge(f, w, k, e, forward) for k, (e, forward) in enumerate(run))


def _complete(body: Body, wire: Any, run: list[tuple[int, bool]]) -> list[tuple[int, bool]]:
    """Order the wire's edges by their vertices when the kernel's explorer stopped early."""
    from OCP.TopAbs import TopAbs_FORWARD
    from OCP.TopoDS import TopoDS_Iterator

    every: list[tuple[int, bool]] = []
    it = TopoDS_Iterator(wire)
    while it.More():
        index = body.edge_map.FindIndex(it.Value()) - 1
        if body.edges[index].kind != "none":
            every.append((index, it.Value().Orientation() == TopAbs_FORWARD))
        it.Next()
    if len(every) == len(run):
        return run
    left = list(every)
    ordered = [left.pop(0)]
    while left:
        e, forward = ordered[-1]
        here = body.edges[e].last if forward else body.edges[e].first
        for k, (n, ahead) in enumerate(left):
            if (body.edges[n].first if ahead else body.edges[n].last) == here:
                ordered.append(left.pop(k))
                break
        else:
            return every
    return ordered
