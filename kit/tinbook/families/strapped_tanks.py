"""A tank in its two cradles under two straps: rubber, forks, pins and T-bolts, everything at its place."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Final, Literal

from tinbook.calc import straps
from tinbook.families.calls import family, helper, require_between, thickness_of
from tinbook.families.strap import CAUTIONS, PLAY, strap_eye, tank_strap
from tinbook.families.tank_cradles import cradle_liner, liner_ring, pin_places, plastic_tank, tank_cradle
from tinbook.fields import Range
from tinbook.part.assembly import Assembly
from tinbook.part.bought import Bought
from tinbook.part.fasteners import clevis_pin, hexagon_nut, nut_height, plain_washer, t_bolt, washer_thickness
from tinbook.part.links import Rubber, Strap
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.material import OfSheet
from tinbook.shop.standard import library
from tinbook.space import Frame, frame_at
from tinbook.values import dataclass

BAND, UNDER = 3.0, 4.0
"""mm: rubber as squeezed, under a strap and in a cradle."""
STRAP: Final = 2.0
"""mm: thickness of the straps."""
HARDNESS: Final = 60.0
"""Shore A of the rubber in the cradles."""
STEEL: Final = (270.0, 140.0)
"""MPa: tensile strength and yield stress of the straps, DC01."""
PROOF: Final = 225.0
"""MPa: proof stress of the T-bolts, class 4.6 (ISO 898-1)."""
SLOT: Final = 1.0
"""mm: how much wider than its stud the slot in a strap's eye is."""
DROP: Final = 30.0
"""mm: how much deeper the T-bolt's fork sits than the pin's: room to tighten."""

Stud = Literal["M6", "M8", "M10", "M12"]


@helper
def fork_depth(pin: float, strap: float, fork: float) -> float:
    """Return how far a fork's underside lies below its pin: eye, 8 mm of air and its own thickness, mm."""
    return strap_eye(pin, strap, 20.0).radius + strap + 8.0 + fork


@family
def strap_fork(
    strap_width: Annotated[float, Range(20, 80, 1, "mm")] = 40.0,
    pin: Annotated[float, Range(9, 20, 1, "mm")] = 12.0,
    stud: Stud = "M8",
    length: Annotated[float, Range(40, 90, 1, "mm")] = 50.0,
    strap: OfSheet = "DC01 2.0",
    sheet: OfSheet = "DC01 3.0",
    number: str = "STRAP-FORK",
    rev: str = "A",
) -> Part:
    """Return a fork that is welded to a cradle: two ears hold a strap's pin, or its bottom the T-bolt's nut.

    Parameters
    ----------
    strap_width, pin : float
        Of the strap and of its pin; 3.5 mm of play at each side.
    stud : {"M6", "M8", "M10", "M12"}
        Thread of the T-bolt.
    length : float
        Along the cradle.
    strap, sheet : str
        Sheet of the strap and of the fork.

    Returns
    -------
    Part
        Its base is the bottom, ears up; the pin runs along y.
    """
    require_between("strap_fork pin", pin, 1.5 * float(stud[1:]), None, f"1.5 times the stud {stud}")
    t = thickness_of("strap_fork sheet", sheet)
    across = strap_width + 2 * PLAY + 2 * t
    up = fork_depth(pin, thickness_of("strap_fork strap", strap), t)
    base = Outline.rectangle(length, across)
    part = Part(
        number, rev=rev, sheet=sheet, base=base, title="strap fork", quantity=4, drawn_thickness=t, cautions=CAUTIONS
    ).keep_clean()
    for edge in ("front", "rear"):
        part = part.fold(edge, "up", leg=_ear(up, pin), name=f"{edge} ear")
        part = part.hole((length / 2, up), pin + 0.5, panel=f"{edge} ear", name=f"{edge} pin")
    return part.hole((length / 2, across / 2), use="bolt", size=stud, name="stud")


