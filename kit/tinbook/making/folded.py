"""The folded part as a plain value: panels, bend zones and what is formed in them, from which every view is drawn.

Nothing here does bending arithmetic. Preview, solid, mesh, crossing check and fold simulation read
these values, so they cannot disagree about an allowance. Who made the part, from which declaration and
on which tools, is in `making.made`; a `Folded` may as well be drawn by hand.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from tinbook.errors import UnknownName
from tinbook.flatpattern import Direction
from tinbook.memo import Memo, Remembers
from tinbook.part.forms.bead import MadeBead
from tinbook.part.forms.form import MadeForm
from tinbook.plane.arrays import Index, boxes
from tinbook.plane.cuts import contains
from tinbook.plane.loops import Array, Loop, Move
from tinbook.space import SPACE, Frame
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.making.bends import Bend

IN_PLACE: Final = Move()
MIRROR: Final = Move(a=-1.0)
"""Reflects the plane at x = 0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeHole:
    """A hole wholly inside one panel, in the panel's frame."""

    loop: Loop
    name: str
    use: str
    dia: float | None = None
    by_hand: bool = False  # drilled: not in the cut file at its finished size, but in the finished part
    undersize: float | None = None  # diameter that the cutter makes of it before, mm


@dataclass(frozen=True, slots=True, kw_only=True)
class MadePanel(Remembers):
    """A flat panel between its bend lines.

    Parameters
    ----------
    boundary : Loop
        Anticlockwise, in the panel's own frame (mould-line coordinates).
        Edges on a bend tangent line are named "fold:NAME", those of an opening
        that runs over a fold "hole:NAME".
    holes : tuple of MadeHole
        Holes wholly inside the panel (those through a fold are in the boundary and in the bend zone).
    forms : tuple of MadeForm
        What is formed in it or marked on it.
    frame : Frame
        The panel's frame in the folded part; the sheet lies at local z 0..t.
    flat : Move
        From the panel's frame to the flat pattern.
    parent : str or None
        Panel that it hangs on; None for the base.
    """

    name: str
    boundary: Loop
    holes: tuple[MadeHole, ...] = ()
    forms: tuple[MadeForm, ...] = ()
    frame: Frame = SPACE
    flat: Move = IN_PLACE
    parent: str | None = None

    @property
    def beads(self) -> tuple[MadeBead, ...]:
        """Its beads."""
        return tuple(f for f in self.forms if type(f) is MadeBead)

    @property
    def risen(self) -> tuple[MadeForm, ...]:
        """Its forms that leave the plane of the sheet; the others are marks."""
        return tuple(f for f in self.forms if f.footprint is not None)

    @property
    def plain_area(self) -> float:
        """Area before anything is formed in it, mm²: holes, and those that the blank gets for its forms, taken off."""
        pilots = [f.pilot for f in self.forms if f.pilot is not None]
        return self.boundary.area - math.fsum(abs(c.area) for c in (*(h.loop for h in self.holes), *pilots))

    @property
    def hole_boxes(self) -> Array:
        """Boxes of its holes (xmin, ymin, xmax, ymax), shape (n, 4)."""
        return HOLE_BOXES.of(self, lambda: boxes([h.loop for h in self.holes]))

    def mirrored(self) -> MadePanel:
        """Return the panel of the other hand, reflected at x = 0 of the part."""
        return replace(
            self,
            boundary=self.boundary.moved(MIRROR).reversed(),
            holes=tuple(map(_mirrored_hole, self.holes)),
            forms=tuple(f.mirrored() for f in self.forms),
            frame=self.frame.mirrored(),
            flat=_mirrored_move(self.flat),
        )


