"""Shadows: what metal covers, seen along the fold, and what shape it has in space where shadows do not settle it."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import shapely

from tinbook.plane.loops import Array
from tinbook.shop.tools.strokes import moved

INSIDE: Final = 1e-6
"""mm: metal that only reaches a tool's end so far does not stand beside it."""
DEEP: Final = 1e-3
"""mm: skins of the part that lie closer in space than this, but not deeper, touch."""

TOGETHER: Final = 2000
"""Pairs of prisms that are held against each other at once: some tens of megabytes."""

_NOUGHT: Final = shapely.Point(0.0, 0.0)
_EDGES: Final = np.array(
    [(0, 1), (1, 2), (2, 3), (3, 0), (4, 5), (5, 6), (6, 7), (7, 4), (0, 4), (1, 5), (2, 6), (3, 7)]
)
_SIDES: Final = _EDGES[[0, 1, 2, 3, 8]]


def shadow(pieces: Array, x0: float, x1: float) -> Any:
    """Return what the pieces within x0..x1 cover, seen along x; an empty polygon if nothing lies there.

    Parameters
    ----------
    pieces : array, shape (n, 8, 3)
        Convex prisms.
    x0, x1 : float
        Stretch, mm.
    """
    x0, x1 = x0 + INSIDE, x1 - INSIDE
    x = pieces[:, :, 0]
    there = (x.max(axis=1) > x0) & (x.min(axis=1) < x1)
    pieces = pieces[there]
    if not len(pieces) or x0 >= x1:
        return shapely.Polygon()
    x = pieces[:, :, 0]
    points, keep = [pieces[:, :, 1:]], [(x >= x0) & (x <= x1)]
    a, b = pieces[:, _EDGES[:, 0]], pieces[:, _EDGES[:, 1]]
    for at in (x0, x1):
        d0, d1 = a[..., 0] - at, b[..., 0] - at
        cut = d0 * d1 < 0
        s = np.where(cut, d0 / np.where(cut, d0 - d1, 1.0), 0.0)
        points.append(a[..., 1:] + s[..., None] * (b[..., 1:] - a[..., 1:]))
        keep.append(cut)
    every, mask = np.concatenate(points, axis=1), np.concatenate(keep, axis=1)
    which = np.repeat(np.arange(len(pieces)), every.shape[1])[mask.ravel()]
    clouds = shapely.multipoints(every.reshape(-1, 2)[mask.ravel()], indices=which)
    hulls = shapely.convex_hull(clouds)
    hulls = hulls[shapely.area(hulls) > 1e-6]
    return shapely.union_all(hulls) if len(hulls) else shapely.Polygon()


def whole_shadow(pieces: Array, kind: str, x0: float, x1: float) -> Any:
    """Return the shadow of a panel or strip that runs along x, wholly within x0..x1; None where `shadow` is needed."""
    x = pieces[..., 0]
    if kind not in ("panel", "strip") or x.min() < x0 + INSIDE or x.max() > x1 - INSIDE:
        return None
    if kind == "panel":
        # One connected plate seen edge on: a bar. Its thickness is what lies between the ends of a prism.
        if abs(pieces[0, 4, 0] - pieces[0, 0, 0]) > 1e-9:
            return None
        return shapely.convex_hull(shapely.multipoints(pieces[..., 1:].reshape(-1, 2)))
    if abs(pieces[:, 4:, 1:] - pieces[:, :4, 1:]).max() > 1e-9:
        return None
    # All regions of a strip look alike along x: the bands of the first, out along one side and back along the other.
    bands = pieces[np.all(abs(x - x[0]) < 1e-9, axis=1)][:, :4, 1:]
    outline = shapely.Polygon(np.concatenate((bands[:, 0], bands[-1:, 1], bands[-1:, 2], bands[::-1, 3])))
    return outline if outline.is_valid else None


def reach(shape: Any) -> float:
    """Largest distance of a shape from nought, mm."""
    c = shapely.get_coordinates(shape)
    return float(np.hypot(c[:, 0], c[:, 1]).max()) if len(c) else 0.0


def ring_of(shape: Any) -> tuple[float, float]:
    """Smallest and largest distance of a tool from its nought."""
    return float(shapely.distance(shape, _NOUGHT)), reach(shape)


# --- in space ------------------------------------------------------------------------------------


def solid_gap(p: Array, q: Array, turn: Array, place: Array) -> Array:
    """Least separation of two sets of convex prisms at each sample, by separating planes; negative: they overlap.

    The separation found is never larger than the true distance. Touching up to DEEP counts as apart.
    """
    out = np.empty(len(turn))
    for k in range(len(turn)):
        there = p.copy()
        there[..., 1:] = moved(p[..., 1:], np.full(p.shape[:2], turn[k])) + place[k]
        out[k] = _separation(there, q)
    return out + DEEP


def _separation(p: Array, q: Array) -> float:
    """Least separation of two sets of convex prisms, shape (n, 8, 3), mm; negative: how deep they overlap.

    Never larger than the true distance.
    """
    lo_p, hi_p, lo_q, hi_q = p.min(axis=1), p.max(axis=1), q.min(axis=1), q.max(axis=1)
    boxes = np.maximum(lo_p[:, None] - hi_q[None], lo_q[None] - hi_p[:, None]).max(axis=2)
    worst = float(boxes[boxes > 0].min(initial=math.inf))
    i, j = np.nonzero(boxes <= 0)
    for k in range(0, len(i), TOGETHER):
        worst = min(worst, float(_convex(p[i[k : k + TOGETHER]], q[j[k : k + TOGETHER]]).min()))
    return worst


def _convex(a: Array, b: Array) -> Array:
    """Separations of pairs of prisms (n, 8, 3) along the best of the normals of their faces and crossings of their edges."""
    (ea, na), (eb, nb) = _edges_and_normals(a), _edges_and_normals(b)
    axes = np.concatenate((na, nb, np.cross(ea[:, :, None], eb[:, None]).reshape(len(a), -1, 3)), axis=1)
    size = np.linalg.norm(axes, axis=2)
    axes /= np.maximum(size, 1e-9)[..., None]
    sa, sb = a @ axes.transpose(0, 2, 1), b @ axes.transpose(0, 2, 1)
    apart = np.maximum(sa.min(axis=1) - sb.max(axis=1), sb.min(axis=1) - sa.max(axis=1))
    return np.asarray(np.where(size > 1e-9, apart, -math.inf).max(axis=1))


def _edges_and_normals(pieces: Array) -> tuple[Array, Array]:
    """Return the edges of one end of prisms and one along, and the normals of their sides and ends, both (n, 5, 3)."""
    edges = pieces[:, _SIDES[:, 1]] - pieces[:, _SIDES[:, 0]]
    # Two corners of an end may fall together.
    ends = np.cross(edges[:, :3], edges[:, 1:4])
    best = np.linalg.norm(ends, axis=2).argmax(axis=1)
    end = ends[np.arange(len(pieces)), best]
    return edges, np.concatenate((np.cross(edges[:, :4], edges[:, 4:]), end[:, None]), axis=1)
