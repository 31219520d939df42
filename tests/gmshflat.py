"""Flat sheets meshed by gmsh: an own mesh of four-sided elements for the tests that hold shells against CalculiX."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest


def flat_quads(
    drawn: Callable[[Any], None], size: float, on_circle: int | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Return nodes and quads, all turning the same way round seen from above.

    Parameters
    ----------
    drawn : callable
        Given gmsh's geometry kernel, draws the surfaces, all level.
    size : float
        Largest side of an element before each is cut in four, mm.
    on_circle : int, optional
        Elements round a full circle.
    """
    gmsh = pytest.importorskip("gmsh")
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        drawn(gmsh.model.occ)
        gmsh.model.occ.synchronize()
        gmsh.option.setNumber("Mesh.MeshSizeMax", size)
        if on_circle is not None:
            gmsh.option.setNumber("Mesh.MeshSizeFromCurvature", on_circle)
        gmsh.option.setNumber("Mesh.Algorithm", 8)
        gmsh.option.setNumber("Mesh.RecombineAll", 1)
        gmsh.option.setNumber("Mesh.SubdivisionAlgorithm", 1)
        gmsh.model.mesh.generate(2)
        tags, xyz, _ = gmsh.model.mesh.getNodes()
        place = {int(t): k for k, t in enumerate(tags)}
        _, _, members = gmsh.model.mesh.getElements(2)
        quads = np.array([place[int(n)] for n in np.concatenate(members)]).reshape(-1, 4)
    finally:
        gmsh.finalize()
    used, quads = np.unique(quads, return_inverse=True)
    points, quads = xyz.reshape(-1, 3)[used], quads.reshape(-1, 4)
    d = points[quads]
    turned = np.cross(d[:, 2] - d[:, 0], d[:, 3] - d[:, 1])[:, 2] < 0
    quads[turned] = quads[turned][:, ::-1]
    return points, quads
