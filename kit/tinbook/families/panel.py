"""A bead-rolled panel: a rectangle with parallel beads and, if wanted, returns all round."""

from __future__ import annotations

from typing import Annotated, Literal

from tinbook.families.calls import family, require_between
from tinbook.fields import Range
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.material import OfSheet


@family
def bead_rolled_panel(
    length: Annotated[float, Range(200, 1500, 5, "mm")] = 800.0,
    width: Annotated[float, Range(150, 900, 5, "mm")] = 400.0,
    beads: Annotated[int, Range(0, 12)] = 6,
    along: Literal["width", "length"] = "width",
    margin: Annotated[float, Range(20, 120, 1, "mm")] = 50.0,
    roll: str = "R18x5",
    returns: Annotated[float, Range(0, 60, 1, "mm")] = 0.0,
    sheet: OfSheet = "DC01 1.6",
    number: str = "PANEL",
    rev: str = "A",
) -> Part:
    """Return a panel whose beads run along its width or its length, evenly spaced.

    Parameters
    ----------
    length, width : float
        Outside dimensions.
    beads : int
        How many.
    along : {"width", "length"}
        Which way they run; across the shorter span they stiffen far more.
    margin : float
        From the edge to the end of a bead's centre line.
    roll : str
        Roll pair of the shop.
    returns : float
        Leg of the return on all four edges; 0 for none.
    """
    across, run = (length, width) if along == "width" else (width, length)
    if beads:
        require_between("bead_rolled_panel margin", margin, None, run / 2 - 5, f"a bead of 10 mm on {run:g} mm")
    part = Part(number, rev=rev, sheet=sheet, base=Outline.rectangle(length, width), title="bead-rolled panel")
    if beads:
        step = across / (beads + 1)
        ends = ((step, margin), (step, run - margin))
        path = ends if along == "width" else tuple((y, x) for x, y in ends)
        part = part.bead(path, roll, name="bead")
        if beads > 1:
            part = part.repeated(beads, (step, 0.0) if along == "width" else (0.0, step))
    if returns:
        for edge in part.base.names:
            part = part.fold(edge, "down", leg=returns)
    return part
