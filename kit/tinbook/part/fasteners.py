"""Fasteners by standard size, hinges and ball studs, drawn simply: bolts, nuts, washers, nut inserts, pins from the shop's tables."""

from __future__ import annotations

import math
from typing import Final

from tinbook import units
from tinbook.errors import BadValue, UnknownName
from tinbook.part.bought import Bought, Piece, box, hexagon, item, turned
from tinbook.plane.loops import Edge, Loop, circle
from tinbook.shop.fixings import Bolt, Fixings
from tinbook.shop.standard import library
from tinbook.space import frame_at


def _size(size: str, fixings: Fixings | None) -> Bolt:
    return (fixings or library().fixings).bolt(size)


BOLT_LENGTHS: Final = (10, 12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100, 110, 120, 130, 140, 150)
"""mm: preferred lengths of hexagon bolts and screws (ISO 888 as remembered)."""

_HEAD: Final = {3: 2.0, 4: 2.8, 5: 3.5, 6: 4.0, 8: 5.3, 10: 6.4, 12: 7.5, 14: 8.8, 16: 10.0} | {
    18: 11.5,
    20: 12.5,
    22: 14.0,
    24: 15.0,
}
"""mm: height of a hexagon head by thread, ISO 4014 (from memory)."""
_NUT: Final = {3: 2.4, 4: 3.2, 5: 4.7, 6: 5.2, 8: 6.8, 10: 8.4, 12: 10.8, 14: 12.8, 16: 14.8} | {
    18: 15.8,
    20: 18.0,
    22: 19.4,
    24: 21.5,
}
"""mm: height of a hexagon nut, ISO 4032 (from memory)."""
_WASHER: Final = {3: (3.2, 7, 0.5), 4: (4.3, 9, 0.8), 5: (5.3, 10, 1.0), 6: (6.4, 12, 1.6), 8: (8.4, 16, 1.6)} | {
    10: (10.5, 20, 2.0),
    12: (13.0, 24, 2.5),
    14: (15.0, 28, 2.5),
    16: (17.0, 30, 3.0),
    18: (19.0, 34, 3.0),
    20: (21.0, 37, 3.0),
    22: (23.0, 39, 3.0),
    24: (25.0, 44, 4.0),
}
"""mm: bore, outside diameter, thickness, ISO 7089 (from memory)."""
_WIDE_WASHER: Final = {
    6: (6.4, 18, 1.6),
    8: (8.4, 24, 2.0),
    10: (10.5, 30, 2.5),
    12: (13.0, 37, 3.0),
    16: (17, 50, 3.0),
}
"""mm: bore, outside diameter, thickness, ISO 7093-1 (from memory)."""


def bolt_length(grip: float) -> int:
    """Return the shortest preferred bolt length that reaches over `grip` mm.

    Parameters
    ----------
    grip : float
        From under the head to where the thread must end: plates, washers, nut and one or two pitches.

    Returns
    -------
    int
        mm.

    Raises
    ------
    BadValue
        Longer than the longest in the list.
    """
    for length in BOLT_LENGTHS:
        if length >= grip - 1e-9:
            return length
    raise BadValue("grip of a bolt", grip, f"at most {BOLT_LENGTHS[-1]} mm")


def hexagon_bolt(size: str, length: float, *, strength: str = "8.8", fixings: Fixings | None = None) -> Bought:
    """Return a hexagon head bolt or screw: head above z = 0, shank below.

    Parameters
    ----------
    size : str
        "M10".
    length : float
        Under the head, mm.
    strength : str
        Strength class.
    fixings : Fixings, optional
        The shop's tables, else the kit's.

    Returns
    -------
    Bought
        Shank drawn at the nominal diameter, without thread.
    """
    b = _size(size, fixings)
    reach = units.positive(length, f"bolt {size} length")
    head, shank = hexagon(b.head, 0.0, _HEAD[int(b.dia)]), turned(b.dia, -reach, 0.0)
    standard = f"ISO 4014/4017, class {strength}, zinc"
    return item(f"hexagon bolt {size} x {reach:g}", head, shank, standard=standard, source="ISO 4014")


def hexagon_nut(size: str, *, strength: str = "8", fixings: Fixings | None = None) -> Bought:
    """Return a hexagon nut standing on z = 0.

    Parameters
    ----------
    size : str
        "M10".
    strength : str
        Strength class.
    fixings : Fixings, optional
        The shop's tables, else the kit's.
    """
    b = _size(size, fixings)
    nut, standard = hexagon(b.head, 0.0, _NUT[int(b.dia)], b.dia), f"ISO 4032, class {strength}, zinc"
    return item(f"hexagon nut {size}", nut, standard=standard, source="ISO 4014")


