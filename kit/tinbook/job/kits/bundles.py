"""How equal parts lie in each other: the step from one to the next, and the box of a bundle of them."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from tinbook.making.made import Made
from tinbook.plane.loops import Array
from tinbook.space import Vec
from tinbook.values import dataclass

BETWEEN: Final = 1.0
"""mm of paper between two parts that lie in each other (own proposal)."""
CELLS: Final = 120
"""Cells along each side of a part's outline, seen along the step (own proposal)."""

_WAYS: Final = ((0, 0, 1), (1, 0, 1), (-1, 0, 1), (0, 1, 1), (0, -1, 1), (1, 0, 0), (0, 1, 0))
"""Tried as the step: off the base panel, aslant to both sides, and beside each other."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solid:
    """A folded part as a thing to be packed.

    Parameters
    ----------
    points, triangles : array
        Its metal, shape (n, 3) in mm and (m, 3); z is the normal of its base panel, x and y lie along the sides of the
        smallest rectangle round it.
    """

    points: Array
    triangles: Array

    @property
    def box(self) -> Vec:
        """Its size over all, mm."""
        x, y, z = (self.points.max(axis=0) - self.points.min(axis=0)).tolist()
        return x, y, z


@dataclass(frozen=True, slots=True, kw_only=True)
class Nesting:
    """How one part lies on the next.

    Parameters
    ----------
    step : (float, float, float)
        From a part to the next, mm: moved on by this or by more along it, no two have metal in common.
    single : (float, float, float)
        Box of one part, mm.
    """

    step: Vec
    single: Vec

    def box(self, count: int) -> Vec:
        """Return the box of a bundle of a number of parts, mm."""
        x, y, z = (s + (count - 1) * abs(d) for s, d in zip(self.single, self.step, strict=True))
        return x, y, z


def solid_of(made: Made) -> Solid:
    """Return the folded part turned about the normal of its base so that the rectangle round it is smallest."""
    points = np.asarray(made.preview.positions, float).reshape(-1, 3)
    around = shapely.MultiPoint(points[:, :2]).minimum_rotated_rectangle
    ring = around.exterior.coords if around.geom_type == "Polygon" else points[:, :2]
    a, b = np.array(ring[0]), np.array(ring[1])
    side = (b - a) / max(float(np.linalg.norm(b - a)), 1e-9)
    turn = np.array(((side[0], side[1], 0.0), (-side[1], side[0], 0.0), (0.0, 0.0, 1.0)))
    return Solid(points=points @ turn.T, triangles=np.asarray(made.preview.triangles, int).reshape(-1, 3))


def nesting(solid: Solid, count: int) -> Nesting:
    """Return the step by which a number of equal parts take the least room.

    Moved along a direction by more than the longest line in that direction from metal to metal of the same part, two
    parts cannot meet. That line is looked for on a grid whose cells take in their neighbours, so the step is never too
    small; it is up to three cells' slope too large.

    Parameters
    ----------
    solid : Solid
        One part.
    count : int
        How many lie in each other.
    """
    single = solid.box
    if count < 2:
        return Nesting(step=(0.0, 0.0, 0.0), single=single)
    found = [Nesting(step=_step(solid, np.array(d, float)), single=single) for d in _WAYS]
    return min(found, key=lambda n: (round(_surface(n.box(count)), 3), n.step))


def _surface(box: Vec) -> float:
    x, y, z = box
    return x * y + y * z + z * x


def _step(solid: Solid, way: Array) -> Vec:
    way = way / np.linalg.norm(way)
    across = np.linalg.svd(way.reshape(1, 3))[2][1:]
    seen, depth = solid.points @ across.T, solid.points @ way
    # Cells of each direction's own size: a long narrow part is as finely looked at across as along.
    seen = (seen - seen.min(axis=0)) / np.maximum(np.ptp(seen, axis=0), 1e-9)
    samples = _spread(seen, depth, solid.triangles, 1 / CELLS)
    at = np.floor(samples[:, :2] * CELLS).astype(int) + 1
    shape = tuple(at.max(axis=0) + 2)
    high, low = np.full(shape, -np.inf), np.full(shape, np.inf)
    np.maximum.at(high, (at[:, 0], at[:, 1]), samples[:, 2])
    np.minimum.at(low, (at[:, 0], at[:, 1]), samples[:, 2])
    from scipy.ndimage import maximum_filter, minimum_filter

    longest = float((maximum_filter(high, 3) - minimum_filter(low, 3))[np.isfinite(high)].max())
    x, y, z = (way * (longest + BETWEEN)).tolist()
    return x, y, z


def _spread(seen: Array, depth: Array, triangles: Array, cell: float) -> Array:
    """Return points of the triangles no further apart than a cell, seen along the step: (across, across, depth)."""
    points = np.column_stack((seen, depth))
    corners = points[triangles]
    sides = np.linalg.norm(corners[:, (1, 2, 0), :2] - corners[:, :, :2], axis=2)
    # From the corner that faces the shortest side, which is cut into the fewest pieces.
    first = (np.argmin(sides, axis=1) + 2) % 3
    a, b, c = (corners[np.arange(len(corners)), (first + k) % 3] for k in range(3))
    along = np.maximum(1, np.ceil(sides.max(axis=1) / (0.7 * cell))).astype(int)
    over = np.maximum(1, np.ceil(sides.min(axis=1) / (0.7 * cell))).astype(int)
    out = [points]
    for n, m in np.unique(np.column_stack((along, over)), axis=0).tolist():
        own = (along == n) & (over == m)
        u, v = (g.reshape(-1, 1, 1) for g in np.meshgrid(np.linspace(0, 1, n + 1), np.linspace(0, 1, m + 1)))
        out.append(((1 - u) * a[own] + u * ((1 - v) * b[own] + v * c[own])).reshape(-1, 3))
    return np.concatenate(out)
