"""Sort strokes into closed contours and open lines, and contours into outer and inner."""

from __future__ import annotations

import math
import re
from collections import defaultdict

import numpy as np
import shapely
from shapely import Polygon, STRtree, get_coordinates
from shapely.validation import explain_validity, make_valid

from tinbook.plane.loops import Edge, Loop, Point

NARROW = 2e-3
"""mm: chords of arcs, where it is asked what lies in a contour."""


def loops_of(edges: list[Edge]) -> tuple[list[list[Edge]], list[list[Edge]]]:
    """Return closed contours and open strokes of a drawing whose ends are shared exactly.

    Loose ends are taken off first. Where more than two edges meet, the outside of
    each connected figure and the figures that only touch it in points are contours;
    what lies inside, with metal on both sides, is a stroke.
    """
    at: dict[Point, list[int]] = defaultdict(list)
    for i, e in enumerate(edges):
        at[e.start].append(i)
        at[e.end].append(i)
    alive = [True] * len(edges)
    loose: list[int] = []
    todo = [p for p, found in at.items() if len(found) == 1]
    while todo:
        p = todo.pop()
        found = [i for i in at[p] if alive[i]]
        if len(found) != 1 or edges[found[0]].start == edges[found[0]].end:
            continue
        i = found[0]
        alive[i] = False
        loose.append(i)
        e = edges[i]
        far = e.end if e.start == p else e.start
        todo.append(far)
    closed, inner = _faces([e for e, used in zip(edges, alive, strict=True) if used])
    strokes = chained([edges[i] for i in sorted(loose)] + inner)
    return closed, strokes


def _faces(figure: list[Edge]) -> tuple[list[list[Edge]], list[Edge]]:
    """Trace the faces of figures that may lie in one another.

    Returns
    -------
    (contours, strokes)
        The outside of each figure, cut at the points where it touches itself, and the edges
        that have a face of their figure on both sides.
    """
    half: list[Edge] = []
    for e in figure:
        half += [e, e.reversed()]
    out: dict[Point, list[int]] = defaultdict(list)
    for i, e in enumerate(half):
        out[e.start].append(i)
    place: dict[int, int] = {}
    for p, found in out.items():
        found.sort(key=lambda i: _leaving(half[i]))
        place |= {i: k for k, i in enumerate(found)}
        out[p] = found
    face = [-1] * len(half)
    faces: list[list[int]] = []
    for i in range(len(half)):
        if face[i] >= 0:
            continue
        run, k = [], i
        while face[k] < 0:
            face[k] = len(faces)
            run.append(k)
            twin = k ^ 1
            around = out[half[twin].start]
            # Clockwise next after the way we came: keeps the face on the left.
            k = around[(place[twin] - 1) % len(around)]
        faces.append(run)
    areas = [_area([half[k] for k in run]) for run in faces]
    contours: list[list[Edge]] = []
    on_outside = set()
    for run in (run for run, area in zip(faces, areas, strict=True) if area < 0):
        on_outside |= {k >> 1 for k in run}
        for first, *others in _cut_at_touches([half[k] for k in run]):
            contours.append([e.reversed() for e in (first, *reversed(others))])
    strokes = [e for i, e in enumerate(figure) if i not in on_outside]
    return [c for c in contours if len(c) > 1], strokes


def _cut_at_touches(run: list[Edge]) -> list[list[Edge]]:
    """Part a closed walk that comes through one point twice into simple loops."""
    made: list[list[Edge]] = []
    stack: list[Edge] = []
    where: dict[Point, int] = {}
    for e in run:
        where[e.start] = len(stack)
        stack.append(e)
        if e.end in where:
            k = where[e.end]
            loop, stack = stack[k:], stack[:k]
            for x in loop:
                del where[x.start]
            made.append(loop)
    return made


