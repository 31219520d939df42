"""A full layout made shorter: parts may overlap for a while, and pairs that go on overlapping weigh more and more.

The method is guided local search on overlaps, as published for irregular strip packing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from tinbook.job.nesting.filling import Filling, Put, Task
from tinbook.job.nesting.overlaps import Rules, settle
from tinbook.job.nesting.raster import Ints
from tinbook.job.nesting.search import EFFORT, Found

_ANYWHERE: Final = Rules(tries=60, groups=3, rounds=200, unit=16, most=4000, grow=34, more=16, decay=30)
"""By trial on drawn kits. With these weights no sum passes 32 bits."""
_NEAR: Final = _ANYWHERE._replace(groups=0, rounds=100)
_FIRST, _LENGTH = 0.15, 0.3
"""Shares of the effort that are spent at most on making a layout whole, and on one length."""
_LONGER: Final = (0, 1, 2, 3, 5)
"""Per cent by which a layout may grow until no part overlaps."""


def in_one_strip(task: Task, filling: Filling, ranks: Sequence[int]) -> bool:
    """Whether all plates of a layout may be squeezed together: they are of one kind, and no part has priority."""
    return len({task.kinds[n] for n, reach in enumerate(filling.reach) if reach}) == 1 and len(set(ranks)) < 2


def squeeze(
    task: Task,
    filling: Filling,
    ranks: Sequence[int],
    seed: int,
    effort: float,
    shorter: int = 250,
    *,
    near: bool = False,
) -> Iterator[Found]:
    """Give shorter and shorter layouts of the same plates until the effort is spent.

    Parameters
    ----------
    task : Task
        Parts and plates.
    filling : Filling
        A full layout; parts may overlap by a cell or two.
    ranks : sequence of int
        As for `improve`; where they differ, or plates of several kinds are used, only the last plate is squeezed.
    seed : int
        Of chance.
    effort : float
        1 is about a second of processor time.
    shorter : int
        A layout is made shorter by this part of its length, and by less where that fails.
    near : bool
        Look for places near each part only, which is enough where cells became finer.

    Yields
    ------
    Found
        The layout itself once it has no overlaps, then shorter ones.
    """
    it = _Strip(task, filling, ranks, seed, near)
    if it.count < 2:
        return
    budget = effort * EFFORT
    if not any(it.pushed(end) and it.fitted(end, it.tests + _FIRST * budget) for end in it.ends()):
        return
    best, end = it.at.copy(), it.reach()
    yield Found(filling=it.filling(), steps=[], tried=it.tried, spent=0.0)
    step = max(1, it.end // shorter)
    while it.tests < budget and end > it.least:
        target = max(it.least, end - step)
        it.at[:] = best
        if it.tried > 1 and not near:
            it.stir()
        room = it.pushed(target)
        if room and it.fitted(target, min(budget, it.tests + _LENGTH * budget)):
            best, end = it.at.copy(), it.reach()
            yield Found(filling=it.filling(), steps=[], tried=it.tried, spent=min(1.0, it.tests / budget))
        elif step > 1:
            step //= 2
        elif not room:
            return  # a part is as long as what is left


def finer(filling: Filling, coarse: Task, cell: float, fine: Task, fine_cell: float, off: float) -> Filling:
    """Return a layout in cells of another side, to the nearest cell; parts may then overlap by one.

    Plates of the one begin `off` mm beside those of the other.
    """
    out = Filling(fine)
    out.reach = [0] * len(filling.reach)
    for p in filling.puts:
        was = coarse.positions[coarse.kinds[p.plate]][p.part][p.position]
        ways = fine.positions[fine.kinds[p.plate]][p.part]
        k = next((k for k, w in enumerate(ways) if (w.angle, w.turned_over) == (was.angle, was.turned_over)), 0)
        x = max(0, round((p.column * cell + off + was.shift[0] - ways[k].shift[0]) / fine_cell))
        y = max(0, round((p.row * cell + off + was.shift[1] - ways[k].shift[1]) / fine_cell))
        out.puts.append(Put(p.part, p.plate, k, x, y))
        out.reach[p.plate] = max(out.reach[p.plate], x + ways[k].cells.columns, fine.reached[p.plate])
    return out


class _Strip:
    """The plates that are made shorter, one behind the other, and the parts on them."""

    def __init__(self, task: Task, filling: Filling, ranks: Sequence[int], seed: int, near: bool) -> None:
        self.task, self.old = task, filling
        self.rules = _NEAR if near else _ANYWHERE
        used = [n for n, reach in enumerate(filling.reach) if reach]
        self.plates = used if in_one_strip(task, filling, ranks) else used[-1:]
        self.moving = [p for p in filling.puts if p.plate in self.plates]
        self.first = np.cumsum([0, *(task.columns[n] for n in self.plates)])
        rows = task.free[self.plates[0]].shape[1]
        kind = task.kinds[self.plates[0]]
        sets: list[Ints] = []
        start: dict[int, int] = {}
        for p in self.moving:
            for position in task.positions[kind][p.part] if task.same[p.part] not in start else ():
                start.setdefault(task.same[p.part], len(sets))
                sets.append(position.cells.runs)
        self.base = [start[task.same[p.part]] for p in self.moving]
        ways = [len(task.positions[kind][p.part]) for p in self.moving]
        self.choices = np.array(list(zip(self.base, ways, strict=True)), dtype=np.int32)
        blocked = self._blocked(rows)
        at = [
            (b + p.position, self.first[self.plates.index(p.plate)] + p.column, p.row)
            for b, p in zip(self.base, self.moving, strict=True)
        ]
        if len(blocked):
            at.append((len(sets), 0, 0))
            sets.append(blocked)
        self.runs = np.concatenate(sets).astype(np.int32) if sets else np.zeros((0, 3), dtype=np.int32)
        ends = np.cumsum([len(s) for s in sets])
        self.spans = np.column_stack((ends - [len(s) for s in sets], ends)).astype(np.int32)
        self.sizes = np.array([(s[:, 0].max() + 1, s[:, 2].max()) for s in sets], dtype=np.int32)
        self.at = np.array(at, dtype=np.int32)
        self.count = len(self.moving)
        n = len(at)
        self.weights = np.full((n, n), self.rules.unit, dtype=np.int32)
        self.overlaps = np.zeros((n, n), dtype=np.int32)
        self.grid = np.zeros((rows + 1, int(self.first[-1])), dtype=np.int32)
        self.state, self.tests, self.tried = seed * 7919 + 12345 & 0x7FFFFFFF, 0, 0
        self.end = self.reach()
        locked = task.reached[self.plates[-1]]
        self.least = int(self.first[-2]) + locked if locked else 1

    def _blocked(self, rows: int) -> Ints:
        """Return the cells that are no part's to take, as runs: beside an offcut's outline, under locked parts."""
        out = []
        for k, n in enumerate(self.plates):
            free = self.task.free[n] > 0
            for x in np.flatnonzero(~free.all(axis=1)).tolist():
                edge = np.flatnonzero(np.diff(np.concatenate(([0], ~free[x], [0])).astype(np.int8)))
                out += [(int(self.first[k]) + x, int(a), int(b)) for a, b in edge.reshape(-1, 2)]
        return np.array(out, dtype=np.int32).reshape(-1, 3)

    def ends(self) -> list[int]:
        """Return where a layout may end whose parts still overlap: where it ends now, or a little behind."""
        whole = int(self._plates(int(self.first[-1]))[-1, 1])
        return list(dict.fromkeys(min(whole, self.end + self.end * k // 100) for k in _LONGER))

    def reach(self) -> int:
        """Return the column behind the last part."""
        moving = self.at[: self.count]
        return int((moving[:, 1] + self.sizes[moving[:, 0], 0]).max())

    def _drawn(self, below: int) -> int:
        self.state = (self.state * 1103515245 + 12345) & 0x7FFFFFFF
        return (self.state >> 8) % below

    def stir(self) -> None:
        """Let two parts change places, so that another try goes another way."""
        i, j = self._drawn(self.count), self._drawn(self.count)
        self.at[[i, j], 1:] = self.at[[j, i], 1:]

    def fitted(self, target: int, budget: float) -> bool:
        """Search for a layout before a column; whether one was found."""
        self.tried += 1
        found, tests, self.state = settle(
            self.grid,
            self.runs,
            self.spans,
            self.sizes,
            self.choices,
            self._plates(target),
            self.at,
            self.weights,
            self.overlaps,
            target,
            self.rules,
            self.state,
            int(budget) - self.tests,
        )
        self.tests += int(tests)
        self.state = int(self.state)
        return bool(found)

    def _plates(self, target: int) -> Ints:
        """Return the first column of each plate and the one behind its last, up to a column."""
        ends = np.minimum(self.first[1:], target)
        return np.column_stack((self.first[:-1], ends)).astype(np.int32)[self.first[:-1] < target]

    def pushed(self, target: int) -> bool:
        """Push every part before a column; whether each has room there."""
        rows, plates = self.grid.shape[0] - 1, self._plates(target)
        longest = int((plates[:, 1] - plates[:, 0]).max())
        for i in range(self.count):
            p, x, y = (int(v) for v in self.at[i])
            first, ways = (int(v) for v in self.choices[i])
            fits = [q for q in range(first, first + ways) if self.sizes[q, 1] <= rows and self.sizes[q, 0] <= longest]
            if not fits:
                return False
            p = p if p in fits else fits[0]
            rooms = [(a, b) for a, b in plates.tolist() if b - a >= self.sizes[p, 0]]
            a, b = next(((a, b) for a, b in rooms if a <= x < b), rooms[-1])
            self.at[i] = p, min(max(x, a), b - self.sizes[p, 0]), min(y, rows - self.sizes[p, 1])
        return True

    def filling(self) -> Filling:
        """Return the layout."""
        out = Filling(self.task)
        out.reach = list(self.old.reach)
        out.puts = [p for p in self.old.puts if p.plate not in self.plates]
        reach = dict.fromkeys(self.plates, 0)
        for i, (p, x, y) in enumerate(self.at[: self.count].tolist()):
            k = int(np.searchsorted(self.first, x, side="right")) - 1
            n = self.plates[k]
            reach[n] = max(reach[n], x - int(self.first[k]) + int(self.sizes[p, 0]))
            out.puts.append(Put(self.moving[i].part, n, p - self.base[i], x - int(self.first[k]), y))
        for n in self.plates:
            out.reach[n] = max(reach[n], self.task.reached[n])
        return out
