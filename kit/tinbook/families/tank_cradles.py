"""A cradle plate to a tank's section with folded seats, its rubber liner, and the tank itself as a simple item."""

from __future__ import annotations

import math
from typing import Annotated, Final, Literal

from tinbook.families.bolt_patterns import rounded_box
from tinbook.families.calls import Room, Size, family, helper, require_between, thickness_of, zero_or_at_least
from tinbook.families.gaskets import STUFFS
from tinbook.families.strap import CAUTIONS, strap_eye
from tinbook.fields import Count, Number, Range
from tinbook.flatpattern import Cut, FlatPattern
from tinbook.part.bought import Bought, Piece
from tinbook.part.features import Relief
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Edge, Loop, Point, circle, polygon
from tinbook.shop.material import OfSheet
from tinbook.space import frame_at

CLEAR: Final = 8.0
"""mm that a folded seat stays back from the round corners, so that its bend runs out in flat sheet."""
LINERS: Final = {"water": "EPDM", "glycol": "EPDM", "oil": "NBR", "diesel": "NBR"}
"""Rubber by what may drip on it; common practice: EPDM swells in oil, NBR cracks in weather."""


@family
def tank_cradle(
    tank_width: Annotated[float, Range(150, 900, 1, "mm")] = 420.0,
    tank_height: Annotated[float, Range(120, 700, 1, "mm")] = 320.0,
    tank_corner: Annotated[float, Range(15, 250, 1, "mm")] = 60.0,
    liner: Annotated[float, Range(1, 10, 0.5, "mm")] = 4.0,
    seat: Annotated[float, Range(20, 60, 1, "mm")] = 30.0,
    rise: Annotated[float, Range(60, 500, 1, "mm")] = 160.0,
    horn: Annotated[float, Range(25, 120, 1, "mm")] = 45.0,
    depth: Annotated[float, Range(50, 250, 1, "mm")] = 80.0,
    foot: Annotated[float, Range(20, 80, 1, "mm")] = 40.0,
    pin: Annotated[float, Range(0, 20, 1, "mm")] = 12.0,
    below: Annotated[float, Range(0, 150, 1, "mm")] = 40.0,
    strap_liner: Annotated[float, Range(0, 8, 0.5, "mm")] = 3.0,
    pins: Literal["both", "left"] = "both",
    strap: OfSheet = "DC01 2.0",
    sheet: OfSheet = "DC01 3.0",
    number: str = "TANK-CRADLE",
    rev: str = "A",
) -> Part:
    """Return a cradle: an upright plate that follows the tank, seats folded on its straight edges, a foot below.

    Parameters
    ----------
    tank_width, tank_height, tank_corner : float
        Of the tank's section; the tank's underside is y = 0 of the plate, its middle x = 0.
    liner : float
        Rubber between tank and seats as squeezed.
    seat, foot : float
        Outside width of the seats and of the foot.
    rise, horn, depth : float
        Of the horns above the tank's underside, their width, and of the plate below it.
    pin, below, strap_liner : float
        Strap's pins, their place under the tank and the rubber under the strap, as for `tank_strap`; pin 0 for
        no holes.
    pins : {"both", "left"}
        Whether the strap is pinned at both ends, or a T-bolt tightens it on the right.
    strap, sheet, number, rev : str
        Sheet of the strap and of the cradle, part number, revision.
    """
    require_between(
        "tank_cradle tank_corner", tank_corner, None, min(tank_width / 2, tank_height) - 25, "half the tank's width"
    )
    require_between("tank_cradle rise", rise, tank_corner + 25, tank_height, "above the corner, below the tank's top")
    base = _section(tank_width, tank_corner, liner, rise, horn, depth)
    part = Part(
        number, rev=rev, sheet=sheet, base=base, title="tank cradle", quantity=2, cautions=CAUTIONS
    ).keep_clean()
    most = tank_corner + liner + CLEAR - 1
    require_between("tank_cradle seat", seat, None, most, "or the seats meet in the blank, at the corner")
    zero_or_at_least("tank_cradle pin", pin, 6.0)
    notch = Relief(width=2 * thickness_of("tank_cradle sheet", sheet) + 0.5)  # twice the thickness, what a plasma cuts
    for edge in ("seat", "right horn", "left horn"):
        part = part.fold(edge, "down", leg=seat, start=CLEAR, stop=base.edge(edge).length - CLEAR, relief=notch)
    part = part.fold("foot", "down", leg=foot)
    part = part.holes_along("foot.end", count=4, inset=foot / 2, use="bolt", size="M8", name="foot bolt")
    if pin:
        require_between(
            "tank_cradle below", below, pin, depth - 1.5 * pin - 10, "the depth less the pin's edge distance"
        )
        places = pin_places(tank_width, strap_liner, below, pin, strap)
        for i, at in enumerate(places if pins == "both" else places[1:]):
            part = part.hole(at, pin + 0.5, name=f"strap pin {i + 1}")
    return part


