"""Parts folded at their printed stops, as solids: the kernel says where the finger meets the metal, and measures after.

Nothing here asks the planner where an edge lies: a state is built as a solid, cut to the height of the finger, and the
kernel tells how far its nearest metal is from a wall behind it. What the rounded number on the paper leaves over shifts
the line in the blank; the next state is built from the shifted part, and at the end the kernel's own faces and
cylinders are measured.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import cadquery as cq
import numpy as np
from inmachine import EDGES, angles_of, made_of, strip, sweep_of, work
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.GeomAbs import GeomAbs_Cylinder, GeomAbs_Plane

from tinbook.making.accuracy import FinishedSize, finished_sizes
from tinbook.making.made import Made
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Edge, Loop
from tinbook.route.fold_order import fold_sequence
from tinbook.route.steps import FoldPlan
from tinbook.shop.tools.outlines import GAP

ABOVE, BELOW = 12.0, 5.0
"""mm: the finger that is assumed for the demo's brake, whose shop file gives none."""
WALL = 2000.0


def zed(angle: float) -> Part:
    part = strip(100, length=300).fold("near", leg=40, angle=angle, tool="V12")
    return part.fold("far", "down", leg=40, angle=angle, tool="V12")


def cup(angle: float) -> Part:
    part = strip(120, length=250).fold("near", leg=35, angle=angle, tool="V12")
    return part.fold("far", leg=35, angle=angle, tool="V12")


def acute(angle: float) -> Part:
    return (
        strip(200, length=250).fold("near", leg=20, angle=angle, tool="V12").fold("far", leg=60, angle=60, tool="V12")
    )


def hat(angle: float) -> Part:
    part = (
        strip(140, length=200)
        .fold("near", leg=45, angle=angle, tool="V12")
        .fold("far", leg=45, angle=angle, tool="V12")
    )
    for e in ("near.end", "far.end"):
        part = part.fold(e, "down", leg=25, angle=angle, tool="V12")
    return part


def steps(count: int, angle: float = 60.0) -> Part:
    part, edge = strip(40), "near"
    for n in range(count):
        part = part.fold(edge, "down" if n % 2 else "up", leg=40, angle=angle, tool="V12", name=f"s{n}")
        edge = f"s{n}.end"
    return part


def hemmed(kind: str, way: str, leg: float = 40.0) -> Part:
    part = strip(150, length=300).fold("near", leg=leg, tool="V12")
    return part.hem("near.end", kind, way, leg=14, tool="V12", name="hem")  # type: ignore[arg-type]


def hemmed_base() -> Part:
    return (
        strip(150, length=300)
        .hem("near", "closed", "up", leg=14, tool="V12", name="hem")
        .fold("far", leg=40, tool="V12")
    )


def tapered_legs() -> Part:
    part = strip(60, length=250).fold("near", "up", leg=(30, 55), tool="V12")
    return part.fold("far", "down", leg=(50, 25), tool="V12")


def sloping_plate() -> Part:
    base = Outline.polygon([(0, 0), (300, 0), (300, 180), (0, 200)], EDGES)
    return Part("HN-SL", sheet="DC01 1.5", base=base).fold("near", leg=40, tool="V12").fold("far", leg=40, tool="V12")


def tapered_tunnel(angle: float) -> Part:
    base = Outline.polygon([(0, 0), (220, 0), (180, 500), (0, 500)], ("mouth", "wall", "tail", "side"))
    part = Part("HN-TT", sheet="DC01 1.5", base=base)
    for side in ("side", "wall"):
        part = part.fold(side, leg=60, angle=angle, tool="V12")
        part = part.fold(f"{side}.end", "down", leg=25, angle=angle, tool="V12")
    return part


def tray(corner: str = "open") -> Part:
    part = strip(220, length=300)
    for e in EDGES:
        part = part.fold(e, leg=35, tool="V12", corner=corner)  # type: ignore[arg-type]
    return part


def tongues() -> Part:
    part = strip(120, length=400).fold("near", leg=30, stop=100, tool="V12", name="a")
    part = part.fold("near", "down", leg=20, start=150, stop=250, tool="V12", name="b")
    return part.fold("far", leg=40, tool="V12")


def thick() -> Part:
    return strip(200, length=300, sheet="S355 5.0").fold("near", leg=60, tool="V40").fold("far", leg=80, tool="V40")


