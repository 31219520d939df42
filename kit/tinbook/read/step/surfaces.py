"""One face of a solid: plane, cylinder or cone, told from its surface whatever form the file gives it."""

from __future__ import annotations

import math
from dataclasses import field
from typing import Any, Literal

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepTools import BRepTools
from OCP.GeomAbs import GeomAbs_Cone, GeomAbs_Cylinder, GeomAbs_Plane, GeomAbs_Torus
from OCP.GeomLProp import GeomLProp_SLProps
from OCP.gp import gp_Pnt, gp_Vec
from OCP.ShapeAnalysis import ShapeAnalysis_Surface

from tinbook.plane.loops import Array
from tinbook.read.step.vectors import across, minus, unit, vector
from tinbook.space import Vec, cross, negative, plus, vec
from tinbook.values import dataclass

Kind = Literal["plane", "cylinder", "cone", "other"]

ZERO: Vec = (0.0, 0.0, 0.0)

TRUE = 1e-4
"""mm: a spline surface that stands off a plane, cylinder or cone less than this is one."""


@dataclass(slots=True)
class FaceOf:
    """One face: its surface with the outward normal.

    Parameters
    ----------
    reversed : bool
        Whether the solid turns the face over.
    sense : float
        1 when the outward normal is the plane's axis or points away from a
        cylinder's or cone's axis (a convex face), else -1.
    origin, axis, xdir : Vec
        The surface's own frame: `axis` is the plane's normal or the axis of a
        cylinder or cone (from the apex to the opening).
    radius : float
        Of a cylinder, mm; of a ring (a torus, of kind "other") that of its tube.
    half_angle : float
        Of a cone, radians, greater than 0; its apex is `origin`.
    """

    index: int
    kind: Kind
    shape: Any
    reversed: bool
    sense: float
    origin: Vec = ZERO
    axis: Vec = ZERO
    xdir: Vec = ZERO
    radius: float = 0.0
    half_angle: float = 0.0
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
            return self.axis if self.sense > 0 else negative(self.axis)
        if self.kind == "other":
            return _normal_by_projection(self, p)
        radial = unit(across(minus(p, self.origin), self.axis))
        if self.kind == "cone":
            c, s = math.cos(self.half_angle), math.sin(self.half_angle)
            radial = plus((radial[0] * c, radial[1] * c, radial[2] * c), self.axis, -s)
        return radial if self.sense > 0 else negative(radial)


def read_face(face: Any, index: int, reversed_face: bool) -> FaceOf:
    """Read a face's surface; a spline surface that is a plane, cylinder or cone is taken as one."""
    adaptor = BRepAdaptor_Surface(face, False)
    kind = adaptor.GetType()
    found = FaceOf(index, "other", face, reversed_face, -1.0 if reversed_face else 1.0)
    if kind == GeomAbs_Plane:
        return _analytic(found, "plane", adaptor.Plane())
    if kind == GeomAbs_Cylinder:
        return _analytic(found, "cylinder", adaptor.Cylinder())
    if kind == GeomAbs_Cone:
        return _analytic(found, "cone", adaptor.Cone())
    if kind == GeomAbs_Torus:
        ring = adaptor.Torus()
        found.radius, found.sense = ring.MinorRadius(), found.sense if ring.Position().Direct() else -found.sense
        return found
    _recognise(found, adaptor)
    return found


def _analytic(face: FaceOf, kind: Kind, surface: Any) -> FaceOf:
    frame = surface.Position()
    face.kind, face.origin = kind, vector(frame.Location())
    face.axis, face.xdir = vector(frame.Direction()), vector(frame.XDirection())
    # A left-handed frame turns the natural normal of a plane over, and that of a cylinder inward.
    face.sense = face.sense if frame.Direct() else -face.sense
    if kind == "cylinder":
        face.radius = surface.Radius()
    elif kind == "cone":
        half = surface.SemiAngle()
        face.origin, face.half_angle = vector(surface.Apex()), abs(half)
        face.axis = negative(face.axis) if half < 0 else face.axis
    return face


