"""Plain folded parts: channel, bead-rolled panel, hemmed dash edge, box, flanged disc."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from tinbook.families.calls import family, require_between, zero_or_at_least
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


@family
def folded_box(
    length: Annotated[float, Range(80, 1200, 5, "mm")] = 300.0,
    width: Annotated[float, Range(80, 800, 5, "mm")] = 200.0,
    height: Annotated[float, Range(20, 250, 1, "mm")] = 80.0,
    lip: Annotated[float, Range(0, 40, 1, "mm")] = 0.0,
    corners: Literal["open", "closed", "lapped"] = "closed",
    drain: Annotated[float, Range(0, 40, 1, "mm")] = 0.0,
    sheet: OfSheet = "DC01 1.5",
    number: str = "BOX",
    rev: str = "A",
) -> Part:
    """Return an open box.

    Parameters
    ----------
    length, width, height : float
        Outside dimensions.
    lip : float
        Outward lip along the two long sides; 0 for none.
    corners : {"open", "closed", "lapped"}
        How the sides meet.
    drain : float
        Drain hole in the middle of the bottom; 0 for none.
    """
    require_between("folded_box drain", drain, None, min(length, width) - 60, "the bottom less 30 mm at each side")
    zero_or_at_least("folded_box drain", drain, 4.0)
    zero_or_at_least("folded_box lip", lip, 12.0)  # shorter ones slip off the tools
    part = Part(number, rev=rev, sheet=sheet, base=Outline.rectangle(length, width), title="folded box")
    for edge in part.base.names:
        part = part.fold(edge, "up", leg=height, corner=corners)
    if lip:
        part = part.fold("front.end", "down", leg=lip, name="front lip").fold(
            "rear.end", "down", leg=lip, name="rear lip"
        )
    return part.hole((length / 2, width / 2), drain, use="drain") if drain else part


@family
def flanged_disc(
    across: Annotated[float, Range(60, 900, 1, "mm")] = 240.0,
    sides: Annotated[int, Range(4, 24)] = 12,
    flange: Annotated[float, Range(10, 80, 1, "mm")] = 20.0,
    bore: Annotated[float, Range(0, 800, 1, "mm")] = 120.0,
    bolts: Annotated[int, Range(0, 24)] = 6,
    sheet: OfSheet = "DC01 1.0",
    number: str = "COVER",
    rev: str = "A",
) -> Part:
    """Return a cover or, with a bore, a ring with a flange folded on each of its straight sides.

    A round flange must be stretched or shrunk over a former, which no folder does; many straight
    sides come near it.

    Parameters
    ----------
    across : float
        Across the flats, outside.
    sides : int
        Straight sides.
    flange : float
        Height of the flange, outside.
    bore : float
        Round opening in the middle; 0 for none.
    bolts : int
        Bolt holes M5 on a circle midway between bore and flats.
    """
    require_between(
        "flanged_disc sides",
        sides,
        None,
        math.floor(math.pi / math.atan(12 / across)),
        "so that each is 12 mm long",
        "",
    )
    zero_or_at_least("flanged_disc bore", bore, 10.0)
    require_between("flanged_disc bore", bore, None, max(across - 70, 0.0), "the flats less 35 mm at each side")
    corner = across / 2 / math.cos(math.pi / sides)
    turns = [2 * math.pi * (k - 0.5) / sides - math.pi / 2 for k in range(sides)]
    points = [(corner * math.cos(a), corner * math.sin(a)) for a in turns]
    base = Outline.polygon(points, [f"side {k + 1}" for k in range(sides)])
    part = Part(number, rev=rev, sheet=sheet, base=base, title="flanged ring" if bore else "flanged disc")
    for edge in base.names:
        part = part.fold(edge, "up", leg=flange)
    if bore:
        part = part.hole((0.0, 0.0), bore, name="bore")
    ring = (bore + across) / 4
    room = math.floor(2 * math.pi * ring / 20)
    require_between("flanged_disc bolts", bolts, None, room, f"20 mm apart on their circle of {2 * ring:.0f} mm", "")
    for k in range(bolts):
        a = 2 * math.pi * k / bolts
        part = part.hole((ring * math.cos(a), ring * math.sin(a)), use="bolt", size="M5", name=f"bolt {k + 1}")
    return part
