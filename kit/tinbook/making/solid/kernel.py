"""The one module that knows OCCT's quirks: faces from shared edges, checks and measures.

The boundary is built edge by edge with `BRep_Builder` and every edge is made
once and handed to both faces that meet there, so nothing has to be sewn or cut
afterwards and the time grows with the number of edges only. The kernel's
requirements are met here: edges carry a curve on each curved surface (planes need
none), a face whose surface looks inward is reversed as a whole, a closed
cylinder carries its seam twice.

Points and directions are plain (x, y, z) in mm; edges run along a loop unless
reversed by the caller.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import Any, TypeAlias

import numpy as np
from OCP import Standard
from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Builder, BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.Geom import (
    Geom_BSplineCurve,
    Geom_BSplineSurface,
    Geom_Circle,
    Geom_CylindricalSurface,
    Geom_Line,
    Geom_Plane,
    Geom_SphericalSurface,
    Geom_SurfaceOfRevolution,
    Geom_ToroidalSurface,
)
from OCP.Geom2d import Geom2d_BSplineCurve, Geom2d_Line
from OCP.GeomAbs import GeomAbs_Plane
from OCP.gp import gp_Ax1, gp_Ax2, gp_Ax3, gp_Dir, gp_Dir2d, gp_Pnt, gp_Pnt2d
from OCP.GProp import GProp_GProps
from OCP.Message import Message, Message_Gravity
from OCP.ShapeFix import ShapeFix_ShapeTolerance
from OCP.TColgp import TColgp_Array1OfPnt, TColgp_Array1OfPnt2d, TColgp_Array2OfPnt
from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FORWARD, TopAbs_REVERSED
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import (
    TopoDS,
    TopoDS_Compound,
    TopoDS_Edge,
    TopoDS_Face,
    TopoDS_Iterator,
    TopoDS_Shell,
    TopoDS_Solid,
    TopoDS_Vertex,
    TopoDS_Wire,
)
from OCP.TopTools import TopTools_IndexedMapOfShape
from scipy.interpolate import BSpline, make_interp_spline

from tinbook.plane.loops import Array
from tinbook.space import Vec

UV: TypeAlias = tuple[float, float]
Shape: TypeAlias = Any  # OCP carries no types

Failure: tuple[type[Exception], ...] = tuple(
    c for c in vars(Standard).values() if isinstance(c, type) and issubclass(c, Exception)
)
"""What the kernel raises: its failures have no common root on this side."""

TOL = 1e-7
"""mm: tolerance given to vertices, edges and faces (the kernel's own smallest)."""

MANY_WIRES = 16
"""Faces with more loops than this are not given to the kernel's checker."""

MANY_EDGES = 400
"""Flat faces with a loop of more edges than this are not given to the kernel's checker."""

BATCH = 250
"""Faces given to the kernel's checker at a time."""

# The kernel prints how far a file is; only what fails is of use.
for _printer in Message.DefaultMessenger_s().Printers():
    _printer.SetTraceLevel(Message_Gravity.Message_Fail)

DEGREE = 7
"""Degree of the splines that stand for curves on a bend."""

_B = BRep_Builder()
_HERE = TopLoc_Location()


# --- vertices and edges ------------------------------------------------------------------------


def vertex(p: Vec) -> Shape:
    """Return a vertex."""
    v = TopoDS_Vertex()
    _B.MakeVertex(v, gp_Pnt(*p), TOL)
    return v


def _edge(curve: Any, a: Shape, b: Shape, first: float, last: float) -> Shape:
    e = TopoDS_Edge()
    _B.MakeEdge(e, curve, TOL)
    _B.Add(e, a.Oriented(TopAbs_FORWARD))
    _B.Add(e, b.Oriented(TopAbs_REVERSED))
    _B.Range(e, first, last)
    return e


def line(a: Shape, b: Shape, p: Vec, q: Vec) -> Shape:
    """Return the straight edge from vertex `a` at `p` to `b` at `q`; its parameter is the distance from `p`."""
    d = (q[0] - p[0], q[1] - p[1], q[2] - p[2])
    return _edge(Geom_Line(gp_Pnt(*p), gp_Dir(*d)), a, b, 0.0, math.hypot(*d))


def arc(a: Shape, b: Shape, centre: Vec, axis: Vec, x: Vec, radius: float, first: float, last: float) -> Shape:
    """Return the arc about `axis` from angle `first` to `last` > first (radians, 0 along `x`)."""
    return _edge(Geom_Circle(gp_Ax2(gp_Pnt(*centre), gp_Dir(*axis), gp_Dir(*x)), radius), a, b, first, last)


def spline(a: Shape, b: Shape, points: Array) -> Shape:
    """Return the smooth edge through points, shape (n, 3), at equal steps of a parameter 0..1."""
    return _edge(_bspline(points), a, b, 0.0, 1.0)


def put_line(edge: Shape, surface: Any, uv: UV, direction: UV) -> None:
    """Give the edge a straight curve in the surface's parameters, at its parameter 0 at `uv`."""
    edge = edge if isinstance(edge, TopoDS_Edge) else TopoDS.Edge_s(edge)  # a reversed edge comes back as a plain shape
    _B.UpdateEdge(edge, Geom2d_Line(gp_Pnt2d(*uv), gp_Dir2d(*direction)), surface, _HERE, TOL)


def put_sampled(edge: Shape, surface: Any, uv: Array, first: float = 0.0, last: float = 1.0) -> None:
    """Give the edge its curve in the surface's parameters through points, shape (n, 2), at equal steps first..last."""
    _B.UpdateEdge(edge, _bspline(uv, first, last), surface, _HERE, TOL)


def put_seam(edge: Shape, surface: Any) -> None:
    """Put a straight edge on a closed cylinder as its seam, at u = 2 pi and 0, v from 0 along `edge`."""
    up = gp_Dir2d(0.0, 1.0)
    far, near = (Geom2d_Line(gp_Pnt2d(u, 0.0), up) for u in (math.tau, 0.0))
    _B.UpdateEdge(edge, far, near, surface, _HERE, TOL)


# --- splines -----------------------------------------------------------------------------------


def _filled(kind: Any, values: Sequence[Any]) -> Any:
    """Return one of the kernel's arrays, which count from 1."""
    array = kind(1, len(values))
    for i, v in enumerate(values, start=1):
        array.SetValue(i, v)
    return array


def _knots_and_mults(knots: Array) -> tuple[Any, Any]:
    inner = knots[DEGREE + 1 : -DEGREE - 1]
    mults = _filled(TColStd_Array1OfInteger, [DEGREE + 1, *[1] * len(inner), DEGREE + 1])
    return _filled(TColStd_Array1OfReal, [float(k) for k in (knots[0], *inner, knots[-1])]), mults


def _interpolated(points: Array, first: float, last: float) -> tuple[Array, Array]:
    """Return the poles and the full knot vector (not-a-knot) of the spline through points at equal steps."""
    knots, below, pivots, above = _eliminated(len(points))
    columns = []
    for values in points.T.tolist():
        for k, factors in enumerate(below):
            for i, f in factors:
                values[i] -= f * values[k]
        for k in range(len(values) - 1, -1, -1):
            for i, f in above[k]:
                values[k] -= f * values[i]
            values[k] /= pivots[k]
        columns.append(values)
    poles = np.array(columns).T
    poles[0], poles[-1] = points[0], points[-1]
    return poles, first + (last - first) * knots


_Factors: TypeAlias = tuple[tuple[tuple[int, float], ...], ...]


@lru_cache(maxsize=256)
def _eliminated(count: int) -> tuple[Array, _Factors, tuple[float, ...], _Factors]:
    """Return the knots (not-a-knot, 0 to 1) of splines through so many points, and their system, eliminated.

    Per row: what is taken from the rows below it, the pivot, what stands right of it. Plain arithmetic instead of a
    library whose last digit depends on the processor, since the poles go into files. The rows need no exchange, because the
    system is totally positive (de Boor and Pinkus, 1977; from memory).
    """
    at = np.linspace(0.0, 1.0, count)
    knots: Array = make_interp_spline(at, at, k=DEGREE).t
    rows = BSpline.design_matrix(at, knots, DEGREE).toarray().tolist()
    below, above = [], []
    for k, row in enumerate(rows):
        right = [(i, row[i]) for i in range(k + 1, min(count, k + DEGREE + 1)) if row[i]]
        factors = [(i, rows[i][k] / row[k]) for i in range(k + 1, min(count, k + DEGREE + 1)) if rows[i][k]]
        for i, f in factors:
            for j, v in right:
                rows[i][j] -= f * v
        below.append(tuple(factors))
        above.append(tuple(right))
    return knots, tuple(below), tuple(row[k] for k, row in enumerate(rows)), tuple(above)


def _bspline(points: Array, first: float = 0.0, last: float = 1.0) -> Any:
    poles, knots = _interpolated(points, first, last)
    k, m = _knots_and_mults(knots)
    if points.shape[1] == 3:
        return Geom_BSplineCurve(_filled(TColgp_Array1OfPnt, [gp_Pnt(*p) for p in poles]), k, m, DEGREE)
    return Geom2d_BSplineCurve(_filled(TColgp_Array1OfPnt2d, [gp_Pnt2d(*p) for p in poles]), k, m, DEGREE)


# --- surfaces ----------------------------------------------------------------------------------


def plane(origin: Vec, normal: Vec, x: Vec) -> Any:
    """Return a plane."""
    return Geom_Plane(gp_Ax3(gp_Pnt(*origin), gp_Dir(*normal), gp_Dir(*x)))


def cylinder(origin: Vec, axis: Vec, x: Vec, radius: float) -> Any:
    """Return a cylinder: u turns about `axis` from `x`, v along it, normal away from it."""
    return Geom_CylindricalSurface(gp_Ax3(gp_Pnt(*origin), gp_Dir(*axis), gp_Dir(*x)), radius)


def sphere(centre: Vec, axis: Vec, x: Vec, radius: float) -> Any:
    """Return a sphere: u turns about `axis` from `x`, v is the latitude, normal outward."""
    return Geom_SphericalSurface(gp_Ax3(gp_Pnt(*centre), gp_Dir(*axis), gp_Dir(*x)), radius)


def torus(centre: Vec, axis: Vec, x: Vec, major: float, minor: float) -> Any:
    """Return a torus: u turns about `axis` from `x`, v round the tube from its outside towards `axis`."""
    if minor < major * (1 - 1e-6):
        return Geom_ToroidalSurface(gp_Ax3(gp_Pnt(*centre), gp_Dir(*axis), gp_Dir(*x)), major, minor)
    # A tube thicker than its ring crosses itself and has no name in exchange files; its arc turned has.
    c, d, n = np.array(centre), np.array(x), np.array(axis)
    tube = Geom_Circle(gp_Ax2(gp_Pnt(*(c + major * d)), gp_Dir(*np.cross(d, n)), gp_Dir(*x)), minor)
    return Geom_SurfaceOfRevolution(tube, gp_Ax1(gp_Pnt(*centre), gp_Dir(*axis)))


def ruled(a: Array, b: Array, across: float) -> Any:
    """Return the surface ruled between two smooth edges through points: u 0..across from `a` to `b`, v 0..1 along."""
    poles = TColgp_Array2OfPnt(1, 2, 1, len(a))
    for row, points in enumerate((a, b), start=1):
        own, knots = _interpolated(points, 0.0, 1.0)
        for i, p in enumerate(own, start=1):
            poles.SetValue(row, i, gp_Pnt(*p))
    k, m = _knots_and_mults(knots)
    ends, two = _filled(TColStd_Array1OfReal, (0.0, across)), _filled(TColStd_Array1OfInteger, (2, 2))
    return Geom_BSplineSurface(poles, ends, k, two, m, 1, DEGREE)


# --- faces and solids --------------------------------------------------------------------------


def wire(edges: Iterable[Shape]) -> Shape:
    """Return a closed wire of consecutive edges."""
    w = TopoDS_Wire()
    _B.MakeWire(w)
    for e in edges:
        _B.Add(w, e)
    w.Closed(True)
    return w


def face(surface: Any, wires: Iterable[Shape], outward: bool) -> Shape:
    """Return a face of a solid.

    Parameters
    ----------
    surface : Geom_Surface
        What it lies on.
    wires : iterable of wire
        Outer one first; each with the metal to its left, seen from outside the solid.
    outward : bool
        Whether the surface's own normal looks out of the solid.
    """
    f = TopoDS_Face()
    _B.MakeFace(f, surface, TOL)
    for w in wires:
        _B.Add(f, w if outward else w.Reversed())
    _B.NaturalRestriction(f, False)
    return f if outward else f.Reversed()


def solid(faces: Iterable[Shape]) -> Shape:
    """Return the solid bounded by faces that share their edges."""
    shell, body = TopoDS_Shell(), TopoDS_Solid()
    _B.MakeShell(shell)
    for f in faces:
        _B.Add(shell, f)
    shell.Closed(True)
    _B.MakeSolid(body)
    _B.Add(body, shell)
    return body


def explored(shape: Shape, kind: object) -> Iterator[Shape]:
    """Yield the faces or edges of a shape, an edge once for each face that it bounds."""
    explorer = TopExp_Explorer(shape, kind)
    while explorer.More():
        yield explorer.Current()
        explorer.Next()


def compound(shapes: Iterable[Shape]) -> Shape:
    """Return one shape of several."""
    whole = TopoDS_Compound()
    _B.MakeCompound(whole)
    for s in shapes:
        _B.Add(whole, s)
    return whole


def loose_edges(shape: Shape) -> int:
    """Return the number of edges that are not run exactly once each way by the faces of a shape (0: it is closed)."""
    index = TopTools_IndexedMapOfShape()
    uses: dict[int, list[int]] = {}
    for e in explored(shape, TopAbs_EDGE):
        # A pole is an edge without length that no other face has.
        if not BRep_Tool.Degenerated_s(TopoDS.Edge_s(e)):
            uses.setdefault(index.Add(e), [0, 0])[e.Orientation() == TopAbs_REVERSED] += 1
    return sum(ways != [1, 1] for ways in uses.values())


def _many_edges(f: Shape) -> bool:
    wires = TopoDS_Iterator(f)
    while wires.More():
        if wires.Value().NbChildren() > MANY_EDGES:
            return bool(BRepAdaptor_Surface(TopoDS.Face_s(f)).GetType() == GeomAbs_Plane)
        wires.Next()
    return False


def is_valid(faces: Sequence[Shape], shape: Shape) -> bool:
    """Whether the kernel's checker finds nothing wrong with a solid made of `faces`.

    The checker compares every two wires of a face, and every two edges of a
    wire: half a second for 300 holes, minutes for 3000 or for 20 000 edges.
    Faces with more than `MANY_WIRES`, and flat ones with more than
    `MANY_EDGES` on a wire, are left out here; who makes them must have looked
    at their loops in the plane.
    """
    checked = [f for f in faces if f.NbChildren() <= MANY_WIRES and not _many_edges(f)]
    if len(checked) == len(faces) <= BATCH:
        return bool(BRepCheck_Analyzer(shape).IsValid())
    # Its bookkeeping grows faster than the faces given to it at a time.
    batches = (checked[i : i + BATCH] for i in range(0, len(checked), BATCH))
    return all(BRepCheck_Analyzer(compound(batch)).IsValid() for batch in batches)


def loosened(shape: Shape, tolerance: float) -> None:
    """Widen the tolerances of edges and corners, in place, so that they cover what rounding left between them, mm."""
    ShapeFix_ShapeTolerance().LimitTolerance(shape, tolerance)


def volume(shape: Shape) -> float:
    """Return the volume in mm³, negative when the shape is inside out."""
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props)
    return float(props.Mass())


def box(shape: Shape) -> tuple[Vec, Vec]:
    """Return the exact bounding box as (lowest, highest) corner."""
    b = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, b, False, False)
    x0, y0, z0, x1, y1, z1 = b.Get()
    return (x0, y0, z0), (x1, y1, z1)