@helper
def pin_places(tank_width: Size, liner: Room, below: Room, pin: Room, strap: OfSheet) -> tuple[Point, Point]:
    """Return the strap's right and left pin in the cradle's plane, mm: where `tank_strap`'s eyes hold them.

    Parameters
    ----------
    tank_width, liner, below, pin : float
        As for `tank_strap`, mm; the liner is the one under the strap.
    strap : str
        Its sheet.

    Returns
    -------
    ((float, float), (float, float))
    """
    t = thickness_of("pin_places strap", strap)
    x = tank_width / 2 + liner + t - strap_eye(pin, t, 20.0).offset
    return (x, -below), (-x, -below)


def _section(width: float, corner: float, liner: float, rise: float, horn: float, depth: float) -> Outline:
    x, r, quarter = width / 2 + liner, corner + liner, -math.tan(math.pi / 8)
    out, flat = x + horn, width / 2 - corner
    corners: list[tuple[Point, str, float]] = [
        ((-out, -depth), "foot", 0.0),
        ((out, -depth), "right", 0.0),
        ((out, rise), "right top", 0.0),
        ((x, rise), "right horn", 0.0),
        ((x, r - liner), "right corner", quarter),
        ((flat, -liner), "seat", 0.0),
        ((-flat, -liner), "left corner", quarter),
        ((-x, r - liner), "left horn", 0.0),
        ((-x, rise), "left top", 0.0),
        ((-out, rise), "left", 0.0),
    ]
    ends = [p for p, _, _ in corners[1:]] + [corners[0][0]]
    return Outline.from_edges(Edge(p, q, b, name) for (p, name, b), q in zip(corners, ends, strict=True))


@helper
def cradle_liner(
    tank_width: Size, tank_corner: Room, rise: Size, *, thickness: Size = 5.0, squeezed: Size = 4.0,
    seat: Size = 30.0, fluid: Literal["water", "glycol", "oil", "diesel"] = "water", name: str = "CRADLE-LINER",
) -> FlatPattern:  # fmt: skip
    """Return the blank of a cradle's liner: wider than the seat by 3 mm at each side, with holes that let water out.

    Parameters
    ----------
    tank_width, tank_corner, rise : float
        As for the cradle, mm.
    thickness, squeezed : float
        Of the rubber, free and in place, mm; at most a quarter is squeezed.
    seat : float
        Width of the seat, mm.
    fluid : {"water", "glycol", "oil", "diesel"}
        What may drip on it.
    name : str
        Part number.

    Returns
    -------
    FlatPattern
        As long as its own middle is round the tank.
    """
    require_between("cradle_liner squeezed", squeezed, 0.75 * thickness, thickness, "a squeeze of at most a quarter")
    round_corners = math.pi * (tank_corner + squeezed / 2)
    long = tank_width - 2 * tank_corner + round_corners + 2 * (rise - tank_corner)
    wide = seat + 6.0
    count = max(2, round(long / 120))
    at = [(long * (k + 0.5) / count, wide / 2) for k in range(count)]
    cuts = tuple(Cut(loop=circle(p, 10.0), name=f"drain {k + 1}", use="drain", dia=10.0) for k, p in enumerate(at))
    outer = polygon([(0.0, 0.0), (long, 0.0), (long, wide), (0.0, wide)])
    return FlatPattern(name=name, thickness=thickness, outer=outer, cuts=cuts, material=LINERS[fluid])


