"""Practice scans: the lip round an opening as a scanner sees it, with scatter, holes, a dent and a fold-over, from a seed."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from tinbook import units
from tinbook.errors import BadValue, of_kind
from tinbook.part.outline import Outline
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array, Loop
from tinbook.read.scans.mesh import Scan
from tinbook.space import SPACE, Frame
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Flaws:
    """What a scanner and a hammer leave.

    Parameters
    ----------
    scatter : float
        Standard deviation of each point in each direction, mm.
    outliers : float
        Share of points that lie 2 to 8 mm off, 0 to 0.5.
    missing : float
        Share of the rim, 0 to 1, along which metal was not seen, in patches.
    dent : float
        Depth of one dent in the lip, mm.
    fold : bool
        Whether the mesh folds over itself in one place.
    bits : int
        Loose bits in the opening.
    """

    scatter: float = 0.3
    outliers: float = 0.05
    missing: float = 0.1
    dent: float = 2.0
    fold: bool = True
    bits: int = 3


CLEAN = Flaws(scatter=0.0, outliers=0.0, missing=0.0, dent=0.0, fold=False, bits=0)


def practice_scan(
    opening: Outline,
    *,
    lip: Any = 20.0,
    spacing: Any = 1.0,
    flaws: Flaws | None = None,
    sag: Any = 0.0,
    at: Frame = SPACE,
    seed: int = 0,
) -> Scan:
    """Return an invented scan of the lip round an opening, for practice and for tests.

    Parameters
    ----------
    opening : Outline
        The true rim, in the plane z = 0 of `at`.
    lip : length
        Width of the metal round it.
    spacing : length
        From point to point.
    flaws : Flaws, optional
        By default a fair scan of an old floor.
    sag : length
        How far the middle of the lip's span lies below its ends along x: the lip follows a gentle curve.
    at : Frame
        Where the opening lies in the body.
    seed : int
        Of all that is drawn at random.

    Returns
    -------
    Scan
        A mesh whose border follows the rim, as scanners' programs give it.
    """
    of_kind(opening, Outline, "opening", "an Outline")
    of_kind(at, Frame, "at", "a Frame, as frame_at(origin, x, y) gives one")
    of_kind(flaws, (Flaws, type(None)), "flaws", "Flaws(scatter=0.3, ...)")
    if isinstance(seed, bool) or not isinstance(seed, int) or not 0 <= seed < 2**63:
        raise BadValue("seed", seed, "a whole number from 0 on")
    wide, step = units.positive(lip, "lip"), units.positive(spacing, "spacing")
    flaws = flaws or Flaws()
    if opening.loop.length * wide / step**2 > 1.5e6:
        raise BadValue("spacing", step, "a spacing that gives fewer than 1.5 million points")
    rng = np.random.default_rng(seed)
    xy, triangles = _plate(opening.loop, wide, step, rng)
    triangles = _unseen(opening.loop, xy, triangles, flaws.missing, wide, rng)
    seen = np.unique(triangles)
    xy, triangles = xy[seen], np.searchsorted(seen, triangles)
    x0, _, x1, _ = opening.box
    z = units.length(sag, "sag") * ((2 * (xy[:, 0] - x0) / (x1 - x0) - 1) ** 2 - 1)
    points = np.column_stack((xy, z))
    _hammered(opening.loop, points, flaws, wide, rng)
    points += rng.normal(0.0, flaws.scatter, points.shape)
    odd = rng.random(len(points)) < flaws.outliers
    way = rng.normal(size=(int(odd.sum()), 3))
    points[odd] += way / np.linalg.norm(way, axis=1)[:, None] * rng.uniform(2.0, 8.0, (len(way), 1))
    points, triangles = _with_bits(opening, points, triangles, flaws.bits, step, rng)
    return Scan(name=f"practice scan {seed}", points=at.points(points), triangles=triangles)


def _along(loop: Loop, step: float, phase: float = 0.0) -> Array:
    """Return points along a loop, its corners among them."""
    rows = []
    for e in loop.edges:
        count = max(1, round(e.length / step))
        rows += [e.at((k + (phase if k else 0.0)) / count) for k in range(count)]
    return np.array(rows)


def _plate(loop: Loop, wide: float, step: float, rng: Any) -> tuple[Array, Index]:
    """Return points and triangles of the lip."""
    from scipy.spatial import Delaunay, cKDTree

    rim = _along(loop, step, rng.uniform(-0.3, 0.3))
    inner = shapely.Polygon(loop.chords(0.001))
    plate = inner.buffer(wide, join_style="mitre")
    x0, y0, x1, y1 = plate.bounds
    x, y = np.meshgrid(np.arange(x0, x1, step), np.arange(y0, y1, step * np.sqrt(0.75)))
    x[::2] += step / 2
    grid = np.column_stack((x.ravel(), y.ravel())) + rng.uniform(-0.2, 0.2, (x.size, 2)) * step
    grid = grid[shapely.contains_xy(plate, grid) & ~shapely.contains_xy(inner, grid)]
    grid = grid[cKDTree(rim).query(grid)[0] > 0.6 * step]
    xy = np.concatenate((rim, grid))
    corners = Delaunay(xy).simplices.astype(np.int64)
    middle = xy[corners].mean(axis=1)
    sides = np.linalg.norm(xy[corners] - xy[np.roll(corners, 1, axis=1)], axis=2).max(axis=1)
    corners = corners[~shapely.contains_xy(inner.buffer(-1e-9), middle) & (sides < 3 * step)]
    a, b, c = (xy[corners[:, k]] for k in range(3))
    turned = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0]) < 0
    corners[turned] = corners[turned][:, ::-1]
    return xy, corners


def _unseen(loop: Loop, xy: Array, corners: Index, share: float, wide: float, rng: Any) -> Index:
    """Return the triangles without those in patches along a share of the rim."""
    from scipy.spatial import cKDTree

    rim = _along(loop, 0.5)
    off, at = cKDTree(rim).query(xy[corners].mean(axis=1))
    gone = np.zeros(len(rim), dtype=bool)
    keep = np.ones(len(corners), dtype=bool)
    while share > 0 and gone.mean() < 0.8 * share:
        half = rng.uniform(10.0, min(40.0, max(10.5, share * loop.length / 3)))
        middle = rng.integers(len(rim))
        near = np.linalg.norm(rim - rim[middle], axis=1) < half
        if (gone | near).mean() > share:
            break
        gone |= near
        keep &= ~(near[at] & (off < rng.uniform(3.0, 0.7 * wide)))
    return corners[keep]


def _hammered(loop: Loop, points: Array, flaws: Flaws, wide: float, rng: Any) -> None:
    """Push a dent into the lip, and fold the mesh over itself in the middle of the lip."""
    e = loop.edges[int(rng.integers(len(loop.edges)))]
    (x, y), (tx, ty) = e.at(rng.uniform(0.3, 0.7)), e.direction(0.5)
    middle = np.array((x + ty * wide / 2, y - tx * wide / 2))
    off = np.linalg.norm(points[:, :2] - middle, axis=1)
    points[:, 2] -= flaws.dent * np.exp(-((off / 15.0) ** 2))
    if flaws.fold:
        points[:, :2] += np.exp(-((off / (wide / 8)) ** 2))[:, None] * np.array((tx, ty)) * wide / 4


def _with_bits(
    opening: Outline, points: Array, corners: Index, count: int, step: float, rng: Any
) -> tuple[Array, Index]:
    """Add loose bits of a few triangles in the opening."""
    (x, y) = np.array(opening.box).reshape(2, 2).mean(axis=0)
    for _ in range(count):
        i, j = np.meshgrid(np.arange(4), np.arange(4))
        bit = np.column_stack((i.ravel(), j.ravel(), np.zeros(16))) * step
        a = (i[:-1, :-1] + 4 * j[:-1, :-1]).ravel() + len(points)
        corners = np.concatenate((corners, np.column_stack((a, a + 1, a + 5)), np.column_stack((a, a + 5, a + 4))))
        points = np.concatenate((points, bit + (np.array((x, y, 0.0)) + rng.normal(0.0, 8.0, 3))))
    return points, corners
