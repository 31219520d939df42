"""Lanced forms of the solid: half a profile drawn along the slit, and turned by a quarter about either end of that way."""

from __future__ import annotations

import math
from itertools import pairwise

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeWire
from OCP.BRepGProp import BRepGProp_Face
from OCP.BRepPrimAPI import BRepPrimAPI_MakePrism, BRepPrimAPI_MakeRevol
from OCP.BRepTools import BRepTools
from OCP.gp import gp_Ax1, gp_Dir, gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE
from OCP.TopoDS import TopoDS

from tinbook.making.solid import kernel
from tinbook.making.solid.kernel import Shape
from tinbook.making.solid.shell import NOWHERE, SheetCorner, SheetSide, SolidShell, sheet_corner, straight_side, wall
from tinbook.making.solid.turned import as_in, profile_edge
from tinbook.part.forms.profiles import Lanced
from tinbook.plane.loops import Edge
from tinbook.space import Frame, dot, negative
from tinbook.values import dataclass


@dataclass(slots=True, eq=False)
class _Skin:
    """One skin of a hood: its faces, its feet and its edges at the slit from end to end, and its two corners."""

    faces: list[Shape]
    feet: list[Shape]
    lanced: list[Shape]
    near: Shape
    far: Shape


def lanced_sides(shell: SolidShell, form: Lanced, frame: Frame) -> list[SheetSide]:
    """Add the faces of a lanced form to a body; returns the hole that it leaves in the panel's skins."""
    (line,), t = form.whole.path, shell.thickness
    (dx, dy), ends = line.direction(), (form.reach, -line.length - form.reach)
    # x from the slit to the foot, y back along the slit.
    at = Frame(frame(*line.start), frame.vector(-dy, dx), frame.vector(-dx, -dy), frame.z)
    low, high = _skin(form, at, 0.0, False), _skin(form, at, t, True)
    shell.faces += [*low.faces, *high.faces]
    pairs = ((low.near, high.near), (low.far, high.far))
    near, far = (SheetCorner(*v, at(0.0, y), at(0.0, y, t)) for v, y in zip(pairs, ends, strict=True))
    lanced = [*low.lanced, far.up, *reversed(high.lanced), near.up.Reversed()]
    shell.faces.append(kernel.face(kernel.plane(at.origin, negative(at.x), at.y), [kernel.wire(lanced)], outward=True))
    corners = [far, *(sheet_corner(at(-form.gap, y), at(-form.gap, y, t)) for y in reversed(ends)), near]
    slit = [straight_side("", a, b) for a, b in pairwise(corners)]
    outward = (at.y, at.x, negative(at.y))
    shell.faces += [wall(s, kernel.plane(s.a.p_low, n, at.z)) for s, n in zip(slit, outward, strict=True)]
    return [SheetSide("", NOWHERE, NOWHERE, a, b) for a, b in zip(low.feet, high.feet, strict=True)] + slit


def _skin(form: Lanced, at: Frame, base: float, on_top: bool) -> _Skin:
    """Form one skin of the hood."""
    section, sign = form.whole.section, 1.0 if form.whole.up else -1.0
    (across, height), bulge = section.joint(on_top != form.whole.up), sign * math.tan(section.turn_rad / 4)
    spots = ((form.reach, base), (across, base + sign * height), (0.0, base + sign * section.depth))
    corners = [kernel.vertex(at(d, 0.0, z)) for d, z in spots]
    wire = BRepBuilderAPI_MakeWire()
    for k, b in enumerate((-bulge, bulge)):
        wire.Add(profile_edge(Edge(spots[k], spots[k + 1], b), corners[k], corners[k + 1], at))
    length, foot = form.whole.path[0].length, corners[0]
    along = BRepPrimAPI_MakePrism(wire.Wire(), gp_Vec(*(-length * v for v in at.y)))
    axis, there = gp_Dir(*at.z), gp_Pnt(*at(0.0, -length))
    near = BRepPrimAPI_MakeRevol(wire.Wire(), gp_Ax1(gp_Pnt(*at.origin), axis), math.pi / 2)
    far = BRepPrimAPI_MakeRevol(along.LastShape(), gp_Ax1(there, axis.Reversed()), math.pi / 2)
    pieces = [TopoDS.Face_s(f) for made in (near, along, far) for f in kernel.explored(made.Shape(), TopAbs_FACE)]
    faces = [f if (_rises(f, at) > 0) is on_top else f.Reversed() for f in pieces]
    far_foot = along.LastShape(foot)
    feet = [near.Generated(foot).First(), along.Generated(foot).First(), far.Generated(far_foot).First()]
    ends = [list(kernel.explored(made.LastShape(), TopAbs_EDGE)) for made in (near, far)]
    lanced = [*ends[0], along.Generated(corners[2]).First(), *reversed(ends[1])]
    # The panel's skins run each foot the other way about; the down skin's wire is turned over once more.
    feet = [as_in(faces, e).Reversed() if on_top else as_in(faces, e) for e in feet]
    lanced = [as_in(faces, e).Reversed() for e in lanced]
    return _Skin(faces, feet, lanced, near.LastShape(foot), far.LastShape(far_foot))


def _rises(face: Shape, at: Frame) -> float:
    """Return how far the normal in the middle of a face points up."""
    u0, u1, v0, v1 = BRepTools.UVBounds_s(face)
    n = gp_Vec()
    BRepGProp_Face(face).Normal((u0 + u1) / 2, (v0 + v1) / 2, gp_Pnt(), n)
    return dot((n.X(), n.Y(), n.Z()), at.z)
