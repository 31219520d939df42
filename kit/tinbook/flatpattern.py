"""The flat pattern: what the cutter gets, whoever drew it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from tinbook.finding import Finding
from tinbook.plane.loops import Edge, Loop, Point

Direction = Literal["up", "down"]


def both_ways(angle: float, unit: str = "", form: str = "g") -> str:
    """Return an angle turned through as it is printed: turned and included, only turned past half a turn.

    Parameters
    ----------
    angle : float
        Turned through, degrees.
    unit, form : str
        What follows each number; how a number is printed.

    Returns
    -------
    str
    """
    turned = f"turned {format(angle, form)}{unit}"
    return f"{turned} / included {format(180.0 - angle, form)}{unit}" if angle <= 180.0 else turned


@dataclass(frozen=True, slots=True, kw_only=True)
class FoldLine:
    """One fold in the flat.

    Parameters
    ----------
    name : str
        Name of the fold.
    pieces : tuple of ((float, float), (float, float))
        The line in the middle of the bend strip, one piece per uninterrupted stretch.
    angle : float
        Angle turned through, degrees, greater than 0 (0 is flat).
    direction : {"up", "down"}
        Which way the free panel turns, seen from the up side.
    radius : float
        Inside radius, mm.
    allowance : float
        Width of the bend strip in the flat, mm.
    k : float or None
        The K-factor that gives this allowance, None where none applies (a flattened hem).
    rule : str
        Whose numbers: "coupon", "typed deduction", "shop K", "air bend K 0.41", "DIN 6935", ...
    tool : str
        Key of the tool in the shop, "" for a foreign part.
    plus_minus : float or None
        Half width of the 95 % band of the deduction, mm: what the outside legs of the fold together may be off.
    """

    name: str
    pieces: tuple[tuple[Point, Point], ...]
    angle: float
    direction: Direction
    radius: float
    allowance: float
    k: float | None = None
    rule: str = ""
    tool: str = ""
    plus_minus: float | None = None

    @property
    def length(self) -> float:
        """Length of bend, mm, without the gaps."""
        return math.fsum(math.dist(a, b) for a, b in self.pieces)

    @property
    def included(self) -> float | None:
        """Angle between the two panels, degrees; None past half a turn, where a curl has no such angle."""
        return 180.0 - self.angle if self.angle <= 180.0 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadLine:
    """The centre line of a bead, where the blank carries it before any bead is rolled.

    Parameters
    ----------
    name, roll : str
        Names of the bead and of its roll pair.
    edges : tuple of Edge
        From run-out to run-out, mm.
    direction : {"up", "down"}
        Side to which it stands out.
    """

    name: str
    roll: str
    edges: tuple[Edge, ...]
    direction: Direction = "up"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One inner contour.

    Parameters
    ----------
    loop : Loop
        Closed contour at finished size.
    name : str
        Name for tables and hover.
    use : str
        "plug weld", "tack screw", "nut insert", "bolt", "drain", "cut-out" ...
    dia : float or None
        Diameter when it is a round hole.
    """

    loop: Loop
    name: str = ""
    use: str = "cut-out"
    dia: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Strokes that are etched, nicked, drilled by hand or only drawn.

    Parameters
    ----------
    kind : str
        "fold", "nick", "bead", "text", "drill", "trim", "match", "grain", "formed".
    edges : tuple of Edge
        Open strokes.
    label : str
        What the mark says or belongs to.
    face : {"up", "down"}
        Face of the sheet that must carry it.
    """

    kind: str
    edges: tuple[Edge, ...]
    label: str = ""
    face: Direction = "up"


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatPattern:
    """A blank at finished size.

    Parameters
    ----------
    name : str
        Part number, or the name of the foreign part.
    thickness : float
        mm, greater than 0.
    outer : Loop
        Outer contour, anticlockwise.
    cuts : tuple of Cut
        Inner contours, anticlockwise.
    folds : tuple of FoldLine
        Fold lines.
    marks : tuple of Mark
        Everything that is not cut through.
    drills : tuple of Cut
        Holes that are drilled by hand, at finished size; not cut, not taken off the area.
    undersize : tuple of Cut
        What the cutter makes of some of them, by the same name: they are drilled out afterwards. Cut like `cuts`, but
        not taken off the area either.
    beads : tuple of BeadLine
        Centre lines of beads.
    trimmed : Loop or None
        The outline after trimming, where the blank carries stock for it.
    material : str
        Grade, "" if unknown.
    findings : tuple of Finding
        What was noticed while it was made or read.
    """

    name: str
    thickness: float
    outer: Loop
    cuts: tuple[Cut, ...] = ()
    folds: tuple[FoldLine, ...] = ()
    marks: tuple[Mark, ...] = ()
    drills: tuple[Cut, ...] = ()
    undersize: tuple[Cut, ...] = ()
    beads: tuple[BeadLine, ...] = ()
    trimmed: Loop | None = None
    material: str = ""
    findings: tuple[Finding, ...] = ()

    @property
    def inner(self) -> tuple[Cut, ...]:
        """All inner contours that the cutter makes."""
        return (*self.cuts, *self.undersize)

    @property
    def area(self) -> float:
        """Net area, mm²."""
        return self.outer.area - math.fsum(abs(c.loop.area) for c in self.cuts)

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the bounding box, mm."""
        x0, y0, x1, y1 = self.outer.box
        return x1 - x0, y1 - y0

    @property
    def cut_length(self) -> float:
        """Length of all contours, mm."""
        return self.outer.length + math.fsum(c.loop.length for c in self.inner)

    @property
    def pierces(self) -> int:
        """Number of times the cutter starts."""
        return 1 + len(self.inner)

    def __repr__(self) -> str:
        w, h = self.size
        thick = "mm, thickness not known" if math.isnan(self.thickness) else f"x {self.thickness:g} mm"
        return f"<blank of {self.name}: {w:.2f} x {h:.2f} {thick}, {len(self.cuts)} openings, {len(self.folds)} folds>"

    def _repr_svg_(self) -> str:
        from tinbook.svg import flat_svg

        return flat_svg(self, dims=True)
