"""A dash edge: a panel whose hem hooks over an edge of the body, with a return along the other side."""

from __future__ import annotations

from typing import Annotated, Literal

from tinbook.families.calls import family
from tinbook.fields import Range
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.material import OfSheet


@family
def hemmed_dash_edge(
    length: Annotated[float, Range(150, 1400, 5, "mm")] = 900.0,
    height: Annotated[float, Range(60, 300, 1, "mm")] = 140.0,
    hem: Literal["open", "closed", "teardrop"] = "open",
    catches: Annotated[float, Range(0.8, 6.0, 0.1, "mm")] = 2.0,
    hem_return: Annotated[float, Range(8, 40, 1, "mm")] = 14.0,
    lip: Annotated[float, Range(10, 60, 1, "mm")] = 20.0,
    inserts: Annotated[int, Range(0, 24)] = 8,
    sheet: OfSheet = "DC01 1.0",
    number: str = "DASH-EDGE",
    rev: str = "A",
) -> Part:
    """Return a dash edge with nut inserts for a fascia panel.

    Parameters
    ----------
    length, height : float
        Outside dimensions of the face.
    hem : {"open", "closed", "teardrop"}
        Form of the hem along the top.
    catches : float
        Thickness that an open hem hooks over, play included.
    hem_return, lip : float
        Return of the hem from its outer edge; return along the bottom.
    inserts : int
        Nut inserts M5 along the middle of the face.
    """
    base = Outline.rectangle(length, height, ("bottom", "right", "top", "left"))
    part = Part(number, rev=rev, sheet=sheet, base=base, title="hemmed dash edge")
    part = part.hem("top", hem, "down", leg=hem_return, gap=None if hem == "closed" else catches, name="hem")
    part = part.fold("bottom", "down", leg=lip, name="lip")
    if inserts:
        part = part.holes_along("bottom", count=inserts, inset=height / 2, use="nut insert", size="M5", name="inserts")
    return part
