"""Profiles: how the skins of formed metal run, as lines and arcs; each view draws them in its own way.

Both skins are parallel curves, the sheet's thickness apart; thinning is not modelled in the shape.
"""

from __future__ import annotations

import math
from typing import TypeAlias

from tinbook.part.forms.beadshape import BeadProfile, parallel
from tinbook.plane.loops import Edge, Loop, Point, ring
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True)
class Swept:
    """A crown between two shoulders along a path of lines and arcs, turned about the path's ends.

    Parameters
    ----------
    path : tuple of Edge
        Centre line, tangent-continuous.
    section : BeadProfile
        Across the path.
    up : bool
        Whether it stands out on the up side.
    """

    path: tuple[Edge, ...]
    section: BeadProfile
    up: bool

    @property
    def rise(self) -> tuple[float, float]:
        """How far it stands out below the down face and above the up face, mm."""
        return (0.0, self.section.depth) if self.up else (self.section.depth, 0.0)

    @property
    def area(self) -> float:
        """Area of its footprint, mm²."""
        return math.fsum(e.length for e in self.path) * self.section.width + math.pi * self.section.width**2 / 4

    @property
    def volume(self) -> float:
        """Metal between the edges of its footprint, mm³."""
        return self.section.volume(self.path)


@dataclass(frozen=True, slots=True)
class Turned:
    """A chain of lines and arcs turned about an upright axis, open in the middle.

    Parameters
    ----------
    centre : (float, float)
        Where the axis meets the panel.
    chain : tuple of Edge
        In (distance from the axis, z): from the foot on the up face to the foot on the down face, metal to the left.
        Both feet lie at one radius, where the sheet leaves the plane.
    middle : tuple of Edge
        Mid-line of the sheet, from the foot to the rim, z from 0 to the thickness on the flat.
    thickness : float
        Of the sheet, mm.
    """

    centre: Point
    chain: tuple[Edge, ...]
    middle: tuple[Edge, ...]
    thickness: float

    @property
    def foot(self) -> float:
        """Radius at which the sheet leaves the plane, mm."""
        return self.chain[0].start[0]

    @property
    def bore(self) -> float:
        """Radius of the opening, mm."""
        return min(min(e.start[0], e.end[0]) for e in self.chain)

    @property
    def rise(self) -> tuple[float, float]:
        """How far it stands out below the down face and above the up face, mm."""
        z = [e.at(k / 8)[1] for e in self.chain for k in range(9)]
        return max(0.0, -min(z)), max(0.0, max(z) - self.thickness)

    @property
    def area(self) -> float:
        """Area of its footprint, the opening included, mm²."""
        return math.pi * self.foot**2

    @property
    def volume(self) -> float:
        """Metal within its foot, mm³: that under the chain closed along the foot (theorem of Pappus)."""
        (r0, z0), (r1, z1) = self.chain[-1].end, self.chain[0].start
        return math.tau * math.fsum(_moment(e) for e in (*self.chain, Edge((r0, z0), (r1, z1))))


@dataclass(frozen=True, slots=True)
class Lanced:
    """Half of a swept form, cut through along its centre line: a hood on the left of the slit, open there.

    Parameters
    ----------
    whole : Swept
        What it is half of, along one straight line.
    gap : float
        Width of the slit, mm; it is taken off the sheet that stays flat.
    """

    whole: Swept
    gap: float

    @property
    def reach(self) -> float:
        """From the slit to the foot of the hood, mm."""
        return self.whole.section.width / 2

    @property
    def slit(self) -> Edge:
        """The slit from end to end, the hood on its left."""
        (line,) = self.whole.path
        over = self.reach / line.length
        return Edge(line.at(-over), line.at(1 + over))

    @property
    def footprint(self) -> Loop:
        """Hood and slit, anticlockwise: the slit, a quarter turn, the back of the hood, a quarter turn."""
        (line,), slit = self.whole.path, self.slit
        back, front = parallel(line, self.reach).reversed(), parallel(slit, -self.gap)
        points = (front.start, front.end, slit.end, back.start, back.end, slit.start)
        quarter = math.tan(math.pi / 8)
        return ring(points, (0.0, 0.0, quarter, 0.0, quarter, 0.0))

    @property
    def rise(self) -> tuple[float, float]:
        """How far it stands out below the down face and above the up face, mm."""
        return self.whole.rise

    @property
    def area(self) -> float:
        """Area of its footprint, mm²."""
        return self.whole.area / 2 + self.slit.length * self.gap

    @property
    def volume(self) -> float:
        """Metal between the edges of its footprint, mm³."""
        return self.whole.volume / 2


def _moment(e: Edge) -> float:
    """Return the integral of r²/2 dz along an edge, mm³: summed round a region, its area times its centroid's radius."""
    (r0, z0), (r1, z1) = e.start, e.end
    if e.is_line:
        return (z1 - z0) * (r0 * r0 + r0 * r1 + r1 * r1) / 6.0
    (cr, cz), rho = e.centre, e.radius
    a = math.atan2(z0 - cz, r0 - cr)
    b = a + e.sweep
    # r = cr + rho cos u, dz = rho cos u du
    first = math.sin(b) - math.sin(a)
    second = (b - a) / 2 + (math.sin(2 * b) - math.sin(2 * a)) / 4
    third = first - (math.sin(b) ** 3 - math.sin(a) ** 3) / 3
    return rho * (cr * cr * first + 2 * cr * rho * second + rho * rho * third) / 2


Profile: TypeAlias = Swept | Turned | Lanced
