"""A recovery plate let into a chassis rail, held by its shoulders behind a capping plate.

Drawn as it stands: y forward, z up, the rail's end at y = 0 and its underside
at z = 0. The plate goes up through a slot in the rail's lower wall, its neck
stands out of the end, and the cap goes over the neck: a forward pull presses
the shoulders against the cap before any weld works.
"""

from __future__ import annotations

import math
from typing import Annotated, Final, Literal

from tinbook.calc.lugs import CAUTIONS, PinPlate
from tinbook.errors import BadValue
from tinbook.families.calls import Size, family, helper, plate_of, require_between
from tinbook.fields import Range
from tinbook.part.assembly import Assembly
from tinbook.part.bought import GREY, SHACKLES, Bought, box, shackle
from tinbook.part.joints import FIT, eared_slot, largest_thickness
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Edge
from tinbook.shop.material import OwnPlate
from tinbook.space import frame_at
from tinbook.strokes import text_width

ME: Final = "recovery_plate"
PROUD, SHOULDER, CAP, PLAY = 8.0, 10.0, 6.0, 1.5
"""mm: plate below the rail, shoulder above and below the neck, cap's thickness, hole over the pin."""

S355: Final = (355.0, 470.0)
"""MPa: least yield and tensile strength of S355 from 3 to 16 mm, EN 10025-2."""


