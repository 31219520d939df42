"""Many loops at once as arrays: what a moved slider asks of every hole of a part."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from tinbook.plane.loops import Array, Edge, Loop
from tinbook.tolerances import CHORD

Index: TypeAlias = npt.NDArray[np.int64]


def rows(edges: Sequence[Edge]) -> Array:
    """Return edges as an array, shape (n, 5): start, end, bulge."""
    flat: list[float] = []  # thrice as quick as an array of tuples
    for e in edges:
        flat += e.start
        flat += e.end
        flat.append(e.bulge)
    return np.array(flat).reshape(-1, 5)


def boxes(loops: Sequence[Loop]) -> Array:
    """Return the exact bounding boxes of loops, shape (n, 4), full circles all at once."""
    ends: list[float] = []
    others: list[int] = []
    for i, loop in enumerate(loops):
        if loop.is_full_circle:
            ends += loop.edges[0].start
            ends += loop.edges[0].end
        else:
            ends += loop.box
            others.append(i)
    out = np.array(ends).reshape(-1, 4)
    if len(others) == len(loops):
        return out
    a, b = out[:, :2], out[:, 2:]
    way = b - a
    centre, r = (a + b) / 2, np.hypot(way[:, :1], way[:, 1:]) / 2
    out = np.concatenate((centre - r, centre + r), axis=1)
    if others:
        out[others] = np.concatenate((a[others], b[others]), axis=1)
    return out


def near_pairs(box: Array, gap: float = 0.0) -> tuple[Index, Index]:
    """Return the numbers i < j, in order, of boxes, shape (n, 4), that come within `gap` along x and along y."""
    n = len(box)
    order = np.argsort(box[:, 0], kind="stable")
    x0, y0, x1, y1 = box[order].T
    x1, y1 = x1 + gap, y1 + gap
    pairs = []
    # In slices, so that thousands of boxes need little room; boxes far to the right are left out of each.
    for k in range(0, n, _SLICE):
        own = slice(k, k + _SLICE)
        row = slice(k, np.searchsorted(x0, x1[own].max(), side="right"))
        meet = (x0[row] <= x1[own, None]) & (y0[row] <= y1[own, None]) & (y1[row] >= y0[own, None])
        i, j = meet.nonzero()
        once = j > i
        if once.any():
            pairs.append(order[k + np.array((i[once], j[once]))])
    if not pairs:
        return _NONE, _NONE
    found = np.sort(np.concatenate(pairs, axis=1), axis=0)
    first, second = found[:, np.lexsort(found[::-1])]
    return first, second


_NONE: Index = np.zeros(0, dtype=np.int64)
_SLICE = 256


def chords_of(loops: Sequence[Loop], sagitta: float = CHORD) -> tuple[Array, npt.NDArray[np.int64]]:
    """Return the points of many loops at once, as `Loop.chords` gives them, and the number of each point's loop."""
    raw = rows([e for loop in loops for e in loop.edges])
    of = np.repeat(np.arange(len(loops)), [len(loop) for loop in loops])
    arcs = np.flatnonzero(raw[:, 4])
    if not len(arcs):
        return raw[:, :2], of
    start, chord, bulge = raw[arcs, :2], raw[arcs, 2:4] - raw[arcs, :2], raw[arcs, 4]
    sweep, length = 4.0 * np.arctan(bulge), np.hypot(chord[:, 0], chord[:, 1])
    r, k = length * (1.0 + bulge**2) / (4.0 * np.abs(bulge)), (1.0 - bulge**2) / (4.0 * bulge)
    step = np.where(sagitta < r, 2.0 * np.arccos(np.maximum(1.0 - sagitta / r, 0.0)), math.pi / 2)
    pieces = np.ones(len(raw), dtype=np.int64)
    pieces[arcs] = np.maximum(np.ceil(np.abs(sweep) / np.minimum(step, math.pi / 8)), 2)
    xy = np.repeat(raw[:, :2], pieces, axis=0)
    centre = start + chord / 2 + k[:, None] * np.column_stack((-chord[:, 1], chord[:, 0]))
    arm = np.arctan2(start[:, 1] - centre[:, 1], start[:, 0] - centre[:, 0])
    first = (np.cumsum(pieces) - pieces)[arcs]
    n = pieces[arcs] - 1  # the start is there already
    which = np.repeat(np.arange(len(arcs)), n)
    j = np.arange(len(which)) - (np.cumsum(n) - n)[which] + 1
    a = arm[which] + sweep[which] * j / pieces[arcs][which]
    xy[first[which] + j] = centre[which] + r[which, None] * np.column_stack((np.cos(a), np.sin(a)))
    return xy, np.repeat(of, pieces)
