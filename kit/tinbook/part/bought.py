"""Bought items by standard size, drawn simply: what they need of room, what they weigh, where their axes are.

Every item is a few straight pieces: plane loops drawn out along their own z.
Its own z is its axis; a bolt's head stands on z = 0 from above, its shank
hangs below.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, Any, Final, Literal, TypeAlias

from tinbook import units
from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.fields import Number, Text, check_fields
from tinbook.plane.loops import Loop, Point, circle, polygon, ring
from tinbook.space import SPACE, Frame, frame_at, three
from tinbook.values import dataclass

Colour: TypeAlias = tuple[float, float, float]

Stuff = Literal["steel", "stainless", "aluminium", "plastic", "rubber", "tank", "gas strut"]

STEEL: Final = 7850.0
"""kg/m³."""
RUBBER: Final = 1150.0
"""kg/m³, filled natural rubber; common practice."""

ZINC: Final[Colour] = (0.62, 0.64, 0.66)
BLACK: Final[Colour] = (0.16, 0.16, 0.17)
GREY: Final[Colour] = (0.45, 0.47, 0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A plane loop with holes, drawn out along z.

    Parameters
    ----------
    outer : Loop
        Anticlockwise.
    holes : tuple of Loop
        Inside it.
    height : float
        From z = 0 upward in its own frame, mm, greater than 0.
    at : Frame
        Its frame in the item.
    """

    outer: Loop
    holes: tuple[Loop, ...] = ()
    height: Annotated[float, Number("mm", above=0)]
    at: Frame = SPACE

    def __post_init__(self) -> None:
        check_fields(self, "piece")

    @property
    def volume(self) -> float:
        """Volume, mm³."""
        return self.height * (abs(self.outer.area) - math.fsum(abs(h.area) for h in self.holes))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bought:
    """An item that is not made here.

    Parameters
    ----------
    name : str
        As it is ordered: "hexagon bolt M10 x 35".
    standard : str
        Standard and class, or "" for an item without one.
    pieces : tuple of Piece
        Its simple shape; pieces may touch, they do not overlap.
    mass : float
        kg; of the simple shape unless it was weighed.
    colour : (float, float, float)
        Red, green, blue, 0 to 1.
    source : str
        Key of the sources registry for its sizes.
    existing : bool
        Part of the vehicle: drawn, but neither counted nor weighed.
    stuff : {"steel", "stainless", "aluminium", "plastic", "rubber", "tank", "gas strut"}
        What it is made of, or what it is: rubber, a tank and a gas strut bear neither weld nor paint beside them.
    wall : float or None
        Thickness where it is welded, mm, where it is known.
    unit : {"each", "m2", "m"}
        How it is bought: by the piece, or cut from raw material by area or length.
    raw, amount : str, float
        What it is cut from, as it is ordered, and how much of it goes into one, m² or m; of a piece "" and 1.
    """

    name: Annotated[str, Text(most=80)]
    standard: Annotated[str, Text(empty=True)] = ""
    pieces: tuple[Piece, ...]
    mass: Annotated[float, Number("kg", least=0)]
    colour: Colour = ZINC
    source: str = "common practice"
    existing: bool = False
    stuff: Stuff = "steel"
    wall: Annotated[float, Number("mm", above=0)] | None = None
    unit: Literal["each", "m2", "m"] = "each"
    raw: Annotated[str, Text(empty=True, most=80)] = ""
    amount: Annotated[float, Number(above=0)] = 1.0

    def __post_init__(self) -> None:
        check_fields(self, f"item {self.name!r}")
        if self.unit != "each" and not self.raw:
            raise BadValue(
                f"item {self.name!r} raw", self.raw, f"what it is cut from, for it is bought by the {self.unit}"
            )
        if not self.pieces:
            raise BadValue(f"item {self.name!r} pieces", self.pieces, "one piece or more")


def item(name: str, *pieces: Piece, density: float = STEEL, **more: Any) -> Bought:
    """Return an item that weighs what its pieces do at a density, kg/m³; `more` are fields of `Bought`."""
    mass = math.fsum(p.volume for p in pieces) * density * 1e-9
    return Bought(name=name, pieces=pieces, mass=mass, **more)


def _upright(outer: Loop, low: float, high: float, bore: float | None) -> Piece:
    holes = () if bore is None else (circle((0.0, 0.0), bore),)
    return Piece(outer=outer, holes=holes, height=high - low, at=frame_at((0.0, 0.0, low)))


def turned(dia: float, low: float, high: float, bore: float | None = None) -> Piece:
    """Return a round piece about z between two heights, with a bore if wanted, mm."""
    return _upright(circle((0.0, 0.0), dia), low, high, bore)