@family
def recovery_plate(
    pin: Literal[19, 22, 25] = 22,
    thickness: Literal[12, 16] = 16,
    ring: Annotated[float, Range(20, 40, 1, "mm")] = 28.0,
    reach: Annotated[float, Range(40, 110, 1, "mm")] = 70.0,
    let_in: Annotated[float, Range(150, 320, 5, "mm")] = 220.0,
    rail_width: Annotated[float, Range(50, 90, 1, "mm")] = 60.0,
    rail_height: Annotated[float, Range(90, 150, 1, "mm")] = 110.0,
    rail_wall: Annotated[float, Range(2, 5, 0.5, "mm")] = 3.0,
    cut: Literal["laser", "waterjet", "plasma"] = "laser",
    sheet: OwnPlate = "",
    number: str = "RECOVERY-PLATE",
    rev: str = "A",
) -> Assembly:
    """Return a recovery plate with its cap, the rail's end and a shackle.

    Parameters
    ----------
    pin : {19, 22, 25}
        Pin of the shackle, mm: measure the one in your hand, and its jaw.
    thickness : {12, 16}
        Of the plate, mm, S355.
    ring : float
        Metal between eye and edge.
    reach : float
        Of the eye's centre before the rail's end.
    let_in : float
        Length inside the rail.
    rail_width, rail_height, rail_wall : float
        Outside sizes and wall of the rail as measured.
    cut : {"laser", "waterjet", "plasma"}
        Decides the play in the cap's slot.
    sheet : Sheet or str, optional
        The shop's own plate, with its thickness ("" for none), instead of `thickness`.
    number, rev : str
        Of the assembly; the plate adds -1, the cap -2.

    Returns
    -------
    Assembly
        With the cautions of a pin plate: it states no rating.
    """
    radius, play = _eye_radius(pin, ring, rail_height, rail_wall), FIT[cut]
    stock, thickest = plate_of(f"{ME} sheet", sheet, "S355", thickness)
    if stock.material.key != "S355":
        raise BadValue(f"{ME} sheet", stock.key, "a plate of S355, whose strength the screening takes")
    t, low = stock.thickness, -PROUD
    middle = low + SHOULDER + radius
    base = _outline(radius, reach, let_in)
    plate = Part(
        f"{number}-1", rev=rev, sheet=stock, base=base, title="recovery plate", drawn_thickness=t, cautions=CAUTIONS
    ).keep_clean()
    plate = plate.hole((reach, middle), pin + PLAY, name="eye")
    plate = plate.text(f"{number} S355", (-let_in + 12.0, middle), height=10)
    # Seen from ahead of the vehicle, so that the cap's number can be read when it is in place.
    width = thickest + play
    face = Outline.rectangle(rail_width, rail_height + PROUD + 4, ("bottom", "side A", "top", "side B"))
    cap = Part(
        f"{number}-2", rev=rev, sheet=f"S355 {CAP:.1f}", base=face, title="capping plate", cautions=CAUTIONS
    ).keep_clean()
    cap = cap.cut_out(eared_slot(2 * radius + play, width), (rail_width / 2, middle + PROUD + 4), turn=90, name="neck")
    throat = round(0.7 * min(CAP, rail_wall), 1)  # more burns through the rail's wall
    made = Assembly(number, rev=rev, title="recovery plate in the rail", cautions=CAUTIONS)
    made = made.add("rail", _rail(let_in, rail_width, rail_height, rail_wall, t, width))
    made = made.add("plate", plate, frame_at((-t / 2, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
    ahead = frame_at((rail_width / 2, 0.0, -PROUD - 4), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    made = made.add("cap", cap, ahead)
    bow, rod = shackle(float(pin))
    eye = frame_at((0.0, reach, middle), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    made = made.add("shackle", bow, eye).add("shackle pin", rod, eye)
    made = made.weld("plate", "rail", throat=throat, length=2 * let_in, note="from below, both sides of the slot")
    made = made.weld("plate", "cap", throat=round(0.7 * CAP, 1), length=4 * radius, note="round the neck")
    return made.weld("cap", "rail", throat=throat, length=2 * (rail_width + rail_height), sides="all round")


@family
def rail_slot_template(
    thickness: Literal[12, 16] = 16,
    let_in: Annotated[float, Range(150, 320, 5, "mm")] = 220.0,
    rail_width: Annotated[float, Range(50, 90, 1, "mm")] = 60.0,
    cut: Literal["laser", "waterjet", "plasma"] = "laser",
    number: str = "SLOT-TEMPLATE",
    rev: str = "A",
) -> Part:
    """Return a template that is laid under the rail, flush with its end, to scribe and cut the plate's slot.

    Parameters
    ----------
    thickness, let_in, rail_width, cut
        As given to `recovery_plate`.

    Returns
    -------
    Part
        Of 1 mm sheet; the slot is open at the rail's end.
    """
    w = largest_thickness(float(thickness), S355[0]) + FIT[cut]
    half, long = rail_width / 2, let_in + 40
    # As in the rail: the plate bears on one wall of the slot.
    a, b = -thickness / 2, -thickness / 2 + w
    end = -let_in - 1
    points = [(-half, -long), (half, -long), (half, 0.0), (b, 0.0), (b, end), (a, end), (a, 0.0), (-half, 0.0)]
    names = ("tail", "right", "end right", "wall right", "slot end", "wall left", "end left", "left")
    base = Outline.polygon(points, names)
    part = Part(number, rev=rev, sheet="DC01 1.0", base=base, title="template: slot in the rail")
    # Along the wall of the slot, up to the rail's end: the narrowest rail leaves no room across.
    return part.text("RAIL END", (b + 8.0, -8.0 - text_width("RAIL END", 4.0)), height=4, turn=90)


@helper
def pin_plate(pin: Size, thickness: Size, ring: Size) -> PinPlate:
    """Return the numbers of the eye for `calc.lugs.screen_pin_plate`.

    Parameters
    ----------
    pin, thickness, ring : float
        As given to `recovery_plate`, mm.

    Returns
    -------
    PinPlate
        Of S355, straight sides, round end.
    """
    hole, (least, tensile) = pin + PLAY, S355
    return PinPlate(
        thickness=thickness,
        hole=hole,
        pin=pin,
        side=ring,
        end=ring,
        end_radius=hole / 2 + ring,
        yield_strength=least,
        tensile=tensile,
    )


def _eye_radius(pin: int, ring: float, height: float, wall: float) -> float:
    """Refuse an eye that the rail or the shackle has no room for; return its outer radius."""
    bore = (pin + PLAY) / 2
    room = (height - wall - 4 + PROUD - 2 * SHOULDER) / 2 - bore
    require_between(f"{ME} ring", ring, 20, min(40.0, math.floor(room)), f"a rail {height:g} mm high")
    require_between(f"{ME} ring", ring, 20, SHACKLES[float(pin)][1] - bore, "so that the bow clears the eye")
    return bore + ring


def _outline(radius: float, reach: float, let_in: float) -> Outline:
    """Return the plate's outline: x forward from the rail's end, y up from its underside."""
    low, neck = -PROUD, -PROUD + SHOULDER
    high, top, r = neck + 2 * radius, 2 * SHOULDER - PROUD + 2 * radius, 2.5
    # Half circles into the shoulders, so that they seat on the cap.
    return Outline.from_edges(
        [
            Edge((-let_in, low), (0.0, low), 0.0, "underside"),
            Edge((0.0, low), (0.0, neck - r), 0.0, "lower shoulder"),
            Edge((0.0, neck - r), (0.0, neck), -1.0, "lower relief"),
            Edge((0.0, neck), (reach, neck), 0.0, "neck below"),
            Edge((reach, neck), (reach, high), 1.0, "end"),
            Edge((reach, high), (0.0, high), 0.0, "neck above"),
            Edge((0.0, high), (0.0, high + r), -1.0, "upper relief"),
            Edge((0.0, high + r), (0.0, top), 0.0, "upper shoulder"),
            Edge((0.0, top), (-let_in, top), 0.0, "top"),
            Edge((-let_in, top), (-let_in, low), 0.0, "tail"),
        ]
    )


def _rail(let_in: float, width: float, height: float, wall: float, t: float, slot: float) -> Bought:
    """Return the rail's end with the slot in its lower wall; the plate bears on one side of the slot."""
    h, end, back = width / 2, -let_in - 1.0, -let_in - 60.0
    pieces = (
        box((-h, back, 0.0), (-h + wall, 0.0, height)),
        box((h - wall, back, 0.0), (h, 0.0, height)),
        box((-h + wall, back, height - wall), (h - wall, 0.0, height)),
        box((-h + wall, end, 0.0), (-t / 2, 0.0, wall)),
        box((-t / 2 + slot, end, 0.0), (h - wall, 0.0, wall)),
        box((-h + wall, back, 0.0), (h - wall, end, wall)),
    )
    return Bought(
        name="chassis rail, end", pieces=pieces, mass=0.0, colour=GREY, source="own data", existing=True, wall=wall
    )
