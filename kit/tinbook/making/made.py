"""What `make` answers: panels, bend strips and frames, from which every view is drawn.

Nothing here does bending arithmetic. `flat`, `solid` and `preview` read these
values and so cannot disagree about an allowance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from tinbook.errors import of_kind
from tinbook.finding import NOTHING, Findings
from tinbook.flatpattern import Direction, FlatPattern
from tinbook.part.forms.bead import MadeBead
from tinbook.part.forms.form import MadeForm
from tinbook.plane.arrays import boxes
from tinbook.plane.cuts import contains
from tinbook.plane.loops import Array, Loop, Move
from tinbook.space import Frame

if TYPE_CHECKING:
    from tinbook.making.bends import Bend
    from tinbook.part.part import Part
    from tinbook.shop.material import Sheet
    from tinbook.shop.shop import Shop


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
class MadePanel:
    """A flat panel between its bend lines.

    Parameters
    ----------
    boundary : Loop
        Anticlockwise, in the panel's own frame (mould-line coordinates).
        Edges on a bend tangent line are named "fold:NAME", those of an opening
        that runs over a fold "hole:NAME".
    holes : tuple of MadeHole
        Holes wholly inside the panel (those through a fold are in boundary and strips).
    forms : tuple of MadeForm
        What is formed in it or marked on it.
    frame : Frame
        The panel's frame in the folded part; the sheet lies at local z 0..t.
    flat : Move
        From the panel's frame to the flat pattern.
    """

    name: str
    boundary: Loop
    holes: tuple[MadeHole, ...]
    forms: tuple[MadeForm, ...]
    frame: Frame
    flat: Move
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


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeStrip:
    """The bend strip between two panels.

    Local coordinates are (x, v): x along the fold as in `frame`, v from 0 at the
    parent's tangent line to `allowance` at the child's. Edges of a region on
    these two lines are named "parent" and "child", those of an opening over the
    fold "hole:NAME".

    Parameters
    ----------
    regions : tuple of Loop
        What is left of the strip after holes through the fold, anticlockwise.
    holes : tuple of MadeHole
        Holes wholly inside the strip.
    angle : float
        Angle turned through, degrees, > 0, may exceed 180 for a teardrop hem.
    leg : (float, float)
        Leg at its left and right end from the outside mould line, mm.
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
    holes: tuple[MadeHole, ...]
    angle: float
    direction: Direction
    radius: float
    setback: float
    leg: tuple[float, float] = (0.0, 0.0)
    bend: Bend
    frame: Frame
    flat: Move

    @property
    def allowance(self) -> float:
        """Width of the strip in the flat, mm."""
        return self.bend.allowance

    def area(self) -> float:
        """Net flat area of the strip, mm²."""
        return math.fsum(r.area for r in self.regions) - math.fsum(abs(h.loop.area) for h in self.holes)

    def holes_in(self, region: Loop) -> tuple[MadeHole, ...]:
        """Return the holes that lie in one of the regions."""
        return tuple(h for h in self.holes if contains(region, h.loop.edges[0].start))

    def at(self, v: float, thickness: float) -> Frame:
        """Return the sheet's frame at flat distance `v` round the bend (origin on the sheet's down face)."""
        return bent(self.frame, math.radians(self.angle) * v / self.allowance, self.radius, thickness, self.direction)


def bent(frame: Frame, turn_rad: float, radius: float, thickness: float, direction: Direction) -> Frame:
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """A part resolved on a shop's tools: complete, frozen, ready for every view.

    Parameters
    ----------
    part, shop, sheet
        What was asked for, on whose tools, from which sheet.
    thickness : float
        Measured thickness if the shop gives one, else nominal, mm.
    panels, strips : tuple
        The geometry; empty when a stop finding made it impossible.
    flat : FlatPattern or None
        The blank, None when it could not be resolved.
    findings : Findings
        What was noticed while resolving, worst first.
    """

    part: Part
    shop: Shop
    sheet: Sheet
    thickness: float
    panels: tuple[MadePanel, ...]
    strips: tuple[MadeStrip, ...]
    flat: FlatPattern | None
    findings: Findings = NOTHING
    # Never taken over by `dataclasses.replace`: what was worked out of one part says nothing of another.
    _cache: dict[str, Any] = field(default_factory=dict, repr=False, init=False)

    def __repr__(self) -> str:
        state = "made" if self.ok else "cannot be made"
        return f"<{self.part.number} rev {self.part.rev} of {self.sheet.key}: {len(self.panels)} panels, {state}>"

    @property
    def ok(self) -> bool:
        """Whether nothing forbids making it."""
        return self.flat is not None and not self.findings.stops

    def panel(self, name: str) -> MadePanel:
        """Return a panel by name."""
        from tinbook.errors import UnknownName

        for p in self.panels:
            if p.name == name:
                return p
        raise UnknownName("panel", name, [p.name for p in self.panels])

    @property
    def solid(self) -> Any:
        """The folded part as one CadQuery Solid; raises CannotMake with the stop findings."""
        from tinbook.making.solid.build import solid

        return solid(self)

    @property
    def preview(self) -> Any:
        """Triangles of the folded part, see `make.preview`."""
        from tinbook.making.preview.build import preview

        return preview(self)

    @property
    def mass(self) -> float:
        """Mass in kg, from the net area of panels and strips (forming takes no metal away)."""
        t = self.thickness
        volume = 0.0
        for p in self.panels:
            volume += t * p.plain_area
        for s in self.strips:
            a = math.radians(s.angle)
            volume += s.area() * a / s.allowance * t * (s.radius + t / 2)
        return volume * self.sheet.material.density * 1e-9


def hole_boxes(made: Made, panel: MadePanel) -> Array:
    """Return the boxes of a panel's holes, shape (n, 4); worked out once."""
    key = f"hole boxes {panel.name}"
    if key not in made._cache:
        made._cache[key] = boxes([h.loop for h in panel.holes])
    found: Array = made._cache[key]
    return found


def keep_hole_boxes(made: Made, known: dict[str, Array]) -> None:
    """Keep the boxes of holes that `make` worked out, by panel."""
    made._cache.update((f"hole boxes {name}", box) for name, box in known.items())


def need_made(thing: object, what: str) -> None:
    """Refuse anything but a made part, and say where one comes from."""
    of_kind(thing, Made, what, "a made part, as tb.make(part, shop) gives one")
