"""Shape of a rolled bead: cross-section, centre line and footprint, all of lines and arcs.

A bead is described as its rolls leave it: a crown arc between two shoulder
arcs, each tangent to the next and to the flat sheet. Both skins of the sheet
are parallel curves, so width and depth are the same on either of them and on
the mid-line. Heights are measured from the flat face on the same skin.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from tinbook.calc.limits import above_zero
from tinbook.errors import BadValue, OutOfRange
from tinbook.plane.loops import Array, Edge, Loop, Point
from tinbook.plane.meeting import turn
from tinbook.tolerances import SAME_POINT, SHORTEST_EDGE
from tinbook.values import dataclass

RUNS_ON = 1e-4
"""rad: lines of a path that meet closer than this were meant to run on; the later one is turned to do so exactly."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeadProfile:
    """Cross-section of a bead.

    Parameters
    ----------
    width : float
        Between the shoulders' tangent points on the flat, mm.
    depth : float
        Height of the formed face above the flat face, mm, at most half the width.
    shoulder : float
        Inside radius of the shoulders, mm (on the skin of the side to which the bead stands out).
    thickness : float
        Of the sheet, mm, measured square to it everywhere: no thinning is modelled.

    Raises
    ------
    BadValue
        When a value is not a positive number.
    OutOfRange
        When the crown's inside radius would vanish or the flanks lean over.
    """

    width: float
    depth: float
    shoulder: float
    thickness: float

    def __post_init__(self) -> None:
        for name in ("width", "depth", "shoulder", "thickness"):
            above_zero("mm", **{f"bead {name}": getattr(self, name)})
        if self.depth > self.width / 2:
            raise OutOfRange("bead depth", self.depth, f"at most half the width, {self.width / 2:.4g} mm")
        if self.crown < SHORTEST_EDGE:
            room = self.reach - self.thickness - SHORTEST_EDGE
            if room > 0:
                raise OutOfRange(
                    "bead shoulder", self.shoulder, f"at most {room:.4g} mm for this width, depth and thickness"
                )
            raise OutOfRange(
                "bead thickness",
                self.thickness,
                f"less than {self.reach:.4g} mm: width² / (8 depth) + depth / 2 must leave room for both radii",
            )

    @property
    def turn_rad(self) -> float:
        """Angle through which each shoulder turns, radians (the flank's steepest slope)."""
        return 2.0 * math.atan2(self.depth, self.width / 2)

    @property
    def reach(self) -> float:
        """Distance between a shoulder's centre and the crown's, mm: sum of their radii on any skin."""
        return (self.width**2 / 4 + self.depth**2) / (2 * self.depth)

    @property
    def crown(self) -> float:
        """Inside radius of the crown, mm (on the hollow skin)."""
        return self.reach - self.shoulder - self.thickness

    @property
    def arc_length(self) -> float:
        """Length of the mid-line across the bead, mm.

        With tangent arcs on a chord of `width` it is 2 · reach · turn whatever
        the shoulder radius, hence equal to that of one plain arc.
        """
        return 2.0 * self.reach * self.turn_rad

    @property
    def draw(self) -> float:
        """How far the sheet's edges come in together if the metal only draws, mm."""
        return self.arc_length - self.width

    @property
    def section_area(self) -> float:
        """Area of metal across the bead, mm² (exact for parallel skins)."""
        return self.thickness * self.arc_length

    def radii(self, hollow: bool) -> tuple[float, float]:
        """Return (shoulder, crown) radii in mm of one skin, the hollow one or the one the bead stands out on."""
        if hollow:
            return self.shoulder + self.thickness, self.crown
        return self.shoulder, self.crown + self.thickness

    def joint(self, hollow: bool) -> Point:
        """Return (distance from the centre line, height) where shoulder and crown meet on one skin, mm."""
        rho, _ = self.radii(hollow)
        return self.width / 2 - rho * math.sin(self.turn_rad), rho * (1.0 - math.cos(self.turn_rad))

    def stations(self, hollow: bool, step_rad: float = math.radians(10)) -> Array:
        """Return half of one skin's profile as points, from the tangent point to the crown.

        Parameters
        ----------
        hollow : bool
            Which skin.
        step_rad : float
            Largest turn between points, radians.

        Returns
        -------
        array, shape (n, 2)
            Distance from the centre line and height above that skin's flat face,
            mm; the same n for both skins, row i of both on one normal.
        """
        n = max(2, math.ceil(self.turn_rad / step_rad))
        a = np.linspace(0.0, self.turn_rad, n + 1)
        rho, crown = self.radii(hollow)
        s, c = np.sin(a), np.cos(a)
        up = np.column_stack((self.width / 2 - rho * s, rho * (1 - c)))
        over = np.column_stack((crown * s, self.depth - crown * (1 - c)))[::-1]
        over[-1, 0] = 0.0
        return np.concatenate((up, over[1:]))

    def volume(self, path: Sequence[Edge]) -> float:
        """Return the metal between the footprint's edges in mm³, run-out ends included (theorems of Pappus)."""
        # Along the path the section is symmetric about the centre line, so its centroid stays on it.
        along = self.section_area * math.fsum(e.length for e in path)
        a, half, total = self.turn_rad, self.width / 2, 0.0
        for sign, (r0, r1), centre in (
            (-1.0, (self.shoulder, self.shoulder + self.thickness), half),
            (1.0, (self.crown, self.crown + self.thickness), 0.0),
        ):
            area = a * (r1**2 - r0**2) / 2
            total += centre * area + sign * (r1**3 - r0**3) / 3 * (1.0 - math.cos(a))
        # Half the profile turns by half a turn at either end.
        return along + math.tau * total


