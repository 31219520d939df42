"""Flat loops to triangles: chords of equal area, one triangulation, grids and slices. Numbers only, no part."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field

import mapbox_earcut
import numpy as np
import numpy.typing as npt

from tinbook.plane.arrays import Index, rows
from tinbook.plane.loops import Array, Edge
from tinbook.values import dataclass

SAGITTA = 0.08
"""mm: between an arc and its chords, before the chords are set to enclose the arc's area."""

TURN = math.radians(30.0)
"""rad: largest turn of an outline from chord to chord."""

_NUDGE = 1e-6
"""mm: how far a corner on a straight line is moved before triangulating, which would drop it otherwise."""

_DIGITS = 7
"""Decimals of a mm that decide about triangles: the last bits of a sine differ with the processor."""

_COS, _SIN = math.cos(0.011), math.sin(0.011)
"""Slight turn before triangulating: rows of holes along an axis give ties; a large turn costs three times as long."""


@dataclass(slots=True, eq=False)
class Rings:
    """Loops as points, metal to the left: first the outline, then cuts run clockwise."""

    xy: Array
    ends: Index
    following: Index
    edge: Index  # for each point, the number of the edge whose chord starts there
    corner: npt.NDArray[np.bool_]
    round: Index = field(default_factory=lambda: np.zeros(0, np.int64))  # numbers of the rings that are circles


def following(n: int, ends: Index) -> Index:
    """Return the number of the point after each of n points in rings that end before `ends`."""
    after = np.arange(1, n + 1)
    after[ends - 1] = np.concatenate(((0,), ends[:-1]))
    return after


def sizes_of(ends: Index) -> Index:
    """Return the number of points of each ring from where the rings end."""
    sizes = ends.copy()
    sizes[1:] -= ends[:-1]
    return sizes


def chords(edges: Sequence[Edge], sizes: Sequence[int], cut: Sequence[bool]) -> Rings:
    """Turn loops into chords of equal area.

    Parameters
    ----------
    edges : sequence of Edge
        Of all loops, one after the other, each run anticlockwise.
    sizes : sequence of int
        Edges of each loop.
    cut : sequence of bool
        Which loops are cuts; they are turned round.
    """
    raw = rows(edges)
    ends = np.cumsum(sizes)
    back = np.repeat(cut, sizes)
    order = np.arange(len(edges))
    order[back] = np.repeat(2 * ends - sizes - 1, sizes)[back] - order[back]
    raw = raw[order]
    raw[back] = raw[back][:, (2, 3, 0, 1, 4)] * (1, 1, 1, 1, -1)
    start, end, bulge = raw[:, :2], raw[:, 2:4], raw[:, 4]
    chord = end - start
    sweep = 4.0 * np.arctan(bulge)
    curved = np.flatnonzero(bulge)
    if not len(curved):
        return Rings(start, ends, following(len(start), ends), order, np.ones(len(start), dtype=np.bool_))
    pieces = np.ones(len(raw), dtype=np.int64)
    half = bulge[curved]
    c2 = chord[curved]
    radius = np.hypot(c2[:, 0], c2[:, 1]) * (1 + half**2) / (4 * np.abs(half))
    step = np.minimum(2 * np.arccos(1 - np.minimum(SAGITTA / radius, 0.9)), TURN)
    pieces[curved] = np.maximum(np.ceil(np.abs(sweep[curved]) / step), 2)
    edge = np.repeat(np.arange(len(raw)), pieces)
    begin = np.cumsum(pieces) - pieces
    k = np.arange(len(edge)) - begin[edge]
    xy = start[edge]
    n = pieces[curved]
    lift = (1 - half**2) / (4 * half)
    centre = (start[curved] + end[curved]) / 2 + np.column_stack((-c2[:, 1] * lift, c2[:, 0] * lift))
    d = np.abs(sweep[curved]) / n
    s = np.sin(d)
    # Ends stay on the arc; points between go out so far that the area under the chords is the arc's.
    grow = np.where(n == 2, d / s, (-s + np.sqrt(s * s + (n - 2) * s * n * d)) / np.maximum((n - 2) * s, 1e-300))
    place = np.full(len(raw), -1)
    place[curved] = np.arange(len(curved))
    inner = np.flatnonzero((k > 0) & (place[edge] >= 0))
    of = place[edge[inner]]
    a = sweep[curved][of] * k[inner] / n[of]
    arm = start[curved][of] - centre[of]
    ca, sa = np.cos(a) * grow[of], np.sin(a) * grow[of]
    xy[inner] = centre[of] + np.column_stack((ca * arm[:, 0] - sa * arm[:, 1], sa * arm[:, 0] + ca * arm[:, 1]))
    ends = np.cumsum(pieces)[ends - 1]
    return Rings(xy, ends, following(len(xy), ends), order[edge], k == 0)


