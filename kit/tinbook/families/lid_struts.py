"""A hinged lid on its frame: hinges, brackets and gas struts in place at any angle, all of one geometry."""

from __future__ import annotations

import math
from typing import Annotated, Any, Final

from tinbook.calc.struts import GasStrut, Lid
from tinbook.errors import BadValue
from tinbook.families.calls import family, helper, require_between, thickness_of
from tinbook.families.hinged_lids import (
    HOTTEST,
    ROAD,
    centred_lid,
    hinged_lid,
    latch_needed,
    strut_bracket,
    strut_for,
)
from tinbook.fields import Range
from tinbook.part.assembly import Assembly, Thing
from tinbook.part.bought import block, gas_strut
from tinbook.part.fasteners import (
    BALL,
    HINGE_HOLE,
    HINGE_PITCH,
    HINGE_WIDTH,
    KNUCKLE,
    LEAF,
    ball_stud,
    bolt_length,
    butt_hinge,
    hexagon_bolt,
    hexagon_nut,
    nut_height,
)
from tinbook.part.links import Hinge, Laden, Latch
from tinbook.part.movement import MovingStrut
from tinbook.plane.loops import Point
from tinbook.shop.material import OfSheet
from tinbook.space import Frame, Vec, frame_at

CAUTIONS: Final = ("A lid that falls breaks fingers: try it with its real mass, cold, before anybody leans in.",)
BASE, UPRIGHT, ALONG, SHEET = 40.0, 40.0, 60.0, 3.0
"""mm: strut brackets: base, upright leg, width, thickness."""
STUD_AT: Final = UPRIGHT - 14.0
"""mm: from a bracket's base to the ball stud's axis."""
EDGE: Final = 19.0
"""mm: from the lid's side to the brackets; their base holes lie 11 mm further in."""
GAP: Final = 1.5
"""mm: between the lid's rear lip and the frame."""
DOWN = ((1.0, 0.0, 0.0), (0.0, -1.0, 0.0))
"""Directions x and y of what hangs upside down."""


@helper
def lid_geometry(
    width: float, lip: float, strut_at: float, mass: float, body: Point, sheet: OfSheet = "DC01 1.0", struts: int = 2
) -> Lid:
    """Return what `calc.struts` needs of a lid on this frame: joints where hinge, brackets and ball studs put them.

    Parameters
    ----------
    width, lip, strut_at : float
        As for `hinged_lid`, mm.
    mass : float
        Of the lid with all that is on it, kg.
    body : (float, float)
        Ball stud on the frame: from the hinge's axis toward the handle, and up (negative below), mm.
    sheet : str
        Of the lid.
    struts : int
        How many.

    Returns
    -------
    Lid
    """
    hung = STUD_AT + thickness_of("lid_geometry sheet", sheet) + KNUCKLE / 2
    return centred_lid(mass, width, lip, strut_at, body, struts, hung)


