"""The first free place of a part on a sheet: along the sheet first, then across it.

The loops run over whole numbers only, so compiled and plain Python give the same answer. A sheet is an array of how
many free cells follow from each cell across it; a part is a set of runs (see raster.py).
"""

from __future__ import annotations

from numba import njit

from tinbook.job.nesting.raster import Ints


@njit(cache=True)
def first_place(
    free: Ints, longest: Ints, runs: Ints, need: Ints, rows: int, begin: int, end: int
) -> tuple[int, int, int]:
    """Return column and row of the first place, (-1, -1) if there is none, and the number of runs tested.

    Parameters
    ----------
    free : array of int, shape (sheet's columns, sheet's rows)
        See `raster.run_lengths`.
    longest : array of int, shape (sheet's columns,)
        Longest free run of each column.
    runs : array of int, shape (n, 3)
        The part's cells.
    need : array of int, shape (part's columns,)
        Longest run of the part in each column.
    rows : int
        Rows of the part.
    begin, end : int
        The part must begin at or behind the one column, and end at or before the other.
    """
    across, columns = free.shape[1], need.shape[0]
    tests, worst, narrow = 0, 0, 0
    for x in range(begin, end - columns + 1):
        full = False
        for k in range(columns):
            c = narrow + k
            if c >= columns:
                c -= columns
            if longest[x + c] < need[c]:
                narrow = c
                full = True
                break
        tests += 1 + k // 4
        if full:
            continue
        y = 0
        while y <= across - rows:
            clash = False
            for k in range(runs.shape[0]):
                i = worst + k  # the run that clashed last is the likeliest to clash next
                if i >= runs.shape[0]:
                    i -= runs.shape[0]
                tests += 1
                column, row, length = x + runs[i, 0], y + runs[i, 1], runs[i, 2] - runs[i, 1]
                if free[column, row] < length:
                    row += free[column, row]
                    while row < across and free[column, row] < length:
                        row += max(free[column, row], 1)
                    y = row - runs[i, 1] if row < across else across
                    worst = i
                    clash = True
                    break
            if not clash:
                return x, y, tests
    return -1, -1, tests


@njit(cache=True)
def take(free: Ints, longest: Ints, runs: Ints, x: int, y: int) -> None:
    """Mark the part's cells as taken, in place."""
    for i in range(runs.shape[0]):
        column, first, end = x + runs[i, 0], y + runs[i, 1], y + runs[i, 2]
        for row in range(first, end):
            free[column, row] = 0
        row, left = first - 1, 1
        while row >= 0 and free[column, row] > 0:
            free[column, row] = left
            left += 1
            row -= 1
        most = 0
        for row in range(free.shape[1]):
            most = max(most, free[column, row])
        longest[column] = most
