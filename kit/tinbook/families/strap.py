"""A tank strap: over the top, down both sides, an eye round a pin at each end; its length, tension and take-up."""

from __future__ import annotations

import math
from typing import Annotated, Final, Literal

from tinbook.calc import straps
from tinbook.calc.bending import din6935_factor
from tinbook.calc.bolts import proof_strength
from tinbook.calc.rivets import blind_rivet
from tinbook.errors import BadValue
from tinbook.families.bolt_patterns import rounded_box
from tinbook.families.calls import Room, Size, family, helper, require_between, thickness_of
from tinbook.families.strip import Bent, chained
from tinbook.fields import Range
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.material import OfSheet
from tinbook.tolerances import HEM_GAP
from tinbook.values import dataclass

CAUTIONS: Final = (
    "Screens only: a fuel tank, or a load over people, needs local rules and a licensed engineer.",
    "Baffles keep the load from surging; nothing sharp under strap or tank; tighten again after the first day.",
)
STEP: Final = 2.0
"""mm: straight between the reverse set and the eye."""

TAIL_RIVET: Final = blind_rivet("ISO 15979", 4.8)
RIVET: Final = (TAIL_RIVET.hole, 7.5)
"""mm: hole of a blind rivet of 4.8 mm, and its least distance from an edge (common practice)."""

WRAP, RUBBER_GRIP = 180.0, (0.5, 0.2)
"""Degrees by which a strap turns over a tank; friction of rubber on steel, dry and wet (common practice)."""

SAFE: Final = 2.0
"""Against the least shear load of rivets (own proposal, as for the strap itself)."""

