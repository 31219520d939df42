"""Turned forms of the solid: a profile revolved about an upright axis, its feet shared with the panel's skins."""

from __future__ import annotations

import math

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeWire
from OCP.BRepGProp import BRepGProp_Face
from OCP.BRepPrimAPI import BRepPrimAPI_MakeRevol
from OCP.BRepTools import BRepTools
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE
from OCP.TopoDS import TopoDS

from tinbook.making.solid import kernel
from tinbook.making.solid.kernel import Shape
from tinbook.making.solid.shell import NOWHERE, SheetSide, SolidShell
from tinbook.part.forms.profiles import Turned
from tinbook.plane.loops import Edge
from tinbook.space import Frame, dot, negative


def turned_sides(shell: SolidShell, form: Turned, frame: Frame) -> list[SheetSide]:
    """Add the faces of a turned form to a body; returns the hole that it leaves in the panel's skins."""
    at = frame.at(*form.centre)
    points = [at(e.start[0], 0.0, e.start[1]) for e in form.chain]
    (r, z) = form.chain[-1].end
    points.append(at(r, 0.0, z))
    ends = [kernel.vertex(p) for p in points]
    wire = BRepBuilderAPI_MakeWire()
    for k, e in enumerate(form.chain):
        wire.Add(profile_edge(e, ends[k], ends[k + 1], at))
    turn = BRepPrimAPI_MakeRevol(wire.Wire(), gp_Ax1(gp_Pnt(*at.origin), gp_Dir(*at.z)))
    faces = [TopoDS.Face_s(f) for f in kernel.explored(turn.Shape(), TopAbs_FACE)]
    if not _looks_out(faces, form, at):
        faces = [f.Reversed() for f in faces]
    shell.faces.extend(faces)
    low, high = (next(s for s in turn.Generated(v) if s.ShapeType() == TopAbs_EDGE) for v in (ends[-1], ends[0]))
    # The panel's skins run each foot the other way about; the down skin's wire is turned over once more.
    low, high = as_in(faces, low), as_in(faces, high).Reversed()
    return [SheetSide("", NOWHERE, NOWHERE, low, high)]


def profile_edge(e: Edge, a: Shape, b: Shape, at: Frame) -> Shape:
    """Return an edge of the chain in the plane of the axis and the frame's x."""
    start, end = at(e.start[0], 0.0, e.start[1]), at(e.end[0], 0.0, e.end[1])
    if e.is_line:
        return kernel.line(a, b, start, end)
    (cr, cz) = e.centre
    first = math.atan2(e.start[1] - cz, e.start[0] - cr)
    # About -y a turn from x goes to z: anticlockwise in (distance, height).
    axis, side = (negative(at.y), 1.0) if e.bulge > 0 else (at.y, -1.0)
    first *= side
    return kernel.arc(a, b, at(cr, 0.0, cz), axis, at.x, e.radius, first, first + abs(e.sweep))


def as_in(faces: list[Shape], edge: Shape) -> Shape:
    """Return an edge as the faces run it."""
    return next(e for f in faces for e in kernel.explored(f, TopAbs_EDGE) if e.IsSame(edge))


def _looks_out(faces: list[Shape], form: Turned, at: Frame) -> bool:
    """Whether the first face looks out of the metal, which lies to the left of the chain."""
    u0, u1, v0, v1 = BRepTools.UVBounds_s(TopoDS.Face_s(faces[0]))
    p, n = gp_Pnt(), gp_Vec()
    BRepGProp_Face(TopoDS.Face_s(faces[0])).Normal((u0 + u1) / 2, (v0 + v1) / 2, p, n)
    x, y, z = at.local((p.X(), p.Y(), p.Z()))
    r = math.hypot(x, y)
    nearest = min(((e, k / 64) for e in form.chain for k in range(65)), key=lambda c: math.dist(c[0].at(c[1]), (r, z)))
    dr, dz = nearest[0].direction(nearest[1])
    outward = at.vector(dz * x / r, dz * y / r, -dr)
    return dot(outward, (n.X(), n.Y(), n.Z())) > 0
