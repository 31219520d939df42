"""How deep parts lie in each other, in cells, and the search that takes them apart.

Of two positions a table holds, for every shift of the one against the other, how far the one must be moved to be clear
of the other. With the tables the best place of a part among all places of the plates is found by adding them up. As in
places.py the loops run over whole numbers only, chance included, so compiled and plain Python agree.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from tinbook.job.nesting.raster import Ints

Bytes = npt.NDArray[np.uint8]
FAR: Final = 1 << 30
"""Above every weight."""
SIDE: Final = 5
"""Depth of one cell; across a corner it is 7, which is right to a hundredth. No depth passes 255."""
_MADE: Final = 32  # tests that one place of a new table counts


class Rules(NamedTuple):
    """How overlaps are resolved: all whole numbers.

    Parameters
    ----------
    rounds : int
        Without less depth, after which a length is given up.
    unit, most : int
        First and largest weight of a pair.
    grow, more, decay : int
        In 32nds: by which the weight of a pair that overlaps grows, by how much more the worst pair's, and what is left
        of the weight of one that does not.
    """

    rounds: int
    unit: int
    most: int
    grow: int
    more: int
    decay: int


class Tables(NamedTuple):
    """Positions and, for each two of them, the table of depths, made when it is first asked for.

    Parameters
    ----------
    runs : array of int, shape (n, 3)
        Of all positions, one after the other.
    spans, sizes : array of int, shape (positions, 2)
        First run and the one behind the last; columns and rows.
    start : array of int, shape (positions, positions)
        Where each table begins in `depth`.
    depth, ready : array of uint8
        The tables, column by column, and which of them are made.
    work : array of int
        Room to make one.
    """

    runs: Ints
    spans: Ints
    sizes: Ints
    start: npt.NDArray[np.int64]
    depth: Bytes
    ready: Bytes
    work: npt.NDArray[np.int16]


@njit(cache=True)
def drawn(state: int, below: int) -> tuple[int, int]:
    """Return the next state of a generator of chance, and a number from 0 that is less than `below`."""
    state = (state * 1103515245 + 12345) & 0x7FFFFFFF
    return state, (state >> 8) % below


@njit(cache=True)
def make(tables: Tables, p: int, q: int) -> int:
    """Make the table of position p shifted against position q; return the tests that it counts.

    Its first place is p left of q and below it by p's size less a cell: further off nothing overlaps.
    """
    runs, spans, sizes, work = tables.runs, tables.spans, tables.sizes, tables.work
    before, below = sizes[p, 0] - 1, sizes[p, 1] - 1
    wide, high = before + sizes[q, 0], below + sizes[q, 1]
    work[: wide + 2, : high + 3] = 0
    for i in range(spans[p, 0], spans[p, 1]):
        for k in range(spans[q, 0], spans[q, 1]):
            x = runs[k, 0] - runs[i, 0] + before + 1
            work[x, runs[k, 1] - runs[i, 2] + below + 2] += 1
            work[x, runs[k, 2] - runs[i, 1] + below + 1] -= 1
    for x in range(1, wide + 1):
        overlap = 0
        for y in range(1, high + 1):
            overlap += work[x, y]
            work[x, y] = overlap
        work[x, high + 1] = 0
    for x in range(1, wide + 1):
        for y in range(1, high + 1):
            if work[x, y] > 0:
                straight = min(work[x - 1, y], work[x, y - 1]) + 5
                work[x, y] = min(straight, min(work[x - 1, y - 1], work[x - 1, y + 1]) + 7)
    start = tables.start[p, q]
    for x in range(wide, 0, -1):
        for y in range(high, 0, -1):
            if work[x, y] > 0:
                straight = min(work[x + 1, y], work[x, y + 1]) + 5
                work[x, y] = min(work[x, y], straight, min(work[x + 1, y - 1], work[x + 1, y + 1]) + 7)
            tables.depth[start + (x - 1) * high + y - 1] = min(255, work[x, y])
    tables.ready[p, q] = 1
    return int(wide * high * _MADE)


@njit(cache=True)
def deep(tables: Tables, at: Ints, i: int, j: int) -> int:
    """Return how deep two parts lie in each other."""
    p, q, sizes = at[i, 0], at[j, 0], tables.sizes
    x, y = at[i, 1] - at[j, 1] + sizes[p, 0] - 1, at[i, 2] - at[j, 2] + sizes[p, 1] - 1
    high = sizes[p, 1] + sizes[q, 1] - 1
    if i == j or x < 0 or y < 0 or x >= sizes[p, 0] + sizes[q, 0] - 1 or y >= high:
        return 0
    if not tables.ready[p, q]:
        make(tables, p, q)
    return int(tables.depth[tables.start[p, q] + x * high + y])


@njit(cache=True)
def weigh(tables: Tables, at: Ints, weights: Ints, i: int, p: int, grid: Ints, wide: int, high: int) -> int:
    """Put into `grid` the depth by weight of part i in position p at every place; return the tests that it counts.

    Parameters
    ----------
    grid : array of int
        Written: by column and row of the place, `wide` columns and `high` rows of it.
    """
    sizes = tables.sizes
    tests = wide * high
    grid[:wide, :high] = 0
    for j in range(at.shape[0]):
        if j == i:
            continue
        q, x, y = at[j, 0], at[j, 1] - sizes[p, 0] + 1, at[j, 2] - sizes[p, 1] + 1
        if not tables.ready[p, q]:
            tests += make(tables, p, q)
        rows = sizes[p, 1] + sizes[q, 1] - 1
        x0, x1 = max(0, x), min(wide, at[j, 1] + sizes[q, 0])
        y0, y1 = max(0, y), min(high, at[j, 2] + sizes[q, 1])
        if x1 <= x0 or y1 <= y0:
            continue
        w = weights[i, j]
        for c in range(x0, x1):
            first = tables.start[p, q] + (c - x) * rows + y0 - y
            depth, column = tables.depth[first : first + y1 - y0], grid[c, y0:y1]
            for r in range(y1 - y0):
                column[r] += w * depth[r]
        tests += (x1 - x0) * (y1 - y0)
    return int(tests)


@njit(cache=True)
def best_place(
    tables: Tables, choices: Ints, plates: Ints, at: Ints, weights: Ints, i: int, grid: Ints, state: int
) -> tuple[int, int, int, int, int]:
    """Return position, column and row in which a part lies least deep in others, by weight; state; tests.

    Of equal rows of a column chance takes one; of places where it lies in none the one with least room to move in, so
    that small parts leave large rooms to large parts.
    """
    best, position, x, y, tests, snug = FAR, at[i, 0], at[i, 1], at[i, 2], 0, FAR
    end = plates[-1, 1]
    state, turn = drawn(state, choices[i, 1])
    for way in range(choices[i, 1]):
        p = choices[i, 0] + (turn + way) % choices[i, 1]
        wide, high = end - tables.sizes[p, 0] + 1, grid.shape[1] - tables.sizes[p, 1] + 1
        if wide <= 0 or high <= 0:
            continue
        tests += weigh(tables, at, weights, i, p, grid, wide, high)
        for n in range(plates.shape[0]):
            behind = plates[n, 1] - tables.sizes[p, 0] + 1
            for c in range(plates[n, 0], behind):
                column = grid[c, :high]
                least = FAR
                for r in range(high):  # a processor does this for several rows at once, unlike min()
                    least = min(least, column[r])
                if least > 0:
                    if least < best:
                        best, position, x = least, p, c
                        state, y = drawn(state, high)
                        while column[y] > least:
                            y = y + 1 if y + 1 < high else 0
                    continue
                best, row = 0, 0
                while row < high:  # rows without overlap, run by run
                    if column[row] > 0:
                        row += 1
                        continue
                    low = row
                    while row < high and column[row] == 0:
                        row += 1
                    long, left, right = row - low, c, c + 1
                    while left > plates[n, 0] and grid[left - 1, low] == 0 and (right - left) * long < snug:
                        left -= 1
                    while right < behind and grid[right, low] == 0 and (right - left) * long < snug:
                        right += 1
                    tests += right - left + long
                    if (right - left) * long < snug:
                        snug, position, x = (right - left) * long, p, c
                        state, y = drawn(state, 2)
                        y = row - 1 if y == 0 else low
    return position, x, y, state, tests


@njit(cache=True)
def settle(
    tables: Tables,
    choices: Ints,
    plates: Ints,
    at: Ints,
    best: Ints,
    weights: Ints,
    depths: Ints,
    grid: Ints,
    rules: Rules,
    enough: int,
    fresh: bool,
    state: int,
    budget: int,
) -> tuple[int, int, int]:
    """Move parts that lie in others, one by one, to where they do so least; return the least depth, tests, state.

    Parameters
    ----------
    choices : array of int, shape (moving parts, 2)
        First position of each part that may be moved, and how many it has.
    plates : array of int, shape (plates, 2)
        First column of each plate and the one behind its last.
    at, weights, depths : array of int
        Of all parts, those that cannot be moved last; written.
    best : array of int
        Like `at`: written, the layout of the least depth.
    grid : array of int, shape (columns, rows)
        Room for `weigh`.
    enough : int
        Depth in all at which it ends.
    fresh : bool
        Whether all pairs begin with the same weight; else it goes on with those that are there.
    budget : int
        Tests after which it ends.
    """
    unit = rules.unit
    n, count = at.shape[0], choices.shape[0]
    if fresh:
        weights[:] = unit
    for i in range(n):
        for j in range(i):
            depths[i, j] = depths[j, i] = deep(tables, at, i, j)
    order = np.empty(count, dtype=np.int32)
    least, idle, tests = 1 << 60, 0, 0
    while True:
        total, worst = 0, 0
        for i in range(n):
            for j in range(i):
                total += int(depths[i, j])
                worst = max(worst, int(depths[i, j]))
        idle += 1
        if total < least:
            least, idle = total, 0
            best[:] = at
        if total <= enough or idle >= rules.rounds or tests >= budget:
            return least, tests, state
        left = 0
        for i in range(n):
            clear = True
            for j in range(n):
                d, w = int(depths[i, j]), int(weights[i, j])
                if d > 0:
                    clear = False
                    w = w * (rules.more * d + rules.grow * worst) // (32 * worst) + 1
                else:
                    w = max(unit, w * rules.decay // 32)
                weights[i, j] = min(w, rules.most)
            if not clear and i < count:
                order[left] = i
                left += 1
        for k in range(left - 1, 0, -1):
            state, j = drawn(state, k + 1)
            order[k], order[j] = order[j], order[k]
        tests += n * n
        for k in range(left):
            i = order[k]
            clear = True
            for j in range(n):
                if depths[i, j] > 0:
                    clear = False
            if clear:  # another one has made room
                continue
            p, x, y, state, spent = best_place(tables, choices, plates, at, weights, i, grid, state)
            at[i, 0], at[i, 1], at[i, 2] = p, x, y
            tests += spent
            for j in range(n):
                depths[i, j] = depths[j, i] = deep(tables, at, i, j)