def plain_washer(size: str, *, wide: bool = False, fixings: Fixings | None = None) -> Bought:
    """Return a plain washer lying on z = 0.

    Parameters
    ----------
    size : str
        "M10".
    wide : bool
        The large series of ISO 7093-1 instead of ISO 7089.
    fixings : Fixings, optional
        The shop's tables, else the kit's.
    """
    dia, table = int(_size(size, fixings).dia), _WIDE_WASHER if wide else _WASHER
    if dia not in table:
        raise UnknownName("washer size", size, [f"M{k}" for k in table])
    bore, outside, thick = table[dia]
    standard = "ISO 7093-1, zinc" if wide else "ISO 7089, zinc"
    name = f"plain washer {size}" + (", wide" if wide else "")
    return item(name, turned(outside, 0.0, thick, bore), standard=standard, source="ISO 4014")


def washer_thickness(size: str, *, wide: bool = False, fixings: Fixings | None = None) -> float:
    """Return the thickness of a plain washer, mm."""
    return plain_washer(size, wide=wide, fixings=fixings).pieces[0].height


def nut_height(size: str, fixings: Fixings | None = None) -> float:
    """Return the height of a hexagon nut, mm."""
    return _NUT[int(_size(size, fixings).dia)]


def nut_insert(size: str, thickness: float, *, flush: bool = False, fixings: Fixings | None = None) -> Bought:
    """Return a set blind nut insert: flange above z = 0, body below through a sheet of `thickness`.

    Parameters
    ----------
    size : str
        Thread, "M6".
    thickness : float
        Sheet that it grips, mm; the table's grip must hold it.
    flush : bool
        With a reduced head, drawn level with the sheet, so that a panel or a gasket lies flat on it.
    fixings : Fixings, optional
        The shop's tables, else the kit's.

    Returns
    -------
    Bought
        Body of the hole's diameter, so that it fills the hole; the bulb behind the sheet is 1.25 times as wide.
    """
    tables = fixings or library().fixings
    row, b = tables.nut_insert(size, thickness), tables.bolt(size)
    bulb = 1.25 * row.hole
    head = () if flush else (turned(1.4 * row.hole, 0.0, 1.0, b.dia),)
    pieces = (
        *head,
        turned(row.hole, -thickness, 0.0, b.dia),
        turned(bulb, -thickness - 0.5 * row.hole, -thickness, b.dia),
        turned(row.hole, -thickness - 1.3 * row.hole, -thickness - 0.5 * row.hole, b.dia),
    )
    name = f"nut insert {row.key}" + (", reduced head" if flush else "")
    standard = f"steel, round, {'reduced' if flush else 'flat'} head; check hole and grip of the insert in your hand"
    return item(name, *pieces, standard=standard, source=row.source)


def clevis_pin(dia: float, grip: float) -> Bought:
    """Return a pin with a head above z = 0 and a split pin at its end: what it holds lies below, from 0 to -grip.

    Parameters
    ----------
    dia : float
        Of the pin, mm.
    grip : float
        Of all that it goes through, mm; it is drawn longer by its diameter for the split pin and rounded up to 5 mm.

    Returns
    -------
    Bought
        Head 1.5 times as wide and a third as high as the pin is thick (ISO 2341 as remembered).
    """
    d, g = units.positive(dia, "clevis pin dia"), units.positive(grip, "clevis pin grip")
    length = 5.0 * math.ceil((g + d) / 5.0 - 1e-9)
    name = f"clevis pin {d:g} x {length:g} with split pin"
    return item(name, turned(1.5 * d, 0.0, d / 3), turned(d, -length, 0.0), standard="ISO 2341 B, zinc")