def _normal_by_projection(face: FaceOf, p: Vec) -> Vec:
    surface = BRep_Tool.Surface_s(face.shape)
    uv = ShapeAnalysis_Surface(surface).ValueOfUV(gp_Pnt(*p), 1e-6)
    props = GeomLProp_SLProps(surface, uv.X(), uv.Y(), 1, 1e-9)
    if not props.IsNormalDefined():
        return 0.0, 0.0, 0.0
    n = props.Normal()
    s = -1.0 if face.reversed else 1.0
    return n.X() * s, n.Y() * s, n.Z() * s


def _recognise(face: FaceOf, adaptor: Any) -> None:
    """Take a spline surface as the plane, cylinder or cone that it is by points and normals on a grid, if it is one."""
    points, normals = _grid(adaptor, face.shape)
    if len(points) < 9:
        return
    if face.reversed:
        normals = -normals
    middle = normals.mean(axis=0)
    if np.linalg.norm(middle) > 0.5 and np.allclose(normals, middle, atol=1e-5):
        n = middle / np.linalg.norm(middle)
        if np.ptp(points @ n) < TRUE:
            _take(face, "plane", points.mean(axis=0), n, 1.0)
        return
    # All normals of a cylinder or cone make one angle with its axis: they lie in a plane square to it.
    _, spread, axes = np.linalg.svd(normals - middle)
    if spread[2] > 1e-5 * math.sqrt(len(normals)):
        return
    axis = axes[2]
    lean = float(np.mean(normals @ axis))
    if abs(lean) < 1e-6:
        _as_cylinder(face, points, normals, axis)
    else:
        _as_cone(face, points, normals, axis if lean < 0 else -axis)


def _grid(adaptor: Any, face: Any) -> tuple[Array, Array]:
    u0, u1, v0, v1 = BRepTools.UVBounds_s(face)
    points, normals = [], []
    p, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
    for i in range(9):
        for j in range(9):
            adaptor.D1(u0 + (u1 - u0) * i / 8, v0 + (v1 - v0) * j / 8, p, du, dv)
            n = np.cross(vector(du), vector(dv))
            size = np.linalg.norm(n)
            if size > 1e-9:
                points.append(vector(p))
                normals.append(n / size)
    return np.array(points).reshape(-1, 3), np.array(normals).reshape(-1, 3)


def _as_cylinder(face: FaceOf, points: Array, normals: Array, axis: Array) -> None:
    # Every normal's line meets the axis: p - s n = c, up to a shift along the axis, with one radius s.
    flat = points - np.outer(points @ axis, axis)
    rows = np.concatenate([np.hstack((normals[i][:, None], np.eye(3))) for i in range(len(points))])
    solved = np.linalg.lstsq(rows, flat.reshape(-1), rcond=None)[0]
    signed, centre = float(solved[0]), solved[1:]
    off = np.abs(np.linalg.norm(flat - centre, axis=1) - abs(signed))
    if math.isfinite(signed) and off.max() <= TRUE and abs(signed) >= 1e-6:
        _take(face, "cylinder", centre, axis, math.copysign(1.0, signed))
        face.radius = abs(signed)


def _as_cone(face: FaceOf, points: Array, normals: Array, axis: Array) -> None:
    # Every tangent plane goes through the apex.
    apex = np.linalg.lstsq(normals, np.sum(normals * points, axis=1), rcond=None)[0]
    rel = points - apex
    along = rel @ axis
    sense = 1.0
    if np.mean(along) < 0:
        # Outward normals lean against the opening on a convex cone; here they lean along: a hollow one.
        axis, along, sense = -axis, -along, -1.0
    if along.min() <= 0:
        return
    radial = np.linalg.norm(rel - np.outer(along, axis), axis=1)
    half = float(np.mean(np.arctan2(radial, along)))
    off = np.abs(radial * math.cos(half) - along * math.sin(half))
    if off.max() <= TRUE:
        _take(face, "cone", apex, axis, sense)
        face.half_angle = half


def _take(face: FaceOf, kind: Kind, origin: Array, axis: Array, sense: float) -> None:
    a = vec(axis)
    least = min(range(3), key=lambda k: abs(a[k]))
    face.kind, face.sense, face.axis = kind, sense, a
    face.origin = vec(origin)
    face.xdir = unit(cross(a, (float(least == 0), float(least == 1), float(least == 2))))