def joggle() -> Part:
    part = strip(80, length=200).fold("far", leg=20, angle=45, tool="V12", name="up")
    return part.fold("up.end", "down", leg=40, angle=45, tool="V12")


def beaded() -> Part:
    part = (
        strip(300, length=500, sheet="DC01 1.2")
        .fold("near", leg=40, tool="V10")
        .fold("far", "down", leg=40, tool="V10")
    )
    return part.bead([(100, 100), (400, 100)], "R12x3")


PARTS: dict[str, Callable[[], Part]] = {
    **{f"zed {a}": lambda a=a: zed(a) for a in (30, 45, 60, 75, 90, 120, 135)},
    **{f"cup {a}": lambda a=a: cup(a) for a in (30, 60, 90)},
    **{f"acute {a}": lambda a=a: acute(a) for a in (105, 150)},
    **{f"hat {a}": lambda a=a: hat(a) for a in (30, 60, 90)},
    "closed hem on a leg, up": lambda: hemmed("closed", "up"),
    "closed hem on a leg, down": lambda: hemmed("closed", "down"),
    "open hem on a leg": lambda: hemmed("open", "down", 60),
    "teardrop hem on a leg": lambda: hemmed("teardrop", "down", 60),
    "hem on the base": hemmed_base,
    "tapered legs": tapered_legs,
    "sloping plate": sloping_plate,
    "tapered tunnel 45": lambda: tapered_tunnel(45),
    "tapered tunnel 90": lambda: tapered_tunnel(90),
    "tray": tray,
    "tray, closed corners": lambda: tray("closed"),
    "tongues": tongues,
    "thick": thick,
    "joggle": joggle,
    "beaded": beaded,
    "six steps": lambda: steps(6),
    "eight steps of 45": lambda: steps(8, 45),
    "twelve steps": lambda: steps(12),
    "other hand": lambda: tapered_legs().mirrored("HN-OH"),
}


@dataclass
class Proof:
    """What came of folding a part at its printed stops.

    Parameters
    ----------
    sequence : FoldPlan
        As printed.
    stops : list of (step, stop, met)
        For each stop the planner's number and the kernel's contact with the part as drawn, mm.
    sizes : list of (size, measured)
        Finished sizes as printed and as measured on the solid, mm.
    """

    sequence: FoldPlan
    stops: list[tuple[int, float, float]]
    sizes: list[tuple[FinishedSize, float]]


def folded_at_printed_stops(part: Part) -> Proof:
    nominal = made_of(part)
    sequence = fold_sequence(nominal)
    assert sequence.steps, sequence
    planner, made, stops = sequence.planner, nominal, []
    for step, move in zip(sequence.steps, sequence.moves, strict=True):
        if step.line_now is None:
            continue
        motion = sweep_of(planner, move.fold, move.level, move.setup)
        child, angles = move.setup.leg_back, angles_of(planner, move.before)
        printed, met = round(step.line_now, 1), contact(work(made, motion, move.fold, angles, 0), child)
        drawn = met if made is nominal else contact(work(nominal, motion, move.fold, angles, 0), child)
        stops.append((step.number, step.line_now, drawn))
        made = shifted(made, step.fold, met - printed if child else printed - met)
    body = made.solid
    measured = [(size, measure(made, body, size)) for size in finished_sizes(nominal, sequence)]
    return Proof(sequence, stops, measured)


def _box(x: tuple[float, float], y: tuple[float, float], z: tuple[float, float]) -> Any:
    return cq.Solid.makeBox(x[1] - x[0], y[1] - y[0], z[1] - z[0], cq.Vector(x[0], y[0], z[0])).wrapped


def contact(body: cq.Solid, child: bool) -> float:
    """How far the metal at the height of the finger reaches from the middle of the bend toward the back."""
    wide = (-WALL, WALL)
    low = BRepAlgoAPI_Common(body.wrapped, _box(wide, wide, (GAP - BELOW, GAP + ABOVE))).Shape()
    wall = _box(wide, (WALL, WALL + 1) if child else (-WALL - 1, -WALL), (GAP - BELOW, GAP + ABOVE))
    return WALL - float(BRepExtrema_DistShapeShape(low, wall).Value())


