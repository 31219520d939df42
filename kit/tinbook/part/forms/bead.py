"""A rolled bead: a groove of constant section along lines and arcs, with round ends."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, ClassVar, Self

from tinbook.calc.beads import stretch
from tinbook.errors import BadValue
from tinbook.fields import Count, Points, Positive
from tinbook.finding import Finding, Refused, caution, fine, stop
from tinbook.flatpattern import Direction, FormLine, Mark
from tinbook.language import Said
from tinbook.part.features import At, Name
from tinbook.part.forms.beadshape import BeadProfile, bead_path, footprint
from tinbook.part.forms.form import Distance, Drawing, Form, KeepOff, MadeForm, Pull, Row, Setting, Work, check_step
from tinbook.part.forms.profiles import Swept
from tinbook.plane.loops import Edge, Loop, Move, Point
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.shop.shop import Shop

PITCH = 2.5
"""Widths from centre to centre (common practice)."""

MIRROR = Move(a=-1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bead(Form):
    """A rolled bead, once or repeated.

    Parameters
    ----------
    path : tuple of (float, float)
        Corner points of its centre line in the panel's coordinates, mm, from run-out to run-out.
    roll : str
        Key of the roll pair.
    corner_radius : float or None
        Radius at the path's corners, mm; None for the smallest curve that the rolls follow.
    copies : int
        How many times, including the first.
    step : (float, float)
        mm from one to the next.
    """

    TABLE: ClassVar[str] = "bead"
    TITLE: ClassVar[str] = "bead"

    name: Name
    panel: str
    path: Annotated[tuple[Point, ...], Points()]
    roll: str
    direction: Direction = "up"
    corner_radius: Positive | None = None
    copies: Annotated[int, Count(1, 200)] = 1
    step: At = (0.0, 0.0)

    def __post_init__(self) -> None:
        Form.__post_init__(self)
        check_step(self)

    def across(self, step: float) -> Point:
        """Return a step of that many mm square to the run, toward larger x (else larger y)."""
        dx, dy = self.path[-1][0] - self.path[0][0], self.path[-1][1] - self.path[0][1]
        n = math.hypot(dx, dy) or 1.0
        ax, ay = dy / n, -dx / n
        if ax < -1e-9 or (abs(ax) <= 1e-9 and ay < 0):
            ax, ay = -ax, -ay
        return ax * step, ay * step

    def made(self, on: Setting) -> Iterator[MadeBead]:
        """Resolve it on the shop's rolls, copies told apart by a number."""
        roll = on.shop.roll(self.roll)
        where = self.where
        try:
            section = BeadProfile(width=roll.width, depth=roll.depth, shoulder=roll.shoulder, thickness=on.thickness)
            radius = roll.min_curve if self.corner_radius is None else self.corner_radius
            if radius < roll.min_curve - 1e-9:
                what = f"rolls {roll.key} do not follow so tight a curve"
                remedy = "a larger corner radius, or narrower rolls"
                raise Refused("bead.curve", where, what, remedy, radius, roll.min_curve)
            path = bead_path(self.path, radius, where)
            outline = footprint(path, roll.width)
        except BadValue as wrong:
            raise Refused("bead.shape", where, str(wrong), "another path, roll pair or sheet") from None
        # A blank that is trimmed after beading needs no allowance.
        pulled = 0.0 if on.part.trim else section.draw * roll.draw
        for k, name in enumerate(self.names):
            shift = Move(u=k * self.step[0], v=k * self.step[1])
            yield MadeBead(
                name=name,
                path=tuple(shift.edge(e) for e in path) if k else path,
                width=roll.width,
                depth=roll.depth,
                shoulder=roll.shoulder,
                direction=self.direction,
                footprint=outline.moved(shift) if k else outline,
                roll=roll.key,
                draw=pulled,
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeBead(MadeForm):
    """A bead in a panel, in the panel's frame.

    Parameters
    ----------
    path : tuple of Edge
        Centre line, tangent-continuous lines and arcs, from run-out to run-out.
    width, depth, shoulder : float
        Width over the shoulders' tangent points (mm), height of the formed
        face above the flat one (mm), inside radius of the shoulders (mm).
    direction : {"up", "down"}
        Side to which the bead stands out.
    footprint : Loop
        Outline of all metal that leaves the plane, anticlockwise.
    roll : str
        Key of the roll pair.
    draw : float
        How much the sheet is drawn in across the bead, mm.
    """

    KIND: ClassVar[str] = "bead"
    CODE: ClassVar[str] = "bead"
    DRAWS: ClassVar[bool] = True

    name: str
    path: tuple[Edge, ...]
    width: float
    depth: float
    shoulder: float
    direction: Direction
    footprint: Loop
    roll: str
    draw: float = 0.0

    @property
    def alike(self) -> str:
        """Its roll pair, on which its findings depend."""
        return self.roll

    @property
    def pilot(self) -> None:
        """The blank gets no hole for it."""

    def profile(self, thickness: float) -> Swept:
        """Return its skins."""
        section = BeadProfile(width=self.width, depth=self.depth, shoulder=self.shoulder, thickness=thickness)
        return Swept(self.path, section, self.direction == "up")

    def keep_off(self, thickness: float) -> KeepOff:
        """Return the least distances to what is beside it (common practice)."""
        return KeepOff(*_distances(thickness, self.shoulder, self.width), spine=self.path)

    def work(self, shop: Shop) -> Work:
        """Return its place in the order of work: beads of one pair of rolls together."""
        what, own = f"roll {{n}} beads with {self.roll}", shop.roller is not None and shop.roller.own
        who, why = shop.roll(self.roll).who, "flat sheet passes the rolls"
        return Work(kind="bead", key=self.roll, what=what, who=who, own=own, why=why)

    def drawn(self, flat: Move, carried: Callable[[Point], Point]) -> Drawing:
        """Return its centre line, moved out as far as the beads beside it will draw it back in."""
        edges = tuple(flat.edge(Edge(carried(e.start), carried(e.end), e.bulge, e.name)) for e in self.path)
        line = FormLine(name=self.name, what=self.roll, direction=self.direction, edges=edges)
        mark = Mark(kind="bead", edges=edges, label=f"{self.name} {self.roll}", face=self.direction)
        return Drawing(guides=(mark,), lines=(line,))

    def marks(self, flat: Move) -> tuple[Mark, ...]:
        """Return none: its centre line only guides the rolls."""
        return ()

    def sheet_thickness(self, thickness: float) -> float:
        """Return the mean thickness of its sheet: its metal is what lay in the footprint and what was drawn in."""
        section = self.profile(thickness).section
        return thickness * min((section.width + self.draw) / section.arc_length, 1.0)

    def label(self) -> str:
        """Return its size and length."""
        length = math.fsum(e.length for e in self.path)
        return f"{self.direction}\n{self.width:g} × {self.depth:g} mm, {length:.1f} mm long, roll {self.roll}"

    def row(self, shop: Shop) -> Row:
        """Return what sheets and price say of it."""
        roll = shop.roll(self.roll)
        size = Said("bead {width:g} × {depth:g}", width=float(round(self.width, 2)), depth=float(round(self.depth, 2)))
        length = round(math.fsum(e.length for e in self.path), 1)
        return Row(what=size, tool=self.roll, way=self.direction, who=roll.who, length=length, passes=roll.passes)

    def findings(self, on: Setting) -> Iterator[Finding]:
        """Yield whether the rolls take the sheet, and the metal the stretch."""
        material, t, roll = on.sheet.material, on.sheet.nominal, on.shop.roll(self.roll)
        where = f"rolls {self.roll!r}"
        if not roll.takes(material, t):
            most = max((v for k, v in roll.max_thickness if k in (material.key, material.family)), default=0.0)
            what = f"too thick a sheet of {material.key} for these rolls"
            remedy = "a thinner sheet, or rolls made for it"
            yield stop("bead.thickness", where, what, remedy, t, most, source=roll.source)
        strain = stretch(roll.width, roll.depth, roll.draw)
        limit = material.elongation_percent / 2 / 100
        guess = " (its draw is a guess: roll a test strip)" if roll.guessed else ""
        remedy = "a shallower or wider bead, or a softer grade"
        if strain <= limit:
            yield fine("bead.stretch", where, f"stretch across the bead{guess}", 100 * strain, 100 * limit, "%")
        else:
            said, most = (stop, 2 * limit) if strain > 2 * limit else (caution, limit)
            yield said("bead.stretch", where, f"{material.key} may split{guess}", remedy, 100 * strain, 100 * most, "%")

    def mirrored(self) -> Self:
        """Return it reflected at x = 0 of its panel."""
        path = tuple(MIRROR.edge(e) for e in self.path)
        return replace(self, path=path, footprint=self.footprint.moved(MIRROR).reversed())

    def pull(self) -> Pull | None:
        """Return how it draws the sheet in; a curved bead counts by its chord."""
        (x0, y0), (x1, y1) = self.path[0].start, self.path[-1].end
        n = math.hypot(x1 - x0, y1 - y0)
        if self.draw <= 0 or n < 1e-9:
            return None
        return Pull(((x0 + x1) / 2, (y0 + y1) / 2), (-(y1 - y0) / n, (x1 - x0) / n), self.width / 2, self.draw)


DRILL = "move the hole, or drill it after beading"


@lru_cache(maxsize=256)
def _distances(thickness: float, shoulder: float, width: float) -> tuple[Distance, Distance, Distance, Distance]:
    """Return the least distances from a fold, a free edge, a hole and another bead, mm (common practice)."""
    inward = "a shorter bead, or move it inward"
    return (
        Distance(fold_gap(thickness), "the rolls or the die foul it", inward),
        Distance(edge_gap(thickness), "the edge ripples", inward),
        Distance(hole_gap(thickness, shoulder), "lies in metal that the bead pulls", DRILL),
        Distance(PITCH * width, "rolling one flattens the other", "space them out, or use narrower rolls"),
    )


def fold_gap(thickness: float) -> float:
    """Return the least distance from a bead's footprint to a fold's tangent line, its inside radius left out, mm.

    Common practice is 3 t + r "to the fold"; read from the tangent line, it is stricter than from the bend line.
    """
    return 3 * thickness


def edge_gap(thickness: float) -> float:
    """Return the least distance from a bead's footprint to a free edge, mm (common practice)."""
    return max(10.0, 8 * thickness)


def hole_gap(thickness: float, shoulder: float) -> float:
    """Return the least distance from a bead's footprint to the rim of a hole, mm (common practice)."""
    return 3 * thickness + shoulder