HOLE_BOXES: Memo[Array] = Memo("boxes of a panel's holes")
"""`make` stores those that it has worked out already."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BendZone:
    """The bent strip of sheet between two panels: a developable strip, given by its rulings.

    A ruling is a line of the strip that stays straight when the strip is bent. Local coordinates are
    (x, v): v from 0 at the parent's tangent line to `allowance` at the child's says which ruling, x how
    far along it. Preview, mesh, picture and crossing check walk from ruling to ruling (`rulings`), so a
    strip whose rulings are not parallel needs other rulings and volume, and a surface in the solid.
    Edges of a region on the two tangent lines are named "parent" and "child", those of an opening over
    the fold "hole:NAME".

    Parameters
    ----------
    regions : tuple of Loop
        What is left of the strip after holes through the fold, anticlockwise.
    holes : tuple of MadeHole
        Holes wholly inside the strip.
    angle : float
        Angle turned through, degrees, > 0, may exceed 180 for a teardrop hem.
    radius, setback : float
        Inside radius; from the mould line to the tangent line, mm.
    leg : (float, float)
        Leg at its left and right end from the outside mould line, mm.
    bend : Bend
        Its allowance, and whose numbers and which tool made it.
    begun : float or None
        Inside radius to which a first hit bends a hem before a second presses it down, mm; None for one hit.
    formed : str
        The form that brings it (a joggle), made before the first fold and rigid from then on; "" for a fold.
    frame : Frame
        In the folded part: origin on the parent's tangent line, x along the
        fold, y outward in the parent's plane, z the up side; sheet at z 0..t.
    flat : Move
        From (x, v) to the flat pattern.
    """

    name: str
    parent: str
    child: str
    regions: tuple[Loop, ...]
    holes: tuple[MadeHole, ...] = ()
    angle: float
    direction: Direction
    radius: float
    setback: float = 0.0
    leg: tuple[float, float] = (0.0, 0.0)
    bend: Bend
    begun: float | None = None
    formed: str = ""
    frame: Frame
    flat: Move = IN_PLACE

    @property
    def allowance(self) -> float:
        """Width of the strip in the flat, mm."""
        return self.bend.allowance

    @property
    def area(self) -> float:
        """Net flat area of the strip, mm²."""
        return math.fsum(r.area for r in self.regions) - math.fsum(abs(h.loop.area) for h in self.holes)

    def holes_in(self, region: Loop) -> tuple[MadeHole, ...]:
        """Return the holes that lie in one of the regions."""
        return tuple(h for h in self.holes if contains(region, h.loop.edges[0].start))

    def ruling(self, v: float, thickness: float) -> Frame:
        """Return where the ruling at flat distance `v` round the bend lies: x along it, z the sheet's normal there.

        The origin lies on the sheet's down face, at x = 0 of the strip.
        """
        if self.angle < FLAT:
            return self.frame.at(0.0, v)
        turn = math.radians(self.angle) * v / self.allowance
        return frame_after_bend(self.frame, turn, self.radius, thickness, self.direction)

    def rulings(self, v: Array, thickness: float) -> Rulings:
        """Return where the rulings at flat distances `v`, shape (n,), lie, as `ruling` gives them."""
        o, x, y, z = np.array((self.frame.origin, self.frame.x, self.frame.y, self.frame.z))
        if self.angle < FLAT:
            origin = o + v[:, None] * y
            return Rulings(origin, np.zeros_like(origin) + x, np.zeros_like(origin) + z)
        turn = (math.radians(self.angle) / self.allowance * v)[:, None]
        up = self.direction == "up"
        normal = np.cos(turn) * z + np.sin(turn) * (-y if up else y)
        arm = -(self.radius + thickness) if up else self.radius  # from the bend's axis to the down face
        return Rulings(arm * normal + (o - arm * z), np.zeros_like(normal) + x, normal)

    def end(self, thickness: float) -> Frame:
        """Return the frame on the child's tangent line, as `ruling` gives it."""
        return self.ruling(self.allowance, thickness)

    def volume(self, thickness: float) -> float:
        """Return the metal in the bend, mm³: its strip, as long as the middle of the sheet."""
        middle = math.radians(self.angle) * (self.radius + thickness / 2)
        return self.area / self.allowance * middle * thickness

    def mirrored(self) -> BendZone:
        """Return the bend of the other hand, reflected at x = 0 of the part."""
        return replace(
            self,
            regions=tuple(r.moved(MIRROR).reversed() for r in self.regions),
            holes=tuple(map(_mirrored_hole, self.holes)),
            frame=self.frame.mirrored(),
            flat=_mirrored_move(self.flat),
        )


