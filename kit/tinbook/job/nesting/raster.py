"""Shapes as cells of a grid: every cell that a shape touches, as runs across each column.

A set of cells that covers a shape covers its half turn and its mirror image too, so one raster serves several
positions. Runs are whole numbers: nothing that comes after rounds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

Ints = npt.NDArray[np.int32]
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
    x0, y0, x1, y1 = shape.bounds
    first = int(np.floor((x0 - origin[0] + _GRAZE) / cell))
    column = np.arange(first, max(first + 1, int(np.ceil((x1 - origin[0] - _GRAZE) / cell))))
    left = origin[0] + cell * column
    strips = shapely.box(left + _GRAZE, y0 - 1.0, left + cell - _GRAZE, y1 + 1.0)
    shapely.prepare(shape)
    pieces, owner = shapely.get_parts(shapely.intersection(shape, strips), return_index=True)
    solid = (shapely.get_dimensions(pieces) == 2) & ~shapely.is_empty(pieces)  # an empty polygon has dimension 2 too
    low, high = (shapely.bounds(pieces[solid])[:, k] - origin[1] for k in (1, 3))
    # A piece of a strip hangs together, so it enters every row of its height.
    a = np.floor((low + _GRAZE) / cell).astype(np.int32)
    b = np.maximum(np.ceil((high - _GRAZE) / cell).astype(np.int32), a + 1)
    runs: list[list[int]] = []
    for c, start, end in sorted(zip(column[owner[solid]].tolist(), a.tolist(), b.tolist(), strict=True)):
        if runs and runs[-1][0] == c and start <= runs[-1][2]:
            runs[-1][2] = max(runs[-1][2], end)
        else:
            runs.append([c, start, end])
    return np.array(runs, dtype=np.int32).reshape(-1, 3)


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