def _ear(up: float, pin: float) -> float:
    """Return how high a fork's ears stand, over the outside, mm."""
    return max(up + 0.75 * pin + 6.0, 36.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Strapping:
    """What fixes one strap: parts, bought items and where they are, in the cradle's frame."""

    strap: Part
    fork: Part
    band: Bought
    pin: float
    stud: Stud
    width: float
    below: float
    high: float
    thick: float
    ear: float
    place: tuple[float, float]
    depth: float


@family
def strapped_tank(
    tank_width: Annotated[float, Range(250, 900, 1, "mm")] = 420.0,
    tank_height: Annotated[float, Range(180, 700, 1, "mm")] = 320.0,
    tank_corner: Annotated[float, Range(25, 120, 1, "mm")] = 60.0,
    tank_length: Annotated[float, Range(400, 1500, 5, "mm")] = 950.0,
    spacing: Annotated[float, Range(200, 1200, 5, "mm")] = 600.0,
    below: Annotated[float, Range(30, 60, 1, "mm")] = 40.0,
    strap_width: Annotated[float, Range(25, 60, 1, "mm")] = 40.0,
    pin: Annotated[float, Range(9, 20, 1, "mm")] = 12.0,
    stud: Stud = "M8",
    tension: Annotated[float, Range(200, 5000, 50, "N")] = 1000.0,
    sheet: OfSheet = "S355 3.0",
    forks: OfSheet = "S355 5.0",
    number: str = "STRAPPED-TANK",
    rev: str = "A",
) -> Assembly:
    """Return a tank strapped into two cradles, as it stands: x across, y forward along it, z up from its underside.

    Parameters
    ----------
    tank_width, tank_height, tank_corner, tank_length : float
        Of the tank.
    spacing : float
        Between the cradles' plates, face to face outside; see `tack_distance` for where to tack them.
    below, strap_width, pin : float
        As for `tank_strap`.
    stud : {"M6", "M8", "M10", "M12"}
        Thread of the T-bolts.
    tension : float
        In each leg of a strap at rest, for the strength; see `strap_tightening` for the torque.
    sheet, forks : str
        Of the cradles and of the forks.
    number, rev : str
        Of the assembly.
    """
    require_between(
        "strapped_tank spacing",
        spacing,
        2 * strap_width + 60,
        tank_length - 80,
        "on the tank, straps between the cradles",
    )
    most = min(tank_width / 2 - 25, tank_height / 2 - 20)
    require_between(
        "strapped_tank tank_corner", tank_corner, None, most, "half the tank less what its cradle and straps need"
    )
    require_between("strapped_tank pin", pin, 1.5 * float(stud[1:]), None, f"1.5 times the stud {stud}")
    section = (tank_width, tank_height, tank_corner)
    fork = strap_fork(strap_width=strap_width, pin=pin, stud=stud, sheet=forks, number=f"{number}-3")
    ear = thickness_of("strapped_tank forks", forks)
    drop = fork_depth(pin, STRAP, ear) + DROP
    rise = min(max(tank_corner + 40, 0.5 * tank_height), tank_height)
    cradle = tank_cradle(*section, UNDER, rise=rise, depth=below + drop + 16, pin=pin, below=below, pins="left", sheet=sheet, number=f"{number}-1")  # fmt: skip
    strap = tank_strap(*section, BAND, below=below, width=strap_width, pin=pin, stud=stud, number=f"{number}-2")
    seat = cradle_liner(tank_width, tank_corner, rise, name=f"{number}-1-L")
    band = cradle_liner(tank_width, tank_corner, tank_height - tank_corner, thickness=4.0, squeezed=BAND, seat=strap_width, name=f"{number}-2-L")  # fmt: skip
    rubber = liner_ring(seat, tank_width, tank_corner, rise, UNDER)
    made = Assembly(number, rev=rev, title="tank in its cradles", cautions=CAUTIONS)
    made = made.add("tank", plastic_tank(tank_width, tank_height, tank_corner, tank_length))
    s = _Strapping(
        strap=strap, fork=fork, band=liner_ring(band, tank_width, tank_corner, tank_height - tank_corner, BAND),
        pin=pin, stud=stud, width=strap_width, below=below, high=tank_height, thick=thickness_of("strapped_tank sheet", sheet), ear=ear,
        place=pin_places(tank_width, BAND, below, pin, "DC01 2.0")[0], depth=drop,
    )  # fmt: skip
    # Set out in the cradles' own frame, y up and z along the tank, and stood up at the end.
    start = (tank_length - spacing) / 2
    ends = (frame_at((0.0, 0.0, start)), frame_at((0.0, 0.0, start + spacing), (-1.0, 0.0, 0.0)))
    for name, at in zip(("front", "rear"), ends, strict=True):
        made = made.add(f"{name} cradle", cradle, at)
        made = made.add(f"{name} liner", rubber, at @ frame_at((0.0, 0.0, s.thick + 3.0 - seat.size[1])), flexible=True)
        made = _strapped(made, s, name, at)
        for panels, grip in ((("seat",), 0.3), (("left horn", "right horn"), 0.0)):
            rubbed = Rubber(a="tank", b=f"{name} cradle", panels=panels, thickness=UNDER, hardness=HARDNESS, grip=grip)
            made = made.linked(rubbed)
        made = made.linked(*_legs(s, name, at, tank_width, tank_corner, tension))
    return made.moved(frame_at((0.0, tank_length, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))


def _strapped(made: Assembly, s: _Strapping, name: str, at: Frame) -> Assembly:
    """Add a strap with its rubber, forks, pin and T-bolt on a cradle's up side; `at` is the cradle's place."""
    z = s.thick + s.ear + PLAY + s.width / 2  # the strap's middle, an ear and the play off the plate
    wide = s.width + 6.0
    upside = ((-1.0, 0.0, 0.0), (0.0, -1.0, 0.0))
    made = made.add(f"{name} band", s.band, at @ frame_at((0.0, s.high, z - wide / 2), *upside), flexible=True)
    lying = ((1.0, 0.0, 0.0), (0.0, 0.0, -1.0))  # what lies flat, its up side up
    made = made.add(f"{name} strap", s.strap, at @ frame_at((0.0, s.high + BAND, z), *lying), flexible=True)
    x, y = s.place
    half, across = 25.0, s.width / 2 + PLAY + s.ear
    up = s.depth - DROP
    # Where the ear is flat: an inside radius of 1.6 times the sheet, as a die of ten times it leaves.
    seam = round(2 * half + 2 * (_ear(up, s.pin) - 2.6 * s.ear), 1)
    for hand, px, down in (("pin", -x, up), ("stud", x, s.depth)):
        fork = at @ frame_at((px - half, y - down, z + across), *lying)
        made = made.add(f"{name} {hand} fork", s.fork, fork)
        note = "round the ear, not its bend"
        made = made.weld(f"{name} cradle", f"{name} {hand} fork", throat=2.0, length=seam, note=note)
    long = 2 * across + 3.0
    made = made.add(f"{name} pin", clevis_pin(s.pin, long), at @ frame_at((-x, y, z + across)))
    made = made.sliding(f"{name} pin drawn out", [f"{name} pin"], along=at.z, by=(0.0, long + 10.0))
    return _bolted(made, f"{name} ", at @ frame_at((x, y, z), *lying), s.stud, s.pin, s.width, s.depth)


def _legs(s: _Strapping, name: str, at: Frame, width: float, corner: float, tension: float) -> Iterator[Strap]:
    """Yield both legs of a strap: each leaves the tank below its round corner and gives with half of the top."""
    z = s.thick + s.ear + PLAY + s.width / 2
    x, y = s.place
    top = s.high - corner
    half = (width - 2 * corner) / 2 + math.pi / 2 * (corner + BAND)
    bears = min(
        straps.strap_tension(s.width, STRAP, 0.0, *STEEL),
        straps.loop_end(s.width - SLOT - float(s.stud[1:]), STRAP, s.pin, STEEL[0], 235.0, PLAY + 1.5)[0],
    )
    stud = straps.thread_tension(library().fixings.bolt(s.stud).stress_area, PROOF)
    for hand, px, down, holes, rated in (
        ("pin", -x, 0.0, ("front pin", "rear pin"), bears),
        ("stud", x, s.depth, ("stud",), min(bears, stud)),
    ):
        side = math.copysign(width / 2, px)
        yield Strap(
            a="tank",
            b=f"{name} {hand} fork",
            at=at(side, top, z),
            end=at(px, y - down, z),
            holes=holes,
            tension=tension,
            section=s.width * STRAP,
            length=top - y + half,
            rated=rated,
        )


def _bolted(made: Assembly, name: str, at: Frame, stud: Stud, pin: float, width: float, depth: float) -> Assembly:
    """Add a T-bolt whose cross-pin lies at `at` along its y, its stud down, with washer and nuts `depth` below."""
    w, n = washer_thickness(stud), nut_height(stud)
    long = 5.0 * -(-(depth + w + 2 * n + 5.0) // 5.0)
    made = made.add(f"{name}T-bolt", t_bolt(stud, pin, width, long), at @ frame_at((0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0)))  # fmt: skip
    washer, nut = plain_washer(stud), hexagon_nut(stud)
    for what, thing, down in (("washer", washer, w), ("nut", nut, w + n), ("lock nut", nut, w + 2 * n)):
        made = made.add(f"{name}{what}", thing, at @ frame_at((0.0, 0.0, -depth - down)))
    downward = at.vector(0.0, 0.0, -1.0)
    nuts = [f"{name}{what}" for what in ("washer", "nut", "lock nut")]
    made = made.sliding(f"{name}nuts run down", nuts, along=downward, by=(0.0, long - depth + 10.0))
    # The strap's eye goes with it, as far as the fork is deeper than its pin's.
    return made.sliding(f"{name}T-bolt tightened", [f"{name}T-bolt"], along=downward, by=(0.0, DROP))


@family
def strap_and_bolt(
    tank_width: Annotated[float, Range(150, 900, 1, "mm")] = 420.0,
    tank_height: Annotated[float, Range(120, 700, 1, "mm")] = 320.0,
    tank_corner: Annotated[float, Range(15, 250, 1, "mm")] = 60.0,
    liner: Annotated[float, Range(0, 8, 0.5, "mm")] = BAND,
    below: Annotated[float, Range(0, 150, 1, "mm")] = 40.0,
    width: Annotated[float, Range(20, 80, 1, "mm")] = 40.0,
    pin: Annotated[float, Range(9, 20, 1, "mm")] = 12.0,
    overlap: Annotated[float, Range(15, 60, 1, "mm")] = 25.0,
    corners: Literal["rolled", "folded"] = "rolled",
    stud: Stud = "M8",
    sheet: OfSheet = "DC01 2.0",
    number: str = "STRAP-AND-BOLT",
    rev: str = "A",
) -> Assembly:
    """Return a tank's strap with its T-bolt, nuts and clevis pin, hung from the strap's base panel.

    Parameters
    ----------
    tank_width, tank_height, tank_corner, liner, below, width, pin, overlap, corners
        As for `tank_strap`.
    stud : {"M6", "M8", "M10", "M12"}
        Thread of the T-bolt in the right eye.
    sheet : str
        Of the strap.
    number, rev : str
        Of the assembly; the strap is its -1.
    """
    strap = tank_strap(
        tank_width, tank_height, tank_corner, liner, below, width, pin, overlap, corners, stud=stud, sheet=sheet,
        number=f"{number}-1", rev=rev,
    )  # fmt: skip
    (x, y), _ = pin_places(tank_width, liner, below, pin, sheet)
    down, thick = y - tank_height - liner, 3.0
    across = width / 2 + PLAY + thick
    made = Assembly(number, rev=rev, title="strap with T-bolt", cautions=CAUTIONS).add("strap", strap, flexible=True)
    made = made.add("pin", clevis_pin(pin, 2 * across + thick), frame_at((-x, -across, down), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))  # fmt: skip
    depth = fork_depth(pin, thickness_of("strap_and_bolt sheet", sheet), thick) + DROP
    return _bolted(made, "", frame_at((x, 0.0, down)), stud, pin, width, depth)