FLAT: Final = 1e-5
"""Degrees below which a bend is flat: its radius has no number then."""


class Rulings(NamedTuple):
    """Straight lines of a bent strip: a point of each on the sheet's down face, its direction, the sheet's normal.

    Parameters
    ----------
    origin, x, z : array, shape (n, 3)
        At x = 0 of the strip, mm; unit directions.
    """

    origin: Array
    x: Array
    z: Array

    def points(self, x: Array, height: float | Array = 0.0, of: Index | None = None) -> Array:
        """Return points in space, shape (m, 3): `x` along the rulings numbered `of`, `height` over the down face, mm."""
        origin, along, normal = self if of is None else (part[of] for part in self)
        out: Array = origin + x[:, None] * along + np.asarray(height).reshape(-1, 1) * normal
        return out


def frame_after_bend(frame: Frame, turn_rad: float, radius: float, thickness: float, direction: Direction) -> Frame:
    """Carry a frame on a tangent line round a bend by `turn_rad` radians."""
    c, s = math.cos(turn_rad), math.sin(turn_rad)
    if direction == "up":
        y, z = frame.vector(0, c, s), frame.vector(0, -s, c)
        axis, arm = frame(0, 0, thickness + radius), -(radius + thickness)
    else:
        y, z = frame.vector(0, c, -s), frame.vector(0, s, c)
        axis, arm = frame(0, 0, -radius), radius
    origin = (axis[0] + arm * z[0], axis[1] + arm * z[1], axis[2] + arm * z[2])
    return Frame(origin, frame.x, y, z)


@dataclass(frozen=True, slots=True, kw_only=True)
class Folded(Remembers):
    """A folded part as a plain value: what preview, solid, mesh, crossing check and fold simulation read.

    Parameters
    ----------
    thickness : float
        mm.
    density : float
        kg/m³; 0 where only the shape counts.
    panels, zones : tuple
        Flat panels and the bends between them, in one space; no panels where a stop finding made it impossible.
    """

    thickness: float
    density: float = 0.0
    panels: tuple[MadePanel, ...] = ()
    zones: tuple[BendZone, ...] = ()

    def panel(self, name: str) -> MadePanel:
        """Return a panel by name."""
        for p in self.panels:
            if p.name == name:
                return p
        raise UnknownName("panel", name, [p.name for p in self.panels])

    @property
    def mass(self) -> float:
        """Mass in kg, from the net area of panels and bends (forming takes no metal away)."""
        t = self.thickness
        volume = 0.0
        for p in self.panels:
            volume += t * p.plain_area
        for s in self.zones:
            volume += s.volume(t)
        return volume * self.density * 1e-9

    def moved(self, at: Frame) -> Folded:
        """Return the part where its own coordinates are those of a frame: a member of an assembly in its place."""
        panels = tuple(replace(p, frame=at @ p.frame) for p in self.panels)
        return replace(self, panels=panels, zones=tuple(replace(s, frame=at @ s.frame) for s in self.zones))

    def mirrored(self) -> Folded:
        """Return the part of the other hand, reflected at x = 0."""
        return replace(
            self, panels=tuple(p.mirrored() for p in self.panels), zones=tuple(s.mirrored() for s in self.zones)
        )


def _mirrored_hole(h: MadeHole) -> MadeHole:
    return replace(h, loop=h.loop.moved(MIRROR).reversed())


def _mirrored_move(m: Move) -> Move:
    return MIRROR.after(m).after(MIRROR)
