"""The folded solid beside its flat: faces named by panel and fold, and triangles for a view."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import numpy.typing as npt
from OCP.BinTools import BinTools
from OCP.BRep import BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.IMeshTools import IMeshTools_MeshAlgoType_Delabella, IMeshTools_Parameters
from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED
from OCP.TopExp import TopExp
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
from OCP.TopTools import TopTools_IndexedMapOfShape

from tinbook.forks import threads_answer
from tinbook.plane.loops import Array, Loop, Move
from tinbook.read.step.load import restored
from tinbook.space import Frame
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundPanel:
    """A flat panel found in a folded solid.

    Parameters
    ----------
    name : str
        "panel 1" is the one that the unfolding started from.
    outer : Loop
        Anticlockwise in the panel's own frame, up to the bend lines.
    holes : tuple of Loop
        Openings wholly inside the panel, anticlockwise.
    frame : Frame
        Of the panel in the folded part; z is the outward normal of the up side, which lies at z = 0.
    flat : Move
        From the panel's frame to the flat.
    """

    name: str
    outer: Loop
    holes: tuple[Loop, ...]
    frame: Frame
    flat: Move


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundStrip:
    """A fold found in a folded solid and the panels that it joins.

    Parameters
    ----------
    fold : str
        Name of the fold line in the flat.
    parent, children : str, tuple of str
        Panels; a rolled edge may have no child.
    outlines : tuple of Loop
        The bend's own metal in the flat, anticlockwise, one loop a piece; none for a fold without a radius.
    """

    fold: str
    parent: str
    children: tuple[str, ...]
    outlines: tuple[Loop, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FoldedSolid:
    """The solid as it was read.

    Parameters
    ----------
    name : str
        As in the flat.
    shape : TopoDS_Solid
        In mm, where it stood.
    volume : float
        mm³.
    face_names : dict
        Number of a face (from 0, in the kernel's order) to its panel or fold, for faces of the up side.
    """

    name: str
    shape: Any
    volume: float
    face_names: dict[int, str]

    def __reduce__(self) -> tuple[Any, ...]:
        """Travel to another process as the kernel's own binary form."""
        data = io.BytesIO()
        BinTools.Write_s(self.shape, data)
        return _restored, (self.name, data.getvalue(), self.volume, self.face_names)

    @property
    def solid(self) -> Any:
        """The solid as a CadQuery object, which shows itself in a notebook."""
        import cadquery

        return cadquery.Shape.cast(self.shape)

    def triangles(self, sagitta: float = 0.05) -> tuple[Array, npt.NDArray[np.int32], npt.NDArray[np.int32]]:
        """Return points (n, 3), triangles (m, 3) and the face number of each triangle (m,).

        Parameters
        ----------
        sagitta : float
            Largest distance between the surface and its triangles, mm, greater than 0.
        """
        return triangles_of(self.shape, sagitta)


def triangles_of(
    shape: Any, sagitta: float, angle: float = 0.4
) -> tuple[Array, npt.NDArray[np.int32], npt.NDArray[np.int32]]:
    """Return points (n, 3), triangles (m, 3) and the face number of each triangle (m,) of a shape.

    Parameters
    ----------
    shape : TopoDS_Shape
        In mm; its faces keep the triangles.
    sagitta : float
        Largest distance between the surface and its triangles, mm, greater than 0.
    angle : float
        Largest turn between two neighbours, radians, greater than 0.
    """
    parameters = IMeshTools_Parameters()
    parameters.Deflection, parameters.Angle, parameters.InParallel = sagitta, angle, threads_answer()
    # The default triangulator is quadratic in the number of openings.
    parameters.MeshAlgo = IMeshTools_MeshAlgoType_Delabella
    BRepMesh_IncrementalMesh(shape, parameters)
    faces = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_FACE, faces)
    points: list[tuple[float, float, float]] = []
    triangles: list[tuple[int, int, int]] = []
    owner: list[int] = []
    for i in range(faces.Extent()):
        face, place = TopoDS.Face_s(faces.FindKey(i + 1)), TopLoc_Location()
        mesh = BRep_Tool.Triangulation_s(face, place)
        if mesh is None:
            continue
        first, trsf, moved = len(points), place.Transformation(), not place.IsIdentity()
        for k in range(1, mesh.NbNodes() + 1):
            p = mesh.Node(k).Transformed(trsf) if moved else mesh.Node(k)
            points.append((p.X(), p.Y(), p.Z()))
        for k in range(1, mesh.NbTriangles() + 1):
            a, b, c = mesh.Triangle(k).Get()
            if face.Orientation() == TopAbs_REVERSED:
                b, c = c, b
            triangles.append((first + a - 1, first + b - 1, first + c - 1))
            owner.append(i)
    return (
        np.array(points, dtype=np.float64).reshape(-1, 3),
        np.array(triangles, dtype=np.int32).reshape(-1, 3),
        np.array(owner, dtype=np.int32),
    )


def _restored(name: str, data: bytes, volume: float, face_names: dict[int, str]) -> FoldedSolid:
    return FoldedSolid(name=name, shape=restored(io.BytesIO(data)), volume=volume, face_names=face_names)
