"""A winch cradle: a deck folded of heavy plate, a front plate for the fairlead, two cheeks that brace one to the other.

Drawn as it stands in the vehicle: x to the right, y forward, z up; the deck
lies at z 0 to its thickness, its rear edge at y = 0, the middle at x = 0.
The pull of the rope goes from the winch's feet through deck and cheeks into
the bolts on the two rails.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import Annotated, Final, Literal

from tinbook.calc.joints import bolt_combined, bolt_shear, bolt_tension
from tinbook.errors import BadValue, of_kind
from tinbook.families.bolt_patterns import bolt_through
from tinbook.families.calls import family, plate_of, require_between
from tinbook.fields import Range
from tinbook.finding import Finding, fine, stop
from tinbook.part.assembly import Assembly
from tinbook.part.bought import Bought, Piece, block
from tinbook.part.fasteners import bolt_length, hexagon_bolt, plain_washer, washer_thickness
from tinbook.part.joints import Plate, Process, tab_and_slot
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Point, circle, slot
from tinbook.rules.rule import family_rule
from tinbook.shop.fixings import Fixings
from tinbook.shop.material import OwnPlate
from tinbook.shop.standard import library
from tinbook.space import Frame, frame_at
from tinbook.values import dataclass

ME: Final = "winch_cradle"
CAUTIONS: Final = (
    "A winch's full pull is on the first layer of rope; a snatch block doubles what the vehicle must bear.",
    "Plates, welds, bolts and the rails themselves need a licensed engineer's design and a proof test.",
    "Screened only, not rated; local vehicle rules come first.",
)

FLANGE, REAR, MARGIN, FOOT, RAIL, DRUM = 60.0, 30.0, 30.0, 15.0, 4.0, 40.0
"""mm: deck beside a cheek; cheek from the rear edge; deck before the front plate; winch's foot; rail's wall; drum's
axis over the foot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sizes:
    """Numbers that several plates share, mm."""

    t: float
    thickest: float
    width: float
    depth: float
    span: float
    height: float

    @property
    def front(self) -> float:
        """Rear face of the front plate along y."""
        return self.depth - MARGIN - self.t


@family
def winch_cradle(
    span: Annotated[float, Range(440, 600, 5, "mm")] = 500.0,
    depth: Annotated[float, Range(220, 300, 5, "mm")] = 250.0,
    height: Annotated[float, Range(110, 200, 5, "mm")] = 150.0,
    thickness: Literal[5, 6] = 5,
    grade: Literal["S355", "S235"] = "S355",
    feet_across: Annotated[float, Range(150, 260, 1, "mm")] = 254.0,
    feet_along: Annotated[float, Range(70, 130, 1, "mm")] = 114.0,
    fairlead: Annotated[float, Range(120, 240, 5, "mm")] = 180.0,
    fairlead_bolts: Annotated[float, Range(180, 320, 1, "mm")] = 254.0,
    rail_bolts: Annotated[int, Range(2, 4)] = 3,
    lip: Annotated[float, Range(45, 90, 1, "mm")] = 60.0,
    tool: str = "V50",
    cut: Literal["laser", "waterjet", "plasma"] = "laser",
    sheet: OwnPlate = "",
    number: str = "WINCH-CRADLE",
    rev: str = "A",
) -> Assembly:
    """Return a winch cradle with its winch, fairlead and bolts.

    Parameters
    ----------
    span : float
        Clear between the cheeks.
    depth, height : float
        Of the deck along the vehicle; of the front plate above the deck.
    thickness : {5, 6}
        Of all plates, mm.
    grade : {"S355", "S235"}
        Steel of the plates.
    feet_across, feet_along : float
        Bolt pattern of the winch's feet: measure the one in your hand.
    fairlead, fairlead_bolts : float
        Width of the rope's opening; distance of the fairlead's two bolts.
    rail_bolts : int
        M12 on each rail.
    lip : float
        Leg of the stiffening fold along the rear edge.
    tool : str
        Die of the fold: a brake's, or the block of a small press, whose force ends at short folds.
    cut : {"laser", "waterjet", "plasma"}
        How the plates are cut; decides the play of the tabs.
    sheet : Sheet or str, optional
        The shop's own plate, with its thickness ("" for none), instead of `thickness` and `grade`.
    number, rev : str
        Of the assembly; its parts add -1 to -3.
    """
    plate, thickest = plate_of(f"{ME} sheet", sheet, grade, thickness)
    t = plate.thickness
    room = depth - MARGIN - t - REAR
    require_between(f"{ME} feet_along", feet_along, 70, min(130.0, room - 45), f"deck {depth:g} mm deep")
    require_between(
        f"{ME} fairlead_bolts", fairlead_bolts, max(180.0, fairlead + 45), min(320.0, span - 60), "opening and cheeks"
    )
    wide = span + 2 * t + 2 * FLANGE
    s = _Sizes(t=t, thickest=thickest, width=wide, depth=depth, span=span, height=height)
    deck, front, right, left = _plates(s, cut)
    middle = (REAR + s.front) / 2
    feet = [(i * feet_across / 2, middle + j * feet_along / 2) for i in (-1, 1) for j in (-1, 1)]
    first, step = 40.0, (s.front - 75.0) / (rail_bolts - 1)
    rails = [(i * (s.width / 2 - 30), first + k * step) for i in (-1, 1) for k in range(rail_bolts)]
    base = deck.part(f"{number}-1", sheet=plate, rev=rev, title="winch deck", cautions=CAUTIONS)
    base = base.fold(
        "rear", "down", leg=lip, start=FLANGE + 12, stop=s.width - FLANGE - 12, tool=tool, name="lip"
    ).keep_clean()
    for what, size, places in (("foot", "M10", feet), ("rail", "M12", rails)):
        for i, p in enumerate(places, 1):
            base = base.hole(p, use="bolt", size=size, name=f"{what} {i}")
    face = _front_holes(
        front.part(f"{number}-2", sheet=plate, rev=rev, title="front plate", cautions=CAUTIONS),
        s,
        fairlead,
        fairlead_bolts,
    )
    cheek = right.part(f"{number}-3", sheet=plate, rev=rev, title="cheek", cautions=CAUTIONS)
    made = Assembly(number, rev=rev, title="winch cradle", cautions=CAUTIONS)
    made = made.add("deck", base).add("front", face, front.at)
    made = made.add("cheek right", cheek, right.at).add("cheek left", cheek, left.at)
    made = _welded(made, s, round(0.7 * t, 1))
    made = _on_rails(made, s, rails)
    return _with_winch(made, s, feet, middle, fairlead, fairlead_bolts)


