"""Distances between openings, beads, folds and edges of one panel, all at once."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import shapely

from tinbook.make.made import MadeHole, MadePanel
from tinbook.plane import Array, Edge

CHORD = 0.002
"""mm: sagitta of the chords that stand for arcs; distances are right to this."""


def of_holes(holes: Iterable[MadeHole]) -> tuple[Any, Array]:
    """Return shapes and radii: a round hole is its centre and radius (exact), any other its contour and 0."""
    listed = list(holes)
    radii = np.array([0.0 if h.dia is None else h.dia / 2 for h in listed])
    boxes = np.array([h.loop.box for h in listed]).reshape(-1, 4)
    # All centres in one call: it is made at every move of a slider.
    shapes = shapely.points((boxes[:, :2] + boxes[:, 2:]) / 2)
    for i in np.flatnonzero(radii == 0.0).tolist():
        shapes[i] = shapely.Polygon(listed[i].loop.chords(CHORD))
    return shapes, radii


def line(edges: Iterable[Edge]) -> Any:
    """Return edges as one geometry."""
    return shapely.multilinestrings([_points(e) for e in edges])


def _points(e: Edge) -> Any:
    return shapely.LineString(np.vstack((e.chords(CHORD), [e.end])))


def folds_of(panel: MadePanel) -> dict[str, list[Edge]]:
    """Return the tangent lines of a panel by fold."""
    found: dict[str, list[Edge]] = {}
    for e in panel.boundary.edges:
        if e.name.startswith("fold:"):
            found.setdefault(e.name[5:], []).append(e)
    return found


def free_edges(panel: MadePanel) -> list[Edge]:
    """Return the edges of a panel that are cut, not folded; openings that break the boundary do not count."""
    return [e for e in panel.boundary.edges if not e.name.startswith(("fold:", "hole:"))]
