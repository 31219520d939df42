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
    shapes, radii = [], []
    for h in holes:
        if h.dia is not None:
            x0, y0, x1, y1 = h.loop.box
            shapes.append(shapely.Point((x0 + x1) / 2, (y0 + y1) / 2))
            radii.append(h.dia / 2)
        else:
            shapes.append(shapely.Polygon(h.loop.chords(CHORD)))
            radii.append(0.0)
    return np.array(shapes, dtype=object), np.array(radii)


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
    return [e for e in panel.boundary.edges if not e.name.startswith("fold:") and e.name != "hole"]