def _leaving(e: Edge) -> tuple[float, float]:
    """Direction in which an edge leaves its start, then its curvature: tangent edges part by how they bend."""
    dx, dy = e.direction(0.0)
    curve = 0.0 if e.is_line else math.copysign(1.0 / e.radius, e.bulge)
    return round(math.atan2(dy, dx) % math.tau, 7) % round(math.tau, 7), curve


def _area(run: list[Edge]) -> float:
    return Loop(tuple(run)).area if len(run) > 1 else 0.0


def chained(edges: list[Edge]) -> list[list[Edge]]:
    """Return open strokes: edges that meet end to end in a point used by no third."""
    at: dict[Point, list[int]] = defaultdict(list)
    for i, e in enumerate(edges):
        at[e.start].append(i)
        at[e.end].append(i)
    used: set[int] = set()
    made = []
    ends = [i for p, found in at.items() if len(found) != 2 for i in found]
    for i in [*ends, *range(len(edges))]:
        if i in used:
            continue
        used.add(i)
        e = edges[i]
        run = [e if len(at[e.start]) != 2 or len(at[e.end]) == 2 else e.reversed()]
        while len(at[run[-1].end]) == 2:
            k = next((j for j in at[run[-1].end] if j not in used), None)
            if k is None:
                break
            used.add(k)
            run.append(edges[k] if edges[k].start == run[-1].end else edges[k].reversed())
        made.append(run)
    return made


def nested(loops: list[Loop]) -> list[int]:
    """Return for each loop how many others lie around it."""
    areas, slack = np.array([abs(x.area) for x in loops]), 1e-3
    boxes = np.array([x.box for x in loops]).reshape(-1, 4)
    middles = shapely.points([x.edges[0].at(0.5) for x in loops])
    # Asked from the contour, not from the point: what is asked is indexed once for all points.
    shapes = [shapely.Polygon(x.chords(NARROW)) for x in loops]
    outer, inner = shapely.STRtree(middles).query(shapes, predicate="contains")
    larger = (areas[outer] > areas[inner]) | ((areas[outer] == areas[inner]) & (outer < inner))
    low, high = boxes[outer, :2] - slack <= boxes[inner, :2], boxes[inner, 2:] <= boxes[outer, 2:] + slack
    around = larger & low.all(axis=1) & high.all(axis=1)
    return [int(n) for n in np.bincount(inner[around], minlength=len(loops))]


def crossing(outer: Loop, inner: list[Loop], beside: list[Loop]) -> list[Point]:
    """Return some points where contours cross themselves or one another.

    Parameters
    ----------
    outer, inner, beside : Loop, list of Loop, list of Loop
        The blank, its openings, and outlines that should lie apart from it.
    """
    found: list[Point] = []
    rings = []
    for loop in (outer, *inner, *beside):
        ring = Polygon(loop.chords(0.02))
        if not ring.is_valid:
            found += _coordinates(explain_validity(ring))
            ring = make_valid(ring)
        rings.append(ring)
    # A hundredth of slack: contours may touch.
    room, core = rings[0].buffer(0.01), rings[0].buffer(-0.01)
    holes, apart = rings[1 : 1 + len(inner)], rings[1 + len(inner) :]
    for other in apart:
        shared = core.intersection(other)
        if shared.area > 0:
            found.append((shared.centroid.x, shared.centroid.y))
    for hole in holes:
        if not room.covers(hole):
            found.append(tuple(get_coordinates(hole.difference(room))[0].tolist()))
    if not holes:
        return found[:5]
    tree = STRtree(holes)
    for i, j in zip(*tree.query(holes, predicate="intersects"), strict=True):
        if i < j:
            shared = holes[i].buffer(-0.01).intersection(holes[j])
            if shared.area > 0:
                found.append((shared.centroid.x, shared.centroid.y))
    return found[:5]


def _coordinates(said: str) -> list[Point]:
    numbers = re.findall(r"\[([-\d.e+]+) ([-\d.e+]+)\]", said)
    return [(float(x), float(y)) for x, y in numbers] or [(math.nan, math.nan)]