@helper
def liner_ring(liner: FlatPattern, tank_width: Size, tank_corner: Room, rise: Size, squeezed: Size) -> Bought:
    """Return the liner as it lies round the tank, along z from 0, for an assembly."""
    kind = STUFFS[liner.material]
    inner = _section(tank_width, tank_corner, 0.0, rise, squeezed, squeezed).loop
    bottom = tank_corner + squeezed
    x, flat, quarter = tank_width / 2 + squeezed, tank_width / 2 - tank_corner, math.tan(math.pi / 8)
    edges = [Edge((-flat, -squeezed), (flat, -squeezed)), Edge((flat, -squeezed), (x, bottom - squeezed), quarter)]
    edges += [Edge((x, bottom - squeezed), (x, rise))]
    edges += [_unnamed(inner.edge(n)) for n in ("right top", "right horn", "right corner", "seat")]
    edges += [_unnamed(inner.edge(n)) for n in ("left corner", "left horn", "left top")]
    edges += [Edge((-x, rise), (-x, bottom - squeezed)), Edge((-x, bottom - squeezed), (-flat, -squeezed), quarter)]
    wide = liner.size[1]
    mass = liner.area * liner.thickness * kind.density * 1e-9
    piece = Piece(outer=Loop(tuple(edges)), height=wide)
    return Bought(
        name=f"liner {liner.name}, {kind.name}",
        pieces=(piece,),
        mass=mass,
        stuff="rubber",
        unit="m",
        raw=f"{kind.name} strip, {liner.thickness:g} x {wide:g} mm",
        amount=liner.size[0] / 1000,
    )


def _unnamed(e: Edge) -> Edge:
    """Return an edge without its name."""
    return Edge(e.start, e.end, e.bulge)


@helper
def plastic_tank(
    width: Size,
    height: Size,
    corner: Room,
    length: Size,
    *,
    wall: Size = 4.0,
    fluid_density: Annotated[float, Number(least=0, most=25_000)] = 1000.0,
) -> Bought:
    """Return a plastic tank full to 95 % as a simple item: underside at y = 0, its length along z from 0.

    Parameters
    ----------
    width, height, corner, length, wall : float
        mm.
    fluid_density : float
        kg/m³.

    Returns
    -------
    Bought
        Its mass with the fill. Above 50 litres it should have a baffle against surge: its name says so.
    """
    require_between("plastic_tank corner", corner, 0.0, min(width, height) / 2 - 1, "half its section")
    loop = rounded_box(width, height, corner)
    inner = rounded_box(width - 2 * wall, height - 2 * wall, max(corner - wall, 0.0))
    fill = inner.area * (length - 2 * wall) * 0.95e-9
    shell = loop.area * length * 1e-9 - inner.area * (length - 2 * wall) * 1e-9
    name = f"tank {1000 * fill:.0f} litres" + (", with baffle" if fill > 0.05 else "")
    place = frame_at((0.0, height / 2, 0.0))
    mass = fill * fluid_density + shell * 950.0
    return Bought(name=name, pieces=(Piece(outer=loop, height=length, at=place),), mass=mass, stuff="tank")


@helper
def tack_distance(distance: Size, welds: Annotated[int, Count(0, 100)] = 2, shrinkage: float = 0.8) -> float:
    """Return how far apart two cradles are tacked so that they end up at `distance` after welding, mm.

    Parameters
    ----------
    distance : float
        Wanted between the plates, mm.
    welds : int
        Transverse fillets between them on the way.
    shrinkage : float
        Of each, mm: 0.5 to 1.5 for fillets of 3 to 6 mm (common practice; measure your first one).

    Returns
    -------
    float
    """
    require_between("tack_distance shrinkage", shrinkage, 0.0, 3.0, "what a fillet shrinks across")
    return distance + welds * shrinkage
