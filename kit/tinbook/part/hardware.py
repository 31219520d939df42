"""Hinges and ball studs, drawn simply: what they need of room, where their axes and holes are."""

from __future__ import annotations

from typing import Final

from tinbook.errors import BadValue
from tinbook.part.bought import Bought, Piece, box, item, turned
from tinbook.plane.loops import circle
from tinbook.shop.fixings import Fixings
from tinbook.shop.standard import library
from tinbook.space import frame_at

KNUCKLE: Final = 8.0
"""mm: diameter of a butt hinge's knuckle; its axis lies half of it above the face that the leaves lie on."""
LEAF: Final = 2.0
"""mm: thickness of a leaf."""
HINGE_HOLE: Final = 20.0
"""mm: from the hinge's axis to the holes of either leaf."""
HINGE_PITCH: Final = 30.0
"""mm: between the two holes of a leaf."""
BALL: Final = 12.0
"""mm: from a ball stud's shoulder to the middle of its ball."""


def butt_hinge(size: str = "M6", width: float = 60.0, fixings: Fixings | None = None) -> tuple[Bought, Bought]:
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
