"""Where a point lies on a member's mid-surface: the nearest element, the weights of its corners, how far away."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from tinbook.strength.shell.element import Array, Index, shape
from tinbook.values import dataclass

TRIED = 12
"""Elements tried for each point: those with the nearest middles."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hit:
    """Nearest places of points on a surface.

    Parameters
    ----------
    quad : array (n,)
        Element, of those given.
    weights : array (n, 4)
        Of its corners.
    place : array (n, 3)
    away : array (n,)
        mm.
    normal : array (n, 3)
    """

    quad: Index
    weights: Array
    place: Array
    away: Array
    normal: Array


def nearest(points: Array, corners: Array) -> Hit:
    """Return where points (n, 3) lie nearest on quads with corners (m, 4, 3)."""
    tree = cKDTree(corners.mean(axis=1))
    _, some = tree.query(points, k=min(TRIED, len(corners)))
    some = some.reshape(len(points), -1)
    c = corners[some]
    xi, eta = np.zeros(some.shape), np.zeros(some.shape)
    for _ in range(6):
        n, (dx, de) = shape(xi[..., None], eta[..., None])
        r = np.einsum("npi,npik->npk", n, c) - points[:, None]
        a, b = np.einsum("npi,npik->npk", dx, c), np.einsum("npi,npik->npk", de, c)
        aa, ab, bb = (np.einsum("npk,npk->np", p, q) for p, q in ((a, a), (a, b), (b, b)))
        ra, rb = np.einsum("npk,npk->np", r, a), np.einsum("npk,npk->np", r, b)
        det = np.maximum(aa * bb - ab * ab, 1e-30)
        xi = np.clip(xi - (bb * ra - ab * rb) / det, -1.0, 1.0)
        eta = np.clip(eta - (aa * rb - ab * ra) / det, -1.0, 1.0)
    n, _ = shape(xi[..., None], eta[..., None])
    place = np.einsum("npi,npik->npk", n, c)
    away = np.linalg.norm(place - points[:, None], axis=2)
    best = np.argmin(away, axis=1)
    row = np.arange(len(points))
    quad = some[row, best]
    d = corners[quad]
    normal = np.cross(d[:, 2] - d[:, 0], d[:, 3] - d[:, 1])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    return Hit(quad=quad, weights=n[row, best], place=place[row, best], away=away[row, best], normal=normal)


def on_body(points: Array, corners: Array) -> Hit:
    """Return where points (n, 3) lie nearest on a body's triangles with corners (m, 3, 3); weights are none."""
    place, normal = nearest_on_body(points, corners)
    away = np.linalg.norm(place - points, axis=1)
    none = np.zeros((len(points), 4))
    return Hit(quad=np.zeros(len(points), np.int64), weights=none, place=place, away=away, normal=normal)


def nearest_on_body(points: Array, corners: Array) -> tuple[Array, Array]:
    """Return where points (n, 3) lie nearest on triangles with corners (m, 3, 3), and the triangles' normals there.

    Ericson, Real-Time Collision Detection, 5.1.5, for all pairs: bodies have few triangles.
    """
    a, ab, ac = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    p = points[:, None] - a[None]
    d1, d2 = np.einsum("nmk,mk->nm", p, ab), np.einsum("nmk,mk->nm", p, ac)
    aa, bb, cc = (np.einsum("mk,mk->m", u, v) for u, v in ((ab, ab), (ab, ac), (ac, ac)))
    det = np.maximum(aa * cc - bb * bb, 1e-30)
    v, w = (cc * d1 - bb * d2) / det, (aa * d2 - bb * d1) / det
    inside = (v >= 0) & (w >= 0) & (v + w <= 1)
    best = np.where(inside[..., None], v[..., None] * ab + w[..., None] * ac, 0.0)
    away = np.where(inside, np.linalg.norm(best - p, axis=2), np.inf)
    for start, way in ((np.zeros_like(ab), ab), (np.zeros_like(ab), ac), (ab, ac - ab)):
        size = np.maximum(np.einsum("mk,mk->m", way, way), 1e-30)
        t = np.clip(np.einsum("nmk,mk->nm", p - start, way) / size, 0.0, 1.0)
        on = start + t[..., None] * way
        far = np.linalg.norm(on - p, axis=2)
        better = far < away
        best, away = np.where(better[..., None], on, best), np.where(better, far, away)
    k = np.argmin(away, axis=1)
    row = np.arange(len(points))
    normal = np.cross(ab, ac)[k]
    return a[k] + best[row, k], normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-30)
