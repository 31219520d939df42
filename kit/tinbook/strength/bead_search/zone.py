"""Where beads of one pair of rolls may lie in a panel: the making rules turned into stretches of parallel lines."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from tinbook.making.made import Made
from tinbook.part.forms.bead import PITCH, edge_gap, fold_gap, hole_gap
from tinbook.plane.loops import Point
from tinbook.rules.near import folds_of, free_edges, holes_of, line
from tinbook.shop.beading import BeadRoll
from tinbook.values import dataclass

SLACK = 0.1
"""mm beyond the rules' distances, since chords replace some arcs."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Zone:
    """Where centre lines of beads may run in one direction, in coordinates u along it and v to its left, mm.

    Parameters
    ----------
    roll : BeadRoll
    direction : float
        Of u from the panel's x, degrees.
    allowed : shapely geometry
        Where a centre line may lie, in u and v.
    u, v : (float, float)
        Reach of the whole panel.
    """

    roll: BeadRoll
    direction: float
    allowed: Any
    u: tuple[float, float]
    v: tuple[float, float]

    @property
    def pitch(self) -> float:
        """Least distance between centre lines, mm."""
        return PITCH * self.roll.width

    @property
    def shortest(self) -> float:
        """Shortest bead worth rolling: four widths, of which the run-outs are one (own proposal), mm."""
        return 4 * self.roll.width

    @property
    def middle(self) -> float:
        """Middle of the panel across the beads."""
        return (self.v[0] + self.v[1]) / 2

    def stretch(self, v: float) -> tuple[int, int] | None:
        """Return the ends of the longest bead that may lie at v, whole mm, or None."""
        cut = shapely.intersection(self.allowed, shapely.LineString([(self.u[0] - 1, v), (self.u[1] + 1, v)]))
        best: tuple[int, int] | None = None
        for piece in shapely.get_parts(cut):
            us = shapely.get_coordinates(piece)[:, 0]
            if len(us) < 2:
                continue
            a, b = math.ceil(us.min() - 1e-9), math.floor(us.max() + 1e-9)
            if b - a >= self.shortest and (best is None or b - a > best[1] - best[0]):
                best = (a, b)
        return best

    def reach(self) -> tuple[int, int] | None:
        """Return the outermost v at which a bead may lie, whole mm, or None where none can."""
        if self.allowed.is_empty:
            return None
        _, low, _, high = self.allowed.bounds
        fits = [v for v in range(math.ceil(low), math.floor(high) + 1) if self.stretch(v)]
        return (fits[0], fits[-1]) if fits else None


def turned(direction: float) -> tuple[float, float]:
    """Return cosine and sine of degrees, exact for quarter turns."""
    quarter, rest = divmod(direction, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    return math.cos(math.radians(direction)), math.sin(math.radians(direction))


def placed(direction: float, u: float, v: float) -> Point:
    """Return the place in the panel's frame that lies at (u, v) in a direction, mm."""
    c, s = turned(direction)
    return round(c * u - s * v, 6), round(s * u + c * v, 6)


def zone(made: Made, panel: str, roll: BeadRoll, direction: float, keep_off: Sequence[Any] = ()) -> Zone:
    """Return where beads may lie.

    Parameters
    ----------
    made : Made
        The part as drawn (not its other hand), without the beads that are looked for.
    panel : str
    roll : BeadRoll
    direction : float
        Degrees from the panel's x.
    keep_off : sequence of shapely geometry
        Places in the panel's frame that no metal of a bead may touch.
    """
    p, t, half = made.panel(panel), made.thickness, roll.width / 2 + SLACK
    radius = {z.name: z.radius for z in made.folded.zones}
    off = [shapely.buffer(line(free_edges(p)), edge_gap(t) + half)]
    off += [shapely.buffer(line(edges), fold_gap(t) + radius[fold] + half) for fold, edges in folds_of(p).items()]
    rim = hole_gap(t, roll.shoulder) + half
    cut = [e for e in p.boundary.edges if e.name.startswith("hole:")]
    if cut:
        off.append(shapely.buffer(line(cut), rim))
    if p.holes:
        shapes, radii = holes_of(p)
        off += [shapely.buffer(s, r + rim) for s, r in zip(shapes, radii, strict=True)]
    off += [shapely.buffer(k, half) for k in keep_off]
    sheet = shapely.Polygon(p.boundary.chords(0.02))
    c, s = turned(direction)

    def aligned(xy: Any) -> Any:
        return np.stack((c * xy[:, 0] + s * xy[:, 1], c * xy[:, 1] - s * xy[:, 0]), axis=1)

    whole = shapely.transform(sheet, aligned)
    u0, v0, u1, v1 = whole.bounds
    allowed = shapely.transform(shapely.difference(sheet, shapely.union_all(off)), aligned)
    return Zone(roll=roll, direction=direction, allowed=allowed, u=(u0, u1), v=(v0, v1))