def shifted(made: Made, fold: str, by: float) -> Made:
    """The part from the same blank with one line shifted by so many mm toward the panel that hangs on it."""
    t = made.thickness
    frames = {"base": made.panel("base").frame}
    panels = {p.name: p for p in made.panels}
    zones = []
    for s in made.strips:
        shift = by if s.name == fold else 0.0
        place = made.panel(s.parent).frame.inverse() @ s.frame
        moved = replace(s, frame=(frames[s.parent] @ place).at(0.0, shift))
        frames[s.child] = moved.end(t).at(0.0, -shift) @ s.end(t).inverse() @ made.panel(s.child).frame
        zones.append(moved)
        for name, outward in ((s.parent, shift), (s.child, -shift)):
            panels[name] = replace(panels[name], boundary=_pushed(panels[name].boundary, f"fold:{s.name}", outward))
    moved_panels = tuple(replace(p, frame=frames[p.name]) for p in panels.values())
    return replace(made, folded=replace(made.folded, panels=moved_panels, zones=tuple(zones)))


def _pushed(loop: Loop, name: str, by: float) -> Loop:
    moved = {}
    for e in loop.edges:
        if e.name == name:
            ux, uy = e.direction()
            for p in (e.start, e.end):
                moved[p] = (p[0] + uy * by, p[1] - ux * by)
    return Loop(tuple(Edge(moved.get(e.start, e.start), moved.get(e.end, e.end), e.bulge, e.name) for e in loop.edges))


def measure(made: Made, body: cq.Solid, size: FinishedSize) -> float:
    """A finished size off the solid: cut faces and the cylinders of bends are the kernel's, only where to look is ours."""
    frame = made.panel(size.panel).frame
    a, b = (np.array(frame(*p, made.thickness / 2)) for p in size.ends)
    way = (b - a) / np.linalg.norm(b - a)
    x0, x1 = (_reached(made, body, size, end, a, way) for end in (a, b))
    return x1 - x0


def _reached(made: Made, body: cq.Solid, size: FinishedSize, end: Any, start: Any, way: Any) -> float:
    """How far along the tape, from its start, the mould line of a fold or a cut face lies."""
    normal = np.array(made.panel(size.panel).frame.z)
    for s in made.strips:
        if s.name not in size.folds:
            continue
        x = np.array(s.frame.x)
        out = np.cross(x, normal)
        inner = s.direction == "up"
        axis = np.array(s.frame(0, 0, made.thickness + s.radius if inner else -s.radius))
        outer = s.radius + made.thickness
        half = math.radians(s.angle) / 2
        apex = outer * (math.tan(half) if s.angle <= 90.0 else 1.0)
        if np.dot(out, axis - _middle(made, size.panel)) < 0:
            out = -out
        if abs(np.dot(out, axis - end) + apex) > 1.0:
            continue  # the other end's
        for face in body.Faces():
            surface = BRepAdaptor_Surface(face.wrapped)
            if surface.GetType() != GeomAbs_Cylinder or abs(surface.Cylinder().Radius() - outer) > 1e-3:
                continue
            line = surface.Cylinder().Axis()
            at = np.array([line.Location().X(), line.Location().Y(), line.Location().Z()])
            along = np.array([line.Direction().X(), line.Direction().Y(), line.Direction().Z()])
            if abs(abs(along @ x) - 1.0) < 1e-6 and np.linalg.norm(np.cross(at - axis, x)) < 1e-3:
                return float(((at @ out) + apex - start @ out) / (way @ out))
        raise AssertionError(f"no cylinder of fold {s.name}")
    for face in body.Faces():
        surface = BRepAdaptor_Surface(face.wrapped)
        if surface.GetType() != GeomAbs_Plane:
            continue
        axis = surface.Plane().Axis()
        at = np.array([axis.Location().X(), axis.Location().Y(), axis.Location().Z()])
        n = np.array([axis.Direction().X(), axis.Direction().Y(), axis.Direction().Z()])
        if abs(n @ normal) < 1e-6 and abs(n @ way) > 0.3 and abs((at - end) @ n) < 0.5:
            probe = cq.Vertex.makeVertex(*end).wrapped
            if BRepExtrema_DistShapeShape(face.wrapped, probe).Value() < 0.6:
                return float(((at - start) @ n) / (way @ n))
    raise AssertionError(f"no cut face at the end of {size.name}")


def _middle(made: Made, panel: str) -> Any:
    p = made.panel(panel)
    x, y = zip(*p.boundary.points, strict=True)
    return np.array(p.frame((min(x) + max(x)) / 2, (min(y) + max(y)) / 2, made.thickness / 2))
