"""Overlaps of parts in cells: how much two share, and where one part would overlap the others least.

As in places.py the loops run over whole numbers only, chance included, so compiled and plain Python agree.
"""

from __future__ import annotations

from numba import njit

from tinbook.job.nesting.raster import Ints


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
def crossing(runs: Ints, spans: Ints, sizes: Ints, at: Ints, out: Ints) -> int:
    """Put the cells that each pair of parts shares into `out`; return their sum.

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
    """
    total = 0
    for i in range(at.shape[0]):
        for j in range(i):
            p, q = at[i, 0], at[j, 0]
            cells = 0
            if (
                at[i, 1] < at[j, 1] + sizes[q, 0]
                and at[j, 1] < at[i, 1] + sizes[p, 0]
                and at[i, 2] < at[j, 2] + sizes[q, 1]
                and at[j, 2] < at[i, 2] + sizes[p, 1]
            ):
                cells = shared(
                    runs, spans[p, 0], spans[p, 1], at[i, 1], at[i, 2], spans[q, 0], spans[q, 1], at[j, 1], at[j, 2]
                )
            out[i, j] = out[j, i] = cells
            total += cells
    return total


@njit(cache=True)
def weigh(grid: Ints, runs: Ints, spans: Ints, at: Ints, weights: Ints, part: int, end: int) -> None:
    """Put into `grid` what the other parts weigh in the cells before each cell of its column."""
    rows = grid.shape[1] - 1
    for x in range(end):
        for y in range(rows + 1):
            grid[x, y] = 0
    for j in range(at.shape[0]):
        if j != part:
            w = weights[part, j]
            for k in range(spans[at[j, 0], 0], spans[at[j, 0], 1]):
                x = at[j, 1] + runs[k, 0]
                if x < end:
                    grid[x, at[j, 2] + runs[k, 1]] += w
                    grid[x, at[j, 2] + runs[k, 2]] -= w
    for x in range(end):
        here, before = 0, 0
        for y in range(rows + 1):
            here += grid[x, y]
            grid[x, y] = before
            before += here


@njit(cache=True)
def weight(grid: Ints, runs: Ints, first: int, last: int, x: int, y: int, most: int) -> int:
    """Return what a position at (x, y) overlaps, by weight; a number above `most` as soon as that is passed."""
    total = 0
    for k in range(first, last):
        column = x + runs[k, 0]
        total += grid[column, y + runs[k, 2]] - grid[column, y + runs[k, 1]]
        if total > most:
            break
    return int(total)


@njit(cache=True)
def lightest(
    grid: Ints, runs: Ints, spans: Ints, sizes: Ints, choices: Ints, plates: Ints, now: Ints, tries: int, state: int
) -> tuple[int, int, int, int, int, int]:
    """Return where a part overlaps least of all places that are tried: weight, position, column, row, tests, state.

    Parameters
    ----------
    grid : array of int
        From `weigh`.
    choices : array of int
        Positions that the part may have.
    plates : array of int, shape (plates, 2)
        First column of each plate and the one behind its last.
    now : array of int, shape (3,)
        Position, column and row of today.
    tries : int
        Places drawn by chance; the best of them, and that of today, are walked downhill.
    state : int
        Of chance.
    """
    rows = grid.shape[1] - 1
    big = 1 << 30
    best, bp, bx, by = big, now[0], now[1], now[2]
    tests = 0
    for start in range(4):
        # Of each group of places the best is walked downhill; the first group is where the part lies.
        wp, wx, wy, w0, w1 = now[0], now[1], now[2], 0, 0
        w = big
        if start == 0:
            for n in range(plates.shape[0]):
                if plates[n, 0] <= wx < plates[n, 1]:
                    w0, w1 = plates[n, 0], plates[n, 1]
            wx = min(wx, w1 - sizes[wp, 0])
            if wx < w0:
                continue
            w = weight(grid, runs, spans[wp, 0], spans[wp, 1], wx, wy, big)
            tests += 6
        else:
            for _ in range(tries):
                state, c = drawn(state, choices.shape[0])
                state, n = drawn(state, plates.shape[0])
                p = choices[c]
                wide, high = plates[n, 1] - plates[n, 0] - sizes[p, 0], rows - sizes[p, 1]
                if wide < 0 or high < 0:
                    continue
                state, x = drawn(state, wide + 1)
                state, y = drawn(state, high + 1)
                x += plates[n, 0]
                got = weight(grid, runs, spans[p, 0], spans[p, 1], x, y, w)
                tests += 6
                if got < w:
                    w, wp, wx, wy, w0, w1 = got, p, x, y, plates[n, 0], plates[n, 1]
            if w == big:
                continue
        step = 16
        while step > 0 and w > 0:
            moved = False
            for way in range(4):
                x, y = wx, wy
                if way == 0:
                    x -= step
                elif way == 1:
                    x += step
                elif way == 2:
                    y -= step
                else:
                    y += step
                if x < w0 or y < 0 or x + sizes[wp, 0] > w1 or y + sizes[wp, 1] > rows:
                    continue
                got = weight(grid, runs, spans[wp, 0], spans[wp, 1], x, y, w)
                tests += 6
                if got < w:
                    w, wx, wy, moved = got, x, y, True
            if not moved:
                step //= 2
        if w < best:
            best, bp, bx, by = w, wp, wx, wy
        if best == 0:
            break
    return best, bp, bx, by, tests, state
