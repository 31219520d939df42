"""Triangles of anything that has a surface: made parts, scans, solids of other programs."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from tinbook.errors import BadValue, of_kind
from tinbook.fit.surface import surface_of
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.plane.loops import Array
from tinbook.read.scans.mesh import Scan
from tinbook.space import Frame

CHORD: Final = 0.02
"""mm: of the triangles of a solid; those of made parts lie within 0.08."""


def triangles_of(thing: Any, at: Frame) -> tuple[Array, Any, str]:
    """Return points, triangles and name of anything that has a surface."""
    of_kind(at, Frame, "at", "a Frame, as frame_at(origin, x, y) gives one")
    if isinstance(thing, (Made, Assembled)):
        s = surface_of(thing, at)
        return s.points, s.triangles, thing.part.number if isinstance(thing, Made) else thing.assembly.number
    if isinstance(thing, Scan):
        if not len(thing.triangles):
            raise BadValue("scan", thing.name, "a mesh with triangles")
        return at.points(thing.points), thing.triangles, thing.name
    shape = getattr(thing, "wrapped", thing)
    if hasattr(thing, "val") and not hasattr(thing, "wrapped"):
        shape = getattr(thing.val(), "wrapped", None)
    if not hasattr(shape, "ShapeType"):
        raise BadValue("thing or body", type(thing).__name__, "a made part or assembly, a scan, or a solid")
    from tinbook.making.solid import mesh

    mesh.triangulate(shape, CHORD)
    points, triangles = mesh.triangles(shape)
    if not len(triangles):
        raise BadValue("thing or body", type(thing).__name__, "a solid with faces")
    return at.points(points), triangles.astype(np.int64), "solid"
