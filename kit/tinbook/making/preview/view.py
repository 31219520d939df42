"""A parallel view: which way one looks, and meshes of several bodies as they lie in the picture."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from tinbook.making.folded import Folded
from tinbook.making.preview.build import preview
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.space import Frame, Vec, cross, unit
from tinbook.values import dataclass

Side: TypeAlias = Literal["up", "down"]

EDGE, TANGENT, FORM, CONTOUR = range(4)
"""Kinds of lines: where metal ends, where a bend begins, round a form, and where a curved face turns away."""

MERGED: Final = 1e-3
"""mm: corners of different pieces nearer than this are one corner."""
FLAT: Final = 1e-6
"""Part of a triangle's size below which it is seen edge-on."""


@dataclass(frozen=True, slots=True)
class View:
    """A parallel projection: `right` and `up` of the picture, and `toward` the eye; unit vectors square to each other."""

    right: Vec
    up: Vec
    toward: Vec

    def flat(self, points: Array) -> Array:
        """Return picture coordinates and depth (larger is nearer) of points, shape (n, 3), mm."""
        p = np.asarray(points, float).reshape(-1, 3)
        # Sums written out: a matrix product rounds differently from machine to machine.
        return np.stack([p[:, 0] * a + p[:, 1] * b + p[:, 2] * c for a, b, c in (self.right, self.up, self.toward)], 1)


def view_toward(toward: Vec) -> View:
    """Return the view from a direction that is not upright; z of space is upward in the picture."""
    eye = unit(toward)
    right = unit(cross((0.0, 0.0, 1.0), eye))
    return View(right, cross(eye, right), eye)


def corner_view(side: Side = "up") -> View:
    """Return the view from the front, the right and above, or below for "down"."""
    return view_toward((0.5, -0.72, 0.62 if side == "up" else -0.62))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Bodies in the picture's coordinates.

    Parameters
    ----------
    points : array, shape (n, 3)
        Picture x and y and depth, mm.
    triangles : array, shape (m, 3)
        Outward normals.
    item : array, shape (m,)
        Number of the body of each triangle.
    lines : array, shape (k, 2, 3)
        Edges, tangents, outlines of forms and contours.
    kinds : array, shape (k,)
        Of lines.
    """

    points: Array
    triangles: Index
    item: Index
    lines: Array
    kinds: Index


Body: TypeAlias = tuple[Sequence[Folded], Frame]
"""Pieces in coordinates of their own, and where those stand."""


def seen_from(view: View, bodies: Iterable[Body]) -> Seen:
    """Return bodies as a view shows them."""
    points, triangles, item, lines, kinds, count = [], [], [], [], [], 0
    for number, (pieces, at) in enumerate(bodies):
        for piece in pieces:
            p = preview(piece)
            points.append(view.flat(at.points(p.positions.astype(np.float64))))
            triangles.append(p.triangles.astype(np.int64) + count)
            item.append(np.full(len(p.triangles), number))
            count += len(p.positions)
            own = np.array([_line_kind(kind) for kind in p.kinds], dtype=np.int64)[p.line_group.astype(np.int64)]
            drawn = view.flat(at.points(p.lines.astype(np.float64))).reshape(-1, 2, 3)
            turned, smooth = _sides(points[-1], p.triangles.astype(np.int64), drawn)
            lines += [drawn, turned]
            kinds += [np.where(smooth & (own == EDGE), TANGENT, own), np.full(len(turned), CONTOUR)]
    if not points:
        none: Index = np.zeros(0, np.int64)
        return Seen(
            points=np.zeros((0, 3)), triangles=none.reshape(0, 3), item=none, lines=np.zeros((0, 2, 3)), kinds=none
        )
    every, of = _once(np.concatenate(lines), np.concatenate(kinds))
    return Seen(
        points=np.concatenate(points),
        triangles=np.concatenate(triangles),
        item=np.concatenate(item),
        lines=every,
        kinds=of,
    )


def _line_kind(kind: str) -> int:
    return {"fold": TANGENT, "edge": EDGE, "hole": EDGE, "bought": EDGE, "panel": EDGE}.get(kind, FORM)


def areas(points: Array, triangles: Index) -> Array:
    """Return twice the area of each triangle in the picture, negative where it faces away."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    found: Array = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    return found