@family_rule
def winch_bolts(
    cradle: Assembly, pull: float, height: float = FOOT + DRUM, bolt_class: str = "8.8", fixings: Fixings | None = None
) -> Iterator[Finding]:
    """Screen a cradle's bolts under a rope's pull straight ahead; shock, an oblique rope, plates and rails are not in it.

    Parameters
    ----------
    cradle : Assembly
        From `winch_cradle`.
    pull : float
        In the rope, shock included, N.
    height : float
        Of the rope above the deck, mm.
    bolt_class : str
        Property class of all bolts.
    fixings : Fixings, optional
        The shop's tables, else the kit's.

    Returns
    -------
    Findings
        `winch.feet`: the feet's bolts share the pull in shear, and two of them hold the winch down against tipping;
        `winch.rails`: the rails' bolts share it in shear. Each is the part of the bolt's resistance that is used.
    """
    of_kind(cradle, Assembly, "winch_bolts cradle", "an assembly of `winch_cradle`")
    pull = Range(0, 1e6, 1, "N").read(pull, "winch_bolts pull")
    height = Range(0, 1000, 1, "mm").read(height, "winch_bolts height")
    tables = fixings or library().fixings
    count = {k: sum(n.startswith(f"{k} bolt") for n in cradle.names) for k in ("foot", "rail")}
    if not all(count.values()):
        raise BadValue("winch_bolts cradle", cradle.number, "an assembly of `winch_cradle`, with its winch's bolts")
    thing = cradle.member("winch").thing
    assert isinstance(thing, Bought)  # a part has no such bolts
    ys = [(h.box[1] + h.box[3]) / 2 for h in thing.pieces[0].holes]
    tension = pull * height / (max(ys) - min(ys)) / (count["foot"] / 2)
    for where, size in (("foot", "M10"), ("rail", "M12")):
        area = tables.bolt(size).stress_area
        shear = bolt_shear(bolt_class, area, diameter=float(size[1:]), hole=tables.clearance(size))
        pulled = tension if where == "foot" else 0.0
        used = bolt_combined(pull / count[where], shear, pulled, bolt_tension(bolt_class, area))
        what = f"{count[where]} {size} {bolt_class} under {pull / 1e3:g} kN: part of their resistance used; no rating"
        me = ("winch.feet", "winch's feet") if where == "foot" else ("winch.rails", "rails")
        if used <= 1.0:
            yield fine(*me, what, used, 1.0, "", "EN 1993-1-8")
        else:
            yield stop(*me, what, "more or larger bolts, or a smaller pull", used, 1.0, "", "EN 1993-1-8")


