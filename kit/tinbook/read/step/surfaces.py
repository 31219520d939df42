"""One face of a solid: plane, cylinder or cone, told from its surface whatever form the file gives it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from tinbook.plane.loops import Array
from tinbook.read.step.vectors import Vec, add, cross, dot, sub, unit

Kind = Literal["plane", "cylinder", "cone", "other"]

TRUE = 1e-4
"""mm: a spline surface that stands off a plane, cylinder or cone less than this is one."""


@dataclass(slots=True)
class FaceOf:
    """One face: its surface with the outward normal.

    Parameters
    ----------
    origin, axis, xdir, ydir : Vec
        The surface's own frame: `axis` is the plane's normal or the axis of a
        cylinder or cone (from the apex to the opening).
    radius : float
        Of a cylinder, mm; of a ring (a torus, of kind "other") that of its tube.
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


def read_face(face: Any, index: int, reversed_face: bool) -> FaceOf:
    """Read a face's surface; a spline surface that is a plane, cylinder or cone is taken as one."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_Cone, GeomAbs_Cylinder, GeomAbs_Plane, GeomAbs_Torus

    adaptor = BRepAdaptor_Surface(face, False)
    kind = adaptor.GetType()
    flip = -1.0 if reversed_face else 1.0
    if kind == GeomAbs_Plane:
        return _analytic(face, index, reversed_face, "plane", adaptor.Plane(), flip)
    if kind == GeomAbs_Cylinder:
        return _analytic(face, index, reversed_face, "cylinder", adaptor.Cylinder(), flip)
    if kind == GeomAbs_Cone:
        return _analytic(face, index, reversed_face, "cone", adaptor.Cone(), flip)
    if kind == GeomAbs_Torus:
        return _ring(face, index, reversed_face, adaptor.Torus(), flip)
    found = _recognised(adaptor, face, index, reversed_face)
    if found is not None:
        return found
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


def _ring(face: Any, index: int, back: bool, torus: Any, flip: float) -> FaceOf:
    zero = (0.0, 0.0, 0.0)
    sense = flip if torus.Position().Direct() else -flip
    return FaceOf(index, "other", zero, zero, zero, zero, torus.MinorRadius(), 0.0, sense, face, back)


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


def _recognised(adaptor: Any, face: Any, index: int, back: bool) -> FaceOf | None:
    """Return the plane, cylinder or cone that a spline surface is, by points and normals on a grid; else None."""
    points, normals = _grid(adaptor, face)
    if len(points) < 9:
        return None
    if back:
        normals = -normals
    middle = normals.mean(axis=0)
    if np.linalg.norm(middle) > 0.5 and np.allclose(normals, middle, atol=1e-5):
        n = middle / np.linalg.norm(middle)
        if np.ptp(points @ n) < TRUE:
            return _fitted(face, index, back, "plane", points.mean(axis=0), n, 0.0, 0.0, 1.0)
        return None
    # All normals of a cylinder or cone make one angle with its axis: they lie in a plane square to it.
    _, spread, axes = np.linalg.svd(normals - middle)
    if spread[2] > 1e-5 * math.sqrt(len(normals)):
        return None
    axis = axes[2]
    lean = float(np.mean(normals @ axis))
    if abs(lean) < 1e-6:
        return _as_cylinder(face, index, back, points, normals, axis)
    return _as_cone(face, index, back, points, normals, axis if lean < 0 else -axis)


def _grid(adaptor: Any, face: Any) -> tuple[Array, Array]:
    from OCP.BRepTools import BRepTools
    from OCP.gp import gp_Pnt, gp_Vec

    u0, u1, v0, v1 = BRepTools.UVBounds_s(face)
    points, normals = [], []
    p, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
    for i in range(9):
        for j in range(9):
            adaptor.D1(u0 + (u1 - u0) * i / 8, v0 + (v1 - v0) * j / 8, p, du, dv)
            n = np.cross((du.X(), du.Y(), du.Z()), (dv.X(), dv.Y(), dv.Z()))
            size = np.linalg.norm(n)
            if size > 1e-9:
                points.append((p.X(), p.Y(), p.Z()))
                normals.append(n / size)
    return np.array(points).reshape(-1, 3), np.array(normals).reshape(-1, 3)


def _as_cylinder(face: Any, index: int, back: bool, points: Array, normals: Array, axis: Array) -> FaceOf | None:
    # Every normal's line meets the axis: p - s n = c, up to a shift along the axis, with one radius s.
    flat = points - np.outer(points @ axis, axis)
    rows = np.concatenate([np.hstack((normals[i][:, None], np.eye(3))) for i in range(len(points))])
    solved = np.linalg.lstsq(rows, flat.reshape(-1), rcond=None)[0]
    signed, centre = float(solved[0]), solved[1:]
    off = np.abs(np.linalg.norm(flat - centre, axis=1) - abs(signed))
    if not math.isfinite(signed) or off.max() > TRUE or abs(signed) < 1e-6:
        return None
    return _fitted(face, index, back, "cylinder", centre, axis, abs(signed), 0.0, math.copysign(1.0, signed))


def _as_cone(face: Any, index: int, back: bool, points: Array, normals: Array, axis: Array) -> FaceOf | None:
    # Every tangent plane goes through the apex.
    apex = np.linalg.lstsq(normals, np.sum(normals * points, axis=1), rcond=None)[0]
    rel = points - apex
    along = rel @ axis
    sense = 1.0
    if np.mean(along) < 0:
        # Outward normals lean against the opening on a convex cone; here they lean along: a hollow one.
        axis, along, sense = -axis, -along, -1.0
    if along.min() <= 0:
        return None
    radial = np.linalg.norm(rel - np.outer(along, axis), axis=1)
    half = float(np.mean(np.arctan2(radial, along)))
    off = np.abs(radial * math.cos(half) - along * math.sin(half))
    if off.max() > TRUE:
        return None
    return _fitted(face, index, back, "cone", apex, axis, 0.0, half, sense)


def _fitted(
    face: Any, index: int, back: bool, kind: Kind, origin: Array, axis: Array, radius: float, half: float, sense: float
) -> FaceOf:
    a = (float(axis[0]), float(axis[1]), float(axis[2]))
    least = min(range(3), key=lambda k: abs(a[k]))
    x = unit(cross(a, (float(least == 0), float(least == 1), float(least == 2))))
    o = (float(origin[0]), float(origin[1]), float(origin[2]))
    return FaceOf(index, kind, o, a, x, cross(a, x), radius, half, sense, face, back)
