"""What a flat pattern is made of: cuts, marks, fold lines and lines of forms."""

from __future__ import annotations

import math
from typing import Literal

from tinbook.language import ENGLISH, Language
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.values import dataclass

Direction = Literal["up", "down"]


def both_ways(angle: float, unit: str = "", form: str = "g", say: Language = ENGLISH) -> str:
    """Return an angle as printed: turned and included, above 180 degrees turned only.

    Parameters
    ----------
    angle : float
        Turned through, degrees.
    unit, form : str
        What follows each number; how a number is printed.
    say : Language
        Of the words.

    Returns
    -------
    str
    """
    a, b = (say.number(v, form) + unit for v in (angle, 180.0 - angle))
    return say("turned {a} / included {b}", a=a, b=b) if angle <= 180.0 else say("turned {a}", a=a)


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
        """Angle between the two panels, degrees; None above 180 degrees turned, where a curl has none."""
        return 180.0 - self.angle if self.angle <= 180.0 else None


@dataclass(frozen=True, slots=True, kw_only=True)
class FormLine:
    """A line by which a form is made, where the blank carries it before anything is formed.

    Parameters
    ----------
    name, what : str
        Name of the form, and what lies on the line: the roll pair that runs along it, the middle of a bend.
    edges : tuple of Edge
        From end to end, mm; the centre line of a bead runs from run-out to run-out.
    direction : {"up", "down"}
        Side to which the form stands out.
    """

    name: str
    what: str
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
        "fold", "nick", "bead", "text", "drill", "trim", "match", "grain", "form" (guides a die), "formed".
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
