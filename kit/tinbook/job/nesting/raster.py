"""Shapes as cells of a grid: every cell that a shape touches, as runs across each column.

A set of cells that covers a shape covers its half turn and its mirror image too, so one raster serves several
positions. Runs are whole numbers: nothing that comes after rounds.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tinbook.values import dataclass

Ints = npt.NDArray[np.int32]
Floats = npt.NDArray[np.float64]
_GRAZE = 1e-7  # mm; what only touches a cell's side does not enter the cell


@dataclass(frozen=True, eq=False)
class Cells:
    """The cells that a shape enters.

    Parameters
    ----------
    runs : array of int32, shape (n, 3)
        Column, first row, and the row behind the last one; ordered by column, then row.
    columns, rows : int
        Size of the box of all cells.
    """

    runs: Ints
    columns: int
    rows: int

    @cached_property
    def need(self) -> Ints:
        """Longest run of each column, shape (columns,)."""
        out = np.zeros(self.columns, dtype=np.int32)
        np.maximum.at(out, self.runs[:, 0], self.runs[:, 2] - self.runs[:, 1])
        return out

    @cached_property
    def count(self) -> int:
        """Number of cells."""
        return int((self.runs[:, 2] - self.runs[:, 1]).sum())

    def half_turn(self) -> Cells:
        """Return the cells after half a turn."""
        return self._mapped(self.columns - 1 - self.runs[:, 0])

    def turned_over(self) -> Cells:
        """Return the cells after turning over about the sheet's length."""
        return self._mapped(self.runs[:, 0])

    def _mapped(self, column: Ints) -> Cells:
        first, end = self.rows - self.runs[:, 2], self.rows - self.runs[:, 1]
        order = np.lexsort((first, column))
        return Cells(np.stack((column, first, end), axis=1)[order].astype(np.int32), self.columns, self.rows)


def entered(shape: BaseGeometry, cell: float, origin: tuple[float, float]) -> Ints:
    """Return the runs of cells that a shape enters, on a grid through `origin`; columns and rows may be negative.

    Parameters
    ----------
    shape : geometry
        Areas in mm; holes leave cells free.
    cell : float
        Side of a cell, mm.
    origin : (float, float)
        A corner of the grid, mm.
    """
    rings = shapely.get_rings([p for p in shapely.get_parts(shape) if shapely.get_dimensions(p) == 2])
    at, ring = shapely.get_coordinates(rings, return_index=True)
    ends = (at - np.asarray(origin)) / cell  # in cells
    same = ring[1:] == ring[:-1]
    turned = (ends[:-1, 0] > ends[1:, 0])[same]
    a = np.where(turned[:, None], ends[1:][same], ends[:-1][same])
    b = np.where(turned[:, None], ends[:-1][same], ends[1:][same])
    graze = _GRAZE / cell
    # What the boundary enters: each edge within each column.
    k, column = _columns(np.floor(a[:, 0] + graze), np.ceil(b[:, 0] - graze))
    left, right = np.maximum(column + graze, a[k, 0]), np.minimum(column + 1 - graze, b[k, 0])
    one, other = _height(a[k], b[k], left, a[k, 1]), _height(a[k], b[k], right, b[k, 1])
    entered_by = (column, np.floor(np.minimum(one, other) + graze), np.ceil(np.maximum(one, other) - graze))
    # What it encloses: a cell that no edge enters is inside if its middle is.
    k, middle = _columns(np.ceil(a[:, 0] - 0.5), np.ceil(b[:, 0] - 0.5))
    crossed = _height(a[k], b[k], middle + 0.5, a[k, 1])
    order = np.lexsort((crossed, middle))
    low, high = crossed[order][0::2], crossed[order][1::2]
    enclosed = (middle[order][0::2], np.floor(low + graze), np.ceil(high - graze))
    c, start, end = (np.concatenate(v).astype(np.int64) for v in zip(entered_by, enclosed, strict=True))
    return _merged(c[end > start], start[end > start], end[end > start])


def _columns(first: Floats, end: Floats) -> tuple[npt.NDArray[np.int64], Floats]:
    """Return which edge and which column, for every column from the first of an edge to the one before its end."""
    count = np.maximum(end - first, 0).astype(np.int64)
    edge = np.repeat(np.arange(len(count)), count)
    return edge, first[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)


def _height(a: Floats, b: Floats, x: Floats, upright: Floats) -> Floats:
    """Return the y of edges from a to b at x; of an upright edge the y that is given."""
    run = b[:, 0] - a[:, 0]
    share = np.divide(x - a[:, 0], run, out=np.zeros_like(run), where=run > 0)
    return np.where(run > 0, a[:, 1] + share * (b[:, 1] - a[:, 1]), upright)


def _merged(column: npt.NDArray[np.int64], start: npt.NDArray[np.int64], end: npt.NDArray[np.int64]) -> Ints:
    """Return runs by column, those that overlap or touch as one."""
    if len(column) == 0:
        return np.zeros((0, 3), dtype=np.int32)
    order = np.lexsort((start, column))
    column, start, end = column[order], start[order], end[order]
    far = (column - column[0]) * (int(end.max() - start.min()) + 2)  # so that no run reaches into the next column
    reach = np.maximum.accumulate(end + far)
    begins = np.concatenate(([True], start[1:] + far[1:] > reach[:-1]))
    last = np.concatenate((np.flatnonzero(begins)[1:] - 1, [len(column) - 1]))
    return np.column_stack((column[begins], start[begins], (reach - far)[last])).astype(np.int32)


def covered(shape: BaseGeometry, cell: float) -> Cells:
    """Return the cells that a shape enters; a corner of the grid lies at the lower left corner of its box."""
    runs = entered(shape, cell, shape.bounds[:2])
    return Cells(runs, int(runs[:, 0].max()) + 1, int(runs[:, 2].max()))


def free_cells(region: BaseGeometry, cell: float) -> npt.NDArray[np.bool_]:
    """Return which cells lie wholly in a region, shape (columns, rows); the grid starts at the region's lower left."""
    x0, y0, x1, y1 = region.bounds
    columns, rows = int((x1 - x0 + _GRAZE) / cell), int((y1 - y0 + _GRAZE) / cell)
    free = np.ones((columns, rows), dtype=np.bool_)
    beside = shapely.box(x0, y0, x1, y1).difference(region)
    if beside.area > _GRAZE:
        for c, a, b in entered(beside, cell, (x0, y0)):
            if 0 <= c < columns:
                free[c, max(a, 0) : b] = False
    return free


def run_lengths(free: npt.NDArray[np.bool_]) -> Ints:
    """Return how many free cells follow from each cell across the sheet, itself included."""
    out = np.zeros(free.shape, dtype=np.int32)
    following = np.zeros(free.shape[0], dtype=np.int32)
    for row in range(free.shape[1] - 1, -1, -1):
        following = np.where(free[:, row], following + 1, 0).astype(np.int32)
        out[:, row] = following
    return out
