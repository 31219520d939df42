"""Quads on a flat region with holes: points on a graded grid, triangles, pairs, and each cut into quads.

The region's boundary is given as points and the points half-way between them,
so that neighbours meet node on node. A grid aligned with the region fills the
inside; on a plain rectangle the result is the plain grid.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from scipy.spatial import Delaunay, cKDTree

from tinbook.plane.loops import Edge, Loop, Point
from tinbook.strength.shell.element import Array, Index
from tinbook.strength.shell.solve import NotSolved, solving
from tinbook.values import dataclass

GRADE = 1.0
"""How much coarser the mesh may get for each mm away from a finer place, mm."""

PAIR = 0.35
"""Smallest sine of a corner with which two triangles become one quad."""

GOOD = 0.2
"""Quads with a smaller sine at a corner are mended."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """A closed boundary: points and those half-way to the next, each (n, 2)."""

    points: Array
    halves: Array

    @property
    def spacing(self) -> Array:
        """Distance of each point to the next."""
        return np.asarray(np.linalg.norm(np.roll(self.points, -1, axis=0) - self.points, axis=1))


def divide(wanted: Array, length: float) -> Array:
    """Return fractions 0..1 whose steps follow the wanted spacing, sampled evenly along the edge."""
    density = length / np.maximum(wanted, 1e-9)
    s = np.linspace(0, 1, len(wanted))
    total = np.concatenate(([0.0], np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(s))))
    n = max(1, math.ceil(total[-1] - 1e-6))
    return np.asarray(np.interp(np.linspace(0, total[-1], n + 1), total, s))


def ring(divided: Iterable[tuple[Edge, Array]]) -> Ring:
    """Return the boundary of edges that follow each other, each with its division: fractions from 0 to 1."""
    points: list[Point] = []
    halves: list[Point] = []
    for e, f in divided:
        points += [e.at(s) for s in f[:-1]]
        halves += [e.at(s) for s in (f[:-1] + f[1:]) / 2]
    return Ring(points=np.array(points), halves=np.array(halves))


def hole_ring(loop: Loop, size: float, turn: float, wanted: Callable[[Array], Array] | None = None) -> Ring:
    """Return a hole's rim in pieces no longer than `size` that turn by no more than `turn`, radians; finer where wanted."""
    divided = []
    for e in loop.anticlockwise():
        n = max(1, math.ceil(e.length / size), math.ceil(abs(e.sweep) / turn))
        f = np.linspace(0, 1, n + 1)
        if wanted is not None:
            samples = np.array([e.at(s) for s in np.linspace(0, 1, 4 * n + 1)])
            finer = divide(np.minimum(wanted(samples), e.length / n), e.length)
            f = finer if len(finer) > len(f) else f
        divided.append((e, f))
    return ring(divided)


def region(
    rings: Sequence[Ring],
    size: float,
    extra: Array | None = None,
    sides: Index | None = None,
    fine: tuple[Array, Array] | None = None,
) -> tuple[Array, Index]:
    """Mesh what lies inside the first ring and outside the others.

    Parameters
    ----------
    rings : sequence of Ring
        The outer one first.
    size : float
        Largest distance of the points, mm; the quads have half of it.
    extra : array (k, 2), optional
        Places inside that must be nodes.
    sides : array (s, 2), optional
        Lines between the rings' points and `extra`, by place, that the elements must follow.
    fine : (array (k, 2), array (k,)), optional
        Places inside, and the distance of points wanted there, mm.

    Returns
    -------
    points : array (n, 2)
        Those of the rings first, in order (all points, then all halves), then `extra`.
    quads : array (m, 4)
        Anticlockwise.

    Raises
    ------
    NotSolved
        When the boundary crosses itself.
    """
    border = np.concatenate([r.points for r in rings])
    halves = np.concatenate([r.halves for r in rings])
    space = np.concatenate([r.spacing for r in rings])
    ends = np.cumsum([len(r.points) for r in rings])
    ahead = np.arange(1, len(border) + 1)
    ahead[ends - 1] = np.concatenate(([0], ends[:-1]))
    area = shapely.Polygon(rings[0].points, [r.points for r in rings[1:]])
    if not area.is_valid:
        raise NotSolved(
            "the outline of a panel, its holes and beads cross each other at this mesh size: take a finer one"
        )
    shapely.prepare(area)
    hard = np.empty((0, 2)) if extra is None else np.asarray(extra, dtype=np.float64).reshape(-1, 2)
    kept = np.empty((0, 2), dtype=np.int64) if sides is None else sides
    ends = np.concatenate((border, hard))[kept]
    samples = np.concatenate((border, halves, hard, ends.mean(axis=1)))
    step = np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1)
    wanted = np.concatenate((space, space, np.full(len(hard), size / 2 if sides is None else size), step))
    fixed = len(samples)
    if fine is not None:
        samples, wanted = np.concatenate((samples, fine[0])), np.concatenate((wanted, fine[1]))
    walls = shapely.union_all([area.boundary, *shapely.linestrings(ends)]) if len(kept) else area.boundary
    inside = _fill(area, walls, rings[0], border, samples, wanted, size, fixed)
    segments = np.stack((np.arange(len(border)), ahead), axis=1)
    count = len(border) + len(hard)
    points = np.concatenate((border, hard, inside))
    triangles = _triangles(points, np.concatenate((segments, kept)), area)
    return _quads(points, triangles, segments, kept, halves, count)


