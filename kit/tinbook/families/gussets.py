"""Gussets: a triangle between two plates, plain or with a folded lip."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from tinbook.families.calls import family, require_between
from tinbook.fields import Range
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.material import OwnPlate

ME: Final = "gusset"


def gusset_outline(foot: float, back: float, clip: float, nose: float) -> Outline:
    """Return the outline of a gusset: foot along x, back along y, the corner between them clipped.

    Parameters
    ----------
    foot, back : float
        Lengths to the corner that is clipped off, mm.
    clip : float
        Taken off that corner both ways, for a bend's radius or a weld, mm; 0 for none.
    nose : float
        Height of the blunt ends, mm, greater than 0: a sharp end burns away.

    Returns
    -------
    Outline
        Edges foot, toe, slope, top, back and, if clipped, clip.
    """
    corner = [(0.0, clip), (clip, 0.0)] if clip > 0 else [(0.0, 0.0)]
    names = ["clip"] if clip > 0 else []
    points = [*corner, (foot, 0.0), (foot, nose), (nose, back), (0.0, back)]
    return Outline.polygon(points, [*names, "foot", "toe", "slope", "top", "back"])


@family
def gusset(
    foot: Annotated[float, Range(40, 300, 1, "mm")] = 120.0,
    back: Annotated[float, Range(40, 300, 1, "mm")] = 90.0,
    clip: Annotated[float, Range(0, 30, 1, "mm")] = 15.0,
    nose: Annotated[float, Range(8, 30, 1, "mm")] = 12.0,
    lip: Annotated[float, Range(0, 60, 1, "mm")] = 0.0,
    thickness: Literal[3, 4, 5, 6] = 5,
    grade: Literal["S355", "S235"] = "S235",
    tool: str = "V50",
    sheet: OwnPlate = "",
    number: str = "GUSSET",
    rev: str = "A",
) -> Part:
    """Return a gusset.

    Parameters
    ----------
    foot, back : float
        Along the two plates that it braces.
    clip : float
        Off the corner between them.
    nose : float
        Of the blunt ends.
    lip : float
        Leg of a fold along the slope, against buckling; 0 for none, else at least 40.
    thickness : {3, 4, 5, 6}
        mm.
    grade : {"S355", "S235"}
        Steel.
    tool : str
        Die of the lip's fold.
    sheet : Sheet or str, optional
        The shop's own plate, with its thickness ("" for none), instead of `thickness` and `grade`.
    """
    require_between(f"{ME} nose", nose, 8, min(30.0, 0.4 * min(foot, back)), "blunt ends of so short a gusset")
    require_between(f"{ME} clip", clip, 0, min(30.0, 0.4 * min(foot, back)), "so short a gusset")
    outline = gusset_outline(foot, back, clip, nose)
    part = Part(number, rev=rev, sheet=sheet or f"{grade} {thickness:.1f}", base=outline, title="gusset")
    if lip:
        slope = outline.edge("slope").length
        # The bend takes up metal square to the slope: the fold keeps off the ends, where the plate is not deep enough.
        start, stop = (max(15.0, (30.0 - nose) * slope / (side - nose)) for side in (back, foot))
        if slope - start - stop < 50:
            require_between(f"{ME} lip", lip, 0, 0, "on so small a gusset less than 50 mm of the slope can be folded")
        require_between(f"{ME} lip", lip, 40, 60, "what the die reaches over, or 0 for none")
        part = part.fold("slope", "up", leg=lip, start=start, stop=slope - stop, tool=tool, name="lip")
    return part
