"""Bodies of an assembly in the geometry kernel: placed, compared, measured, their bores found."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepGProp import BRepGProp
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.gp import gp_Trsf
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
from OCP.TopTools import TopTools_ListOfShape

from tinbook.errors import CannotMake
from tinbook.making.solid.kernel import Shape, explored, volume
from tinbook.space import Vec
from tinbook.values import dataclass


def placed(shape: Shape, values: Sequence[float]) -> Shape:
    """Return the shape carried by twelve numbers: three rows of rotation and shift."""
    move = gp_Trsf()
    move.SetValues(*values)
    return shape.Moved(TopLoc_Location(move))


def common_volume(a: Shape, b: Shape) -> float:
    """Return the volume that two bodies share, mm³.

    Raises
    ------
    CannotMake
        The kernel could not work it out.
    """
    common = BRepAlgoAPI_Common()
    for put, s in ((common.SetArguments, a), (common.SetTools, b)):
        listed = TopTools_ListOfShape()
        listed.Append(s)
        put(listed)
    common.Build()
    if not common.IsDone():
        raise CannotMake("the kernel could not work out the volume that two bodies share")
    return abs(volume(common.Shape()))


def gap(a: Shape, b: Shape) -> float:
    """Return the smallest distance between two bodies, mm; 0 where they touch or overlap."""
    measured = BRepExtrema_DistShapeShape(a, b)
    if not measured.IsDone():
        raise CannotMake("the kernel could not measure the distance between two bodies")
    return float(measured.Value())


def centre(shape: Shape) -> Vec:
    """Return the centre of a body."""
    props = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, props)
    c = props.CentreOfMass()
    return c.X(), c.Y(), c.Z()


def boxes_near(a: tuple[Vec, Vec], b: tuple[Vec, Vec]) -> bool:
    """Whether two bounding boxes, as `kernel.box` gives them, meet."""
    (la, ha), (lb, hb) = a, b
    return all(la[k] <= hb[k] and lb[k] <= ha[k] for k in range(3))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bore:
    """A round hole of a body.

    Parameters
    ----------
    dia : float
        mm.
    at, axis : (float, float, float)
        A point of its axis, and the axis' direction (the first part of it that is not 0 is positive).
    low, high : float
        Where it begins and ends along the axis, measured from `at`, mm.
    """

    dia: float
    at: Vec
    axis: Vec
    low: float
    high: float

    def offset(self, other: Bore) -> float:
        """Return the distance of another bore's axis from this one, at the other's middle, mm."""
        d = [other.at[k] - self.at[k] + (other.low + other.high) / 2 * other.axis[k] for k in range(3)]
        along = sum(d[k] * self.axis[k] for k in range(3))
        return math.hypot(*(d[k] - along * self.axis[k] for k in range(3)))

    def parallel(self, other: Bore) -> bool:
        """Whether both axes run the same way, within a thousandth of a radian."""
        return abs(sum(self.axis[k] * other.axis[k] for k in range(3))) > 1 - 5e-7

    def apart(self, other: Bore) -> float:
        """Return the gap between two parallel bores along the axis, mm, 0 where they overlap."""
        shift = sum((other.at[k] - self.at[k]) * self.axis[k] for k in range(3))
        sign = sum(other.axis[k] * self.axis[k] for k in range(3))
        ends = sorted((shift + sign * other.low, shift + sign * other.high))
        return max(0.0, ends[0] - self.high, self.low - ends[1])


def bores(shape: Shape) -> tuple[Bore, ...]:
    """Return the full round holes of a body, in a stable order.

    Parameters
    ----------
    shape : OCP shape
        One solid or several.

    Returns
    -------
    tuple of Bore
        A cylinder that looks inward and goes all the way round; halves of one hole are put together.
    """
    found: dict[tuple[float, ...], list[Any]] = {}
    for face in map(TopoDS.Face_s, explored(shape, TopAbs_FACE)):
        surface = BRepAdaptor_Surface(face)
        if surface.GetType() != GeomAbs_SurfaceType.GeomAbs_Cylinder:
            continue
        cylinder = surface.Cylinder()
        # Metal lies outside a bore: its face looks towards the axis.
        inward = (face.Orientation() == TopAbs_REVERSED) == bool(cylinder.Direct())
        if not inward:
            continue
        d, p = cylinder.Axis().Direction(), cylinder.Location()
        axis, at = (d.X(), d.Y(), d.Z()), (p.X(), p.Y(), p.Z())
        sign = 1.0 if next(v for v in axis if abs(v) > 1e-6) > 0 else -1.0
        along = sum(at[k] * axis[k] for k in range(3))
        foot = tuple(at[k] - along * axis[k] for k in range(3))
        ends = sorted(sign * (along + v) for v in (surface.FirstVParameter(), surface.LastVParameter()))
        turn = surface.LastUParameter() - surface.FirstUParameter()
        key = tuple(round(v, 4) + 0.0 for v in (*(sign * a for a in axis), *foot, cylinder.Radius(), *ends))
        entry = found.setdefault(key, [0.0, 2 * cylinder.Radius(), foot, tuple(sign * a for a in axis), *ends])
        entry[0] += abs(turn)
    return tuple(
        Bore(dia=e[1], at=e[2], axis=e[3], low=e[4], high=e[5])
        for _, e in sorted(found.items())
        if e[0] > math.tau * 0.999
    )
