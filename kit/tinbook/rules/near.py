"""Distances between openings, forms, folds and edges of a panel, in arrays."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely

from tinbook.making.folded import MadePanel
from tinbook.memo import Memo, remembered
from tinbook.plane.arrays import Index, near_pairs, rows
from tinbook.plane.loops import Array, Edge

CHORD = 0.002
"""mm: sagitta of the chords that replace arcs, and so the error of a distance."""


NEAR_HOLES: Memo[tuple[float, tuple[Index, Index]]] = Memo("pairs of a panel's holes within a gap")


def lines(groups: Sequence[Iterable[Edge]]) -> Any:
    """Return each group of edges as one geometry, all in one call."""
    listed = [list(edges) for edges in groups]
    flat = [e for edges in listed for e in edges]
    each = shapely.linestrings(rows(flat)[:, :4].reshape(-1, 2, 2))
    for i, e in enumerate(flat):
        if e.bulge:
            each[i] = shapely.LineString([*e.chords(CHORD).tolist(), e.end])
    out = np.empty(len(groups), dtype=object)
    first = 0
    for k, edges in enumerate(listed):
        own = each[first : first + len(edges)]
        out[k] = own[0] if len(own) == 1 else shapely.multilinestrings(own)
        first += len(own)
    return out


def line(edges: Iterable[Edge]) -> Any:
    """Return edges as one geometry."""
    return lines([edges])[0]


@remembered
def holes_of(panel: MadePanel) -> tuple[Any, Array]:
    """Return shapes and radii of a panel's holes, computed once for all rules.

    A round hole is its centre and radius (exact), any other its contour and 0.
    """
    radii = np.array([0.0 if h.dia is None else h.dia / 2 for h in panel.holes])
    box = panel.hole_boxes
    # All centres in one call: it is made at every move of a slider.
    found = shapely.points((box[:, :2] + box[:, 2:]) / 2)
    for i in np.flatnonzero(radii == 0.0).tolist():
        found[i] = shapely.Polygon(panel.holes[i].loop.chords(CHORD))
    return found, radii


def near_holes(panel: MadePanel, gap: float) -> tuple[Index, Index]:
    """Return all pairs of a panel's holes whose boxes are within `gap`; a few may be farther apart. Computed again for a wider gap only."""
    known = NEAR_HOLES.known(panel)
    if known is None or known[0] < gap:
        known = gap, near_pairs(panel.hole_boxes, gap)
        NEAR_HOLES.put(panel, known)
    return known[1]


@remembered
def lines_of(panel: MadePanel) -> tuple[dict[str, Any], Any]:
    """Return a panel's tangent lines by fold, and its free edges, as geometry; computed once for all rules."""
    folds = folds_of(panel)
    *bends, free = lines([*folds.values(), free_edges(panel)])
    return dict(zip(folds, bends, strict=True)), free


def apart(boxes: Array, others: Array) -> Array:
    """Return the distances of boxes from other boxes, shape (boxes, others): a lower bound for what is inside."""
    a, b = boxes[:, None], others[None]
    gap = np.maximum(np.maximum(a[..., :2] - b[..., 2:], b[..., :2] - a[..., 2:]), 0.0)
    distances: Array = np.hypot(gap[..., 0], gap[..., 1])
    return distances


def folds_of(panel: MadePanel) -> dict[str, list[Edge]]:
    """Return the tangent lines of a panel by fold."""
    found: dict[str, list[Edge]] = {}
    for e in panel.boundary.edges:
        if e.name.startswith("fold:"):
            found.setdefault(e.name[5:], []).append(e)
    return found


def free_edges(panel: MadePanel) -> list[Edge]:
    """Return the cut edges of a panel, without the edges of openings that break the boundary."""
    return [e for e in panel.boundary.edges if not e.name.startswith(("fold:", "hole:"))]
