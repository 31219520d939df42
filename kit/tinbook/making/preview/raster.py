"""Triangles seen in parallel as pixels and as cells: which is nearest at a pixel, which may lie over a point."""

from __future__ import annotations

from typing import Final

import numpy as np

from tinbook.making.preview.view import Seen, areas
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.values import dataclass

CELLS: Final = 256
"""Cells over the longer side by which triangles are sorted: fewer are quicker to fill and slower to look into."""
CHUNK: Final = 2_000_000
"""Pixels worked out at once."""
FEW: Final = 4
"""Triangles of a cell that are tried at once, at first."""
THIN: Final = 1e-12
"""mm²: a triangle with less area in the picture is seen edge-on and covers nothing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """Square cells over a picture: `low` is its lower left corner, `pitch` their size, mm."""

    low: tuple[float, float]
    pitch: float
    rows: int
    columns: int

    def cell(self, points: Array) -> Index:
        """Return the number of the cell of each point, shape (n, 2 or 3)."""
        i = np.clip(np.floor((points[:, 0] - self.low[0]) / self.pitch), 0, self.columns - 1)
        j = np.clip(np.floor((points[:, 1] - self.low[1]) / self.pitch), 0, self.rows - 1)
        found: Index = (j * self.columns + i).astype(np.int64)
        return found


def grid_over(seen: Seen, cells: int, margin: float = 0.0) -> Grid:
    """Return a grid whose longer side has about `cells` cells."""
    low, high = seen.points[:, :2].min(axis=0) - margin, seen.points[:, :2].max(axis=0) + margin
    pitch = max(float((high - low).max()) / cells, 1e-6)
    columns, rows = (max(1, int(np.ceil((h - a) / pitch))) for a, h in zip(low, high, strict=True))
    return Grid(low=(float(low[0]), float(low[1])), pitch=pitch, rows=rows, columns=columns)


def spread(first: Index, last: Index) -> tuple[Index, Index]:
    """Return the numbers from `first` to `last` (included) of each row, one after the other, and the row of each."""
    count = np.maximum(last - first + 1, 0)
    row = np.repeat(np.arange(len(count)), count)
    begin = np.cumsum(count) - count
    return np.arange(len(row)) - begin[row] + first[row], row


@dataclass(frozen=True, slots=True, eq=False)
class Planes:
    """Depth over the picture of each triangle, z = z0 + gx x + gy y, of those that are not seen edge-on."""

    triangle: Index
    corners: Array
    z0: Array
    gx: Array
    gy: Array

    def depth(self, which: Index, x: Array, y: Array) -> Array:
        """Return the depth of planes at points."""
        found: Array = self.z0[which] + self.gx[which] * x + self.gy[which] * y
        return found


def planes(seen: Seen) -> Planes:
    """Return the planes of all triangles that cover something."""
    area = areas(seen.points, seen.triangles)
    chosen = np.flatnonzero(np.abs(area) > THIN)
    p = seen.points[seen.triangles[chosen]]
    a, u, v = p[:, 0], p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    gx = (u[:, 2] * v[:, 1] - v[:, 2] * u[:, 1]) / area[chosen]
    gy = (v[:, 2] * u[:, 0] - u[:, 2] * v[:, 0]) / area[chosen]
    return Planes(chosen, p, a[:, 2] - gx * a[:, 0] - gy * a[:, 1], gx, gy)


def nearest(seen: Seen, grid: Grid) -> Index:
    """Return the nearest triangle at the middle of each pixel, shape (rows, columns), -1 where there is none."""
    flat = planes(seen)
    # A triangle turned to its edge has a steep plane; its depth must not leave that of its corners.
    lowest, highest = flat.corners[:, :, 2].min(axis=1), flat.corners[:, :, 2].max(axis=1)
    depth = np.full(grid.rows * grid.columns, -np.inf)
    found = np.full(grid.rows * grid.columns, -1)
    height = (flat.corners[:, :, 1] - grid.low[1]) / grid.pitch - 0.5
    row, of = spread(np.ceil(height.min(axis=1)).astype(np.int64), np.floor(height.max(axis=1)).astype(np.int64))
    left, right = _across(flat.corners[of], _middles(row, grid.low[1], grid.pitch))
    first = np.ceil((left - grid.low[0]) / grid.pitch - 0.5)
    last = np.floor((right - grid.low[0]) / grid.pitch - 0.5)
    some = np.isfinite(first) & np.isfinite(last) & (last >= first) & (row >= 0) & (row < grid.rows)
    row, of, first, last = row[some], of[some], first[some].astype(np.int64), last[some].astype(np.int64)
    first, last = np.maximum(first, 0), np.minimum(last, grid.columns - 1)
    stops = np.flatnonzero(np.diff(np.cumsum(last - first + 1) // CHUNK)) + 1
    for part in np.split(np.arange(len(row)), stops):
        column, back = spread(first[part], last[part])
        back = part[back]
        pixel, tri = row[back] * grid.columns + column, of[back]
        x, y = _middles(column, grid.low[0], grid.pitch), _middles(row[back], grid.low[1], grid.pitch)
        z = np.minimum(np.maximum(flat.depth(tri, x, y), lowest[tri]), highest[tri])
        np.maximum.at(depth, pixel, z)
        front = z >= depth[pixel]
        found[pixel[front]] = flat.triangle[tri[front]]
    return found.reshape(grid.rows, grid.columns)


def _middles(number: Index, low: float, pitch: float) -> Array:
    found: Array = np.asarray(low + (number + 0.5) * pitch, np.float64)
    return found


def _across(corners: Array, y: Array) -> tuple[Array, Array]:
    """Return where lines of equal y enter and leave triangles (infinite where they miss)."""
    left, right = np.full(len(y), np.inf), np.full(len(y), -np.inf)
    for a, b in ((0, 1), (1, 2), (2, 0)):
        p, q = corners[:, a], corners[:, b]
        rise = q[:, 1] - p[:, 1]
        within = (np.minimum(p[:, 1], q[:, 1]) <= y) & (y <= np.maximum(p[:, 1], q[:, 1])) & (rise != 0)
        x = p[:, 0] + (q[:, 0] - p[:, 0]) * ((y - p[:, 1]) / np.where(rise == 0, 1.0, rise))
        left, right = np.where(within, np.minimum(left, x), left), np.where(within, np.maximum(right, x), right)
    return left, right


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Triangles listed by the cells that they may reach into, in each cell those with the nearest corner first."""

    grid: Grid
    planes: Planes
    start: Index
    listed: Index

    def over(self, points: Array, above: float) -> Index:
        """Return which points some triangle covers at more than `above` nearer to the eye, as 0 or 1."""
        cell = self.grid.cell(points)
        place, end = self.start[cell], self.start[cell + 1]
        limit, highest = points[:, 2] + above, self.planes.corners[:, :, 2].max(axis=1)
        hidden = np.zeros(len(points), dtype=np.int64)
        # A few triangles at a time: most hidden points are found out by the first, and no later one reaches over a clear point.
        left, size = np.flatnonzero(place < end), FEW
        while len(left := left[highest[self.listed[place[left]]] > limit[left]]):
            one, of = spread(place[left], np.minimum(place[left] + size, end[left]) - 1)
            which, back = self.listed[one], left[of]
            near = self.planes.depth(which, points[back, 0], points[back, 1]) > limit[back]
            which, back = which[near], back[near]
            hidden[back[_inside(self.planes.corners[which], points[back])]] = 1
            place[left] += size
            left = left[(hidden[left] == 0) & (place[left] < end[left])]
            size = min(4 * size, max(FEW, CHUNK // max(len(left), 1)))
        return hidden


def _inside(corners: Array, p: Array) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Return whether points lie in triangles of either turn, their sides included."""
    turns = []
    for a, b in ((0, 1), (1, 2), (2, 0)):
        s, e = corners[:, a], corners[:, b]
        turns.append((e[:, 0] - s[:, 0]) * (p[:, 1] - s[:, 1]) - (e[:, 1] - s[:, 1]) * (p[:, 0] - s[:, 0]))
    t = np.stack(turns)
    tiny = 1e-9 * np.abs(t).max(axis=0)
    return np.asarray((t >= -tiny).all(axis=0) | (t <= tiny).all(axis=0))


def cells(seen: Seen, across: int = CELLS) -> Cells:
    """Return the triangles by cells of the picture."""
    grid, flat = grid_over(seen, across), planes(seen)
    y = (flat.corners[:, :, 1] - grid.low[1]) / grid.pitch
    first = np.clip(np.floor(y.min(axis=1)), 0, grid.rows - 1).astype(np.int64)
    row, of = spread(first, np.clip(np.floor(y.max(axis=1)), 0, grid.rows - 1).astype(np.int64))
    low, high = (
        _middles(row, grid.low[1] - grid.pitch / 2, grid.pitch),
        _middles(row, grid.low[1] + grid.pitch / 2, grid.pitch),
    )
    own = flat.corners[of]
    left, right = np.full(len(row), np.inf), np.full(len(row), -np.inf)
    for edge in (low, high):
        a, b = _across(own, edge)
        left, right = np.minimum(left, a), np.maximum(right, b)
    for k in range(3):
        within = (own[:, k, 1] >= low - 1e-9) & (own[:, k, 1] <= high + 1e-9)
        left = np.where(within, np.minimum(left, own[:, k, 0]), left)
        right = np.where(within, np.maximum(right, own[:, k, 0]), right)
    some = right >= left
    row, of, left, right = row[some], of[some], left[some], right[some]
    sides = [
        np.clip(np.floor((x - grid.low[0]) / grid.pitch), 0, grid.columns - 1).astype(np.int64) for x in (left, right)
    ]
    column, back = spread(*sides)
    cell = row[back] * grid.columns + column
    order = np.lexsort((-flat.corners[of[back], :, 2].max(axis=1), cell))
    start = np.searchsorted(cell[order], np.arange(grid.rows * grid.columns + 1))
    return Cells(grid, flat, start, of[back][order])
