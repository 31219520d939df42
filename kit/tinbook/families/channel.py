"""A folded channel: a web with two returns."""

from __future__ import annotations

from typing import Annotated

from tinbook.families.calls import family
from tinbook.fields import Range
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.material import OfSheet


@family
def folded_channel(
    length: Annotated[float, Range(60, 1500, 5, "mm")] = 400.0,
    web: Annotated[float, Range(20, 300, 1, "mm")] = 60.0,
    flange: Annotated[float, Range(10, 150, 1, "mm")] = 30.0,
    angle: Annotated[float, Range(30, 120, 1, "deg")] = 90.0,
    holes: Annotated[int, Range(0, 20)] = 4,
    sheet: OfSheet = "DC01 1.5",
    number: str = "CHANNEL",
    rev: str = "A",
) -> Part:
    """Return a channel with holes along the middle of its web.

    Parameters
    ----------
    length, web, flange : float
        Outside dimensions.
    angle : float
        Each flange turned through.
    holes : int
        Bolt holes M6 along the web, evenly spaced.
    """
    base = Outline.rectangle(length, web, ("near", "right", "far", "left"))
    part = Part(number, rev=rev, sheet=sheet, base=base, title="folded channel")
    part = part.fold("near", "up", leg=flange, angle=angle).fold("far", "up", leg=flange, angle=angle)
    if holes:
        part = part.holes_along("near", count=holes, inset=web / 2, use="bolt", size="M6", name="bolts")
    return part