def t_bolt(size: str, pin: float, across: float, length: float, *, fixings: Fixings | None = None) -> Bought:
    """Return a T-bolt for a strap's looped end: its cross-pin along x about (0, 0, 0), its stud hanging down.

    Parameters
    ----------
    size : str
        Thread of the stud, "M8".
    pin, across : float
        Diameter and length of the cross-pin, mm; the stud is welded or screwed into its middle.
    length : float
        From the cross-pin's middle to the stud's end, threaded, mm.
    fixings : Fixings, optional
        The shop's tables, else the kit's.

    Returns
    -------
    Bought

    Raises
    ------
    BadValue
        A cross-pin less than 1.5 times as thick as the stud: too little is left of it beside the stud.
    """
    d = _size(size, fixings).dia
    p, wide, n = (units.positive(v, f"T-bolt {w}") for v, w in ((pin, "pin"), (across, "across"), (length, "length")))
    if p < 1.5 * d:
        raise BadValue("T-bolt pin", p, f"at least {1.5 * d:g} mm for {size}")
    if wide < 2 * d:
        raise BadValue("T-bolt across", wide, f"at least {2 * d:g} mm for {size}")
    # Where the stud enters, the cross-pin is drawn with a flat as wide as the stud, so that the pieces only touch.
    flat = math.sqrt((p / 2) ** 2 - (d / 2) ** 2)
    if n <= flat:
        raise BadValue("T-bolt length", n, f"more than {flat:.1f} mm")
    a = math.asin(d / p)
    middle = Loop(
        (Edge((-d / 2, -flat), (d / 2, -flat)), Edge((d / 2, -flat), (-d / 2, -flat), math.tan((math.tau - 2 * a) / 4)))
    )
    along_x = ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0))  # a piece's own x and y, so that it is drawn out along x
    side = wide / 2 - d / 2
    pieces = (
        Piece(outer=circle((0.0, 0.0), p), height=side, at=frame_at((-wide / 2, 0.0, 0.0), *along_x)),
        Piece(outer=middle, height=d, at=frame_at((-d / 2, 0.0, 0.0), *along_x)),
        Piece(outer=circle((0.0, 0.0), p), height=side, at=frame_at((d / 2, 0.0, 0.0), *along_x)),
        turned(d, -n, -flat),
    )
    name = f"T-bolt {size} x {n:g}, cross-pin {p:g} x {wide:g}"
    return item(name, *pieces, standard="class 4.6 or better, zinc")


KNUCKLE: Final = 8.0
"""mm: diameter of a butt hinge's knuckle; its axis lies half of it above the face that the leaves lie on."""
LEAF: Final = 2.0
"""mm: thickness of a leaf."""
HINGE_HOLE: Final = 20.0
"""mm: from the hinge's axis to the holes of either leaf."""
HINGE_PITCH: Final = 30.0
"""mm: between the two holes of a leaf."""
HINGE_WIDTH: Final = 60.0
"""mm: along the axis."""
BALL: Final = 12.0
"""mm: from a ball stud's shoulder to the middle of its ball."""


def butt_hinge(size: str = "M6", width: float = HINGE_WIDTH, fixings: Fixings | None = None) -> tuple[Bought, Bought]:
    """Return the two leaves of a butt hinge laid open flat: the first toward -y, with pin and knuckle; the second toward +y.

    Parameters
    ----------
    size : str
        Thread of its screws, two in each leaf.
    width : float
        Along the axis, mm.
    fixings : Fixings, optional
        The shop's tables, else the kit's.

    Returns
    -------
    (Bought, Bought)
        Leaves lie on z = 0, the axis along x through (0, 0, KNUCKLE / 2); together they are one order.
    """
    if not width >= HINGE_PITCH + 20:
        raise BadValue("hinge width", width, f"at least {HINGE_PITCH + 20:g} mm")
    dia = (fixings or library().fixings).clearance(size)
    gap = 3.5  # beside the knuckle, at the leaf's height
    leaves = []
    for side in (-1, 1):
        holes = tuple(circle((x, side * HINGE_HOLE), dia) for x in (-HINGE_PITCH / 2, HINGE_PITCH / 2))
        near, far = sorted((side * gap, side * (HINGE_HOLE + 15.0)))
        leaves.append(box((-width / 2, near, 0.0), (width / 2, far, LEAF), holes))
    along = ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    knuckle = Piece(
        outer=circle((0.0, 0.0), KNUCKLE), height=width, at=frame_at((-width / 2, 0.0, KNUCKLE / 2), *along)
    )  # fmt: skip
    name, note = f"butt hinge {width:g} for {size}", "steel, zinc; measure the one in your hand"
    return (
        item(name, leaves[0], knuckle, standard=note),
        item(f"other leaf of the {name}", leaves[1], standard=note),
    )


def ball_stud(size: str = "M8", fixings: Fixings | None = None) -> Bought:
    """Return a ball stud for a gas strut: shoulder on z = 0, its ball about (0, 0, BALL), its thread below.

    Parameters
    ----------
    size : str
        Thread.
    fixings : Fixings, optional
        The shop's tables, else the kit's.

    Returns
    -------
    Bought
        The ball is drawn as a pin of the thread's diameter, on which a strut's eye turns.
    """
    dia = (fixings or library().fixings).bolt(size).dia
    pieces = (turned(dia, -16.0, 0.0), turned(dia + 5.0, 0.0, 3.0), turned(dia, 3.0, BALL + 6.0))
    return item(f"ball stud {size}", *pieces, standard="ball 13, zinc")
