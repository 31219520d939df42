"""How far a body can be drawn along a line before it meets another.

A body moved along d meets another exactly where a face of it that looks along d lies before a face of the other that
looks back, seen along d; so triangles are compared in that view and no step is missed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import shapely

from tinbook.plane.loops import Array
from tinbook.space import Vec, cross, dot, plus, unit, vec
from tinbook.values import dataclass

GRAZE: Final = 0.02
"""mm²: triangles that overlap by less along the view are held to slide past each other."""

DEEP: Final = 0.02
"""mm: a face that looks back and lies less than this behind one that looks ahead touches it, and so bars its way."""

CHUNK: Final = 256
"""Pairs of triangles that are looked at together."""

_CORNERS: Final = tuple((i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solid:
    """A body's triangles, with what is asked of them again and again.

    Parameters
    ----------
    corners : ndarray, shape (m, 3, 3)
        Of each triangle, mm.
    normals : ndarray, shape (m, 3)
        Outward, twice the area long.
    box : ndarray, shape (8, 3)
        Corners of the bounding box.
    """

    corners: Array
    normals: Array
    box: Array

    @classmethod
    def of(cls, meshes: Iterable[tuple[Array, npt.NDArray[np.int64]]]) -> Solid:
        """Return one body of several meshes: positions (n, 3) in mm and triangles (m, 3)."""
        parts = list(meshes)
        c = np.concatenate([p[t] for p, t in parts])
        points = np.concatenate([p for p, _ in parts])
        n = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
        low, high = points.min(axis=0), points.max(axis=0)
        box = np.array([[(low, high)[i][0], (low, high)[j][1], (low, high)[k][2]] for i, j, k in _CORNERS])
        return cls(corners=c, normals=n, box=box)

    @property
    def middle(self) -> Array:
        """Middle of the bounding box, mm."""
        middle: Array = (self.box[0] + self.box[-1]) / 2
        return middle

    @property
    def size(self) -> float:
        """Diagonal of the bounding box, mm."""
        return float(np.linalg.norm(self.box[-1] - self.box[0]))

    def reach(self, d: Vec) -> tuple[float, float]:
        """Return from where to where the body reaches along a direction, mm."""
        v = self.corners.reshape(-1, 3) @ np.array(d)
        return float(v.min()), float(v.max())


def view_along(d: Vec) -> Array:
    """Return three rows: two directions square to d, and d."""
    other = (1.0, 0.0, 0.0) if abs(d[0]) < 0.7 else (0.0, 1.0, 0.0)
    x = unit(plus(other, d, -dot(d, other)))
    return np.array((x, cross(x, unit(d)), d))


def room(me: Solid, other: Solid, d: Vec, *, far: bool = True) -> float:
    """Return how far `me` can be moved along d before it meets `other`, mm; infinite where it never does.

    Without `far` only whether it is infinite is right: the first thing that is met ends the search.
    """
    view = view_along(d)
    mine, theirs = me.box @ view.T, other.box @ view.T
    low, high = np.maximum(mine.min(axis=0), theirs.min(axis=0)), np.minimum(mine.max(axis=0), theirs.max(axis=0))
    if (high[:2] <= low[:2]).any() or theirs[:, 2].max() < mine[:, 2].min() - DEEP:
        return math.inf
    ahead = _within(me.corners[me.normals @ view[2] > 1e-6] @ view.T, low, high)
    faced = _within(other.corners[other.normals @ view[2] < -1e-6] @ view.T, low, high)
    if not len(ahead) or not len(faced):
        return math.inf
    # What lies wholly behind the hindmost face that looks ahead is never met.
    faced = faced[faced[:, :, 2].max(axis=1) > ahead[:, :, 2].min() - DEEP]
    if not len(faced):
        return math.inf
    flat_a, flat_b = shapely.polygons(ahead[:, :, :2]), shapely.polygons(faced[:, :, :2])
    i, j = shapely.STRtree(flat_b).query(flat_a, predicate="intersects")
    if not len(i):
        return math.inf
    least = math.inf
    for k in range(0, len(i), CHUNK):
        a, b = i[k : k + CHUNK], j[k : k + CHUNK]
        least = min(least, _least(ahead[a], faced[b], shapely.intersection(flat_a[a], flat_b[b])))
        if not far and not math.isinf(least):
            break
    return least


def _least(ahead: Array, faced: Array, shared: npt.NDArray[np.object_]) -> float:
    """Return the least way between pairs of triangles that share these regions of the view, mm."""
    real = shapely.area(shared) > GRAZE
    if not real.any():
        return math.inf
    points, pair = shapely.get_coordinates(shared[real], return_index=True)
    apart = _heights(faced[real], points, pair) - _heights(ahead[real], points, pair)
    most, least = np.full(int(real.sum()), -math.inf), np.full(int(real.sum()), math.inf)
    np.maximum.at(most, pair, apart)
    np.minimum.at(least, pair, apart)
    met = most > -DEEP
    return max(float(least[met].min()), 0.0) if met.any() else math.inf


def _within(triangles: Array, low: Array, high: Array) -> Array:
    """Return the triangles whose view reaches into a box."""
    a, b = triangles[:, :, :2].min(axis=1), triangles[:, :, :2].max(axis=1)
    inside: Array = triangles[((b >= low[:2]) & (a <= high[:2])).all(axis=1)]
    return inside


def _heights(triangles: Array, xy: Array, which: npt.NDArray[np.intp]) -> Array:
    """Return the height of triangles' planes over points of the view; `which` says whose plane each point is asked of."""
    n = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])[which]
    first = triangles[:, 0][which]
    result: Array = first[:, 2] - ((xy - first[:, :2]) * n[:, :2]).sum(axis=1) / n[:, 2]
    return result


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
        d = vec(normal)
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
