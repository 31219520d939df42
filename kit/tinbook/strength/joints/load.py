"""What one joint bears: its force, the sheets that it joins, and how far they reach round it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal, TypeAlias

import numpy as np
import shapely

from tinbook.making.folded import MadePanel
from tinbook.making.made import Made
from tinbook.plane.loops import Point
from tinbook.space import Vec, dot
from tinbook.values import dataclass

Kind: TypeAlias = Literal["plug weld", "spot weld", "bolt", "tack screw", "nut insert", "blind rivet", "seam", "pin"]
AT_HOLE: Final[dict[str, Kind]] = {
    "plug weld": "plug weld",
    "bolt": "bolt",
    "tack screw": "tack screw",
    "nut insert": "nut insert",
    "rivet": "blind rivet",
}
"""What joins at a hole of a use."""
FAR: Final = 1e4
"""mm: longer than any sheet; ends of rays."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetAt:
    """A sheet at a joint.

    Parameters
    ----------
    thickness : float
        mm.
    yields, tensile : float
        Least yield stress and tensile strength, MPa.
    grade : str
        Its material.
    family : str
        Group of metals that it belongs to, "" where unknown.
    hole : float
        Diameter of its hole, mm; 0 without one.
    end, edge : float
        From the joint to the sheet's rim along the force on it and across, mm; infinite where no free rim is met.
    pitch : float
        To the nearest joint of its kind, mm.
    sides : (float, float) or None
        How far the sheet carries to either side of the force, mm: to its rim or halfway to the next joint there; left out,
        to both the smaller of `edge` and half of `pitch`.
    passed : float
        What crosses the section through the hole over the joint's own force: with joints in line before it, more than 1.
    """

    thickness: float
    yields: float
    tensile: float
    grade: str = ""
    family: str = ""
    hole: float = 0.0
    end: float = math.inf
    edge: float = math.inf
    pitch: float = math.inf
    sides: tuple[float, float] | None = None
    passed: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class JointLoad:
    """Forces on one joint.

    Parameters
    ----------
    name : str
        "plug weld 7".
    kind : Kind
    at : Vec
        Its middle, mm.
    axis : Vec
        From the first sheet toward what it is joined to, unit length.
    force, moment : Vec
        On the first sheet, N and N mm about the middle.
    first : SheetAt
    second : SheetAt or None
        What it is joined to; None if only its thickness was assumed to be that of the first.
    size : str
        Thread of a bolt, screw or insert, "" where not known.
    length : float
        Of a seam, or the worst stretch of it that counts, mm.
    along : Vec
        Along a seam, unit length.
    total : float
        The whole seam, mm.
    width : float
        Of the sheet, from the seam to its far rim, mm.
    tee : bool
        A seam where one sheet stands on the other; else they lap.
    to : str
        What it joins the first sheet to, in words.
    nodes : tuple of int
        Nodes of the mesh, for pictures.
    """

    name: str
    kind: Kind
    at: Vec
    axis: Vec
    force: Vec
    moment: Vec
    first: SheetAt
    second: SheetAt | None = None
    size: str = ""
    length: float = 0.0
    along: Vec = (0.0, 0.0, 0.0)
    total: float = 0.0
    width: float = math.inf
    tee: bool = False
    to: str = ""
    nodes: tuple[int, ...] = ()

    @property
    def pull(self) -> float:
        """Force that pulls the sheets apart, N; negative where they are pressed together."""
        return dot(self.force, self.axis)

    @property
    def shear(self) -> float:
        """Force in the plane of the sheets, N."""
        p = self.pull
        return math.hypot(*(f - p * a for f, a in zip(self.force, self.axis, strict=True)))

    @property
    def runs(self) -> float:
        """Force along a seam, N."""
        return abs(dot(self.force, self.along))


def sheet_at(
    made: Made, panel: MadePanel, at: Point, force: Vec, hole: float = 0.0, around: Sequence[tuple[Vec, Vec]] = ()
) -> SheetAt:
    """Return a part's sheet at a joint, with its distances to free rims along a force (part axes) and across it.

    A fold is no rim: the sheet goes on round it. `around` are places of other joints of its kind and their forces on the
    sheet: those beside it share the width with it; those in line, nearer to the end, pull across its section too.
    """
    x0, y0 = at
    x, y, _ = panel.frame.local_vector(force)
    size = math.hypot(x, y)
    way = (x / size, y / size) if size > 0 else (1.0, 0.0)
    half = max(hole, made.thickness) / 2
    left, right = (-way[1], way[0]), (way[1], -way[0])
    sides, pitch, passing = [_reach(panel, at, w, half) for w in (left, right)], math.inf, size
    edge = min(sides)
    for place, other in around:
        p, q, _ = panel.frame.local(place)
        along, aside = (p - x0) * way[0] + (q - y0) * way[1], (p - x0) * left[0] + (q - y0) * left[1]
        away = math.hypot(along, aside)
        if away <= half:
            continue  # the same hole, in another gap of a stack
        pitch = min(pitch, away)
        if abs(aside) > 2 * half:
            k = 0 if aside > 0 else 1
            sides[k] = min(sides[k], abs(aside) / 2)
        elif along > 0:
            u, v, _ = panel.frame.local_vector(other)
            passing += max(0.0, u * way[0] + v * way[1])
    material = made.sheet.material
    return SheetAt(
        thickness=made.thickness,
        yields=material.yield_min,
        tensile=material.tensile_min,
        grade=material.key,
        family=material.family,
        hole=hole,
        end=_reach(panel, at, way, half),
        edge=edge,
        pitch=pitch,
        sides=(sides[0], sides[1]),
        passed=passing / size if size > 0 else 1.0,
    )


def _reach(panel: MadePanel, at: Point, way: Point, half: float) -> float:
    """Return how far it is to a free rim in a direction, looking along a band of twice `half`, mm."""
    rim = shapely.MultiLineString(
        [[*e.chords().tolist(), e.end] for e in panel.boundary.edges if not e.name.startswith("fold:")]
    )
    (x, y), (u, v) = at, way
    band = shapely.Polygon(
        [
            (x - v * half, y + u * half),
            (x + v * half, y - u * half),
            (x + v * half + u * FAR, y - u * half + v * FAR),
            (x - v * half + u * FAR, y + u * half + v * FAR),
        ]
    )
    met = shapely.get_coordinates(shapely.intersection(rim, band))
    return math.inf if len(met) == 0 else float(((met - np.array(at)) @ np.array(way)).min())
