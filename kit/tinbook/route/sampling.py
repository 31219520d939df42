"""Along a sweep, as finely as needed to miss nothing and no finer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt

from tinbook.plane.loops import Array
from tinbook.shop.tools.strokes import moved

Index = npt.NDArray[np.intp]
COARSE: Final = 9


def search_sweep(
    gap: Callable[[Index], Array], travel: Callable[[Index, Index], Array], count: int
) -> tuple[int | None, int]:
    """Look for a sample where something hits, as finely as needed to miss none.

    Parameters
    ----------
    gap : callable
        Samples -> distance apart, at most 0 where they overlap.
    travel : callable
        Two rows of samples -> bound of how far any point moves between them.
    count : int
        Samples there are.

    Returns
    -------
    hit : int or None
        The first overlapping sample that was looked at.
    looked : int
        How many were.
    """
    at = _coarse(count)
    known = gap(at)
    looked = len(at)
    if (known <= 0).any():
        return int(at[np.argmax(known <= 0)]), looked
    i, j, gi, gj = at[:-1], at[1:], known[:-1], known[1:]
    while True:
        open_ = (j - i > 1) & (gi + gj <= travel(i, j))
        if not open_.any():
            return None, looked
        i, j, gi, gj = i[open_], j[open_], gi[open_], gj[open_]
        m = (i + j) // 2
        gm = gap(m)
        looked += len(m)
        if (gm <= 0).any():
            return int(m[np.argmax(gm <= 0)]), looked
        i, j = np.concatenate((i, m)), np.concatenate((m, j))
        gi, gj = np.concatenate((gi, gm)), np.concatenate((gm, gj))


def boxes_clear(
    points: Array,
    turn: Array,
    place: Array,
    box: tuple[float, float, float, float],
    travel: Callable[[Index, Index], Array],
) -> bool:
    """Whether the box round some points stays so far from another's that nothing can happen between the coarsest samples."""
    at = _coarse(len(turn))
    c = moved(points[None], turn[at][:, None]) + place[at][:, None]
    low, high = c.min(axis=1), c.max(axis=1)
    gap = np.maximum(np.maximum(low - box[2:], np.array(box[:2]) - high), 0.0)
    apart = np.hypot(gap[:, 0], gap[:, 1])
    if len(at) == 1:
        return bool(apart[0] > 0.0)
    return bool((apart[:-1] + apart[1:] > travel(at[:-1], at[1:])).all())


def _coarse(count: int) -> Index:
    return (np.arange(COARSE) * (count - 1)) // (COARSE - 1) if count > COARSE else np.arange(count)
