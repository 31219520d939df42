"""The folded part or an assembly as STEP (AP214, mm), named with number and revision, the same bytes every time."""

from __future__ import annotations

import io
import os
from collections.abc import Sequence
from functools import singledispatch
from pathlib import Path
from typing import Any

from tinbook.errors import CannotMake
from tinbook.making.assembled import Assembled, need_made_or_assembled
from tinbook.making.made import Made
from tinbook.values import dataclass
from tinbook.write.drafts import draft_of
from tinbook.write.names import label
from tinbook.write.part21 import ordered
from tinbook.write.stamp import Despite

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


def write_step(
    made: Made | Assembled,
    path: str | os.PathLike[str],
    *,
    quantity: int | None = None,
    despite: Despite = None,
    replace: bool = False,
) -> Path:
    """Write the folded part as one solid, or an assembly: every thing once, placed as often as it stands.

    Parameters
    ----------
    made : Made or Assembled
        The part, or the assembly with a product for each member.
    path : str or path-like
        File name ending in .step, or an existing folder.
    quantity : int, optional
        For the file name, instead of the part's own; an assembly has none.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for writing it although something stops it; the file says so.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotMake
        Something stops it, or a part of it cannot be made, and `despite` does not name it; nothing is written.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    BadValue
        A name or folder that cannot be used.
    """
    need_made_or_assembled(made, "write_step")
    draft = draft_of(made, path, ".step", quantity=quantity, despite=despite, replace=replace)
    return draft.write(step_text(_items(made), draft.stamp.name, draft.stamp.mark))


@singledispatch
def _items(made: Any) -> list[StepItem]:
    return [StepItem(shape=made.shape, name=label(made).name, colour=made.sheet.material.colour)]


@_items.register(Assembled)
def _(made: Assembled) -> list[StepItem]:
    return [
        StepItem(shape=made.own_shape(m.thing), name=m.label, colour=made.colour(m.name), matrix=m.at.values)
        for m in made.assembly.members
    ]


def step_text(items: Sequence[StepItem], name: str = "", mark: str = "") -> str:
    """Return solids as the text of a STEP file.

    Parameters
    ----------
    items : sequence of StepItem
        One without a matrix is written as a plain part; otherwise they become an assembly.
    name : str
        Product name of the assembly.
    mark : str
        What the header says of the file, plain characters.

    Returns
    -------
    str
        AP214, mm; equal models give equal text in every process.
    """
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.Interface import Interface_Static
    from OCP.STEPCAFControl import STEPCAFControl_Writer
    from OCP.STEPControl import STEPControl_StepModelType

    if not items:
        raise CannotMake("a STEP file needs at least one solid")
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
    if status != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise CannotMake(f"the kernel could not write the STEP file: {status}")
    return ordered(stream.getvalue().decode("latin-1"), name or items[0].name, mark)


# Process-wide in the kernel, so put back after each write.
_SETTINGS = {"write.step.schema": "AP214IS", "write.step.unit": "MM"}


def _document(items: Sequence[StepItem], name: str, single: bool) -> Any:
    from OCP.gp import gp_Trsf
    from OCP.Quantity import Quantity_Color, Quantity_TypeOfColor
    from OCP.TCollection import TCollection_ExtendedString
    from OCP.TDataStd import TDataStd_Name
    from OCP.TDocStd import TDocStd_Document
    from OCP.TopLoc import TopLoc_Location
    from OCP.XCAFDoc import XCAFDoc_ColorType, XCAFDoc_DocumentTool

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
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.TopLoc import TopLoc_Location

    where = shape.Location()
    if where.IsIdentity():
        return shape
    return BRepBuilderAPI_Transform(shape.Located(TopLoc_Location()), where.Transformation(), True).Shape()