def hexagon(across: float, low: float, high: float, bore: float | None = None) -> Piece:
    """Return a hexagonal piece about z, `across` its flats, between two heights, mm."""
    r = across / math.sqrt(3)
    corners = [(r * math.cos(math.radians(a)), r * math.sin(math.radians(a))) for a in range(0, 360, 60)]
    return _upright(polygon(corners), low, high, bore)


def box(low: tuple[float, float, float], high: tuple[float, float, float], holes: tuple[Loop, ...] = ()) -> Piece:
    """Return a box between two corners, with openings along z, mm."""
    (x0, y0, z0), (x1, y1, z1) = low, high
    outer = polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    return Piece(outer=outer, holes=holes, height=z1 - z0, at=frame_at((0.0, 0.0, z0)))


def cushion(outside: float, height: float, bore: float, *, squeezed: float = 0.0, hardness: int = 65) -> Bought:
    """Return a rubber cushion standing on z = 0, drawn as it is fitted.

    Parameters
    ----------
    outside, height, bore : float
        Free diameter, free height and bore, mm.
    squeezed : float
        How far it is pressed together when fitted, mm; its volume stays, so it grows outward.
    hardness : int
        Shore A.

    Returns
    -------
    Bought
    """
    d, h, b = (units.positive(v, f"cushion {w}") for v, w in ((outside, "outside"), (height, "height"), (bore, "bore")))
    if b >= d:
        raise BadValue("cushion bore", b, f"less than its outside diameter, {d:g} mm")
    if not 0 <= squeezed <= 0.25 * h:
        raise BadValue("cushion squeezed", squeezed, f"0 to a quarter of its height, {0.25 * h:g} mm")
    fitted = h - squeezed
    wide = math.sqrt((d * d - b * b) * h / fitted + b * b)
    name = f"rubber cushion {d:g} x {h:g}, bore {b:g}, {hardness} Shore A"
    return item(name, turned(wide, 0.0, fitted, b), density=RUBBER, colour=BLACK, stuff="rubber")


def shim(outside: float, bore: float, thickness: float) -> Bought:
    """Return a round steel shim lying on z = 0, sizes in mm."""
    return _tube("shim", outside, bore, thickness)


def sleeve(outside: float, bore: float, length: float) -> Bought:
    """Return a steel distance sleeve standing on z = 0, sizes in mm."""
    return _tube("sleeve", outside, bore, length)


def _tube(what: str, outside: float, bore: float, length: float) -> Bought:
    if not 0 < bore < outside:
        raise BadValue(f"{what} bore", bore, f"above 0 and less than its outside diameter, {outside:g} mm")
    return item(f"{what} {outside:g} x {bore:g} x {length:g}", turned(outside, 0.0, length, bore))


EYE: Final = 16.0
"""mm: an eye of a gas strut, across."""
STUB: Final = 12.0
"""mm: from a gas strut's eye to its body."""


def strut_body_end(stroke: float, extended: float) -> float:
    """Return how far from its first eye a gas strut's body ends, mm; beyond it is only the rod."""
    return extended - STUB - stroke


def gas_strut(
    force: float, stroke: float, extended: float, *, length: float | None = None, body: float = 18.0, rod: float = 8.0
) -> Bought:
    """Return a gas strut, its eyes' centres at (0, 0, 0) and (0, 0, length), the body first; the eyes turn about x.

    Parameters
    ----------
    force : float
        Nominal push near full extension, N; for the name.
    stroke, extended : float
        mm between eyes' centres; the body must hold the rod.
    length : float, optional
        Between the eyes' centres as it stands, mm; else drawn out.
    body, rod : float
        Diameters, mm; 18/8 and 22/10 are usual (common practice).

    Returns
    -------
    Bought
    """
    for value, what in ((force, "force"), (stroke, "stroke")):
        if not (math.isfinite(value) and value > 0):
            raise BadValue(f"gas strut {what}", value, "greater than 0")
    end, out = STUB, strut_body_end(stroke, extended)
    least = 2 * stroke + 2 * end + 10.0
    if not extended >= least:
        raise BadValue("gas strut extended", extended, f"at least {least:g} mm for a stroke of {stroke:g} mm")
    long = extended if length is None else length
    if not extended - stroke - 1e-9 <= long <= extended + 1e-9:
        raise BadValue("gas strut length", length, f"{extended - stroke:g} to {extended:g} mm")
    half = EYE / 2
    corners = polygon([(-half, -half), (half, -half), (half, half), (-half, half)])
    across = ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    bore = (circle((0.0, 0.0), rod + 0.4),)
    pieces = (
        Piece(outer=corners, holes=bore, height=10.0, at=frame_at((-5.0, 0.0, 0.0), *across)),
        turned(rod, half, end),
        turned(body, end, out),
        turned(rod, out, long - half),
        Piece(outer=corners, holes=bore, height=10.0, at=frame_at((-5.0, 0.0, long), *across)),
    )
    return Bought(
        name=f"gas strut {force:g} N, stroke {stroke:g}, {extended:g} between eyes",
        pieces=pieces,
        mass=_strut_mass(extended, stroke, body, rod),
        colour=BLACK,
        stuff="gas strut",
    )


