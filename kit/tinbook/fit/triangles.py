"""Triangles of anything that has a surface: made parts, scans, STEP files, solids of other programs."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, Final

import numpy as np

import tinbook.making.solid as solids
import tinbook.read.step as step
from tinbook.errors import BadValue, of_kind
from tinbook.fit.surface import surface_of
from tinbook.making.assembled import Assembled
from tinbook.making.made import Made
from tinbook.plane.loops import Array
from tinbook.read.scans.load import READERS
from tinbook.read.scans.mesh import Scan
from tinbook.space import Frame

STEP: Final = (".step", ".stp")
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
    if isinstance(thing, (str, os.PathLike)):
        points, triangles = _of_file(Path(thing))
        return at.points(points), triangles, Path(thing).name
    shape = getattr(thing, "wrapped", thing)
    if hasattr(thing, "val") and not hasattr(thing, "wrapped"):
        shape = getattr(thing.val(), "wrapped", None)
    if not hasattr(shape, "ShapeType"):
        raise BadValue(
            "thing or body", type(thing).__name__, "a made part or assembly, a scan, a STEP file, or a solid"
        )
    points, triangles = _of_shape(shape)
    if not len(triangles):
        raise BadValue("thing or body", type(thing).__name__, "a solid with faces")
    return at.points(points), triangles, "solid"


def _of_file(path: Path) -> tuple[Array, Any]:
    """Return the triangles of all solids of a STEP file."""
    if path.suffix.lower() in READERS:
        raise BadValue("thing or body", str(path), "tb.read_scan(path, ...): a scan's unit and face must be stated")
    if path.suffix.lower() not in STEP:
        raise BadValue("thing or body", str(path), f"a file that ends in {' or '.join(STEP)}")
    solids = [_of_shape(one.shape) for one in step.load.load(path)]
    counts = np.cumsum([0, *(len(p) for p, _ in solids)])
    every = [t + k for (_, t), k in zip(solids, counts, strict=False)]
    return np.concatenate([p for p, _ in solids]), np.concatenate(every)


def _of_shape(shape: Any) -> tuple[Array, Any]:
    solids.mesh.triangulate(shape, CHORD)
    points, triangles = solids.mesh.triangles(shape)
    return points, triangles.astype(np.int64)