def _fill(
    area: shapely.Polygon,
    walls: Any,
    outer: Ring,
    border: Array,
    samples: Array,
    wanted: Array,
    size: float,
    fixed: int,
) -> Array:
    """Return inner points: nested square grids, each where the wanted size is its own."""
    edge = np.roll(outer.points, -1, axis=0) - outer.points
    # Direction that most of the outline follows, modulo a quarter turn.
    angle = np.arctan2(edge[:, 1], edge[:, 0])
    length = np.linalg.norm(edge, axis=1)
    turn = float(np.angle((length * np.exp(4j * angle)).sum()) / 4)
    c, s = np.cos(turn), np.sin(turn)
    back = np.array([[c, s], [-s, c]])
    local = border @ back.T
    low, high = local.min(axis=0), local.max(axis=0)
    cells = np.maximum(np.ceil((high - low) / size - 1e-9), 1)
    tree, walls_tree, local_of = cKDTree(samples), cKDTree(samples[:fixed]), samples @ back.T
    found: list[Array] = []
    # Near a fine place the grid is as fine, down to an eighth of the size or to what is wanted.
    last = 3 if fixed == len(samples) else max(3, math.ceil(math.log2(size / float(wanted[fixed:].min())) - 0.4))
    for level in range(last + 1):
        step = (high - low) / cells / 2**level
        own = size / 2**level
        near_fine = wanted <= 1.5 * own if level > 3 else None
        grid = _grid(low, step, (cells * 2**level).astype(int), None if near_fine is None else local_of[near_fine])
        if grid is None:
            break
        grid = grid @ back
        if not len(grid):
            continue
        d, i = tree.query(grid, k=min(16, len(samples)))
        d, i = d.reshape(len(grid), -1), i.reshape(len(grid), -1)
        near = np.minimum((wanted[i] + GRADE * d).min(axis=1), size)
        keep = (near <= 1.5 * own) if level else np.ones(len(grid), dtype=bool)
        keep &= (near > 0.75 * own) if level < last else True
        keep &= walls_tree.query(grid)[0] > 0.55 * float(step.min())
        grid, near = grid[keep], near[keep]
        grid = grid[shapely.contains_xy(area, grid)]
        if len(grid):
            away = shapely.distance(walls, shapely.points(grid))
            found.append(grid[away > 0.45 * float(step.min())])
    if not found:
        return np.empty((0, 2))
    points = np.concatenate(found)
    _, first = np.unique(np.round(points / (size * 1e-4)).astype(np.int64), axis=0, return_index=True)
    return points[np.sort(first)]


def _grid(low: Array, step: Array, n: Index, near: Array | None) -> Array | None:
    """Return the inner points of a grid of n cells, only those near given places if any; None where they are too many."""
    if near is None:
        if int(np.prod(n)) > 400_000:
            return None
        x, y = (low[k] + step[k] * np.arange(1, n[k]) for k in (0, 1))
        return np.asarray(np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2))
    around = np.stack(np.meshgrid(np.arange(-3, 4), np.arange(-3, 4)), axis=-1).reshape(-1, 2)
    cell = np.round((near - low) / step).astype(np.int64)
    cell = np.unique((np.unique(cell, axis=0)[:, None] + around).reshape(-1, 2), axis=0)
    inside = ((cell > 0) & (cell < n)).all(axis=1)
    return np.asarray(low + cell[inside] * step)


