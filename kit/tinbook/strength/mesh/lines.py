"""Lines inside a panel that its mesh must follow: where a lip under the sheet ends.

Sheet on a lip bears along the lip's inner line as soon as it bends, and lifts
off behind it. A mesh that knew only its own nodes would move that line by up
to an element, and the span with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, Final

import numpy as np
import shapely

from tinbook.making.folded import MadePanel
from tinbook.rules.near import line
from tinbook.strength.mesh.planar import Ring, divide
from tinbook.strength.shell.element import Array, Index

FINEST: Final = 1 / 20
"""Lips narrower than this part of an element are the edge itself."""
CLEAR: Final = 0.5
"""How near a line comes to a hole or bead, in their own spacing."""


def polyline(panel: MadePanel, edge: str) -> Any:
    """Return an edge by its name as shapely lines."""
    return shapely.line_merge(line([e for e in panel.boundary.edges if e.name == edge]))


def inner(panel: MadePanel, lips: Sequence[tuple[str, float]]) -> Any:
    """Return where lips end inside a panel, as shapely lines.

    Parameters
    ----------
    panel : MadePanel
    lips : sequence of (str, float)
        Edge and how far the lip reaches in from it, mm. Lips that meet are one.
    """
    sheet = shapely.Polygon(panel.boundary.chords())
    under = [polyline(panel, e).buffer(reach, quad_segs=16) for e, reach in lips if reach > 0]
    ends = shapely.union_all(under).boundary if under else shapely.LineString()
    # A line on the panel's own outline needs no division.
    return shapely.line_merge(shapely.intersection(ends, sheet.buffer(-1e-6)))


def crossings(ends: Any, start: Sequence[float], end: Sequence[float]) -> list[float]:
    """Return where lines end on a straight edge, as fractions of its length."""
    if ends is None or shapely.is_empty(ends):
        return []
    a, b = np.asarray(start), np.asarray(end)
    axis = b - a
    length = float(np.linalg.norm(axis))
    out = []
    for part in shapely.get_parts(ends):
        for p in (part.coords[0], part.coords[-1]):
            s = float((np.asarray(p) - a) @ axis) / length**2
            off = float(np.linalg.norm(a + s * axis - np.asarray(p)))
            if off < 1e-4 and 1e-4 < s * length < length - 1e-4:
                out.append(s)
    return sorted(set(np.round(out, 9).tolist()))


def nodes(ends: Any, rings: Sequence[Ring], size: float) -> tuple[Array, Index]:
    """Return points on lines that must become nodes, and the segments between them that elements must follow.

    They stand across from the points of the outline, so that elements between are near rectangles.

    Parameters
    ----------
    ends : shapely lines
    rings : sequence of Ring
        The panel's outline first, then beads and holes.
    size : float
        Largest distance of points, mm.

    Returns
    -------
    points : array (k, 2)
    sides : array (s, 2)
        Places in the points of all rings followed by `points`.
    """
    border = np.concatenate([r.points for r in rings])
    outline = shapely.Polygon(rings[0].points)
    others = [shapely.Polygon(r.points).buffer(CLEAR * float(r.spacing.min())) for r in rings[1:]]
    barred = shapely.union_all(others) if others else shapely.Polygon()
    shapely.prepare(barred)
    points: list[Array] = []
    sides: list[tuple[int, int]] = []
    for part in shapely.get_parts(ends):
        at = _across(part, rings[0].points, size)
        xy = shapely.get_coordinates(shapely.line_interpolate_point(part, at))
        number = np.full(len(xy), -1)
        for k, p in enumerate(xy):
            away = np.linalg.norm(border - p, axis=1)
            near = int(np.argmin(away))
            if away[near] < 1e-3:
                number[k] = near
            elif outline.contains(shapely.Point(p)) and not barred.contains(shapely.Point(p)):
                number[k] = len(border) + len(points)
                points.append(p)
        closed = part.is_ring
        for k in range(len(xy) - (0 if closed else 1)):
            a, b = k, (k + 1) % len(xy)
            if number[a] < 0 or number[b] < 0 or number[a] == number[b]:
                continue
            side = shapely.LineString((xy[a], xy[b]))
            if not side.intersects(barred) and outline.contains(side):
                sides.append((int(number[a]), int(number[b])))
    return np.array(points).reshape(-1, 2), np.array(sides, dtype=np.int64).reshape(-1, 2)


def _across(line: Any, outline: Array, size: float) -> Array:
    """Return places along a line: its corners, those nearest to the outline's points, none farther apart than `size`."""
    length = float(line.length)
    corners = shapely.line_locate_point(line, shapely.points(np.array(line.coords)))
    turn = _turns(line)
    firm = np.unique(np.concatenate(([0.0, length], corners[turn])))
    near = np.sort(shapely.line_locate_point(line, shapely.points(outline)))
    out = list(firm)
    for a, b in pairwise(firm):
        mine = near[(near > a) & (near < b)]
        last = a
        # Points much closer than the rest would make slivers.
        least = min(0.4 * size, 0.4 * (b - a))
        for s in mine:
            if s - last > least and b - s > least:
                out.append(s)
                last = s
    places = np.array(sorted(out))
    full = [places[:1]]
    for a, b in pairwise(places):
        full.append(a + (b - a) * divide(np.full(2, 1.3 * size), b - a)[1:])
    at = np.concatenate(full)
    return at[:-1] if line.is_ring else at


def _turns(line: Any) -> Any:
    """Return which points of a line are corners, not steps of an arc."""
    p = np.array(line.coords)
    step = np.diff(p, axis=0)
    angle = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs(np.angle(np.exp(1j * np.diff(angle))))
    return np.concatenate(([False], turn > np.radians(20), [False]))