def _plates(s: _Sizes, cut: Process) -> tuple[Plate, Plate, Plate, Plate]:
    """Return deck, front and both cheeks, joined."""
    t, w = s.t, s.width
    deck_outline = Outline.rectangle(w, s.depth, ("rear", "right", "front", "left")).moved(-w / 2, 0.0)
    corners = {"right/front": 25.0, "front/left": 25.0}
    plate = partial(Plate, thickness=t, thickest=s.thickest)
    deck = plate(outline=deck_outline.clipped(corners), at=frame_at())
    wide = s.span + 2 * t + 40
    rise = Outline.rectangle(wide, s.height, ("bottom", "left", "top", "right")).moved(-wide / 2, 0.0)
    rise = rise.clipped({"left/top": 30.0, "top/right": 30.0})
    # Seen from the front: x runs to the left of the vehicle's x, so that the sheet grows forward.
    front = plate(outline=rise, at=frame_at((0.0, s.front, t), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)))
    long = s.front - REAR
    side = Outline.polygon(
        [(0.0, 0.0), (long, 0.0), (long, s.height - 20), (long - 30, s.height - 20), (0.0, 35.0)],
        ("bottom", "nose", "top", "slope", "tail"),
    )

    def cheek(x: float) -> Plate:
        return plate(outline=side, at=frame_at((x, REAR, t), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))

    front, deck = tab_and_slot(front, "bottom", deck, count=3, process=cut, mark="A", ends=60.0)
    right, deck = tab_and_slot(cheek(s.span / 2), "bottom", deck, process=cut, mark="B", ends=16.0)
    left, deck = tab_and_slot(cheek(-s.span / 2 - t), "bottom", deck, process=cut, mark="B", ends=16.0)
    # Both cheeks are one part, so their slots carry one mark.
    return deck, front, right, left


def _front_holes(part: Part, s: _Sizes, fairlead: float, bolts: float) -> Part:
    """Add the rope's opening and the fairlead's holes."""
    z = s.height / 2
    part = part.cut_out(slot((0.0, 0.0), fairlead, 55.0), (0.0, z), name="rope")
    for i, x in enumerate((-bolts / 2, bolts / 2), 1):
        part = part.hole((x, z), use="bolt", size="M12", name=f"fairlead {i}")
    return part


def _welded(made: Assembly, s: _Sizes, throat: float) -> Assembly:
    """Weld front and cheeks along their feet and to each other, both sides of each."""
    foot, cheek, upright = s.span + 2 * s.t + 40, s.front - REAR, s.height - 20
    made = made.weld("deck", "front", throat=throat, length=foot, sides="both", note="tabs from below")
    for side in ("right", "left"):
        made = made.weld("deck", f"cheek {side}", throat=throat, length=cheek, sides="both", note="tabs from below")
        made = made.weld("front", f"cheek {side}", throat=throat, length=upright, sides="both")
    return made


def _on_rails(made: Assembly, s: _Sizes, places: list[Point]) -> Assembly:
    """Add the upper walls of the two rails and their bolts."""
    long = s.depth + 60
    x = abs(places[0][0])
    own = tuple((0.0, p[1] - s.depth / 2 + 20) for p in places if p[0] > 0)
    rail = block("rail, upper wall", (44.0, long, RAIL), holes=own, dia=13.5, existing=True)
    for name, sign in (("rail left", -1.0), ("rail right", 1.0)):
        made = made.add(name, rail, frame_at((sign * x, s.depth / 2 - 20, -RAIL)))
    for i, (px, py) in enumerate(places, 1):
        made = bolt_through(made, "rail", i, frame_at((px, py, s.t)), s.t + RAIL, "below")
    return made


def _with_winch(made: Assembly, s: _Sizes, feet: list[Point], middle: float, fairlead: float, bolts: float) -> Assembly:
    """Add winch, fairlead and their bolts."""
    wide, long = feet[-1][0] * 2 + 60, (feet[-1][1] - middle) * 2 + 40
    holes = tuple((x, y - middle) for x, y in feet)
    winch = replace(
        block("winch: own pattern and mass go here", (wide, long, FOOT), holes=holes, dia=10.0, mass=28.0),
        source="own data",
    )
    drum = Piece(outer=circle((0.0, 0.0), 80.0), height=wide - 90, at=_drum(wide - 90))
    made = made.add("winch", replace(winch, pieces=(*winch.pieces, drum)), frame_at((0.0, middle, s.t)))
    washer = plain_washer("M10")
    w = washer_thickness("M10")
    bolt = hexagon_bolt("M10", bolt_length(s.t + w + 12.0))
    for i, (x, y) in enumerate(feet, 1):
        made = made.add(f"foot washer {i}", washer, frame_at((x, y, -w)))
        made = made.add(f"foot bolt {i}", bolt, frame_at((x, y, -w), (1.0, 0.0, 0.0), (0.0, -1.0, 0.0)))
    return _with_fairlead(made, s, fairlead, bolts)


def _with_fairlead(made: Assembly, s: _Sizes, fairlead: float, bolts: float) -> Assembly:
    """Add the fairlead before the front plate, and its bolts with nuts behind it."""
    thick = 20.0
    guide = block(
        "fairlead",
        (bolts + 40, 75.0, thick),
        holes=((-bolts / 2, 0.0), (bolts / 2, 0.0)),
        dia=13.5,
        opening=slot((0.0, 0.0), fairlead - 30, 40.0),
        mass=3.0,
    )
    face, z = s.front + s.t, s.t + s.height / 2
    forward = ((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    made = made.add("fairlead", guide, frame_at((0.0, face, z), *forward))
    for i, x in enumerate((-bolts / 2, bolts / 2), 1):
        made = bolt_through(made, "fairlead", i, frame_at((x, face + thick, z), *forward), thick + s.t, "behind")
    return made


def _drum(length: float) -> Frame:
    return frame_at((-length / 2, 0.0, FOOT + DRUM), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