def _fillet(before: Edge, after: Edge, angle: float, radius: float, where: str) -> tuple[Edge, Edge, Edge]:
    """Round the corner between two lines that turns by `angle` radians; returns them shortened with the arc between."""
    if abs(abs(angle) - math.pi) < 1e-3:
        raise BadValue(where, "a path that turns back on itself", "corners well below 180 degrees")
    need = radius * math.tan(abs(angle) / 2)
    if need > min(before.length, after.length) * (1 + 1e-9):
        valid = f"pieces longer than {need:.4g} mm on both sides of the corner, or a smaller radius"
        raise OutOfRange(where, f"radius {radius:g} mm", valid)
    first, last = before.part(0.0, max(1 - need / before.length, 0.0)), after.part(min(need / after.length, 1.0), 1.0)
    return first, Edge(first.end, last.start, math.tan(angle / 4)), last


def bead_path(points: Sequence[Point], radius: float, field: str = "bead path") -> tuple[Edge, ...]:
    """Return a bead's centre line through points, tangent-continuous, with corners rounded.

    Parameters
    ----------
    points : sequence of (float, float)
        Corner points, mm.
    radius : float
        Radius given to corners and the smallest the rolls can follow, mm, greater than 0.
    field : str
        How messages name the path.

    Returns
    -------
    tuple of Edge
        From run-out to run-out.

    Raises
    ------
    BadValue
        Too few, repeated or non-finite points, a path that turns back.
    OutOfRange
        A piece too short for the radius.
    """
    if not (math.isfinite(radius) and radius > 0):
        raise BadValue(f"{field} radius", radius, "a length in mm greater than 0")
    if len(points) < 2:
        raise BadValue(field, points, "at least two points (x, y)")
    path: list[Edge] = []
    line = Edge(points[0], points[1])  # the last one, as it was before a corner shortened it
    for i, (p, q) in enumerate(pairwise(points), start=1):
        if not all(map(math.isfinite, (*p, *q))):
            raise BadValue(f"{field} piece {i}", (p, q), "finite numbers")
        if math.dist(p, q) <= SHORTEST_EDGE:
            raise BadValue(f"{field} piece {i}", p, f"points further apart than {SHORTEST_EDGE:g} mm")
        e = Edge(path[-1].end if path else p, q)
        if not path:
            path.append(e)
        elif abs(angle := turn(line, e)) > RUNS_ON:
            path[-1:] = _fillet(path[-1], e, angle, radius, f"{field} corner {i - 1}")
        else:
            (x, y), (dx, dy) = e.start, line.direction()
            e = Edge(e.start, (x + dx * e.length, y + dy * e.length))
            path.append(e)
        line = e
    # A fillet may use up a straight piece to its last micron.
    kept = [e for e in path if e.chord > SAME_POINT]
    return tuple(kept[:1] + [replace(e, start=p.end) for p, e in pairwise(kept)])


def parallel(e: Edge, shift: float) -> Edge:
    """Return the edge at distance `shift` to the left, ends square to its own ends.

    Raises
    ------
    OutOfRange
        When an arc is tighter than the shift to its inside.
    """
    if not e.is_line and e.radius - math.copysign(shift, e.bulge * shift) < SHORTEST_EDGE:
        raise OutOfRange("bead path radius", round(e.radius, 6), f"more than half the bead's width, {abs(shift):g} mm")
    (ax, ay), (bx, by) = e.direction(0.0), e.direction(1.0)
    return Edge(
        (e.start[0] - ay * shift, e.start[1] + ax * shift), (e.end[0] - by * shift, e.end[1] + bx * shift), e.bulge
    )


def footprint(path: Sequence[Edge], width: float) -> Loop:
    """Return the outline of all metal that a bead takes out of the flat.

    Parameters
    ----------
    path : sequence of Edge
        Tangent-continuous centre line, see `bead_path`.
    width : float
        Bead width, mm.

    Returns
    -------
    Loop
        Anticlockwise, first along the right side of the path, then round its
        far end, back on the left and round its start; ends are half circles.

    Raises
    ------
    OutOfRange
        When an arc is tighter than half the width, or the bead runs into itself.
    """
    right = [parallel(e, -width / 2) for e in path]
    left = [parallel(e, width / 2).reversed() for e in reversed(path)]
    right[1:] = [replace(e, start=before.end) for before, e in pairwise(right)]
    left[1:] = [replace(e, start=before.end) for before, e in pairwise(left)]
    loop = Loop((*right, Edge(right[-1].end, left[0].start, 1.0), *left, Edge(left[-1].end, right[0].start, 1.0)))
    if len(path) > 1:
        from shapely.geometry import Polygon  # the preview needs no shapely, so only a shaped bead loads it

        if loop.area <= 0 or not Polygon(loop.chords()).is_valid:
            raise OutOfRange("bead path", f"width {width:g} mm", "a path that keeps more than one width from itself")
    return loop