PLAY: Final = 3.5
"""mm: between an eye and what holds its pin at each side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StrapEye:
    """A strap's end set back and curled round a pin until its tail lies on the strap again.

    Parameters
    ----------
    set_angle, curl_angle : float
        Set away from the pin's side, then curled the other way round the pin, degrees.
    set_radius, radius : float
        Inside radii of both, mm.
    reach : float
        From where the set begins to the pin's centre, along the strap, mm.
    offset : float
        Of the pin's centre from the strap's face on the tail's side, into the sheet, mm.
    tail : float
        Straight tail that comes back beside the strap, mm.
    """

    set_angle: float
    curl_angle: float
    set_radius: float
    radius: float
    reach: float
    offset: float
    tail: float

    def bends(self, thickness: float, end: str) -> tuple[Bent, Bent]:
        """Return the two folds of the eye on an edge, tail upward; `end` goes into their names."""
        r, t = self.radius, thickness
        return (
            Bent(name=f"{end} set", angle=-self.set_angle, leg=STEP + r + t, radius=self.set_radius, to="tangent"),
            Bent(name=f"{end} eye", angle=self.curl_angle, leg=self.tail, radius=r, to="tangent"),
        )


@helper
def strap_eye(pin: Size, thickness: Size, overlap: Room) -> StrapEye:
    """Set out an eye round a pin.

    Parameters
    ----------
    pin : float
        Diameter, mm; at least twice the thickness. The eye has 0.5 mm play.
    thickness : float
        Of the strap, mm.
    overlap : float
        Of the tail with the straight strap, for weld or rivets, mm.

    Returns
    -------
    StrapEye

    Notes
    -----
    With heading -b after the set, tail parallel again after 180 + b round the pin and its face on the strap's:
    (r + r0 + t) cos b - s sin b = r0 + t - r + gap, solved in closed form.
    """
    require_between("strap_eye pin", pin, 2 * thickness, None, "two thicknesses")
    r, r0, t, s = pin / 2 + 0.25, 1.5 * thickness, thickness, STEP
    a, c = r + r0 + t, r0 + t - r + HEM_GAP
    b = math.acos(c / math.hypot(a, s)) - math.atan2(s, a)
    reach = (r0 + t + r) * math.sin(b) + s * math.cos(b)
    return StrapEye(
        set_angle=math.degrees(b), curl_angle=180 + math.degrees(b), set_radius=r0, radius=r,
        reach=reach, offset=r - HEM_GAP, tail=reach + overlap,
    )  # fmt: skip


@family
def tank_strap(
    tank_width: Annotated[float, Range(150, 900, 1, "mm")] = 420.0,
    tank_height: Annotated[float, Range(120, 700, 1, "mm")] = 320.0,
    tank_corner: Annotated[float, Range(15, 250, 1, "mm")] = 60.0,
    liner: Annotated[float, Range(0, 8, 0.5, "mm")] = 3.0,
    below: Annotated[float, Range(0, 150, 1, "mm")] = 40.0,
    width: Annotated[float, Range(20, 80, 1, "mm")] = 40.0,
    pin: Annotated[float, Range(6, 20, 1, "mm")] = 12.0,
    overlap: Annotated[float, Range(15, 60, 1, "mm")] = 25.0,
    corners: Literal["rolled", "folded"] = "rolled",
    corner_folds: Annotated[int, Range(2, 8)] = 3,
    stud: Literal["none", "M6", "M8", "M10", "M12"] = "M8",
    tails: Literal["welded", "riveted"] = "welded",
    sheet: OfSheet = "DC01 2.0",
    number: str = "STRAP",
    rev: str = "A",
) -> Part:
    """Return a strap over a tank with rounded corners; its base panel lies on the top, up side out.

    Parameters
    ----------
    tank_width, tank_height, tank_corner : float
        Of the tank's section.
    liner : float
        Rubber between tank and strap as squeezed.
    below : float
        Pins' centres under the tank's underside.
    width, pin, overlap : float
        Of the strap; of the pins; of the tails with the strap.
    corners : {"rolled", "folded"}
        Rolled to the tank's radius, or in several folds whose flats touch it.
    corner_folds : int
        Folds a corner, where folded.
    stud : {"none", "M6", "M8", "M10", "M12"}
        Thread of the T-bolt in the right eye, which gets a slot for it; its cross-pin is `pin`.
    tails : {"welded", "riveted"}
        How the tails are held on the strap; riveted ones get two holes for blind rivets of 4.8 mm.
    """
    t = thickness_of("tank_strap sheet", sheet)
    require_between(
        "tank_strap tank_corner", tank_corner, None, min(tank_width / 2 - 10, tank_height - 10), "the tank's sides"
    )
    e = strap_eye(pin, t, overlap)
    inside = tank_corner + liner
    side = tank_height - tank_corner + below - e.reach
    least = max(e.radius + t + 2, overlap + 5 + tank_corner - tank_height + e.reach)
    require_between("tank_strap below", below, least, None, "room for the eye and its tail under the tank")
    top = tank_width - 2 * tank_corner
    setback = (e.set_radius + t) * math.tan(math.radians(min(e.set_angle, 90.0)) / 2)
    if corners == "rolled":
        straight = inside + t + side
        bends = [Bent(name="", angle=-90.0, leg=side + setback, radius=inside, to="tangent")]
        half = top / 2 + inside + t
    else:
        turn = 90.0 / corner_folds
        tangent = math.tan(math.radians(turn) / 2)
        least = 12.0 / (2 * tangent)
        require_between(
            "tank_strap tank_corner", inside + t, least, None, f"with liner and strap, for {corner_folds} folds"
        )
        flat = 2 * (inside + t) * tangent
        bends = [Bent(name=f" fold {k + 1}", angle=-turn, leg=flat) for k in range(corner_folds - 1)]
        straight = flat / 2 + side
        bends.append(Bent(name="", angle=-turn, leg=straight + setback))
        half = top / 2 + flat / 2
    base = Outline.rectangle(2 * half, width, ("near", "right", "far", "left")).moved(-half, -width / 2)
    part = Part(
        number, rev=rev, sheet=sheet, base=base, title="tank strap", quantity=2, drawn_thickness=t, cautions=CAUTIONS
    ).keep_clean()
    for hand in ("right", "left"):
        named = [Bent(name=hand + b.name, angle=b.angle, leg=b.leg, radius=b.radius, to=b.to) for b in bends]
        part = chained(part, hand, [*named, *e.bends(t, hand)])
        if tails == "riveted":
            require_between("tank_strap width", width, 4 * RIVET[1], None, "two rivets side by side")
            # The same place on the tail and on the straight that it lies on, half the overlap from the tail's end.
            for i, x in enumerate((width / 4, 3 * width / 4), 1):
                part = part.hole(
                    (x, straight - overlap / 2), RIVET[0], panel=hand, use="rivet", name=f"{hand} rivet {i}"
                )
                on_tail = (x, e.radius + t + e.tail - overlap / 2)
                part = part.hole(on_tail, RIVET[0], panel=f"{hand} eye", use="rivet", name=f"{hand} tail rivet {i}")
    return part if stud == "none" else _slotted(part, e, t, pin, width, float(stud[1:]))


def _slotted(part: Part, e: StrapEye, t: float, pin: float, width: float, stud: float) -> Part:
    """Cut the slot through which the T-bolt's stud leaves the right eye, straight away from the strap."""
    require_between("tank_strap pin", pin, 1.5 * stud, None, f"1.5 times the stud M{stud:g}")
    wide = stud + 1.0
    require_between("tank_strap width", width, wide + 12, None, f"6 mm beside the slot of {wide:g} mm")
    neutral = e.radius + din6935_factor(e.radius, t) * t / 2
    # The stud's width at the inner face, 0.5 mm of play, and 5 degrees for the strap to swing in.
    half = neutral * (math.asin((stud / 2 + 0.5) / e.radius) + math.radians(5.0))
    # Where the eye heads outward the pin is square below; the eye begins where the straight step ends.
    along = _tangent(e, t) + neutral * math.radians(e.curl_angle - 90.0)
    return part.cut_out(rounded_box(wide, 2 * half, 2.0), (width / 2, along), panel="right set", name="stud slot")