def _strut_mass(extended: float, stroke: float, body: float, rod: float) -> float:
    """Return a gas strut's mass: half of its body is steel, the rest gas and oil; the rod is all there, in or out."""
    steel = math.pi / 4 * (0.5 * body**2 * (extended - stroke) + rod**2 * stroke)
    return steel * STEEL * 1e-9


SHACKLES: Final = {16.0: (20.0, 54.0), 19.0: (27.0, 60.0), 22.0: (31.0, 71.0), 25.0: (36.0, 83.0), 28.0: (43.0, 95.0)}
"""mm: pin -> (jaw, inside length) of forged bow shackles, from memory; makers differ: measure the one in your hand."""


def shackle(pin: float) -> tuple[Bought, Bought]:
    """Return a bow shackle and its pin, which lies along z about (0, 0, 0); the bow reaches along +x.

    Parameters
    ----------
    pin : float
        Diameter of its pin, mm, one of `SHACKLES`.

    Returns
    -------
    (Bought, Bought)
        The bow as two flat cheeks and a bridge, and the pin; together they are one order.
    """
    if pin not in SHACKLES:
        raise UnknownName("shackle pin", pin, [f"{p:g}" for p in SHACKLES])
    jaw, inside = SHACKLES[pin]
    bar, half, reach = 0.87 * pin, jaw / 2, inside + 0.87 * pin
    # Round ends of two radii, sides straight between their widest places.
    wide, slim = 1.05 * pin, bar / 2
    cheek = ring([(0.0, -wide), (reach, -slim), (reach, slim), (0.0, wide)], (0.0, 1.0, 0.0, 1.0))
    bore = (circle((0.0, 0.0), pin),)
    bow = (
        Piece(outer=cheek, holes=bore, height=bar, at=frame_at((0.0, 0.0, half))),
        Piece(outer=cheek, holes=bore, height=bar, at=frame_at((0.0, 0.0, -half - bar))),
        box((reach - bar / 2, -bar / 2, -half), (reach + bar / 2, bar / 2, half)),
    )
    marked = "forged, marked with its working load by its maker; measure it"
    rod = turned(pin, -half - bar, half + bar)
    return (
        item(f"bow shackle, pin {pin:g}, jaw {jaw:g}", *bow, standard=marked, colour=GREY),
        item(f"pin {pin:g} of the shackle", rod, standard=marked, colour=GREY),
    )


def block(
    name: str,
    size: tuple[float, float, float],
    *,
    holes: tuple[Point, ...] = (),
    dia: float = 0.0,
    opening: Loop | None = None,
    mass: float = 0.0,
    existing: bool = False,
    colour: Colour = GREY,
    stuff: Stuff = "steel",
) -> Bought:
    """Return a plain block for anything else: x and y about (0, 0), z upward from 0, with holes along z.

    Parameters
    ----------
    name : str
        What it is.
    size : (float, float, float)
        mm along x, y, z.
    holes : tuple of (float, float)
        Centres of its holes.
    dia : float
        Their diameter, mm.
    opening : Loop, optional
        One more opening of any shape.
    mass : float
        kg, as weighed or as its maker says.
    existing : bool
        Part of the vehicle.
    colour : (float, float, float)
        Red, green, blue, 0 to 1.
    stuff : str
        As for `Bought`.

    Returns
    -------
    Bought

    Raises
    ------
    BadValue
        Sizes, holes or an opening that are none, or that do not lie on the block.
    """
    if not isinstance(size, Sequence) or isinstance(size, str) or len(size) != 3:
        raise BadValue(f"{name} size", size, "three lengths, along x, y and z")
    x, y, z = (units.positive(v, f"{name} size") for v in size)
    bores = units.points(holes, f"{name} holes")
    if opening is not None:
        of_kind(opening, Loop, f"{name} opening", "a Loop")
    colour = three(colour, f"{name} colour", "red, green, blue, each 0 to 1")
    wide = units.positive(dia, f"{name} dia") if bores else 0.0
    for p in bores:
        if abs(p[0]) + wide / 2 >= x / 2 or abs(p[1]) + wide / 2 >= y / 2:
            raise BadValue(
                f"{name} hole", p, f"a place where all of its {wide:g} mm lie on the block's {x:g} x {y:g} mm"
            )
    cuts = tuple(circle(p, wide) for p in bores) + (() if opening is None else (opening,))
    piece = box((-x / 2, -y / 2, 0.0), (x / 2, y / 2, z), cuts)
    return Bought(
        name=name, pieces=(piece,), mass=mass, colour=colour, source="own data", existing=existing, stuff=stuff
    )
