"""Bend strips of the solid: two round skins, side walls, and holes that run through the bend."""

from __future__ import annotations

import math

import numpy as np

from tinbook.errors import CannotMake
from tinbook.making.folded import BendZone
from tinbook.making.solid import kernel
from tinbook.making.solid.shell import SheetCorner, SheetSide, SolidShell, sheet_corner, skins, straight_side, wall
from tinbook.plane.loops import Array, Edge, Loop
from tinbook.space import Vec, negative
from tinbook.tolerances import SAME_POINT

MEETS = 20 * SAME_POINT
"""mm: how far a strip's end may lie from its panel's before they are held not to meet."""

STEP = 0.2
"""rad: turn of hole and bend between points of a spline; degree 7 then follows to about 1e-10 of the radius."""


class _Bend:
    """Maps a strip's (x, v) on either face to space, and to the parameters of the two cylinders."""

    def __init__(self, strip: BendZone, t: float) -> None:
        frame, r, up = strip.frame, strip.radius, strip.direction == "up"
        self.strip, self.frame, self.t = strip, frame, t
        self.turn = math.radians(strip.angle)
        self.rate = self.turn / strip.allowance
        # The angle is counted from the parent, in the sense in which the sheet turns.
        self.axis_z = t + r if up else -r
        self.x_sense = 1.0 if up else -1.0
        self.zero = negative(frame.z) if up else frame.z
        self.axis = frame.x if up else negative(frame.x)
        self.radius_low, self.radius_high = (r + t, r) if up else (r, r + t)
        centre = frame(0.0, 0.0, self.axis_z)
        self.low = kernel.cylinder(centre, self.axis, self.zero, self.radius_low)
        self.high = kernel.cylinder(centre, self.axis, self.zero, self.radius_high)

    def points(self, xv: Array, radius: float) -> Array:
        """Return points in space for (x, v) rows at a radius from the axis, shape (n, 3)."""
        f, a = self.frame, self.rate * xv[:, 1:]
        centre = np.array(f(0.0, 0.0, self.axis_z)) + xv[:, :1] * np.array(f.x)
        out: Array = centre + radius * (np.cos(a) * np.array(self.zero) + np.sin(a) * np.array(f.y))
        return out

    def sheet_corner(self, p: tuple[float, float]) -> SheetCorner:
        """Return a new corner at (x, v)."""
        xv = np.array([p])
        low, high = self.points(xv, self.radius_low)[0], self.points(xv, self.radius_high)[0]
        return sheet_corner(tuple(low.tolist()), tuple(high.tolist()))

    def put_along(self, side: SheetSide, angle: float, forward: bool) -> None:
        """Give a side that runs along the fold its straight lines on both cylinders."""
        first, last = (side.a, side.b) if forward else (side.b, side.a)
        start = self.frame.local(first.p_low)[0]
        sense = math.copysign(1.0, self.frame.local(last.p_low)[0] - start) * self.x_sense
        for edge, surface in ((side.low, self.low), (side.high, self.high)):
            kernel.put_line(edge, surface, (angle, self.x_sense * start), (0.0, sense))


def _shared(shell: SolidShell, strip: BendZone, panel: str, ends: tuple[Vec, Vec]) -> SheetSide:
    """Return the panel's own side between two points of a tangent line, run the other way."""
    best, found = MEETS, None
    for side in shell.seams.get((panel, strip.name), ()):
        gap = max(math.dist(side.b.p_low, ends[0]), math.dist(side.a.p_low, ends[1]))
        if gap <= best and not side.taken:
            best, found = gap, side
    if found is None:
        raise CannotMake(f"fold {strip.name!r}: its bend strip does not meet panel {panel!r} edge for edge")
    found.taken = True
    return SheetSide(found.name, found.b, found.a, found.low.Reversed(), found.high.Reversed())


