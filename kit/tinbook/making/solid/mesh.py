"""Triangles of a solid, by the kernel's own mesher."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from OCP.BRep import BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.IMeshTools import IMeshTools_MeshAlgoType, IMeshTools_Parameters
from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS

from tinbook.forks import threads_answer
from tinbook.making.solid.kernel import Shape, explored


def triangulate(shape: Shape, sagitta: float = 0.05, angle: float = 15.0) -> None:
    """Triangulate a shape in place.

    The default mesher's time grows with the square of the holes in a face;
    this one's does not. A file of triangles is written from what it leaves.

    Parameters
    ----------
    shape : OCP shape or CadQuery Shape
        What to mesh; older triangles are dropped.
    sagitta : float
        Largest distance between surface and triangles, mm.
    angle : float
        Largest angle between neighbouring triangles of a curved face, degrees.
    """
    shape = getattr(shape, "wrapped", shape)
    BRepTools.Clean_s(shape)
    parameters = IMeshTools_Parameters()
    parameters.MeshAlgo = IMeshTools_MeshAlgoType.IMeshTools_MeshAlgoType_Delabella
    parameters.InParallel = threads_answer()
    parameters.Deflection = sagitta
    parameters.Angle = math.radians(angle)
    BRepMesh_IncrementalMesh(shape, parameters)


def triangles(shape: Shape) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.uint32]]:
    """Return the triangles that `triangulate` left on a shape.

    Returns
    -------
    positions : array, shape (n, 3)
        mm; vertices are shared within a face only.
    triangles : array, shape (m, 3), uint32
        Anticlockwise seen from outside.
    """
    points: list[tuple[float, float, float]] = []
    corners: list[tuple[int, int, int]] = []
    for f in map(TopoDS.Face_s, explored(getattr(shape, "wrapped", shape), TopAbs_FACE)):
        where = TopLoc_Location()
        t = BRep_Tool.Triangulation_s(f, where)
        if t is None:
            continue
        move, base, still = where.Transformation(), len(points) - 1, where.IsIdentity()
        for i in range(1, t.NbNodes() + 1):
            p = t.Node(i) if still else t.Node(i).Transformed(move)
            points.append((p.X(), p.Y(), p.Z()))
        turned = f.Orientation() == TopAbs_REVERSED
        for i in range(1, t.NbTriangles() + 1):
            a, b, c = t.Triangle(i).Get()
            corners.append((base + a, base + c, base + b) if turned else (base + a, base + b, base + c))
    return np.array(points).reshape(-1, 3), np.array(corners, np.uint32).reshape(-1, 3)
