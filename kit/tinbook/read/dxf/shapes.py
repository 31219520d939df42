"""One entity of a DXF file as lines and arcs; an entity out of the plane or damaged raises."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np

from tinbook.plane.loops import Edge, Point
from tinbook.read import curves
from tinbook.read.dxf.notes import Notes

FAR = 1e7
"""mm: a coordinate further out than ten kilometres is damage."""


def place_of(p: Any, scale: float) -> Point:
    """Return a point of the drawing in mm, its height dropped."""
    return float(p[0]) * scale, float(p[1]) * scale


def _line(e: Any, scale: float, tol: float, notes: Notes) -> list[Edge]:
    a, b = e.dxf.start, e.dxf.end
    if abs(a[2]) > 1e-6 or abs(b[2]) > 1e-6:
        notes.add("height", place_of(a, scale))
    return [Edge(place_of(a, scale), place_of(b, scale))]


def _mirrored(e: Any, notes: Notes, place: Point) -> bool:
    """Whether the entity is drawn seen from below; one that leans out of the plane raises."""
    normal = e.dxf.get("extrusion", (0, 0, 1))
    if abs(normal[0]) > 1e-6 or abs(normal[1]) > 1e-6:
        raise ValueError("drawn out of the plane")
    if normal[2] < 0:
        notes.add("mirrored", place)
    return bool(normal[2] < 0)


def _round(e: Any, scale: float, tol: float, notes: Notes) -> list[Edge]:
    """Return a circle as two arcs, an arc as one or two."""
    (cx, cy), r = place_of(e.dxf.center, scale), float(e.dxf.radius) * scale
    if r <= 0:
        return []
    back = _mirrored(e, notes, (cx, cy))
    if e.dxftype() == "CIRCLE":
        start, sweep = 180.0, 360.0
    else:
        start = float(e.dxf.start_angle)
        sweep = (float(e.dxf.end_angle) - start) % 360.0 or 360.0
    n = 2 if sweep > 181.0 else 1
    turns = [math.radians(start + sweep * k / n) for k in range(n + 1)]
    points = [(cx + r * math.cos(t), cy + r * math.sin(t)) for t in turns]
    if sweep == 360.0:
        points[-1] = points[0]
    bulge = math.tan(math.radians(sweep / n) / 4)
    edges = [Edge(points[k], points[k + 1], bulge) for k in range(n)]
    return [_turned(x) for x in edges] if back else edges


def _turned(e: Edge) -> Edge:
    """Return the edge of a drawing seen from below: x mirrored."""
    return Edge((-e.start[0], e.start[1]), (-e.end[0], e.end[1]), -e.bulge)


def _polyline(e: Any, scale: float, tol: float, notes: Notes) -> list[Edge]:
    if e.dxftype() == "LWPOLYLINE":
        points = [((float(x) * scale, float(y) * scale), float(b)) for x, y, b in e.get_points("xyb")]
        closed = bool(e.closed)
    else:
        if not (e.is_2d_polyline or e.is_3d_polyline):
            raise ValueError("a mesh, not a line")
        points = [(place_of(v.dxf.location, scale), float(v.dxf.get("bulge", 0.0))) for v in e.vertices]
        closed = bool(e.is_closed)
    if not points:
        return []
    back = e.dxf.hasattr("extrusion") and _mirrored(e, notes, points[0][0])
    edges = []
    for (a, bulge), (b, _) in zip(points, points[1:] + points[:1] if closed else points[1:], strict=False):
        if a != b:
            edges.append(Edge(a, b, bulge if abs(bulge) > 1e-9 else 0.0))
    return [_turned(x) for x in edges] if back else edges


def _curve(e: Any, scale: float, tol: float, notes: Notes) -> list[Edge]:
    """Fit an ellipse or a spline by lines and arcs."""
    points = _samples(e) * scale
    if not np.isfinite(points).all() or np.abs(points).max() > FAR:
        raise ValueError("damaged curve")
    keep = np.concatenate(([True], np.any(np.diff(points, axis=0) != 0, axis=1)))
    points = points[keep]
    if len(points) < 2:
        return []
    if np.hypot(*(points[0] - points[-1])) < 1e-6:
        points[-1] = points[0]
    made = []
    corners = [0, *_corners(points), len(points) - 1]
    for i, j in itertools.pairwise(corners):
        made += curves.fit(points[i : j + 1], tol)
    notes.add("curves", made[0].start if made else None, e.dxftype())
    return made


def _samples(e: Any) -> Any:
    if e.dxftype() == "ELLIPSE":
        tool = e.construction_tool()
        n = 720
        span = tool.param_span
        values = [tool.start_param + span * k / n for k in range(n + 1)]
        if span > math.tau - 1e-9:
            # The half axes' ends stand among the points, so that each quarter is fitted like the others.
            values = [math.tau * k / n for k in range(n + 1)]
        return np.array([(v.x, v.y) for v in tool.vertices(values)])
    tool = e.construction_tool()
    if tool.count > 20_000:
        raise ValueError("too many control points")
    knots = sorted(set(tool.knots()))
    low, high = tool.knots()[tool.order - 1], tool.knots()[tool.count]
    stops = [k for k in knots if low - 1e-12 <= k <= high + 1e-12]
    each = max(8, min(64, 6000 // max(len(stops), 1)))
    values = [a + (b - a) * i / each for a, b in itertools.pairwise(stops) for i in range(each)]
    return np.array([(v.x, v.y) for v in tool.points([*values, stops[-1]])])


def _corners(points: Any) -> list[int]:
    """Return the points where a curve turns by more than 20 degrees at once."""
    d = np.diff(points, axis=0)
    a = np.unwrap(np.arctan2(d[:, 1], d[:, 0]))
    return [int(i) + 1 for i in np.nonzero(np.abs(np.diff(a)) > math.radians(20))[0]]


TEXTS = ("TEXT", "MTEXT", "ATTRIB")
DRAWN = {
    "LINE": _line,
    "ARC": _round,
    "CIRCLE": _round,
    "LWPOLYLINE": _polyline,
    "POLYLINE": _polyline,
    "ELLIPSE": _curve,
    "SPLINE": _curve,
}