@family
def lid_on_struts(
    length: Annotated[float, Range(350, 1200, 5, "mm")] = 700.0,
    width: Annotated[float, Range(300, 800, 5, "mm")] = 450.0,
    lip: Annotated[float, Range(12, 28, 1, "mm")] = 25.0,
    hinges: Annotated[int, Range(2, 4)] = 2,
    strut_at: Annotated[float, Range(130, 350, 1, "mm")] = 180.0,
    mass: Annotated[float, Range(2, 30, 0.1, "kg")] = 7.0,
    frame_along: Annotated[float, Range(10, 200, 1, "mm")] = 20.0,
    frame_below: Annotated[float, Range(55, 300, 1, "mm")] = 60.0,
    opening: Annotated[float, Range(45, 100, 1, "deg")] = 75.0,
    opened: Annotated[float, Range(0, 100, 1, "deg")] = 0.0,
    number: str = "LID-ON-STRUTS",
    rev: str = "A",
) -> Assembly:
    """Return a lid on hinges and two gas struts, opened by any angle: x along the hinge, z up, hinge at the rear.

    Parameters
    ----------
    length, width, lip, hinges, strut_at : float
        As for `hinged_lid`.
    mass : float
        Of the lid with all that is on it, kg.
    frame_along, frame_below : float
        Ball stud on the frame: from the hinge's axis toward the handle and below it.
    opening, opened : float
        How far it opens, and how far it stands open now.
    number, rev : str
        Of the assembly.

    Returns
    -------
    Assembly
        The lid closed lies as it is drawn; frame and ledges are existing things.
    """
    me = "lid_on_struts"
    require_between(f"{me} opened", opened, 0.0, opening, "its opening angle", "deg")
    require_between(
        f"{me} strut_at",
        strut_at,
        frame_along + ALONG,
        width - 80,
        "brackets clear of each other and of the front",
        "mm",
    )
    geometry = lid_geometry(width, lip, strut_at, mass, (frame_along, -frame_below))
    strut = _strut(geometry, opening, f"{me} strut_at")
    lid = hinged_lid(length, width, lip, hinges, strut_at, number=f"{number}-1")
    t = thickness_of(f"{me} sheet", lid.sheet)
    axis = (0.0, width, t + KNUCKLE / 2)
    a = math.radians(opened)
    # Turned about the hinge: the front edge goes up.
    turned = frame_at(axis, (1.0, 0.0, 0.0), (0.0, math.cos(a), -math.sin(a))) @ frame_at((0.0, -axis[1], -axis[2]))
    made = Assembly(number, rev=rev, title="lid on gas struts", cautions=(*CAUTIONS, _latch(geometry, strut))).add(
        "lid", lid, turned
    )
    holes = [(60 + (length - 120) * k / (hinges - 1), width) for k in range(hinges)]
    made = _hinges(made, holes, length, t, turned)
    struts = []
    bracket = strut_bracket(BASE, UPRIGHT, ALONG, number=f"{number}-2")
    for hand, side in (("left", 1.0), ("right", -1.0)):
        x = EDGE if side > 0 else length - EDGE
        made = _bracket(made, f"{hand} lid", bracket, (x, width - strut_at, 0.0), side, -1.0, t, turned)
        foot = (x, width - frame_along, axis[2] - frame_below - STUD_AT)
        made = _bracket(made, f"{hand} frame", bracket, foot, side, 1.0, 4.0, frame_at())
        eye = x + side * (BASE + BALL)
        top, low = turned(eye, width - strut_at, -STUD_AT), (eye, width - frame_along, axis[2] - frame_below)
        long = math.dist(top, low)
        shown = gas_strut(strut.force, strut.stroke, strut.extended, length=long)
        made = made.add(f"{hand} strut", shown, _between(top, low))
        ends: dict[str, Any] = {"a": f"{hand} lid bracket", "b": f"{hand} frame bracket", "holes": ("stud",)}
        struts.append(MovingStrut(member=f"{hand} strut", strut=strut, length=long, **ends))
    leaves = [f"hinge {k}" for k in range(1, hinges + 1)]
    turns = [
        Hinge(a=leaf, b="rear rail", at=(x, *axis[1:]), axis=(1.0, 0.0, 0.0), width=HINGE_WIDTH)
        for leaf, (x, _) in zip(leaves, holes, strict=True)
    ]
    # At its front edge a latch holds the lid that is shut, a hand or a stop the one that is open.
    front = Latch(a="lid", at=turned(length / 2, 0.0, t / 2), way=turned.vector(0.0, 0.0, 1.0))
    made = made.linked(*turns, *struts, front, Laden(a="lid", mass=mass))
    lids = [n for n in made.names if n in ("lid", *leaves) or " lid " in n]
    by = (0.0 - opened, opening - opened)
    return made.turning("lid opens", lids, about=(axis, (-1.0, 0.0, 0.0)), by=by, struts=struts)


def _strut(lid: Lid, opening: float, field: str) -> GasStrut:
    """Return the usual strut, or name the family's own parameter where none fits."""
    try:
        return strut_for(lid, opening)
    except BadValue as wrong:
        raise BadValue(field, lid.lid_joint[0], f"one for which a usual strut exists: {wrong.valid}") from None