def normals(points: Array, triangles: Index) -> Array:
    """Return unit normals in the picture's coordinates, shape (m, 3); zero for a triangle without area."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    u, v = b - a, c - a
    n = np.stack(
        (
            u[:, 1] * v[:, 2] - u[:, 2] * v[:, 1],
            u[:, 2] * v[:, 0] - u[:, 0] * v[:, 2],
            u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0],
        ),
        1,
    )
    size = np.sqrt(n[:, 0] ** 2 + n[:, 1] ** 2 + n[:, 2] ** 2)
    found: Array = n / np.where(size > 0, size, 1.0)[:, None]
    return found


SMOOTH: Final = 0.8
"""Cosine of the turn between two facets of one curved face: sharper ones have a drawn edge of their own."""


def _sides(points: Array, triangles: Index, drawn: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
    """Return the sides at which a curved face turns away from the eye, and which drawn lines lie within a curved face."""
    if not len(triangles):
        return np.zeros((0, 2, 3)), np.zeros(len(drawn), dtype=np.bool_)
    every = np.concatenate((points, drawn.reshape(-1, 3)))
    place = np.round(every / MERGED).astype(np.int64)
    _, first, of = np.unique(place, axis=0, return_index=True, return_inverse=True)
    of = of.reshape(-1)
    t = of[triangles]
    side, tri = np.concatenate((t[:, (0, 1)], t[:, (1, 2)], t[:, (2, 0)])), np.tile(np.arange(len(t)), 3)
    whole = side[:, 0] != side[:, 1]
    key, tri = _key(side[whole], len(first)), tri[whole]
    order = np.lexsort((tri, key))
    key, tri = key[order], tri[order]
    same = key[1:] == key[:-1]
    # Sides that exactly two triangles share.
    start = np.flatnonzero(same & ~np.append(False, same[:-1]) & ~np.append(same[1:], False))
    facing = normals(points, triangles)
    a, b = facing[tri[start]], facing[tri[start + 1]]
    smooth = a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1] + a[:, 2] * b[:, 2] > SMOOTH
    turned = key[start[smooth & ((a[:, 2] > FLAT) != (b[:, 2] > FLAT))]]
    within = np.isin(_key(of[len(points) :].reshape(-1, 2), len(first)), key[start[smooth]])
    return every[first[np.stack((turned // len(first), turned % len(first)), 1)]], within


def _key(side: Index, count: int) -> Index:
    found: Index = side.min(axis=1) * count + side.max(axis=1)
    return found


def _once(lines: Array, kinds: Index) -> tuple[Array, Index]:
    """Return lines without repeats; of two at one place the stronger kind stays, in the order of the first."""
    if not len(lines):
        return lines, kinds
    ends = np.round(lines / MERGED).astype(np.int64)
    back = _later(ends[:, 0], ends[:, 1])
    ends[back] = ends[back][:, ::-1]
    key = ends.reshape(len(ends), 6)
    order = np.lexsort((np.arange(len(key)), kinds))
    _, first = np.unique(key[order], axis=0, return_index=True)
    kept = np.sort(order[first])
    long = (key[kept, :3] != key[kept, 3:]).any(axis=1)
    return lines[kept[long]], kinds[kept[long]]


def _later(a: Index, b: Index) -> npt.NDArray[np.bool_]:
    """Return where a comes after b in the order of coordinates."""
    found = np.zeros(len(a), dtype=np.bool_)
    equal = np.ones(len(a), dtype=np.bool_)
    for k in range(a.shape[1]):
        found |= equal & (a[:, k] > b[:, k])
        equal &= a[:, k] == b[:, k]
    return found
