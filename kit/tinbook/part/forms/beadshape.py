"""Shape of a rolled bead: cross-section, centre line and footprint, all of lines and arcs.

A bead is described as its rolls leave it: a crown arc between two shoulder
arcs, each tangent to the next and to the flat sheet. Both skins of the sheet
are parallel curves, so width and depth are the same on either of them and on
the mid-line. Heights are measured from the flat face on the same skin.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from tinbook.errors import BadValue, OutOfRange
from tinbook.plane.loops import Array, Edge, Loop, Point
from tinbook.tolerances import SAME_POINT, SHORTEST_EDGE

RUNS_ON = 1e-4
"""rad: path pieces that meet closer than this were meant to run on; the later one is made to do so exactly."""


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
            value = getattr(self, name)
            if not (isinstance(value, (int, float)) and math.isfinite(value) and value > 0):
                raise BadValue(f"bead {name}", value, "a length in mm greater than 0")
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
    def stretch(self) -> float:
        """Mean membrane strain across the bead if the metal only stretches."""
        return self.arc_length / self.width - 1.0

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


def _corner(before: Edge, after: Edge) -> float:
    """Return the turn from one piece into the next, radians, positive to the left."""
    (ax, ay), (bx, by) = before.direction(1.0), after.direction(0.0)
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _run_on(before: Edge, e: Edge) -> Edge:
    """Return a piece made to leave in the direction in which the one before it ends.

    An arc keeps its end; a line keeps its length and is turned.
    """
    (x, y), (dx, dy) = before.end, before.direction(1.0)
    if e.is_line:
        return Edge(before.end, (x + dx * e.length, y + dy * e.length))
    cx, cy = e.end[0] - x, e.end[1] - y
    # The chord of an arc halves the turn; the bulge is the tangent of half that angle.
    half = math.atan2(dx * cy - dy * cx, dx * cx + dy * cy)
    if half * e.bulge < 0:
        half += math.copysign(math.tau, e.bulge)
    return Edge(before.end, e.end, math.tan(half / 2))


class _Line(NamedTuple):
    p: Point
    d: Point


class _Circle(NamedTuple):
    c: Point
    r: float


def _beside(e: Edge, shift: float) -> _Line | _Circle:
    """Return the endless curve at distance `shift` to the left of an edge."""
    if e.is_line:
        dx, dy = e.direction()
        return _Line((e.start[0] - dy * shift, e.start[1] + dx * shift), (dx, dy))
    return _Circle(e.centre, e.radius - math.copysign(shift, e.bulge * shift))


def _meet(a: _Line | _Circle, b: _Line | _Circle) -> list[Point]:
    """Return where two endless curves meet."""
    if isinstance(a, _Circle) and isinstance(b, _Line):
        a, b = b, a
    if isinstance(a, _Line):
        (px, py), d = a
        if isinstance(b, _Line):
            cross = d[0] * b.d[1] - d[1] * b.d[0]
            if cross == 0.0:
                return []
            s = ((b.p[0] - px) * b.d[1] - (b.p[1] - py) * b.d[0]) / cross
            return [(px + s * d[0], py + s * d[1])]
        ux, uy = b.c[0] - px, b.c[1] - py
        h2 = b.r * b.r - (ux * d[1] - uy * d[0]) ** 2
        if b.r <= 0 or h2 < 0:
            return []
        s = ux * d[0] + uy * d[1]
        return [(px + (s + k) * d[0], py + (s + k) * d[1]) for k in (-math.sqrt(h2), math.sqrt(h2))]
    if isinstance(b, _Line):  # swapped above
        return []
    apart = math.dist(a.c, b.c)
    if min(a.r, b.r) <= 0 or apart == 0 or apart > a.r + b.r or apart < abs(a.r - b.r):
        return []
    s = (a.r * a.r - b.r * b.r + apart * apart) / (2 * apart)
    h = math.sqrt(max(a.r * a.r - s * s, 0.0))
    ux, uy = (b.c[0] - a.c[0]) / apart, (b.c[1] - a.c[1]) / apart
    return [(a.c[0] + s * ux - k * uy, a.c[1] + s * uy + k * ux) for k in (-h, h)]


def _fraction(e: Edge, p: Point) -> float:
    """Return where along an edge (0..1 inside it) the foot of a point lies."""
    if e.is_line:
        dx, dy = e.direction()
        return ((p[0] - e.start[0]) * dx + (p[1] - e.start[1]) * dy) / e.length
    cx, cy = e.centre
    a = math.atan2(p[1] - cy, p[0] - cx) - math.atan2(e.start[1] - cy, e.start[0] - cx)
    return math.remainder(a - e.sweep / 2, math.tau) / e.sweep + 0.5


def _fillet(before: Edge, after: Edge, radius: float, where: str) -> tuple[Edge, Edge, Edge]:
    """Round the corner between two pieces; returns them shortened with the arc between."""
    turn = _corner(before, after)
    if abs(abs(turn) - math.pi) < 1e-3:
        raise BadValue(where, "a path that turns back on itself", "corners well below 180 degrees")
    side = math.copysign(radius, turn)
    corner = before.end
    centres = _meet(_beside(before, side), _beside(after, side))
    found = [
        (math.dist(c, corner), c, _fraction(before, c), _fraction(after, c))
        for c in centres
        if math.dist(c, corner) > 0
    ]
    found = [f for f in found if -1e-9 <= f[2] <= 1.0 + 1e-9 and -1e-9 <= f[3] <= 1.0 + 1e-9]
    if not found:
        valid = "pieces long enough for that radius, or a smaller radius"
        if before.is_line and after.is_line:
            need = radius * math.tan(abs(turn) / 2)
            valid = f"pieces longer than {need:.4g} mm on both sides of the corner, or a smaller radius"
        raise OutOfRange(where, f"radius {radius:g} mm", valid)
    _, centre, s, u = min(found)
    first, last = before.part(0.0, min(s, 1.0)), after.part(max(u, 0.0), 1.0)
    a = math.atan2(first.end[1] - centre[1], first.end[0] - centre[0])
    b = math.atan2(last.start[1] - centre[1], last.start[0] - centre[0])
    sweep = math.remainder(b - a, math.tau)
    if sweep * turn < 0:
        sweep += math.copysign(math.tau, turn)
    return first, Edge(first.end, last.start, math.tan(sweep / 4.0)), last


def bead_path(course: Sequence[Point] | Sequence[Edge], radius: float, field: str = "bead path") -> tuple[Edge, ...]:
    """Return a bead's centre line, tangent-continuous, with corners rounded.

    Parameters
    ----------
    course : sequence of (float, float) or of Edge
        Corner points, or lines and arcs that follow on each other, mm.
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
        Too few, repeated or non-finite points, gaps, a path that turns back.
    OutOfRange
        A piece too short for the radius, or an arc tighter than it.
    """
    if not (math.isfinite(radius) and radius > 0):
        raise BadValue(f"{field} radius", radius, "a length in mm greater than 0")
    edges = [c for c in course if isinstance(c, Edge)]
    if not edges:
        points = [(float(c[0]), float(c[1])) for c in course if not isinstance(c, Edge)]
        if len(points) < 2:
            raise BadValue(field, course, "at least two points (x, y), or at least one edge")
        edges = [Edge(p, q) for p, q in pairwise(points)]
    elif len(edges) != len(course):
        raise BadValue(field, course, "points only, or edges only")
    for i, e in enumerate(edges):
        where = f"{field} piece {i + 1}"
        if not all(math.isfinite(c) for c in (*e.start, *e.end, e.bulge)):
            raise BadValue(where, (e.start, e.end, e.bulge), "finite numbers")
        if e.chord <= SHORTEST_EDGE:
            raise BadValue(where, e.start, f"points further apart than {SHORTEST_EDGE:g} mm")
        if not e.is_line and e.radius < radius * (1 - 1e-9):
            raise OutOfRange(f"{where} radius", round(e.radius, 6), f"at least {radius:g} mm, what these rolls follow")
        if i and math.dist(edges[i - 1].end, e.start) > 2 * SAME_POINT:
            raise BadValue(where, e.start, f"a start where the piece before ends, {edges[i - 1].end}")
    path = [replace(edges[0], name="")]
    for i, e in enumerate(edges[1:], start=2):
        e = replace(e, start=path[-1].end, name="")
        if abs(_corner(path[-1], e)) <= RUNS_ON:
            path.append(_run_on(path[-1], e))
            continue
        path[-1:] = _fillet(path[-1], e, radius, f"{field} corner {i - 1}")
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
        from shapely.geometry import Polygon

        if loop.area <= 0 or not Polygon(loop.chords()).is_valid:
            raise OutOfRange("bead path", f"width {width:g} mm", "a path that keeps more than one width from itself")
    return loop
