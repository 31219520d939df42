"""Solids to the text of a STEP file and back, as the geometry kernel writes and reads it."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.gp import gp_Trsf
from OCP.IFSelect import IFSelect_RetDone
from OCP.Interface import Interface_Static
from OCP.Quantity import Quantity_Color, Quantity_TypeOfColor
from OCP.STEPCAFControl import STEPCAFControl_Writer
from OCP.STEPControl import STEPControl_Reader, STEPControl_StepModelType
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_SOLID
from OCP.TopLoc import TopLoc_Location
from OCP.XCAFDoc import XCAFDoc_ColorType, XCAFDoc_DocumentTool

from tinbook.errors import BadFile, CannotMake, Mistake
from tinbook.making.solid.kernel import Shape, explored, volume
from tinbook.values import dataclass

Colour = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepItem:
    """One solid of an exchange file.

    Parameters
    ----------
    shape : CadQuery Shape or OCP shape
        In its own coordinates, mm. The same object given twice is written once and placed twice.
    name : str
        Product name, such as "HN-FP-L rev B".
    colour : (float, float, float)
        Red, green, blue, 0 to 1 (sRGB).
    matrix : sequence of 12 float, optional
        Where it stands in an assembly: three rows of a rotation and a shift in mm.
    """

    shape: Any
    name: str
    colour: Colour
    matrix: Sequence[float] | None = None


def text_of(items: Sequence[StepItem], name: str) -> str:
    """Return solids as the kernel writes them, AP214, mm; one without a matrix as a plain part, else an assembly."""
    single = len(items) == 1 and items[0].matrix is None
    document = _document(items, name, single)
    writer = STEPCAFControl_Writer()
    writer.SetNameMode(True)
    writer.SetColorMode(True)
    before = {key: Interface_Static.CVal_s(key) for key in _SETTINGS}
    try:
        for key, value in _SETTINGS.items():
            Interface_Static.SetCVal_s(key, value)
        if not writer.Transfer(document, STEPControl_StepModelType.STEPControl_AsIs):
            raise CannotMake("the kernel could not translate the solid to STEP")
        stream = io.BytesIO()
        status = writer.WriteStream(stream)
    finally:
        for key, old in before.items():
            if old:
                Interface_Static.SetCVal_s(key, old)
    if status != IFSelect_RetDone:
        raise CannotMake(f"the kernel could not write the STEP file: {status}")
    return stream.getvalue().decode("latin-1")


# Process-wide in the kernel, so put back after each write.
_SETTINGS = {"write.step.schema": "AP214IS", "write.step.unit": "MM"}


def _document(items: Sequence[StepItem], name: str, single: bool) -> Any:
    def named(where: Any, text: str) -> None:
        TDataStd_Name.Set_s(where, TCollection_ExtendedString(text, True))

    document = TDocStd_Document(TCollection_ExtendedString("XmlOcaf"))
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    colours = XCAFDoc_DocumentTool.ColorTool_s(document.Main())
    root = None
    if not single:
        root = shapes.NewShape()
        named(root, name)
    known: dict[tuple[int, str, Colour], Any] = {}
    for i, item in enumerate(items, 1):
        key = (id(item.shape), item.name, item.colour)
        if key not in known:
            where = known[key] = shapes.AddShape(_unplaced(getattr(item.shape, "wrapped", item.shape)), False)
            named(where, item.name)
            paint = Quantity_Color(*item.colour, Quantity_TypeOfColor.Quantity_TOC_sRGB)
            colours.SetColor(where, paint, XCAFDoc_ColorType.XCAFDoc_ColorSurf)
        if root is not None:
            place = gp_Trsf()
            if item.matrix is not None:
                place.SetValues(*item.matrix)
            named(shapes.AddComponent(root, known[key], TopLoc_Location(place)), f"{item.name}, {i}")
    shapes.UpdateAssemblies()
    return document


def _unplaced(shape: Any) -> Any:
    """Return the shape with its placement applied to its geometry: the kernel would rename a placed shape."""
    where = shape.Location()
    if where.IsIdentity():
        return shape
    return BRepBuilderAPI_Transform(shape.Located(TopLoc_Location()), where.Transformation(), True).Shape()


def solids_of(shapes: Iterable[Shape]) -> tuple[float, int]:
    """Return volume, mm³, and number of the solids in shapes."""
    solids = [s for shape in shapes for s in explored(shape, TopAbs_SOLID)]
    return sum(map(volume, solids)), len(solids)


def read_again(file: Path) -> tuple[float, int]:
    """Return volume, mm³, and number of the solids of a STEP file; raises BadFile where it cannot be read."""
    reader = STEPControl_Reader()
    if reader.ReadFile(str(file)) != IFSelect_RetDone:
        raise BadFile(str(file), [Mistake("STEP", "is gone, or cannot be read as STEP")])
    reader.TransferRoots()
    return solids_of(reader.Shape(k + 1) for k in range(reader.NbShapes()))
