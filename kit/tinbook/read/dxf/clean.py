"""Clean a drawing: duplicates removed, ends that nearly meet joined, splinters replaced by lines and arcs."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree

from tinbook.plane.loops import Array, Edge, Loop, Point, circle
from tinbook.plane.meeting import turn
from tinbook.read import curves
from tinbook.read.dxf.notes import Notes

SAME = 1e-4
"""mm: ends closer than this are one point in any drawing."""

TURN, BESIDE = 1000.0, 12.0
"""mm: lines by one radian apart count as twice the first apart; only lines nearer than the second may be one."""

LEAN = math.radians(30)
"""A splinter turns less than this from the one before; more is a corner."""


def once(edges: list[Edge], near: float, notes: Notes) -> list[Edge]:
    """Return edges with doubled and overlapping ones drawn once.

    Lines that lie on one line, and arcs of one circle, within `near` mm are cut at
    each other's ends and each stretch is kept once.
    """
    lines, arcs = [e for e in edges if e.is_line], [e for e in edges if not e.is_line]

    def on_line(base: Edge, some: list[int]) -> list[int]:
        return _touching(base, lines, [j for j in some if _on_line(base, lines[j], near)])

    def on_circle(base: Edge, some: list[int]) -> list[int]:
        # Centre and radius of a short arc are uncertain, so compare the distance of its points from this circle.
        c, r = base.centre, base.radius
        turning = [j for j in some if abs(arcs[j].sweep) >= 1e-9]
        same = [j for j in turning if max(abs(math.dist(arcs[j].at(s), c) - r) for s in (0.0, 0.5, 1.0)) <= near]
        return [j for j in same if _overlap(base, arcs[j], c) * r > SAME]

    circles = np.array([(*e.centre, e.radius) for e in arcs]).reshape(-1, 3)
    reaches = [max(near * 20, 0.02 * e.radius) for e in arcs]
    made = _each_once(
        lines, [e.chord for e in lines], _carriers(lines), [BESIDE] * len(lines), on_line, _stretches, notes
    )
    return made + _each_once(arcs, [abs(e.sweep) for e in arcs], circles, reaches, on_circle, _arc_stretches, notes)


def _carriers(lines: list[Edge]) -> Array:
    """Return a place for the endless line under each line, shape (n, 4): close ones stand for lines that nearly coincide."""
    if not lines:
        return np.zeros((0, 4))
    at, (x, y) = np.array([e.start for e in lines]), np.array([e.direction() for e in lines]).T
    # The foot of the drawing's middle is the same whichever way a line runs, and so is twice its direction.
    px, py = (at - at.mean(axis=0)).T
    h = py * x - px * y
    return np.column_stack((TURN * (x * x - y * y), TURN * 2 * x * y, -h * y, h * x))


def _each_once(
    edges: list[Edge],
    sizes: list[float],
    marks: Array,
    reaches: list[float],
    mates_of: Callable[[Edge, list[int]], list[int]],
    stretches: Callable[[Edge, list[Edge]], list[Edge]],
    notes: Notes,
) -> list[Edge]:
    """Return edges of one kind drawn once, the largest first: `mates_of` tells which of those near its mark overlap it."""
    tree = cKDTree(marks)
    taken = [False] * len(edges)
    made: list[Edge] = []
    for i in sorted(range(len(edges)), key=lambda k: -sizes[k]):
        if taken[i]:
            continue
        notes.budget.check("finding doubled lines and arcs")
        taken[i] = True
        found = mates_of(edges[i], [j for j in sorted(tree.query_ball_point(marks[i], reaches[i])) if not taken[j]])
        for j in found:
            taken[j] = True
            notes.add("doubled", edges[j].at(0.5))
        made += stretches(edges[i], [edges[j] for j in found]) if found else [edges[i]]
    return made


def _on_line(base: Edge, other: Edge, near: float) -> bool:
    (x0, y0), n = base.start, base.chord
    ux, uy = (base.end[0] - x0) / n, (base.end[1] - y0) / n
    return all(abs((p[0] - x0) * uy - (p[1] - y0) * ux) <= near for p in (other.start, other.end))


def _along(base: Edge, p: Point) -> float:
    n = base.chord
    (x0, y0), (x1, y1) = base.start, base.end
    return ((p[0] - x0) * (x1 - x0) + (p[1] - y0) * (y1 - y0)) / n


def _touching(base: Edge, lines: list[Edge], mates: list[int]) -> list[int]:
    """Keep the lines that overlap the base, or one another, by more than a point."""
    spans: list[tuple[float, float, int]] = []
    for j in mates:
        p, q = _along(base, lines[j].start), _along(base, lines[j].end)
        spans.append((min(p, q), max(p, q), j))
    low, high = 0.0, base.chord
    run: list[int] = []
    reach, has_base = -math.inf, False
    for lo, hi, j in sorted([(low, high, -1), *spans]):
        if min(hi, reach) - lo <= SAME:
            if has_base:
                break
            run, reach = [], hi
        run.append(j)
        reach = max(reach, hi)
        has_base = has_base or j < 0
    return [j for j in run if j >= 0]


def _stretches(base: Edge, mates: list[Edge]) -> list[Edge]:
    ends = sorted((_along(base, p), k, p) for k, p in enumerate(p for e in (base, *mates) for p in (e.start, e.end)))
    stops: list[tuple[float, int, Point]] = []
    for end in ends:
        if stops and end[0] - stops[-1][0] <= SAME:
            # Of ends that coincide the first one drawn is used for all.
            stops[-1] = min(stops[-1], end, key=lambda s: s[1])
        else:
            stops.append(end)
    return [Edge(a[2], b[2], 0.0) for a, b in itertools.pairwise(stops)]


def _span(e: Edge, c: Point, anchor: float) -> tuple[float, float]:
    """Return the arc's smaller and larger angle, the smaller within a turn after `anchor`."""
    first = e.start if e.sweep > 0 else e.end
    a = math.atan2(first[1] - c[1], first[0] - c[0])
    a = anchor + (a - anchor) % math.tau
    if math.tau - (a - anchor) < 1e-9:
        a = anchor
    return a, a + abs(e.sweep)


