"""Outlines of tools in the plane square to the fold: noses, shoulders and openings put on the shop's sections."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache, lru_cache
from typing import Any, Final

import numpy as np
import shapely

from tinbook.plane.loops import Array

GAP: Final = 0.05
"""mm: how far tools are drawn off the sheet that they touch, so that touching is never taken for hitting."""
ARC: Final = 13
SLACK: Final = 0.15
"""mm: for a quick look tools are drawn smaller by this all round, so that touching is never taken for hitting."""


def rounded(points: Sequence[tuple[float, float]], corner: tuple[float, float], radius: float) -> Array:
    """Return a ring with one corner rounded by chords inside the metal, shape (n, 2)."""
    ring = [tuple(map(float, p)) for p in points]
    i = ring.index((float(corner[0]), float(corner[1])))
    at = np.array(ring[i])
    a, b = np.array(ring[i - 1]) - at, np.array(ring[(i + 1) % len(ring)]) - at
    la, lb = np.hypot(*a), np.hypot(*b)
    ua, ub = a / la, b / lb
    half = math.acos(float(np.clip(ua @ ub, -1, 1))) / 2
    cut = radius / math.tan(half)
    if cut > min(la, lb) + 1e-9:
        radius, cut = min(la, lb) * math.tan(half), min(la, lb)
    middle = (ua + ub) / np.hypot(*(ua + ub))
    centre = at + middle * radius / math.sin(half)
    p, q = at + ua * cut - centre, at + ub * cut - centre
    start = math.atan2(p[1], p[0])
    sweep = math.remainder(math.atan2(q[1], q[0]) - start, math.tau)
    angles = start + sweep * np.arange(ARC + 1) / ARC
    low = -math.pi / 2
    if min(start, start + sweep) < low < max(start, start + sweep):
        angles = np.sort(np.append(angles, low))[:: 1 if sweep > 0 else -1]
    arc = centre + radius * np.column_stack((np.cos(angles), np.sin(angles)))
    out = np.concatenate((np.array(ring[:i]).reshape(-1, 2), arc, np.array(ring[i + 1 :]).reshape(-1, 2)))
    return np.asarray(out - np.array((centre[0], 0.0)))


def shoulder(opening: float, angle: float, radius: float) -> tuple[float, float]:
    """Distance of a die's shoulder centre from the middle, and its radius, mm."""
    return opening / 2 + radius / math.tan(math.radians(90 + angle / 2) / 2), radius


@cache
def punch_shape(points: tuple[tuple[float, float], ...], nose: float) -> Any:
    """Return a punch with its nose put on, the tip at nought."""
    ring = rounded(points, (0.0, 0.0), nose)
    return shapely.Polygon(ring - np.array((0.0, ring[:, 1].min())))


@cache
def die_shape(points: tuple[tuple[float, float], ...], opening: float, angle: float, radius: float) -> Any:
    """Return a die with its opening cut in."""
    centre, r = shoulder(opening, angle, radius)
    depth = opening / 2 / math.tan(math.radians(angle / 2))
    top, wall = math.pi / 2, math.pi - math.radians(angle / 2)
    arc = np.linspace(top, wall, ARC)
    right = np.column_stack((centre + r * np.cos(arc), -r + r * np.sin(arc)))
    left = right[::-1] * np.array((-1.0, 1.0))
    notch = shapely.Polygon(np.concatenate(([(centre, 5.0)], right, [(0.0, -depth)], left, [(-centre, 5.0)])))
    return shapely.Polygon(points).difference(notch)


@cache
def clamp_shape(points: tuple[tuple[float, float], ...], nose: float) -> Any:
    """Return a folder's nose bar with its nose rounded."""
    return shapely.Polygon(rounded(points, (0.0, 0.0), nose))


def mirrored(shape: Any) -> Any:
    """Return a polygon turned round, front to back."""
    return shapely.transform(shape, lambda c: c * np.array((-1.0, 1.0)))


def shifted(shape: Any, z: float) -> Any:
    """Return a polygon moved up by z."""
    return shapely.transform(shape, lambda c: c + np.array((0.0, z)))


def outline_mark(shape: Any) -> bytes:
    """Return what is the same for polygons of the same outline (to 1e-6 mm), wherever they begin."""
    return np.asarray(np.round(shapely.get_coordinates(shapely.normalize(shape)), 6) + 0.0).tobytes()


@lru_cache(maxsize=256)
def rough_ring(points: tuple[tuple[float, float], ...], up: float = 0.0, *, turned: bool = False) -> Array:
    """Return a section's outline moved up by `up`, a little smaller all round, shape (n, 2)."""
    shape = shapely.buffer(shapely.Polygon(points), -SLACK)
    return np.asarray(_whole(shape, up) * np.array((-1.0 if turned else 1.0, 1.0)))


@lru_cache(maxsize=256)
def rough_die(points: tuple[tuple[float, float], ...], opening: float, angle: float) -> Array:
    """Return a die's outline, a little smaller all round, without what lies near its opening, shape (n, 2)."""
    deep = opening / 2 / math.tan(math.radians(angle / 2)) + 1.0
    shape = shapely.buffer(shapely.Polygon(points), -SLACK)
    return _whole(shape.difference(shapely.box(-opening / 2 - 3, -deep, opening / 2 + 3, 10.0)), 0.0)


def _whole(shape: Any, up: float) -> Array:
    whole = max(shapely.get_parts(shape), key=lambda g: float(g.area), default=shapely.Polygon())
    return np.asarray(shapely.get_coordinates(whole.exterior)[:-1] + np.array((0.0, up)))
