"""Clearance round an axis: distance of the metal from a straight tool, exact for plane triangles."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from tinbook.plane.loops import Array
from tinbook.route.ways import view_along
from tinbook.space import Vec


def nearest(at: Vec, axis: Vec, low: float, high: float, reach: float, corners: Array) -> float:
    """Return how near triangles come to an axis between two heights along it, mm.

    Parameters
    ----------
    at, axis : (float, float, float)
        A point and a unit vector.
    low, high : float
        From where to where along the axis, mm from the point.
    reach : float
        What is farther off does not matter, mm.
    corners : ndarray, shape (n, 3, 3)
        Of triangles, mm.

    Returns
    -------
    float
        Infinite where nothing comes within reach.
    """
    if not len(corners):
        return math.inf
    x, y, z = view_along(axis)
    limits = (z, low, high), (x, -reach, reach), (y, -reach, reach)
    for way, least, most in limits:
        corners = within(corners, at, way, least, most)
        if not len(corners):
            return math.inf
    best = float(_distances((corners - np.array(at)) @ np.array((x, y, z)).T, low, high).min())
    return best if best < reach else math.inf


def within(corners: Array, at: Vec, way: Array, low: float, high: float) -> Array:
    """Return the triangles that reach between two planes square to a direction, `low` and `high` mm from a point along it."""
    a, b, c = ((corners - np.array(at)) @ way).T
    some: Array = corners[(np.maximum(np.maximum(a, b), c) > low) & (np.minimum(np.minimum(a, b), c) < high)]
    return some


def _distances(t: Array, low: float, high: float) -> Array:
    """Return how near what is left of each triangle between two heights comes to the z axis; shape (n,)."""
    best = np.full(len(t), math.inf)
    best[pierced(t, low, high)] = 0.0
    p, q = t, np.roll(t, -1, axis=1)
    rise = q[:, :, 2] - p[:, :, 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        at = [(level - p[:, :, 2]) / rise for level in (low, high)]  # where each edge passes the two heights
    level = np.abs(rise) < 1e-12
    first = np.where(level, 0.0, np.clip(np.minimum(*at), 0.0, 1.0))
    last = np.where(level, 1.0, np.clip(np.maximum(*at), 0.0, 1.0))
    middle = p[:, :, 2] + rise * (first + last) / 2
    kept = (middle >= low - 1e-9) & (middle <= high + 1e-9)
    away = p[:, :, :2], q[:, :, :2] - p[:, :, :2]
    along = _to_segment(away[0] + first[..., None] * away[1], away[0] + last[..., None] * away[1])
    best = np.minimum(best, np.where(kept, along, math.inf).min(axis=1))
    for share in at:
        cut = ~level & (share >= 0) & (share <= 1)
        point = away[0] + np.where(cut, share, 0.0)[..., None] * away[1]
        for i, j in ((0, 1), (1, 2), (2, 0)):
            across = _to_segment(point[:, i], point[:, j])
            best = np.minimum(best, np.where(cut[:, i] & cut[:, j], across, math.inf))
    result: Array = best
    return result


def pierced(t: Array, low: float, high: float) -> npt.NDArray[np.bool_]:
    """Whether the z axis goes through each triangle between two heights."""
    a, u, v = t[:, 0], t[:, 1] - t[:, 0], t[:, 2] - t[:, 0]
    full = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        b = (a[:, 1] * v[:, 0] - a[:, 0] * v[:, 1]) / full
        c = (a[:, 0] * u[:, 1] - a[:, 1] * u[:, 0]) / full
        height = a[:, 2] + b * u[:, 2] + c * v[:, 2]
        inside: npt.NDArray[np.bool_] = (b >= 0) & (c >= 0) & (b + c <= 1) & (height >= low) & (height <= high)
    return inside


def _to_segment(p: Array, q: Array) -> Array:
    """Return the distance of the origin from segments of the plane; shape of p without its last axis."""
    d = q - p
    size = (d * d).sum(axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(size > 1e-18, np.clip(-(p * d).sum(axis=-1) / size, 0.0, 1.0), 0.0)
    nearest_point = p + share[..., None] * d
    result: Array = np.hypot(nearest_point[..., 0], nearest_point[..., 1])
    return result