def _overlap(base: Edge, other: Edge, c: Point) -> float:
    low, high = _span(base, c, -math.pi)
    a, b = _span(other, c, low)
    return max(min(high, b) - max(low, a), min(high, b - math.tau) - max(low, a - math.tau))


def _arc_stretches(base: Edge, mates: list[Edge]) -> list[Edge]:
    c, r = base.centre, base.radius
    low, _ = _span(base, c, -math.pi)
    spans = []
    for e in (base, *mates):
        a, b = _span(e, c, low)
        spans.append((a, b))
    # Angles run from the base's start; what goes past a whole turn comes round to the start again.
    cut: list[tuple[float, float]] = []
    for a, b in spans:
        if b > low + math.tau + 1e-12:
            cut += [(a, low + math.tau), (low, b - math.tau)]
        else:
            cut.append((a, b))
    stops: list[float] = []
    for s in sorted({x for pair in cut for x in pair}):
        if not stops or (s - stops[-1]) * r > SAME:
            stops.append(s)
    made = []
    for a, b in itertools.pairwise(stops):
        m = (a + b) / 2
        if any(x <= m <= y for x, y in cut):
            p, q = ((c[0] + r * math.cos(s), c[1] + r * math.sin(s)) for s in (a, b))
            made.append(Edge(p, q, math.tan((b - a) / 4)))
    return made


