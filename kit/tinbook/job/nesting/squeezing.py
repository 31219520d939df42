"""A full layout made shorter: parts may overlap for a while, and pairs that go on overlapping weigh more and more.

The method is guided local search on overlaps, as published for irregular strip packing, in rough cells: what comes close
to a layout without overlaps is slid apart along the true contours (sliding.py), which gives back what the cells waste.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from tinbook.job.nesting.depths import SIDE, Rules, Tables, settle
from tinbook.job.nesting.filling import Lying, Put, Task
from tinbook.job.nesting.raster import Ints
from tinbook.job.nesting.search import EFFORT
from tinbook.job.nesting.setting import Setting
from tinbook.job.nesting.sliding import Slider

RULES: Final = Rules(rounds=120, unit=4, most=16000, grow=34, more=16, decay=30)
"""By trial on drawn kits. With these weights no sum passes 32 bits."""
NEAR: Final = 4 * SIDE
"""Depth in all that sliding may take apart."""
MOST_BYTES: Final = 200_000_000
"""Of all tables."""
MOST_PARTS: Final = 100
"""That are squeezed at once, if they lie on more than two plates."""
_PACE: Final = 60  # places that are weighed in the time of a test
_FIRST, _LENGTH = 0.25, 0.3
"""Shares of the effort that are spent at most on making a layout whole, and on one length."""
_LONGER: Final = (0, 1, 2, 3, 5)
"""Per cent by which a layout may grow until no part overlaps."""
_SHORTER: Final = 40  # a layout is made shorter by this part of its length, and by less where that fails
_FAILS, _BACK = 5, 2  # failures by the least step, after which the search goes back, and by how many per cent
_QUICK: Final = 0.1  # effort; what is found with less may be made shorter by more


def windows(setting: Setting, task: Task, lying: Sequence[Lying]) -> list[list[int]]:
    """Return which plates are squeezed together, one behind the other: always with the last one.

    Plates of several kinds, or parts of several priorities, leave the last plate alone. Where there are many
    parts, or tables of all would be too large, each plate is squeezed with the last one.
    """
    used = sorted({v.plate for v in lying})
    if len({task.kinds[n] for n in used}) > 1 or len({setting.ranks[v.part] for v in lying}) > 1:
        return [used[-1:]]
    if len(lying) <= MOST_PARTS and _bytes(task, lying, used) <= MOST_BYTES:
        return [used]
    return [w for n in used[-2::-1] if _bytes(task, lying, w := [n, used[-1]]) <= MOST_BYTES] or [used[-1:]]


def _bytes(task: Task, lying: Sequence[Lying], plates: Sequence[int]) -> int:
    """Return how large the tables of all positions of the parts on some plates are."""
    kind = task.kinds[plates[-1]]
    parts = {task.same[v.part]: v.part for v in lying if v.plate in plates}
    sizes = np.array([(p.cells.columns, p.cells.rows) for k in parts.values() for p in task.positions[kind][k]])
    columns, rows = sizes[:, 0].astype(np.int64), sizes[:, 1].astype(np.int64)
    n = len(sizes)
    return int(2 * n * (columns * rows).sum() + 2 * columns.sum() * rows.sum())


class Squeezing:
    """Plates that are made shorter, one behind the other, and the parts on them.

    Parameters
    ----------
    setting : Setting
        In rough cells.
    task : Task
        Of the setting.
    lying : sequence of Lying
        A full layout.
    plates : sequence of int
        From `windows`.
    seed : int
        Of chance.
    """

    def __init__(
        self, setting: Setting, task: Task, lying: Sequence[Lying], plates: Sequence[int], seed: int, slider: Slider
    ) -> None:
        self.setting, self.task, self.plates, self.slider = setting, task, list(plates), slider
        self.moving = [v for v in lying if v.plate in plates]
        self.others = [v for v in lying if v.plate not in plates]
        self.first = np.cumsum([0, *(task.columns[n] for n in plates)])
        self.kind = task.kinds[plates[0]]
        self.rows = task.free[plates[0]].shape[1]
        sets: list[Ints] = []
        start: dict[int, int] = {}
        for v in self.moving:
            if task.same[v.part] not in start:
                start[task.same[v.part]] = len(sets)
                sets += [position.cells.runs for position in task.positions[self.kind][v.part]]
        self.base = [start[task.same[v.part]] for v in self.moving]
        ways = [len(task.positions[self.kind][v.part]) for v in self.moving]
        self.choices = np.array(list(zip(self.base, ways, strict=True)), dtype=np.int32)
        at = [self._in_cells(v, b) for v, b in zip(self.moving, self.base, strict=True)]
        blocked = self._blocked()
        if len(blocked):
            at.append((len(sets), 0, 0))
            sets.append(blocked)
        self.at = np.array(at, dtype=np.int32)
        self.tables = _tables(sets)
        n = len(at)
        self.count = len(self.moving)
        area = self.tables.sizes[self.at[: self.count, 0]].astype(np.int64).prod(axis=1)
        self.large = np.argsort(-area, kind="stable")
        self.near = self.at.copy()
        self.weights = np.zeros((n, n), dtype=np.int32)
        self.depths = np.zeros((n, n), dtype=np.int32)
        self.grid = np.zeros((int(self.first[-1]), self.rows), dtype=np.int32)
        self.state, self.spent, self.tried = seed * 7919 + 12345 & 0x7FFFFFFF, 0, 0
        locked = task.reached[plates[-1]]
        self.least = int(self.first[-2]) + locked if locked else 1

    def _in_cells(self, v: Lying, base: int) -> tuple[int, int, int]:
        """Return position, column and row nearest to where a part lies."""
        ways = self.task.positions[self.kind][v.part]
        k = next((k for k, w in enumerate(ways) if (w.angle, w.turned_over) == (v.angle, v.turned_over)), 0)
        x0, y0, _, _ = self.setting.regions[self.kind].bounds
        x, y = ((a - b - c) / self.setting.cell for a, b, c in zip((v.x, v.y), (x0, y0), ways[k].shift, strict=True))
        return base + k, int(self.first[self.plates.index(v.plate)]) + max(0, round(x)), max(0, round(y))

    def _blocked(self) -> Ints:
        """Return the cells that are no part's to take, as runs: beside an offcut's outline, under locked parts."""
        out = []
        for k, n in enumerate(self.plates):
            free = self.task.free[n] > 0
            for x in np.flatnonzero(~free.all(axis=1)).tolist():
                edge = np.flatnonzero(np.diff(np.concatenate(([0], ~free[x], [0])).astype(np.int8)))
                out += [(int(self.first[k]) + x, int(a), int(b)) for a, b in edge.reshape(-1, 2)]
        return np.array(out, dtype=np.int32).reshape(-1, 3)

    def shorter(self, effort: float) -> Iterator[list[Lying]]:
        """Give shorter and shorter layouts of all parts until the effort is spent; 1 is about a second."""
        budget = self.spent + effort * EFFORT
        start, begun, best = self.at.copy(), self._end(self.at), None
        whole = int(self._ends(int(self.first[-1]))[-1, 1])
        for end in dict.fromkeys(min(whole, begun + begun * k // 100) for k in _LONGER):
            if best is None and self._pushed(end):
                best = self._settled(self.spent + _FIRST * (budget - self.spent))
        good, end, length = start, begun, self._length(self.moving)
        if best is not None:
            good, end, length = self.near.copy(), self._end(self.near), self._length(best)
            yield [*self.others, *best]
        top, shortest, fails = good, end, 0
        most = step = max(1, end // _SHORTER)
        while self.spent < budget and end > self.least:
            target, before = max(self.least, end - step), self.spent
            room = self._pushed(target)
            found = self._settled(min(budget, self.spent + _LENGTH * (budget - self.spent) + 1)) if room else None
            if found is not None:
                good, end, fails = self.near.copy(), min(target, self._end(self.near)), 0
                self.at[:] = good
                if self.spent - before < _QUICK * EFFORT:
                    step = min(most, 2 * step)
                if self._length(found) < length:
                    top, shortest, length = good, end, self._length(found)
                    yield [*self.others, *found]
            elif step > 1:
                step //= 2
                self._stirred(good)
            elif not room:
                return  # a part is as long as what is left
            else:
                fails += 1
                if fails == _FAILS:  # another way down begins a little further up
                    good, end, fails, step = top, min(whole, shortest + shortest * _BACK // 100), 0, most
                self._stirred(good)

    def _stirred(self, good: Ints) -> None:
        """Begin with a good layout or the one that came nearest, two of the larger parts exchanged."""
        self.at[:] = good if self._drawn(2) else self.near
        half = self.large[: (self.count + 1) // 2]
        i, j = half[self._drawn(len(half))], half[self._drawn(len(half))]
        self.at[[i, j], 1:] = self.at[[j, i], 1:]

    def _length(self, lying: Sequence[Lying]) -> tuple[int, float]:
        """Return the last plate that is used, and how far along it blanks lie, mm."""
        last = max(v.plate for v in lying)
        return last, max(self.slider.end(v) for v in lying if v.plate == last)

    def _slid(self) -> list[Lying] | None:
        """Return the layout of least depth without overlaps, if sliding brings that about."""
        before = self.slider.tests
        puts = []
        for v, b, (p, x, y) in zip(self.moving, self.base, self.near[: self.count].tolist(), strict=True):
            k = int(np.searchsorted(self.first, x, side="right")) - 1
            puts.append(Put(v.part, self.plates[k], p - b, x - int(self.first[k]), y))
        lying = self.setting.lying(self.task, puts)
        out = self.slider.slid(self.task.kinds, lying, self.plates, self.setting.cell / 2)
        self.spent += self.slider.tests - before
        return out

    def _end(self, at: Ints) -> int:
        """Return the column behind the last part."""
        moving = at[: self.count]
        return int((moving[:, 1] + self.tables.sizes[moving[:, 0], 0]).max())

    def _drawn(self, below: int) -> int:
        self.state = (self.state * 1103515245 + 12345) & 0x7FFFFFFF
        return (self.state >> 8) % below

    def _settled(self, budget: float) -> list[Lying] | None:
        """Search for a layout where `_pushed` has put the end, and slide whatever comes near to one."""
        self.tried += 1
        enough, fresh = NEAR, True
        while True:
            least, tests, self.state = (
                int(v)
                for v in settle(
                    self.tables,
                    self.choices,
                    self.ends,
                    self.at,
                    self.near,
                    self.weights,
                    self.depths,
                    self.grid,
                    RULES,
                    enough,
                    fresh,
                    self.state,
                    int(budget - self.spent) * _PACE,
                )
            )
            self.spent += tests // _PACE
            if least > enough:
                return None
            found = self._slid()
            if found is not None or least == 0 or self.spent >= budget:
                return found
            enough, fresh = least - 1, False

    def _ends(self, target: int) -> Ints:
        """Return the first column of each plate and the one behind its last, up to a column."""
        ends = np.minimum(self.first[1:], target)
        return np.column_stack((self.first[:-1], ends)).astype(np.int32)[self.first[:-1] < target]

    def _pushed(self, target: int) -> bool:
        """Push every part before a column; whether each has room there."""
        self.ends = self._ends(target)
        sizes = self.tables.sizes
        longest = int((self.ends[:, 1] - self.ends[:, 0]).max())
        for i in range(self.count):
            p, x, y = (int(v) for v in self.at[i])
            first, ways = (int(v) for v in self.choices[i])
            fits = [q for q in range(first, first + ways) if sizes[q, 1] <= self.rows and sizes[q, 0] <= longest]
            if not fits:
                return False
            p = p if p in fits else fits[0]
            rooms = [(a, b) for a, b in self.ends.tolist() if b - a >= sizes[p, 0]]
            a, b = next(((a, b) for a, b in rooms if a <= x < b), rooms[-1])
            self.at[i] = p, min(max(x, a), b - sizes[p, 0]), min(y, self.rows - sizes[p, 1])
        return True


def _tables(sets: Sequence[Ints]) -> Tables:
    """Return tables of positions, none of them made."""
    ends = np.cumsum([len(s) for s in sets])
    sizes = np.array([(s[:, 0].max() + 1, s[:, 2].max()) for s in sets], dtype=np.int32)
    wide, high = sizes[:, 0].astype(np.int64), sizes[:, 1].astype(np.int64)
    each = (wide[:, None] + wide - 1) * (high[:, None] + high - 1)
    behind = np.cumsum(each).reshape(each.shape)
    return Tables(
        runs=np.concatenate(sets).astype(np.int32),
        spans=np.column_stack((ends - [len(s) for s in sets], ends)).astype(np.int32),
        sizes=sizes,
        start=behind - each,
        depth=np.empty(int(behind[-1, -1]), dtype=np.uint8),
        ready=np.zeros(each.shape, dtype=np.uint8),
        work=np.zeros((2 * int(wide.max()) + 2, 2 * int(high.max()) + 3), dtype=np.int16),
    )
