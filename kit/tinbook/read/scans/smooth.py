"""The scatter of a scan: how large it is, and the surface without it."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from tinbook.memo import remembered
from tinbook.plane.loops import Array
from tinbook.progress import Progress, in_turn, part_of, quiet
from tinbook.read.scans.mesh import Scan, edges, smooth_normals

ROUNDS: Final = 14
"""Times that each point is carried towards the mean of its neighbours and back: some twenty points share their scatter."""
INWARD, OUTWARD = 0.6, 0.63
"""Shares of the way there and back: scatter goes, gentle curves stay (Taubin, A signal processing approach to fair surface
design, SIGGRAPH 1995; from memory)."""
STRAY: Final = 5.0
"""A point that stands out from its neighbours so many times more than is usual is left out."""
QUIET: Final = 0.02
"""mm: a mesh that scatters less is taken as it stands."""
RAISED: Final = 0.8
"""Of the scatter that the difference of a point's height over its neighbours from theirs shows (a ring of six)."""


@remembered
def smoothed(scan: Scan, *, tell: Progress = quiet) -> tuple[Scan, float]:
    """Return a mesh without its scatter, and the scatter, mm.

    Returns
    -------
    Scan
        Points moved square to the surface only, so that the border stays where it is. A mesh that scatters less than
        `QUIET` mm is returned as it is: a surface that was drawn keeps every digit.
    float
        Standard deviation of the points square to the surface.
    """
    from scipy.sparse import coo_array

    i, j = edges(scan)[0].T
    n = len(scan.points)
    ones = np.ones(2 * len(i))
    rings = coo_array((ones, (np.concatenate((i, j)), np.concatenate((j, i)))), shape=(n, n)).tocsr()
    count = np.maximum(rings @ np.ones(n), 1.0)
    away = smooth_normals(scan, tell=part_of(tell, 0.0, 0.4))
    tell(0.4, "scatter of the scan")

    def risen(x: Array, of: Array, total: Array) -> Array:
        """Return how far each point stands over the mean of its neighbours."""
        mean = (rings @ (x * of[:, None])) / total[:, None]
        found: Array = np.einsum("ij,ij->i", x - mean, away)
        return found

    every = np.ones(n)
    height = risen(scan.points, every, count)
    # A curved surface raises neighbours alike; scatter does not.
    scatter = RAISED * 1.4826 * float(np.median(np.abs(height - (rings @ height) / count)))
    if scatter < QUIET:
        return scan, scatter
    good = (np.abs(height - np.median(height)) <= STRAY * 1.4826 * np.median(np.abs(height))).astype(float)
    around = np.maximum(rings @ good, 1e-9)
    x = scan.points - ((1 - good) * risen(scan.points, good, around))[:, None] * away
    for _ in in_turn(range(ROUNDS), part_of(tell, 0.5, 1.0), "the surface without its scatter"):
        x = x - INWARD * risen(x, every, count)[:, None] * away
        x = x + OUTWARD * risen(x, every, count)[:, None] * away
    off = np.einsum("ij,ij->i", scan.points - x, away)
    return replace(scan, points=x), 1.4826 * float(np.median(np.abs(off)))