def _triangles(points: Array, segments: Index, area: shapely.Polygon) -> Index:
    """Return the Delaunay triangles inside the region, with every boundary segment kept."""
    with solving("the mesher could not divide a panel: take another mesh size"):
        simplices = Delaunay(points).simplices.astype(np.int64)
    p = points[simplices]
    cross = _cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    simplices = np.where((cross < 0)[:, None], simplices[:, ::-1], simplices)
    # Points along a straight edge make triangles without area.
    longest = np.maximum.reduce([((p[:, i] - p[:, i - 1]) ** 2).sum(axis=1) for i in range(3)])
    simplices = simplices[np.abs(cross) > 1e-7 * longest]
    edges = {frozenset(e) for t in simplices.tolist() for e in ((t[0], t[1]), (t[1], t[2]), (t[2], t[0]))}
    missing = [s for s in segments.tolist() if frozenset(s) not in edges]
    if missing:
        simplices = _recover(points, simplices, missing)
    middle = points[simplices].mean(axis=1)
    return np.asarray(simplices[shapely.contains_xy(area, middle)])


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _recover(points: Array, simplices: Index, missing: Sequence[Sequence[int]]) -> Index:
    """Swap diagonals until the missing segments are edges (Sloan's way)."""
    opposite: dict[tuple[int, int], int] = {}
    for a, b, c in simplices.tolist():
        opposite[a, b], opposite[b, c], opposite[c, a] = c, a, b

    def turn(a: int, b: int, c: int) -> float:
        (ax, ay), (bx, by), (cx, cy) = points[a], points[b], points[c]
        return float((bx - ax) * (cy - ay) - (by - ay) * (cx - ax))

    for u, v in missing:
        for _ in range(400):
            if (u, v) in opposite or (v, u) in opposite:
                break
            pairs = np.array([e for e in opposite if e[0] < e[1] and (e[1], e[0]) in opposite])
            a, b, o, d = points[pairs[:, 0]], points[pairs[:, 1]], points[u], points[v]
            across = (_cross(d - o, a - o) * _cross(d - o, b - o) < 0) & (
                _cross(b - a, o - a) * _cross(b - a, d - a) < 0
            )
            swapped = False
            for p, q in pairs[across].tolist():
                r, s = opposite[p, q], opposite[q, p]
                if turn(s, q, r) <= 0 or turn(r, p, s) <= 0:
                    continue
                for e in ((p, q), (q, p), (q, r), (r, p), (p, s), (s, q)):
                    opposite.pop(e, None)
                for x, y, z in ((s, q, r), (r, p, s)):
                    opposite[x, y], opposite[y, z], opposite[z, x] = z, x, y
                swapped = True
                if {r, s} == {u, v}:
                    break
            if not swapped:
                break
        if (u, v) not in opposite and (v, u) not in opposite:
            raise NotSolved("the mesher could not keep an edge of a panel: take another mesh size")
    out = {tuple(sorted((a, b, c))): (a, b, c) for (a, b), c in opposite.items()}
    return np.array(list(out.values()), dtype=np.int64)


def _smooth(points: Array, cells: Index, fixed: Any, rounds: int = 3) -> Array:
    """Move free points to the middle of their neighbours, unless that turns a cell over."""
    n, k = len(points), cells.shape[1]
    a = np.concatenate([cells[:, i] for i in range(k)] + [cells[:, (i + 1) % k] for i in range(k)])
    b = np.concatenate([cells[:, (i + 1) % k] for i in range(k)] + [cells[:, i] for i in range(k)])
    count = np.bincount(a, minlength=n)
    free = ~fixed & (count > 0)
    for _ in range(rounds):
        mean = np.stack([np.bincount(a, points[b, i], n) for i in (0, 1)], axis=1) / np.maximum(count, 1)[:, None]
        moved = np.where(free[:, None], mean, points)
        bad = sharpest(moved, cells) < np.minimum(sharpest(points, cells), 0.3)
        while bad.any():
            moved[cells[bad].ravel()] = points[cells[bad].ravel()]
            again = sharpest(moved, cells) < np.minimum(sharpest(points, cells), 0.3)
            if (again == bad).all():
                break
            bad = again
        points = moved
    return points


def sharpest(points: Array, cells: Index) -> Array:
    """Return the smallest sine of the corners of each cell, signed."""
    return _sharpest(points[cells])


def _sharpest(p: Array) -> Array:
    """Return the same of corners (..., k, 2) of cells."""
    k = p.shape[-2]
    ahead = p[..., [*range(1, k), 0], :] - p
    length = np.sqrt(ahead[..., 0] ** 2 + ahead[..., 1] ** 2)
    before = [k - 1, *range(k - 1)]
    back = ahead[..., before, :]
    size = length * length[..., before]
    return np.asarray((_cross(back, ahead) / np.maximum(size, 1e-30)).min(axis=-1))