def joined(edges: list[Edge], gap: float, notes: Notes) -> list[Edge]:
    """Return edges whose ends are exactly one point where they nearly met.

    Ends within a ten-thousandth of a millimetre are one; then ends that are still
    alone are brought together with their nearest mate up to `gap` mm away.
    """
    edges = _snapped(edges, SAME)
    count: dict[Point, int] = defaultdict(int)
    for e in edges:
        count[e.start] += 1
        count[e.end] += 1
    alone = [p for p, n in count.items() if n % 2]
    if len(alone) < 2:
        return edges
    tree = cKDTree(np.array(alone))
    pairs = sorted(
        tree.query_pairs(gap, output_type="ndarray").tolist(), key=lambda ij: math.dist(alone[ij[0]], alone[ij[1]])
    )
    moved: dict[Point, Point] = {}
    ends = {frozenset((e.start, e.end)) for e in edges}
    for i, j in pairs:
        a, b = alone[i], alone[j]
        # Never join the two ends of one short edge: the edge would vanish.
        if a in moved or b in moved or frozenset((a, b)) in ends:
            continue
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        moved[a] = moved[b] = middle
        notes.add("joined", middle, size=math.dist(a, b))
    if not moved:
        return edges
    return [replace(e, start=moved.get(e.start, e.start), end=moved.get(e.end, e.end)) for e in edges]


def _snapped(edges: list[Edge], near: float) -> list[Edge]:
    points = [p for e in edges for p in (e.start, e.end)]
    if not points:
        return edges
    pairs = cKDTree(np.array(points)).query_pairs(near, output_type="ndarray")
    place = [points[k] for k in curves.groups(len(points), pairs)]
    made = []
    for i, e in enumerate(edges):
        start, end = place[2 * i], place[2 * i + 1]
        if start != end:
            made.append(replace(e, start=start, end=end))
        elif e.length > 4 * near:
            made.append(e)  # an arc that nearly closes
    return made


def smoothed(edges: list[Edge], tol: float, notes: Notes) -> list[Edge]:
    """Return a closed run of edges with splinters of a curve made lines and arcs, nowhere further off than `tol`."""
    n = len(edges)
    if n < 5:
        return edges
    first = next((i for i in range(n) if _corner(edges[i - 1], edges[i])), None)
    run = edges[first:] + edges[:first] if first else edges
    made: list[Edge] = []
    i = 0
    while i < n:
        j = i + 1
        while j < n and run[i].is_line and run[j].is_line and not _corner(run[j - 1], run[j]):
            j += 1
        made += _fitted(run[i:j], tol, notes)
        i = j
    return made


def _corner(a: Edge, b: Edge) -> bool:
    if not (a.is_line and b.is_line):
        return True
    turned = abs(turn(a, b))
    # A long line beside a short one is a straight edge that runs into a curve.
    long_, short = max(a.chord, b.chord), min(a.chord, b.chord)
    return turned > LEAN or (turned > 1e-6 and long_ > 20 * short)


def _fitted(run: list[Edge], tol: float, notes: Notes) -> list[Edge]:
    if len(run) < 4:
        return run
    points = [run[0].start]
    for e in run:
        # The middle of each chord counts too: the arc must not leave the drawn line by more than tol.
        points += [e.at(0.5), e.end]
    fitted = curves.fit(np.array(points), tol)
    if len(fitted) * 2 > len(run):
        return run
    notes.add("splinters", run[0].start, size=float(len(run)))
    notes.counts["splinters replaced"] += len(run)
    notes.counts["splinters made"] += len(fitted)
    return fitted


def rounded(loop: Loop, tol: float) -> Loop:
    """Return a true circle for a loop of arcs that is one within `tol`, else the loop itself."""
    if any(e.is_line for e in loop.edges):
        return loop
    weight = math.fsum(e.length for e in loop.edges)
    cx, cy = (math.fsum(e.centre[k] * e.length for e in loop.edges) / weight for k in (0, 1))
    points = [e.at(s) for e in loop.edges for s in (0.0, 0.25, 0.5, 0.75)]
    radii = [math.dist(p, (cx, cy)) for p in points]
    r = (min(radii) + max(radii)) / 2
    if max(radii) - min(radii) > 2 * min(tol, 0.002 * r) or abs(abs(loop.area) - math.pi * r * r) > 4 * tol * r:
        return loop
    return circle((cx, cy), 2 * r)