def _latch(lid: Lid, strut: GasStrut) -> str:
    """Return what must keep the lid shut, for the paper: the struts never do."""
    hold = latch_needed(lid, strut)
    return (
        f"Struts do not keep it shut: it needs a latch rated for {math.ceil(hold)} N at its front edge "
        f"({HOTTEST:g} °C, {ROAD:g} g of road, a guess), and half the push of a gasket on top."
    )


def _between(top: Vec, low: Vec) -> Frame:
    """Return where a strut stands, its body at the lid: oil stays on the seal when the lid is shut."""
    d = math.dist(top, low)
    z = tuple((q - p) / d for p, q in zip(top, low, strict=True))
    return frame_at(top, (1.0, 0.0, 0.0), (0.0, z[2], -z[1]))


def _hinges(made: Assembly, places: list[Point], length: float, t: float, turned: Frame) -> Assembly:
    """Add the frame's rear rail, hinges on lid and rail, their screws and nuts."""
    width, deep = places[0][1], 25.0
    leaf, other = butt_hinge("M6")
    half = HINGE_PITCH / 2
    xs = [x + s * half for x, _ in places for s in (-1, 1)]
    back = GAP + 20.0
    rail = block("frame, rear rail", (length, 40.0, deep), holes=tuple((x - length / 2, HINGE_HOLE - back) for x in xs), dia=6.6, existing=True)  # fmt: skip
    made = made.add("rear rail", rail, frame_at((length / 2, width + back, t - deep)))
    for k, (x, y) in enumerate(places, 1):
        made = made.add(f"hinge {k}", leaf, turned @ frame_at((x, y, t)))
        made = made.add(f"hinge {k} other leaf", other, frame_at((x, y, t)))
    for k, x in enumerate(xs, 1):
        made = _screwed(made, f"hinge {k} lid", (x, width - HINGE_HOLE, t + LEAF), LEAF + t, turned)
        made = _screwed(made, f"hinge {k} frame", (x, width + HINGE_HOLE, t + LEAF), LEAF + deep, frame_at())
    return made


def _screwed(made: Assembly, name: str, top: Vec, grip: float, at: Frame) -> Assembly:
    """Add an M6 screw from above at a point, and its nut below what it grips."""
    n = nut_height("M6")
    screw: Thing = hexagon_bolt("M6", bolt_length(grip + n + 1.0))
    made = made.add(f"{name} screw", screw, at @ frame_at(top))
    return made.add(f"{name} nut", hexagon_nut("M6"), at @ frame_at((top[0], top[1], top[2] - grip - n)))


def _bracket(
    made: Assembly, name: str, bracket: Thing, foot: Vec, side: float, up: float, on: float, at: Frame
) -> Assembly:
    """Add a bracket, the screws in its base, its ball stud.

    `foot` is the middle of its base's outer edge on the face that it lies on, `side` the way to the lid's middle,
    `up` whether it stands (1) or hangs (-1), `on` the thickness of what it lies on.
    """
    x, y, z = foot
    along = (0.0, -side * up, 0.0)
    origin = (x, y - along[1] * ALONG / 2, z)
    stands = at @ frame_at(origin, along, (side, 0.0, 0.0))
    made = made.add(f"{name} bracket", bracket, stands)
    if up > 0:
        holes = ((-15.0, 11.0 - BASE / 2), (15.0, 11.0 - BASE / 2))
        ledge = block("frame, ledge", (ALONG + 20, BASE, on), holes=holes, dia=6.6, existing=True)
        made = made.add(f"{name} ledge", ledge, stands @ frame_at((ALONG / 2, BASE / 2, -on)))
    for k, dx in enumerate((-15.0, 15.0), 1):
        # Heads on the outside, nuts in the bracket.
        outside = stands @ frame_at((ALONG / 2 + dx, 11.0, -on), *DOWN)
        made = _screwed(made, f"{name} {k}", (0.0, 0.0, 0.0), on + SHEET, outside)
    stud = stands @ frame_at((ALONG / 2, BASE, STUD_AT), (1.0, 0.0, 0.0), (0.0, 0.0, -1.0))
    made = made.add(f"{name} ball stud", ball_stud("M8"), stud)
    return made.add(f"{name} stud nut", hexagon_nut("M8"), stud @ frame_at((0.0, 0.0, -SHEET - nut_height("M8"))))
