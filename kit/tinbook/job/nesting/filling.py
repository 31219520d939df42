"""Filling plates in a given order of parts: the inner step of the search, whole numbers only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from tinbook.job.nesting.places import first_place, take
from tinbook.job.nesting.raster import Cells, Ints
from tinbook.values import dataclass

_FAR: Final = 0.1  # weight of how far along the parts lie; by trial on drawn kits


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """One way in which a part may lie: its cells, the turn, and the shift of the part from the cells' corner, mm."""

    cells: Cells
    angle: float
    turned_over: bool
    shift: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Parts and plates in cells.

    Parameters
    ----------
    positions : sequence of sequence of sequence of Position
        By kind of plate, then by part.
    kinds : sequence of int
        Kind of each plate, in the order in which they are opened.
    free : sequence of array of int
        Free runs of each plate, what is locked taken out.
    worth : sequence of float
        Cost of each plate.
    same : sequence of int
        By part, the index of its blank: copies have the same positions.
    reached : sequence of int
        Columns that locked parts take on each plate.
    columns : sequence of int
        Columns of each plate; `free` may end earlier, where no better layout can reach.
    """

    positions: Sequence[Sequence[Sequence[Position]]]
    kinds: Sequence[int]
    free: Sequence[Ints]
    worth: Sequence[float]
    same: Sequence[int]
    reached: Sequence[int]
    columns: Sequence[int]

    def shortened(self, used: int) -> Task:
        """Return the task with the first plate cut off well behind the columns that a layout on it alone uses."""
        most = max(p.cells.columns for part in self.positions[self.kinds[0]] for p in part)
        end = used + used // 4 + most
        return replace(self, free=[np.ascontiguousarray(self.free[0][:end]), *self.free[1:]])


@dataclass(frozen=True, slots=True)
class Put:
    """A part in its place."""

    part: int
    plate: int
    position: int
    column: int
    row: int


@dataclass(frozen=True, slots=True)
class Lying:
    """A part where it lies on a plate, in mm (see `layout.Placement`)."""

    part: int
    plate: int
    angle: float
    turned_over: bool
    x: float
    y: float

    def moved(self, x: float, y: float) -> Lying:
        """Return the part elsewhere on its plate."""
        return Lying(self.part, self.plate, self.angle, self.turned_over, x, y)


class Filling:
    """Plates while they are filled."""

    __slots__ = ("begin", "far", "free", "longest", "puts", "reach", "task", "tests")

    def __init__(self, task: Task) -> None:
        self.task = task
        self.tests = 0
        self.far = 0.0
        self.begin: list[dict[tuple[int, int], int]] = []  # of each plate: no earlier column has room for a position
        self.free: list[Ints] = []
        self.longest: list[Ints] = []
        self.reach: list[int] = []
        self.puts: list[Put] = []
        for reach in task.reached:
            if reach:
                self._open()

    def copy(self) -> Filling:
        """Return a filling of its own in the same state."""
        out = Filling.__new__(Filling)
        out.task, out.tests, out.far = self.task, self.tests, self.far
        out.free, out.longest = [f.copy() for f in self.free], [f.copy() for f in self.longest]
        out.begin = [dict(b) for b in self.begin]
        out.reach, out.puts = list(self.reach), list(self.puts)
        return out

    def _open(self) -> None:
        n = len(self.free)
        plate = self.task.free[n]
        self.begin.append({})
        self.free.append(plate.copy())
        self.longest.append(plate.max(axis=1, initial=0).astype(np.int32))
        self.reach.append(self.task.reached[n])

    @property
    def cost(self) -> float:
        """Cost of the plates that are used, of the last one the share of its length."""
        used = [n for n, reach in enumerate(self.reach) if reach]
        if not used:
            return 0.0
        share = self.reach[used[-1]] / self.task.columns[used[-1]]
        return float(sum(self.task.worth[n] for n in used[:-1]) + self.task.worth[used[-1]] * share)

    @property
    def guide(self) -> float:
        """Cost, and a little for what lies far along: it tells layouts of one cost apart, and only grows."""
        return self.cost + _FAR * self.far

    def add(self, part: int, middle: bool, limit: float) -> bool:
        """Put a part at its first place on the first plate that has one.

        Parameters
        ----------
        part : int
            Index of the part.
        middle : bool
            Of its positions take the one whose middle lies lowest along the plate, not the one whose end does.
        limit : float
            A value of `guide` that must not be passed.

        Returns
        -------
        bool
            False if no plate has a place within the limit; the filling must then be thrown away.
        """
        for n in range(len(self.task.kinds)):
            if n == len(self.free):
                self._open()
            best: tuple[int, int, int] | None = None
            place = (0, 0)
            free, longest = self.free[n], self.longest[n]
            positions = self.task.positions[self.task.kinds[n]][part]
            for k, position in enumerate(positions):
                cells = position.cells
                end = free.shape[0]
                if best is not None:
                    end = min(end, (best[0] + cells.columns) // 2 if middle else best[0])
                if cells.columns > end or cells.rows > free.shape[1]:
                    continue
                key = (self.task.same[part], k)
                begin = self.begin[n].get(key, 0)
                x, y, tests = first_place(free, longest, cells.runs, cells.need, cells.rows, begin, end)
                x, y = int(x), int(y)  # plain Python passes on numpy's integers, compiled code does not
                self.tests += int(tests)
                self.begin[n][key] = x if x >= 0 else max(begin, end - cells.columns + 1)
                rank = (2 * x + cells.columns if middle else x + cells.columns, y + cells.rows, k)
                if x >= 0 and (best is None or rank < best):
                    best, place = rank, (x, y)
            if best is not None:
                cells = positions[best[2]].cells
                take(free, longest, cells.runs, *place)
                self.reach[n] = max(self.reach[n], place[0] + cells.columns)
                self.puts.append(Put(part, n, best[2], *place))
                columns, rows = self.task.columns[n], free.shape[1]
                along = n + (place[0] + cells.columns / 2) / columns
                self.far += self.task.worth[n] * along * cells.count / (columns * rows)
                return self.guide <= limit
        return False