def _tangent(e: StrapEye, t: float) -> float:
    """Return where the eye begins on the panel between set and eye, in that panel's own y."""
    setback = (e.set_radius + t) * math.tan(math.radians(min(e.set_angle, 90.0)) / 2)
    return setback + STEP


@dataclass(frozen=True, slots=True, kw_only=True)
class StrapTightening:
    """What tightens a strap, and whether it reaches.

    Parameters
    ----------
    tension : float
        In the strap, N.
    allowed : dict of str to float
        By strap, eye, pin and stud, N.
    torque : float
        On the nut, N m.
    needed, thread : float
        Travel to reach the tension with the tank's and the liner's tolerances, and thread there is for it, mm.
    far : (float, float)
        Tension at the end that is not tightened, N: rubber dry, and wet. Tap the strap round, then tighten again.
    leg : float
        Tension that the load to be held puts into each leg, N; 0 where none was stated.
    """

    tension: float
    allowed: dict[str, float]
    torque: float
    needed: float
    thread: float
    far: tuple[float, float] = (0.0, 0.0)
    leg: float = 0.0

    @property
    def ok(self) -> bool:
        """Whether nothing is loaded beyond what is allowed and the thread is long enough."""
        return max(self.tension, self.leg) <= min(self.allowed.values()) and self.needed <= self.thread


@helper
def strap_tightening(
    tension: float,
    *,
    length: float,
    width: float,
    thickness: float,
    pin: float,
    stress_area: float,
    stud: float,
    thread: float,
    liner: float,
    radius: float,
    tank_tolerance: float,
    slot: float = 0.0,
    tensile: float = 270.0,
    yield_strength: float = 140.0,
    bolt_class: str = "4.6",
    rivets: int = 0,
    load: float = 0.0,
) -> StrapTightening:
    """Work out tension, torque and take-up of a strap over three sides of a tank, tightened at one end.

    Parameters
    ----------
    tension : float
        Wanted, N.
    length, width, thickness : float
        Strap, mm.
    pin, stress_area, stud, thread : float
        Pin's diameter (mm), the stud's stress area (mm²) and diameter, thread free for take-up (mm).
    liner, radius : float
        Free thickness of the rubber and radius at the tank's corners, mm.
    tank_tolerance : float
        How far the tank's sizes may be off, plus or minus, mm.
    slot : float
        Width of the slot that a T-bolt's stud leaves the eye by, mm; it weakens the eye.
    tensile, yield_strength : float
        Strap, MPa.
    bolt_class : str
        Of the stud, ISO 898-1.
    rivets : int
        Steel blind rivets of 4.8 mm that hold each tail (ISO 15979), 2 where `tank_strap` is riveted; 0 for welded ones.
    load : float
        What this strap must hold down, N: its share of the tank's mass times the rule's acceleration upward.

    Returns
    -------
    StrapTightening
        By `calc.straps`; liner of 60 IRHD, at most a quarter squeezed.
    """
    if isinstance(rivets, bool) or not isinstance(rivets, int) or rivets < 0:
        raise BadValue("strap_tightening rivets", rivets, "how many hold each tail: 0, 1, 2 ...")
    pressure = straps.contact_pressure(tension, radius, width)
    squeeze = straps.liner_compression(pressure, liner, width) if liner else 0.0
    gap = PLAY + 1.5  # from the loop's side to the middle of a fork's ear of 3 mm
    by_eye, _ = straps.loop_end(width - slot, thickness, pin, tensile, 235.0, gap)
    _, by_pin = straps.loop_end(width, thickness, pin, tensile, 235.0, gap)
    allowed = {
        "strap": straps.strap_tension(width, thickness, 0.0, tensile, yield_strength),
        "eye": by_eye,
        "pin": by_pin,
        "stud": straps.thread_tension(stress_area, proof_strength(bolt_class, stud)),
    }
    if rivets:
        # The eye's tail carries half the tension; half of what a rivet bears at least.
        allowed["rivets"] = 2 * rivets * TAIL_RIVET.shear / SAFE
    slack = 3 * 2 * tank_tolerance  # width once and height twice, from the smallest tank to the largest
    needed = straps.take_up(tension, length, width, thickness, 210_000.0, squeeze, slack, WRAP)
    dry, wet = (tension / straps.capstan(1.0, friction, WRAP) for friction in RUBBER_GRIP)
    return StrapTightening(
        tension=tension,
        allowed=allowed,
        torque=straps.tightening_torque(tension, stud),
        needed=needed,
        thread=thread,
        far=(dry, wet),
        leg=straps.leg_tension(load),
    )
