"""Triangles of what was made, cut so fine that a gap can be said for each."""

from __future__ import annotations

import numpy as np

from tinbook.errors import BadValue, CannotMake, of_kind
from tinbook.making.assembled import MADE_OR_ASSEMBLED, Assembled, need_assembled
from tinbook.making.made import Made
from tinbook.making.preview.build import preview
from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array
from tinbook.read.scans.mesh import face_normals, unit_rows
from tinbook.space import SPACE, Frame
from tinbook.values import dataclass

MOST = 150_000
"""Triangles: what a viewer and a picture can hold."""


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """Triangles of made metal.

    Parameters
    ----------
    points : array, shape (n, 3)
        In the coordinates of the body, mm.
    triangles : array, shape (m, 3)
        Anticlockwise seen from outside.
    names : array of str, shape (m,)
        Panel, hole or member of each; "leg bend" for the bend that a leg hangs on.
    """

    points: Array
    triangles: Index
    names: np.ndarray[tuple[int], np.dtype[np.str_]]

    @property
    def middles(self) -> Array:
        """Middle of each triangle, shape (m, 3)."""
        found: Array = self.points[self.triangles].mean(axis=1)
        return found

    @property
    def normals(self) -> Array:
        """Unit normals of the triangles, shape (m, 3)."""
        return unit_rows(face_normals(self.points, self.triangles))


def surface_of(made: Made | Assembled, at: Frame = SPACE) -> Surface:
    """Return the triangles of a made part, or of an assembly's members that are parts, carried to `at`."""
    of_kind(made, (Made, Assembled), "made", MADE_OR_ASSEMBLED)
    of_kind(at, Frame, "at", "a Frame, as tb.read's outlines have in .fit.frame, or frame_at gives one")
    if isinstance(made, Assembled):
        need_assembled(made, "fit")
        named = [(m.name, *made.mesh(m.name)) for m in made.assembly.members if m.kind == "part"]
        if not named:
            raise BadValue("made", made.assembly.number, "an assembly with parts")
        counts = np.cumsum([0, *(len(p) for _, p, _ in named)])
        return Surface(
            at.points(np.concatenate([p for _, p, _ in named])),
            np.concatenate([t.astype(np.int64) + k for (_, _, t), k in zip(named, counts, strict=False)]),
            np.concatenate([np.full(len(t), n) for n, _, t in named]),
        )
    if not made.panels:
        raise CannotMake(f"{made.part.number}: it has no panels; see its findings")
    p = preview(made.folded)
    called = np.array([f"{n} bend" if kind == "fold" else n for n, kind in zip(p.names, p.kinds, strict=True)])
    return Surface(at.points(p.positions.astype(np.float64)), p.triangles.astype(np.int64), called[p.group])


def finer(surface: Surface, step: float) -> Surface:
    """Return the surface with every triangle halved until its sides are shorter than `step`, or there are enough."""
    points, triangles, names = surface.points, surface.triangles, surface.names
    while len(triangles) < MOST:
        sides = np.linalg.norm(points[triangles] - points[np.roll(triangles, -1, axis=1)], axis=2)
        long = np.flatnonzero(sides.max(axis=1) > step)
        if not len(long):
            break
        long = long[np.argsort(-sides[long].max(axis=1), kind="stable")][: MOST - len(triangles)]
        k = sides[long].argmax(axis=1)
        a, b, c = (triangles[long, (k + j) % 3] for j in range(3))
        m = len(points) + np.arange(len(long))
        points = np.concatenate((points, (points[a] + points[b]) / 2))
        triangles = triangles.copy()
        triangles[long] = np.column_stack((a, m, c))
        triangles = np.concatenate((triangles, np.column_stack((m, b, c))))
        names = np.concatenate((names, names[long]))
    return Surface(points, triangles, names)
