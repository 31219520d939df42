"""Overlaps of parts in cells: how much two share, and where one part would overlap the others least.

As in places.py the loops run over whole numbers only, chance included, so compiled and plain Python agree.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numba import njit

from tinbook.job.nesting.raster import Ints

NEAR: Final = 32
"""Cells round a part in which it looks for a place first."""
FAR: Final = 1 << 30
"""Above every weight."""


class Rules(NamedTuple):
    """How overlaps are resolved: all whole numbers.

    Parameters
    ----------
    tries, groups : int
        Places that are drawn by chance, and how often; the best of each is walked downhill. No groups: only places near by.
    rounds : int
        Without fewer overlaps, after which a length is given up.
    unit, most : int
        First and largest weight of a pair.
    grow, more, decay : int
        In 32nds: by which the weight of a pair that overlaps grows, by how much more the worst pair's, and what is left
        of the weight of one that does not.
    """

    tries: int
    groups: int
    rounds: int
    unit: int
    most: int
    grow: int
    more: int
    decay: int


@njit(cache=True)
def drawn(state: int, below: int) -> tuple[int, int]:
    """Return the next state of a generator of chance, and a number from 0 that is less than `below`."""
    state = (state * 1103515245 + 12345) & 0x7FFFFFFF
    return state, (state >> 8) % below


@njit(cache=True)
def shared(runs: Ints, a0: int, a1: int, ax: int, ay: int, b0: int, b1: int, bx: int, by: int) -> int:
    """Return how many cells two parts share: runs a0 to a1 at (ax, ay), runs b0 to b1 at (bx, by), by column."""
    total, j = 0, b0
    for i in range(a0, a1):
        column, first, end = ax + runs[i, 0], ay + runs[i, 1], ay + runs[i, 2]
        while j < b1 and bx + runs[j, 0] < column:
            j += 1
        k = j
        while k < b1 and bx + runs[k, 0] == column:
            low, high = max(first, by + runs[k, 1]), min(end, by + runs[k, 2])
            if high > low:
                total += high - low
            k += 1
    return total


@njit(cache=True)
def meet(runs: Ints, spans: Ints, sizes: Ints, at: Ints, out: Ints, i: int) -> None:
    """Put the cells that one part shares with each other part into its row and column of `out`.

    Parameters
    ----------
    runs : array of int, shape (n, 3)
        Of all positions, one after the other.
    spans, sizes : array of int, shape (positions, 2)
        First run and the one behind the last; columns and rows.
    at : array of int, shape (parts, 3)
        Position, column and row of each part.
    out : array of int, shape (parts, parts)
        Written.
    i : int
        The part.
    """
    p = at[i, 0]
    for j in range(at.shape[0]):
        q = at[j, 0]
        cells = 0
        if (
            j != i
            and at[i, 1] < at[j, 1] + sizes[q, 0]
            and at[j, 1] < at[i, 1] + sizes[p, 0]
            and at[i, 2] < at[j, 2] + sizes[q, 1]
            and at[j, 2] < at[i, 2] + sizes[p, 1]
        ):
            cells = shared(
                runs, spans[p, 0], spans[p, 1], at[i, 1], at[i, 2], spans[q, 0], spans[q, 1], at[j, 1], at[j, 2]
            )
        out[i, j] = out[j, i] = cells


@njit(cache=True)
def weigh(
    grid: Ints, runs: Ints, spans: Ints, sizes: Ints, at: Ints, weights: Ints, part: int, box: tuple[int, int, int, int]
) -> None:
    """Put into a part of `grid` what the other parts weigh in the cells before each cell of its column.

    Parameters
    ----------
    grid : array of int, shape (rows + 1, columns)
        Written within `box`; a difference of two rows of a column there is the weight of the cells between them.
    box : (int, int, int, int)
        First column, the one behind the last; first row, and the one behind the last.
    """
    x0, x1, y0, y1 = box
    for y in range(y0, y1 + 1):
        grid[y, x0:x1] = 0
    for j in range(at.shape[0]):
        p, dx, dy = at[j, 0], at[j, 1], at[j, 2]
        if j == part or dx >= x1 or dx + sizes[p, 0] <= x0 or dy >= y1 or dy + sizes[p, 1] <= y0:
            continue
        w = weights[part, j]
        for k in range(spans[p, 0], spans[p, 1]):
            x = dx + runs[k, 0]
            if x0 <= x < x1:
                first, last = max(y0, dy + runs[k, 1]), min(y1, dy + runs[k, 2])
                if first < last:
                    grid[first, x] += w
                    grid[last, x] -= w
    here, before = np.zeros(x1 - x0, dtype=np.int32), np.zeros(x1 - x0, dtype=np.int32)
    for y in range(y0, y1 + 1):  # a row at a time, which a processor adds in one go
        row = grid[y, x0:x1]
        for x in range(x1 - x0):
            added = row[x]
            row[x] = before[x]
            here[x] += added
            before[x] += here[x]


@njit(cache=True)
def weight(grid: Ints, runs: Ints, first: int, last: int, x: int, y: int, most: int) -> int:
    """Return what a position at (x, y) overlaps, by weight; a number above `most` as soon as that is passed."""
    total = 0
    for k in range(first, last):
        column = x + runs[k, 0]
        total += grid[y + runs[k, 2], column] - grid[y + runs[k, 1], column]
        if total > most:
            break
    return int(total)


@njit(cache=True)
def walked(
    grid: Ints, runs: Ints, spans: Ints, sizes: Ints, place: tuple[int, int, int, int], box: tuple[int, int, int, int]
) -> tuple[int, int, int, int]:
    """Walk a part downhill from a place; return what it overlaps there, column, row, and how many places were weighed.

    Parameters
    ----------
    grid : array of int
        From `weigh`.
    place : (int, int, int, int)
        Weight, position, column and row.
    box : (int, int, int, int)
        As for `weigh`; the part stays in it.
    """
    w, p, x, y = place
    x0, x1, y0, y1 = box
    step, tried = 16, 0
    while step > 0 and w > 0:
        moved = False
        for way in range(4):
            nx, ny = x, y
            if way == 0:
                nx -= step
            elif way == 1:
                nx += step
            elif way == 2:
                ny -= step
            else:
                ny += step
            if nx < x0 or ny < y0 or nx + sizes[p, 0] > x1 or ny + sizes[p, 1] > y1:
                continue
            tried += 1
            got = weight(grid, runs, spans[p, 0], spans[p, 1], nx, ny, w)
            if got < w:
                w, x, y, moved = got, nx, ny, True
        if not moved:
            step //= 2
    return w, x, y, tried


@njit(cache=True)
def nearby(at: Ints, sizes: Ints, i: int, plates: Ints, rows: int) -> tuple[int, int, int, int]:
    """Return the box round a part in which it looks for a place first."""
    p, x, y = at[i, 0], at[i, 1], at[i, 2]
    x0, x1 = x, x + sizes[p, 0]
    for n in range(plates.shape[0]):
        if plates[n, 0] <= x < plates[n, 1]:
            x0, x1 = max(plates[n, 0], x - NEAR), min(plates[n, 1], x1 + NEAR)
    return x0, x1, max(0, y - NEAR), min(rows, y + sizes[p, 1] + NEAR)


@njit(cache=True)
def drawn_place(
    grid: Ints, runs: Ints, spans: Ints, sizes: Ints, ways: Ints, plates: Ints, tries: int, state: int
) -> tuple[int, int, int, int, int, int, int]:
    """Return the best of some places drawn by chance: weight, position, column, row, plate, how many were weighed, state.

    Parameters
    ----------
    ways : array of int, shape (2,)
        The part's first position, and how many it has.
    plates : array of int, shape (plates, 2)
        First column of each plate and the one behind its last.
    """
    rows, w, best_p, best_x, best_y, plate, tried = grid.shape[0] - 1, FAR, 0, 0, 0, 0, 0
    for _ in range(tries):
        state, c = drawn(state, ways[1])
        state, n = drawn(state, plates.shape[0])
        p = ways[0] + c
        wide, high = plates[n, 1] - plates[n, 0] - sizes[p, 0], rows - sizes[p, 1]
        if wide < 0 or high < 0:
            continue
        state, x = drawn(state, wide + 1)
        state, y = drawn(state, high + 1)
        x += plates[n, 0]
        tried += 1
        got = weight(grid, runs, spans[p, 0], spans[p, 1], x, y, w)
        if got < w:
            w, best_p, best_x, best_y, plate = got, p, x, y, n
    return w, best_p, best_x, best_y, plate, tried, state


@njit(cache=True)
def settle(
    grid: Ints,
    runs: Ints,
    spans: Ints,
    sizes: Ints,
    choices: Ints,
    plates: Ints,
    at: Ints,
    weights: Ints,
    overlaps: Ints,
    target: int,
    rules: Rules,
    state: int,
    budget: int,
) -> tuple[bool, int, int]:
    """Move parts that overlap, one by one, to where they overlap least; return whether none is left, tests, state.

    Parameters
    ----------
    choices : array of int, shape (moving parts, 2)
        First position of each part that may be moved, and how many it has.
    at, weights, overlaps : array of int
        Of all parts, those that cannot be moved last; written.
    target : int
        Column before which all must lie.
    budget : int
        Tests after which it ends.
    """
    unit = rules.unit
    n, count, rows = at.shape[0], choices.shape[0], grid.shape[0] - 1
    weights[:] = unit
    for i in range(n):
        meet(runs, spans, sizes, at, overlaps, i)
    order = np.empty(count, dtype=np.int32)
    least, idle, tests = 1 << 60, 0, 0
    while idle < rules.rounds and tests < budget:
        total, worst = 0, 0
        for i in range(n):
            for j in range(i):
                total += int(overlaps[i, j])
                worst = max(worst, int(overlaps[i, j]))
        if total == 0:
            return True, tests, state
        tests += n * n
        idle = 0 if total < least else idle + 1
        least = min(least, total)
        left = 0
        for i in range(n):
            apart = True
            for j in range(n):
                cells, w = int(overlaps[i, j]), int(weights[i, j])
                if cells > 0:
                    apart = False
                    w = w * (rules.more * cells + rules.grow * worst) // (32 * worst) + 1
                else:
                    w = max(unit, w * rules.decay // 32)
                weights[i, j] = min(w, rules.most)
            if not apart and i < count:
                order[left] = i
                left += 1
        for k in range(left - 1, 0, -1):
            state, j = drawn(state, k + 1)
            order[k], order[j] = order[j], order[k]
        for k in range(left):
            i = order[k]
            apart = True
            for j in range(n):
                if overlaps[i, j] > 0:
                    apart = False
            if apart:  # another one has made room
                continue
            box = nearby(at, sizes, i, plates, rows)
            weigh(grid, runs, spans, sizes, at, weights, i, box)
            p = at[i, 0]
            each = 6 + (spans[p, 1] - spans[p, 0]) // 10  # tests that weighing a place takes
            w = weight(grid, runs, spans[p, 0], spans[p, 1], at[i, 1], at[i, 2], FAR)
            w, x, y, tried = walked(grid, runs, spans, sizes, (w, p, at[i, 1], at[i, 2]), box)
            tests += (box[1] - box[0]) * (box[3] - box[2]) // 65 + each * tried
            if w > 0:
                weigh(grid, runs, spans, sizes, at, weights, i, (0, target, 0, rows))
                tests += target * rows // 65
                for _ in range(rules.groups):
                    v, q, nx, ny, plate, tried, state = drawn_place(
                        grid, runs, spans, sizes, choices[i], plates, rules.tries, state
                    )
                    tests += each * tried
                    if v < FAR:
                        box = plates[plate, 0], plates[plate, 1], 0, rows
                        v, nx, ny, tried = walked(grid, runs, spans, sizes, (v, q, nx, ny), box)
                        tests += each * tried
                    if v < w:
                        w, p, x, y = v, q, nx, ny
                    if w == 0:
                        break
            at[i, 0], at[i, 1], at[i, 2] = p, x, y
            meet(runs, spans, sizes, at, overlaps, i)
    return False, tests, state
