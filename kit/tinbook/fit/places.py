"""Places on the body by their distances from two datum points P and Q."""

from __future__ import annotations

import math
from typing import Any, Final

from tinbook import units
from tinbook.errors import BadValue
from tinbook.plane.loops import Edge, Point
from tinbook.tolerances import SAME_POINT
from tinbook.tracing import Traced
from tinbook.values import dataclass

SHALLOW: Final = 3.0
"""A place is marked as poorly set out from P and Q when 1 mm on the tape moves it by more than this (mm)."""

NEAREST: Final = 20.0
"""mm: nearer than this P and Q place nothing surely (own proposal)."""

PLACE_HEADS: Final = ("place", "where", "from P, mm", "from Q, mm", "along P-Q, mm", "square off, mm", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A point of the cut line, by its distances from the baseline's ends.

    Parameters
    ----------
    letter : str
        "A", "B" ... for corners; "A-B" for the middle of the arc between them.
    name : str
        "front/sill", or the name of the arc.
    at : (float, float)
        In the outline's plane, mm.
    from_p, from_q : float
        Distances from P and from Q, mm.
    along, off : float
        Along the baseline from P, and square off it (positive to its left, into the outline), mm.
    stretch : float
        How far the place moves when one of the two distances is wrong by 1 mm, mm; infinite on the baseline.
    """

    letter: str
    name: str
    at: Point
    from_p: float
    from_q: float
    along: float
    off: float
    stretch: float

    @property
    def row(self) -> tuple[str, ...]:
        """Cells of its table."""
        sizes = (self.from_p, self.from_q, self.along, self.off)
        advice = "measure along and off" if self.stretch > SHALLOW else ""
        return self.letter, self.name, *(f"{round(v, 1) + 0.0:.1f}" for v in sizes), advice


def place_of(base: tuple[Point, Point], letter: str, name: str, at: Point) -> Place:
    """Return a place by its distances from P and Q."""
    (px, py), (qx, qy) = base
    long = math.dist(*base)
    ux, uy = (qx - px) / long, (qy - py) / long
    vx, vy = at[0] - px, at[1] - py
    along, off = vx * ux + vy * uy, uy * -vx + ux * vy
    p, q = math.dist(at, base[0]), math.dist(at, base[1])
    # Two circles cross by the angle under which P and Q are seen: its sine is base * off / (p * q).
    sine = long * abs(off) / (p * q) if p > SAME_POINT and q > SAME_POINT else 1.0
    stretch = 1.0 / sine if sine > 1e-9 else math.inf
    return Place(letter=letter, name=name, at=at, from_p=p, from_q=q, along=along, off=off, stretch=stretch)


def datum_points(datums: Any) -> tuple[Point, Point]:
    """Return P and Q, or raise BadValue."""
    valid = f"two points ((x, y), (x, y)) in mm, {NEAREST:g} mm or more apart"
    pairs = datums if units.is_sequence(datums) else ()
    if len(pairs) != 2 or any(not units.is_sequence(p) or len(p) != 2 for p in pairs):
        raise BadValue("datums", datums, valid)
    p, q = ((units.length(x, "datums"), units.length(y, "datums")) for x, y in pairs)
    if math.dist(p, q) < NEAREST:
        raise BadValue("datums", datums, valid)
    return p, q


def cross(letter: str, at: Point, reach: float) -> Traced:
    """Return a cross with its letter."""
    x, y = at
    edges = (Edge((x - reach, y), (x + reach, y)), Edge((x, y - reach), (x, y + reach)))
    return Traced(kind="centre", edges=edges, text=letter)