def _quads(
    points: Array, triangles: Index, segments: Index, sides: Index, halves: Array, count: int
) -> tuple[Array, Index]:
    """Pair triangles where that makes good quads, then cut pairs in four and single ones in three."""
    kept = {frozenset(s) for s in sides.tolist()}
    border = {frozenset(s): k for k, s in enumerate(segments.tolist())}
    shared: dict[frozenset[int], list[int]] = {}
    for t, (a, b, c) in enumerate(triangles.tolist()):
        for e in ((a, b), (b, c), (c, a)):
            shared.setdefault(frozenset(e), []).append(t)
    pairs = [(e, ts) for e, ts in shared.items() if len(ts) == 2 and e not in border and e not in kept]
    cells: list[tuple[int, ...]] = []
    used = np.zeros(len(triangles), dtype=bool)
    if pairs:
        quads = np.array([_joined(triangles[t0], triangles[t1], e) for e, (t0, t1) in pairs])
        good = sharpest(points, quads)
        for k in np.argsort(-np.round(good, 6), kind="stable"):
            t0, t1 = pairs[k][1]
            if good[k] < PAIR:
                break
            if not used[t0] and not used[t1]:
                used[[t0, t1]] = True
                cells.append(tuple(quads[k].tolist()))
    cells += [tuple(t) for t in triangles[~used].tolist()]
    nodes = [points[: len(segments)], halves, points[len(segments) :]]
    new: list[Array] = []
    number = len(points) + len(halves)
    # Existing points keep their numbers; mid-side points of the boundary follow them.
    place = np.concatenate((np.arange(len(segments)), np.arange(len(segments), len(points)) + len(halves)))
    middle: dict[frozenset[int], int] = {e: len(segments) + k for e, k in border.items()}
    out: list[tuple[int, int, int, int]] = []
    for cell in cells:
        mids = []
        for a, b in zip(cell, (*cell[1:], cell[0]), strict=True):
            side = frozenset((a, b))
            if side not in middle:
                middle[side] = number
                new.append((points[a] + points[b]) / 2)
                number += 1
            mids.append(middle[side])
        new.append(points[list(cell)].mean(axis=0))
        for i, a in enumerate(cell):
            out.append((int(place[a]), mids[i], number, mids[i - 1]))
        number += 1
    all_points = np.concatenate((*nodes, np.array(new).reshape(-1, 2)))
    quads = np.array(out, dtype=np.int64)
    fixed = np.arange(len(all_points)) < len(halves) + count
    fixed[[middle[e] for e in kept if e in middle]] = True
    return _mend(_smooth(all_points, quads, fixed, rounds=4), quads, fixed), quads


def _mend(points: Array, quads: Index, fixed: Any) -> Array:
    """Move free corners of the worst quads by small steps as long as the worst quad around them improves."""
    if (sharpest(points, quads) >= GOOD).all():
        return points
    points = points.copy()
    order = np.argsort(quads.ravel(), kind="stable")
    count = np.bincount(quads.ravel(), minlength=len(points))
    first = np.cumsum(count) - count
    ways = np.array([(np.cos(a), np.sin(a)) for a in np.linspace(0, 2 * np.pi, 12, endpoint=False)])
    steps = np.array([0.2, 0.07, 0.02])[:, None, None]
    for _ in range(12):
        low = np.flatnonzero(sharpest(points, quads) < GOOD)
        nodes = np.unique(quads[low])
        moved = False
        for n in nodes[~fixed[nodes]].tolist():
            cells = quads[order[first[n] : first[n] + count[n]] // 4]
            side = float(np.linalg.norm(points[cells] - points[n], axis=2).max())
            best = float(sharpest(points, cells).min())
            tried = (points[n] + ways * side * steps).reshape(-1, 2)
            corners = np.where((cells == n)[..., None], tried[:, None, None], points[cells])
            for place, value in zip(tried, _sharpest(corners).min(axis=1).tolist(), strict=True):
                if value > best + 1e-4:
                    best, points[n], moved = value, place, True
        if not moved:
            break
    return points


def _joined(t0: Index, t1: Index, edge: frozenset[int]) -> tuple[int, int, int, int]:
    """Return the quad of two triangles over their shared edge, in order."""
    a = next(int(v) for v in t0 if int(v) not in edge)
    b = next(int(v) for v in t1 if int(v) not in edge)
    k = t0.tolist().index(a)
    return a, int(t0[(k + 1) % 3]), b, int(t0[(k + 2) % 3])
