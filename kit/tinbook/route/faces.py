"""Where plane faces of two bodies lie on each other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely

from tinbook.plane.loops import Array
from tinbook.route.ways import Solid, view_along
from tinbook.space import Vec

APART: Final = 0.3
"""mm: faces this near to each other are taken to lie on each other: a weld's gap and the kernel's chords."""
SMALLEST: Final = 10.0
"""mm²: smaller patches are edges that graze."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """Where two plane faces lie on each other.

    Parameters
    ----------
    area : float
        mm².
    normal : (float, float, float)
        Out of the first body.
    region : shapely geometry
        In the plane, x and y as `view_along(normal)` has them.
    height : float
        Of the plane along the normal, mm.
    """

    area: float
    normal: Vec
    region: Any
    height: float

    def wider_than(self, width: float) -> bool:
        """Whether some place of it is wider than so much, mm."""
        return not self.region.buffer(-width / 2).is_empty


def patches(a: Solid, b: Solid) -> tuple[Patch, ...]:
    """Return where plane faces of two bodies lie on each other, in the order of their planes."""
    low = np.maximum(a.box.min(axis=0), b.box.min(axis=0)) - APART
    high = np.minimum(a.box.max(axis=0), b.box.max(axis=0)) + APART
    if (high < low).any():
        return ()
    ours, theirs = list(_planes(a, low, high)), list(_planes(b, low, high))
    found = []
    for normal, height, mine in ours:
        facing = [c for n, h, c in theirs if n @ normal < -0.9999 and -0.05 <= -h - height <= APART]
        if not facing:
            continue
        d: Vec = (float(normal[0]), float(normal[1]), float(normal[2]))
        view = view_along(d)
        shared = _region(mine, view).intersection(_region(np.concatenate(facing), view))
        if shared.area > SMALLEST:
            found.append(Patch(area=float(shared.area), normal=d, region=shared, height=float(height)))
    return tuple(found)


def _planes(s: Solid, low: Array, high: Array) -> Iterator[tuple[Array, float, Array]]:
    """Yield the body's planes within a box: normal, height along it, corners of its triangles."""
    near = (s.corners.max(axis=1) >= low).all(axis=1) & (s.corners.min(axis=1) <= high).all(axis=1)
    corners, normals = s.corners[near], s.normals[near]
    size = np.linalg.norm(normals, axis=1)
    corners, normals, size = corners[size > 1e-9], normals[size > 1e-9], size[size > 1e-9]
    if not len(corners):
        return
    ways = normals / size[:, None]
    heights = np.einsum("ij,ij->i", ways, corners[:, 0])
    keys = np.column_stack((np.round(ways, 4), np.round(heights, 2))) + 0.0
    _, first, where = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    where = where.reshape(-1)
    area = np.bincount(where, weights=size / 2)
    for k in np.flatnonzero(area > SMALLEST):
        yield ways[first[k]], float(heights[first[k]]), corners[where == k]


def _region(corners: Array, view: Array) -> Any:
    if not len(corners):
        return shapely.Polygon()
    flat = corners @ view.T
    return shapely.unary_union(shapely.polygons(flat[:, :, :2]))


def region_at(s: Solid, normal: Vec, height: float, view: Array | None = None) -> Any:
    """Return the body's faces in a plane whose normal points out of it; in the axes of `view`, else of the normal's own."""
    d = np.array(normal)
    size = np.linalg.norm(s.normals, axis=1)
    flat = (s.normals @ d > 0.9999 * size) & (np.abs(s.corners[:, 0] @ d - height) < APART)
    return _region(s.corners[flat], view_along(normal) if view is None else view)