def triangulate(rings: Rings) -> Index:
    """Return triangles over the rings, anticlockwise, using every point."""
    xy, after = rings.xy, rings.following
    if len(xy) == 3:
        return np.array([[0, 1, 2]])
    ahead = xy[after] - xy
    before = np.empty_like(ahead)
    before[after] = ahead
    cross = before[:, 0] * ahead[:, 1] - before[:, 1] * ahead[:, 0]
    if len(xy) == 4 and len(rings.ends) == 1 and cross.min() > 0:
        return np.array([[0, 1, 2], [0, 2, 3]])
    reach = np.abs(ahead[:, 0]) + np.abs(ahead[:, 1])
    size = reach.copy()
    size[after] *= reach
    straight = np.flatnonzero(np.abs(cross) <= 1e-9 * size)
    if len(straight):
        xy = xy.copy()
        d = ahead[straight]
        d /= np.hypot(d[:, 0], d[:, 1])[:, None]
        xy[straight] += _NUDGE * np.column_stack((-d[:, 1], d[:, 0]))
    spun = np.stack((_COS * xy[:, 0] - _SIN * xy[:, 1], _SIN * xy[:, 0] + _COS * xy[:, 1]), axis=1).round(_DIGITS)
    if len(rings.round) >= _ROW:
        t = _by_rows(rings, spun)
        if t is not None:
            return t
    t = _earcut(spun, rings.ends)
    return t if _twice_areas(rings.xy, t).sum() > 0 else t[:, ::-1]


def _earcut(xy: Array, ends: Index) -> Index:
    t: Index = mapbox_earcut.triangulate_float64(xy, ends.astype(np.uint32)).astype(np.int64)
    return t.reshape(-1, 3)


def _twice_areas(xy: Array, t: Index) -> Array:
    a = xy[t[:, 0]]
    u, v = xy[t[:, 1]] - a, xy[t[:, 2]] - a
    areas: Array = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    return areas


_ROW = 3
"""Holes that make a row worth joining."""


def _by_rows(rings: Rings, xy: Array) -> Index | None:
    """Triangulate with rows of round holes joined into one cut each; None where that does not come out right.

    Bridging to each of many holes costs the triangulator the square of their number. Neighbours of a row are
    joined by quads instead; what is left has few cuts. The result is proven by its areas, so a row that runs
    into something else costs time but never a wrong mesh.
    """
    ends = rings.ends
    begins = np.concatenate(((0,), ends[:-1]))
    runs = _rows(rings, begins, xy)
    if not runs:
        return None
    tri: list[Index] = []
    cuts: list[Index] = []
    joined = np.zeros(len(ends), dtype=np.bool_)
    joined[np.concatenate(runs)] = True
    sizes = sizes_of(ends)
    corners = sizes[[run[0] for run in runs]].tolist()
    for n in sorted(set(corners)):
        own = [run for run, its in zip(runs, corners, strict=True) if its == n]
        ring = np.concatenate(own)
        stops = np.cumsum([len(run) for run in own])
        points = begins[ring][:, None] + np.arange(n)
        p = xy[points]
        # Links from each hole of a row to the next one; the last of a row has none.
        link = without(len(ring), stops - 1)
        centre = p.sum(axis=1) / n
        way = (centre[link + 1] - centre[link])[:, :, None]
        # Foremost point of each hole toward the next, rearmost toward the one before; rings run clockwise.
        f, g = (p[link] @ way)[..., 0].argmax(axis=1), (p[link + 1] @ way)[..., 0].argmin(axis=1)
        first, last = points[link, 0], points[link + 1, 0]
        low_f, low_g = first + (f + 1) % n, last + (g - 1) % n
        tri.append(np.array((low_f, low_g, last + g, low_f, last + g, first + f)).T.reshape(-1, 3))
        # Once along the upper sides of the row, then back along the lower ones.
        start, stop = np.empty(len(ring), dtype=np.int64), np.empty(len(ring), dtype=np.int64)
        start[link + 1], stop[link] = g, f
        begin = np.concatenate(((0,), stops[:-1]))
        start[begin], stop[stops - 1] = stop[begin] + 1, start[stops - 1] - 1
        turn = np.arange(n)
        order = points[:, :1] + (start[:, None] + turn) % n
        upper = turn <= ((stop - start) % n)[:, None]
        for i, j in zip(begin.tolist(), stops.tolist(), strict=True):
            cuts.append(np.concatenate((order[i:j][upper[i:j]], order[i:j][::-1][~upper[i:j][::-1]])))
    left = ~np.repeat(joined, sizes)
    place = np.concatenate((np.flatnonzero(left), *cuts))
    merged = np.concatenate((sizes[~joined], [len(c) for c in cuts]))
    t = np.concatenate((place[_earcut(xy[place], np.cumsum(merged))], *tri))
    areas = _twice_areas(xy, t)
    b = xy[rings.following]
    whole = (xy[:, 0] * b[:, 1] - xy[:, 1] * b[:, 0]).sum()
    wrong = (
        len(t) != len(xy) + 2 * len(ends) - 4 or areas.min() < -1e-12 * whole or abs(areas.sum() - whole) > 1e-9 * whole
    )
    return None if wrong else t