def _free_side(bend: _Bend, e: Edge, a: SheetCorner, b: SheetCorner) -> tuple[SheetSide, kernel.Shape]:
    """Return a side that is not on a tangent line, with its wall."""
    f, t = bend.frame, bend.t
    (x0, v0), (x1, v1) = e.start, e.end
    if e.is_line and abs(v1 - v0) <= SAME_POINT:
        side = straight_side("", a, b)
        bend.put_along(side, bend.rate * v0, forward=True)
        x = f.x if x1 > x0 else negative(f.x)
        up = bend.strip.ruling(v0, t).z
        surface = kernel.plane(a.p_low, tuple(np.cross(x, up).tolist()), x)
        return side, wall(side, surface)
    if e.is_line and abs(x1 - x0) <= SAME_POINT:
        rises = v1 > v0
        p, q = (a, b) if rises else (b, a)
        first, last = sorted((bend.rate * v0, bend.rate * v1))
        centre = f((x0 + x1) / 2, 0.0, bend.axis_z)
        low = kernel.arc(p.low, q.low, centre, bend.axis, bend.zero, bend.radius_low, first, last)
        high = kernel.arc(p.high, q.high, centre, bend.axis, bend.zero, bend.radius_high, first, last)
        for edge, cylinder in ((low, bend.low), (high, bend.high)):
            kernel.put_line(edge, cylinder, (0.0, bend.x_sense * (x0 + x1) / 2), (1.0, 0.0))
        side = SheetSide("", a, b, low, high) if rises else SheetSide("", a, b, low.Reversed(), high.Reversed())
        surface = kernel.plane(a.p_low, f.x if rises else negative(f.x), f.z)
        return side, wall(side, surface)
    n = 9 + math.ceil((abs(e.sweep) + bend.rate * (abs(v1 - v0) + e.chord * abs(e.bulge))) / STEP)
    xv = np.array([e.at(s) for s in np.linspace(0.0, 1.0, n)])
    low_points, high_points = bend.points(xv, bend.radius_low), bend.points(xv, bend.radius_high)
    side = SheetSide("", a, b, kernel.spline(a.low, b.low, low_points), kernel.spline(a.high, b.high, high_points))
    uv = np.column_stack((bend.rate * xv[:, 1], bend.x_sense * xv[:, 0]))
    kernel.put_sampled(side.low, bend.low, uv)
    kernel.put_sampled(side.high, bend.high, uv)
    surface = kernel.ruled(low_points, high_points, t)
    kernel.put_line(side.low, surface, (0.0, 0.0), (0.0, 1.0))
    kernel.put_line(side.high, surface, (t, 0.0), (0.0, 1.0))
    kernel.put_line(a.up, surface, (0.0, 0.0), (1.0, 0.0))
    kernel.put_line(b.up, surface, (0.0, 1.0), (1.0, 0.0))
    return side, wall(side, surface, outward=False)


def _ends(bend: _Bend, e: Edge) -> tuple[Vec, Vec]:
    low = bend.points(np.array([e.start, e.end]), bend.radius_low).tolist()
    return tuple(low[0]), tuple(low[1])


def _region(shell: SolidShell, bend: _Bend, strip: BendZone, loop: Loop, hole: bool) -> list[SheetSide]:
    """Make sides and walls of one loop of a strip; tangent lines are shared with the panels."""
    n = len(loop)
    shared: list[SheetSide | None] = [None] * n
    corners: list[SheetCorner | None] = [None] * n
    for i, e in enumerate(loop.edges):
        if hole or e.name not in ("parent", "child"):
            continue
        side = _shared(shell, strip, strip.parent if e.name == "parent" else strip.child, _ends(bend, e))
        bend.put_along(side, 0.0 if e.name == "parent" else bend.turn, forward=False)
        shared[i] = side
        for k, c in ((i, side.a), ((i + 1) % n, side.b)):
            if corners[k] is not None and corners[k] is not c:
                raise CannotMake(f"fold {strip.name!r}: two edges of its bend strip meet without sharing a corner")
            corners[k] = c
    full = [c if c is not None else bend.sheet_corner(e.start) for c, e in zip(corners, loop.edges, strict=True)]
    sides = []
    for i, e in enumerate(loop.edges):
        side_or_none = shared[i]
        if side_or_none is None:
            side_or_none, under = _free_side(bend, e, full[i], full[(i + 1) % n])
            shell.faces.append(under)
        sides.append(side_or_none)
    return sides


def strip_faces(shell: SolidShell, strip: BendZone) -> None:
    """Add the faces of a bend strip to a shell that already holds its two panels."""
    if not strip.radius > SAME_POINT:
        raise CannotMake(f"fold {strip.name!r}: an inside radius of {strip.radius:g} mm leaves no round skin")
    bend = _Bend(strip, shell.thickness)
    up = strip.direction == "up"
    placed = 0
    for region in strip.regions:
        inside = strip.holes_in(region)
        placed += len(inside)
        loops = [region, *(h.loop.anticlockwise().reversed() for h in inside)]
        made = [_region(shell, bend, strip, loop, hole=i > 0) for i, loop in enumerate(loops)]
        skins(shell, bend.low, bend.high, made, (up, not up))
    if placed != len(strip.holes):
        raise CannotMake(f"fold {strip.name!r}: a hole lies outside what is left of its bend strip")