def without(n: int, dropped: Index) -> Index:
    """Return the numbers below n without some."""
    kept = np.ones(n, dtype=np.bool_)
    kept[dropped] = False
    return np.flatnonzero(kept)


def _rows(rings: Rings, begins: Index, xy: Array) -> list[Index]:
    """Return runs of round rings that follow each other along a smooth line with nothing in between."""
    ring = rings.round
    size = rings.ends[ring] - begins[ring]
    low, high = np.minimum.reduceat(xy, begins), np.maximum.reduceat(xy, begins)
    at = (low + high)[ring] / 2
    way = at[1:] - at[:-1]
    far = np.hypot(way[:, 0], way[:, 1])
    linked = (ring[1:] - ring[:-1] == 1) & (size[1:] == size[:-1]) & (far > 0)
    # A box round each link must be free of every other ring but the outline.
    near, away = np.minimum(low[ring[:-1]], low[ring[1:]]), np.maximum(high[ring[:-1]], high[ring[1:]])
    hits = np.ones((len(way), len(low) - 1), dtype=np.bool_)
    for k in (0, 1):
        hits &= (low[1:, k] < away[:, k, None]) & (high[1:, k] > near[:, k, None])
    linked &= hits.sum(axis=1) == 2
    # It must not turn sharply, or the quads before and behind would share points of the hole.
    turn = (way[1:] * way[:-1]).sum(axis=1) >= _SMOOTH * far[1:] * far[:-1]
    runs: list[Index] = []
    begin = 0
    for i, (link, smooth) in enumerate(zip(linked.tolist(), [*turn.tolist(), True], strict=True)):
        if not link or (not smooth and begin <= i):
            stop = i + 2 if link else i + 1
            if stop - begin >= _ROW:
                runs.append(ring[begin:stop])
            begin = max(begin, stop)
    if len(ring) - begin >= _ROW:
        runs.append(ring[begin:])
    return runs


_SMOOTH = math.cos(math.radians(30.0))
"""Cosine of the largest turn from one link of a row to the next."""


def grid(rows: int, columns: int) -> Index:
    """Return triangles of a grid of points in rows, anticlockwise when columns run to the right and rows up."""
    i = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).reshape(-1, 1)
    steps = np.array((0, 1, columns + 1, 0, columns + 1, columns))
    return np.asarray(i + steps).reshape(-1, 3)


def slice_rows(xy: Array, tri: Index, after: Index, heights: Array) -> tuple[Array, Index, Index]:
    """Split triangles along lines of constant second coordinate, evenly spaced.

    Also returns for each point the number of the chord of the outline that starts or is cut there, -1 inside.
    """
    chord = np.arange(len(xy))
    # A point that nearly lies on a line is taken to lie there, else every edge at it is cut to a splinter.
    near = 0.02 * (heights[1] - heights[0])
    for h in heights[1:-1]:
        d = xy[:, 1] - h
        side = np.sign(np.where(np.abs(d) < near, 0.0, d)).astype(np.int64)
        of = side[tri]
        cut = (of.min(axis=1) < 0) & (of.max(axis=1) > 0)
        if not cut.any():
            continue
        t, of, kept = tri[cut], of[cut], tri[~cut]
        # Bring to the front the corner that is alone on its side, or the one on the line.
        zero = (of == 0).any(axis=1)
        lone = np.where(zero, np.argmax(of == 0, axis=1), np.argmax(of == -np.sign(of.sum(axis=1))[:, None], axis=1))
        t = np.take_along_axis(t, (lone[:, None] + np.arange(3)) % 3, axis=1)
        a, b, c = t.T
        two, three = np.flatnonzero(zero), np.flatnonzero(~zero)
        pairs = np.concatenate(
            (np.stack((b[two], c[two]), 1), np.stack((a[three], b[three]), 1), np.stack((a[three], c[three]), 1))
        )
        pairs.sort(axis=1)
        n = len(xy)
        keys, back = np.unique(pairs[:, 0] * n + pairs[:, 1], return_inverse=True)
        p, q = keys // n, keys % n
        f = (h - xy[p, 1]) / (xy[q, 1] - xy[p, 1])
        new = np.column_stack((xy[p, 0] + f * (xy[q, 0] - xy[p, 0]), np.full(len(p), h)))
        xy = np.concatenate((xy, new))
        of_p, of_q = chord[p], chord[q]
        back_way = np.where((of_q >= 0) & (after[of_q] == p), of_q, -1)
        forth = (of_p == of_q) | ((of_p >= 0) & (after[of_p] == q))
        chord = np.concatenate((chord, np.where(forth, of_p, back_way)))
        m, i = len(two), len(three)
        bc, ab, ac = back[:m] + n, back[m : m + i] + n, back[m + i :] + n
        tri = np.concatenate(
            (
                kept,
                np.stack((a[two], b[two], bc), 1),
                np.stack((a[two], bc, c[two]), 1),
                np.stack((a[three], ab, ac), 1),
                np.stack((ab, b[three], c[three]), 1),
                np.stack((ab, c[three], ac), 1),
            )
        )
    return xy, tri, chord
