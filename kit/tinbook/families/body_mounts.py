"""A body mount: a folded bracket on the rail's side, rubber above and below its shelf, a sleeve that limits the squeeze.

Drawn as it stands: y away from the rail, z up; the rail's face is y = 0, the
shelf lies at z 0 to its thickness.
"""

from __future__ import annotations

import math
from functools import partial
from typing import Annotated, Final, Literal

from tinbook.families.bolt_patterns import bolt_through
from tinbook.families.calls import family, plate_of, require_between
from tinbook.families.gussets import gusset_outline
from tinbook.fields import Range
from tinbook.part.assembly import Assembly
from tinbook.part.bought import Bought, block, cushion, shim, sleeve
from tinbook.part.fasteners import bolt_length, hexagon_bolt, hexagon_nut, nut_height, plain_washer, washer_thickness
from tinbook.part.joints import Plate, Process, tab_and_slot
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.shop.material import OwnPlate
from tinbook.space import Frame, frame_at
from tinbook.values import dataclass

ME: Final = "body_mount"
CAUTIONS: Final = (
    "Body mounts hold the cabin in a crash: number, place and strength follow local rules and a licensed engineer.",
    "Rubber creeps: tighten to the sleeve, check after the first weeks; no fuel or oil on natural rubber.",
)
CUP, SHIM, PAD, RAIL = 3.0, 2.0, 3.0, 4.0
"""mm: cup washers, one shim, plate under the body's floor, rail's wall."""

GUSSET, ROOM = 12.0, 15.0
"""mm: from the shelf's side to a gusset's outer face; from a gusset to the axis of an M12 bolt, whose socket is 25.5 wide."""

DOWN = ((1.0, 0.0, 0.0), (0.0, -1.0, 0.0))
"""Directions x and y of what looks down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stack:
    """The stack on the mount's bolt, mm."""

    bolt: Literal["M10", "M12"]
    upper: Bought
    lower: Bought
    distance: Bought
    shims: int
    y: float
    t: float

    @property
    def wide(self) -> float:
        """Diameter of the squeezed upper cushion."""
        return self.upper.pieces[0].outer.box[2] * 2

    @property
    def up(self) -> float:
        """Fitted height of the upper cushion."""
        return self.upper.pieces[0].height

    @property
    def down(self) -> float:
        """Fitted height of the lower cushion."""
        return self.lower.pieces[0].height


@family
def body_mount(
    cushion_dia: Annotated[float, Range(50, 80, 1, "mm")] = 60.0,
    cushion_height: Annotated[float, Range(25, 45, 1, "mm")] = 32.0,
    lower_height: Annotated[float, Range(15, 30, 1, "mm")] = 20.0,
    squeeze: Annotated[float, Range(5, 20, 1, "%")] = 12.0,
    bolt: Literal["M10", "M12"] = "M12",
    shims: Annotated[int, Range(0, 4)] = 2,
    width: Annotated[float, Range(100, 160, 1, "mm")] = 120.0,
    depth: Annotated[float, Range(90, 150, 1, "mm")] = 110.0,
    flange: Annotated[float, Range(70, 120, 1, "mm")] = 90.0,
    thickness: Literal[4, 5, 6] = 5,
    grade: Literal["S355", "S235"] = "S235",
    tool: str = "V50",
    cut: Literal["laser", "waterjet", "plasma"] = "laser",
    sheet: OwnPlate = "",
    number: str = "BODY-MOUNT",
    rev: str = "A",
) -> Assembly:
    """Return a body mount with cushions, sleeve, shims and bolts.

    Parameters
    ----------
    cushion_dia, cushion_height, lower_height : float
        Free sizes of the rubber; both cushions have the same diameter.
    squeeze : float
        How far both cushions are pressed together when the sleeve is tight, %.
    bolt : {"M10", "M12"}
        Through the mount.
    shims : int
        2 mm each, under the body.
    width, depth, flange : float
        Shelf along the rail and away from it; leg on the rail's side.
    thickness : {4, 5, 6}
        Of bracket and gussets, mm.
    grade : {"S355", "S235"}
        Steel of bracket and gussets.
    tool : str
        Die of the fold: a brake's, or the block of a small press, whose force ends at short folds.
    cut : {"laser", "waterjet", "plasma"}
        Decides the play of the tabs.
    sheet : Sheet or str, optional
        The shop's own plate, with its thickness ("" for none), instead of `thickness` and `grade`.
    number, rev : str
        Of the assembly; bracket -1, gusset -2, plate under the floor -3.
    """
    stock, thickest = plate_of(f"{ME} sheet", sheet, grade, thickness)
    t = stock.thickness
    rest = _stack(bolt, cushion_dia, cushion_height, lower_height, squeeze, shims, depth, t)
    require_between(
        f"{ME} width", width, max(100.0, rest.wide + 2 * (13 + t) + 4), 160, "gussets beside the lower cushion"
    )
    least = max(90.0, rest.wide + 34, 55 + 6.6 * t)
    require_between(f"{ME} depth", depth, least, 150, "cushion clear of the bend, tabs of a gusset")
    shelf, gussets = _plates(width, depth, flange, t, thickest, cut)
    bracket = shelf.part(f"{number}-1", sheet=stock, rev=rev, title="mount bracket", mark_height=5, cautions=CAUTIONS)
    bracket = bracket.fold("rail", "down", leg=flange, tool=tool, name="flange").keep_clean()
    # Wider than the sleeve by 4 mm all round: the body moves, the bolt must not touch the shelf.
    bracket = bracket.hole((0.0, rest.y), _bore(bolt) + 14.0, name="sleeve")
    # Legs are measured from the outside of the bend, which is the shelf's upper face.
    drop = flange - 28.0
    # As far apart as a socket on their heads lets them come to the gussets.
    half = min(width / 4, width / 2 - GUSSET - t - ROOM)
    for i, x in enumerate((-half, half), 1):
        bracket = bracket.hole((width / 2 + x, drop + t), panel="flange", use="bolt", size="M12", name=f"rail {i}")
    brace = gussets[0].part(f"{number}-2", sheet=stock, rev=rev, title="gusset", cautions=CAUTIONS)
    made = Assembly(number, rev=rev, title="body mount", cautions=CAUTIONS).add("bracket", bracket)
    throat = round(max(0.7 * t, 3.0), 1)  # EN 1993-1-8 4.5.2 from 4 mm on
    for name, plate in (("gusset left", gussets[0]), ("gusset right", gussets[1])):
        made = made.add(name, brace, plate.at).weld(
            "bracket", name, throat=throat, length=depth - t - 20, sides="both", note="tabs from above"
        )
    made = _on_rail(made, width, half, drop, flange, t)
    return _threaded(made, rest, number, rev)


def _bore(bolt: str) -> float:
    """Return the outside diameter of the sleeve, mm."""
    return 18.0 if bolt == "M10" else 20.0


def _stack(
    bolt: Literal["M10", "M12"], dia: float, high: float, low: float, squeeze: float, shims: int, depth: float, t: float
) -> _Stack:
    bore, part = _bore(bolt), squeeze / 100.0
    upper = cushion(dia, high, bore, squeezed=part * high)
    lower = cushion(dia, low, bore, squeezed=part * low)
    length = upper.pieces[0].height + t + lower.pieces[0].height
    inside = 10.5 if bolt == "M10" else 13.0
    distance = sleeve(bore, inside, length)
    wide = upper.pieces[0].outer.box[2]
    return _Stack(bolt=bolt, upper=upper, lower=lower, distance=distance, shims=shims, y=depth - wide - 8.0, t=t)


def _plates(
    width: float, depth: float, flange: float, t: float, thickest: float, cut: Process
) -> tuple[Plate, tuple[Plate, Plate]]:
    """Return the shelf and both gussets under it, joined."""
    outline = Outline.rectangle(width, depth, ("rail", "right", "end", "left")).moved(-width / 2, 0.0)
    plate = partial(Plate, thickness=t, thickest=thickest)
    shelf = plate(outline=outline.clipped({"right/end": 12.0, "end/left": 12.0}), at=frame_at())
    # Foot under the shelf, back on the flange's inner face; clipped clear of the bend.
    side = gusset_outline(depth - t - 20, flange - 12.0, 22.0, 14.0)

    def below(x: float) -> Plate:
        return plate(outline=side, at=frame_at((x, t, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, -1.0)))

    x = width / 2 - GUSSET
    left, shelf = tab_and_slot(below(-x + t), "foot", shelf, process=cut, mark="A", width=1.5 * t, ends=6.0)
    right, shelf = tab_and_slot(below(x), "foot", shelf, process=cut, mark="A", width=1.5 * t, ends=6.0)
    return shelf, (left, right)


def _on_rail(made: Assembly, width: float, half: float, drop: float, flange: float, t: float) -> Assembly:
    """Add the rail's wall, its bolts and their nuts."""
    tall = flange + 20
    xs = (-half, half)
    holes = tuple((x, tall / 2 - 10 - drop) for x in xs)
    wall = block("rail, side wall", (width + 80, tall, RAIL), holes=holes, dia=13.5, existing=True)
    # The wall's own z looks away from the bracket, its y up.
    made = made.add(
        "rail", wall, frame_at((0.0, 0.0, 10 - tall / 2), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)).moved((0.0, -RAIL, 0.0))
    )
    toward = ((-1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    for i, x in enumerate(xs, 1):
        made = bolt_through(made, "rail", i, frame_at((x, t, -drop), *toward), t + RAIL, "inside")
    return made


def _threaded(made: Assembly, s: _Stack, number: str, rev: str) -> Assembly:
    """Add everything on the mount's bolt, from the shelf up to its head and down to its nut."""
    hole = 11.0 if s.bolt == "M10" else 13.5
    cup = shim(math.ceil(s.wide + 4), hole, CUP)

    def at(z: float) -> Frame:
        return frame_at((0.0, s.y, z))

    made = made.add("upper cushion", s.upper, at(s.t)).add("lower cushion", s.lower, at(-s.down))
    made = made.add("sleeve", s.distance, at(-s.down))
    made = made.add("upper cup", cup, at(s.t + s.up)).add("lower cup", cup, at(-s.down - CUP))
    z = s.t + s.up + CUP
    for i in range(s.shims):
        made = made.add(f"shim {i + 1}", shim(50.0, hole, SHIM), at(z + i * SHIM))
    z += s.shims * SHIM
    size = 100.0
    base = Outline.rectangle(size, size).rounded(12.0)
    pad = Part(f"{number}-3", rev=rev, sheet=f"S235 {PAD:.1f}", base=base, title="floor plate", cautions=CAUTIONS)
    pad = pad.hole((size / 2, size / 2), use="bolt", size=s.bolt, name="mount")
    for i, (x, y) in enumerate(((15, 50), (85, 50), (50, 15), (50, 85)), 1):
        pad = pad.hole((float(x), float(y)), use="plug weld", name=f"plug weld {i}")
    made = made.add("floor plate", pad, frame_at((-size / 2, s.y - size / 2, z)))
    washer, w, n = plain_washer(s.bolt, wide=True), washer_thickness(s.bolt, wide=True), nut_height(s.bolt)
    grip = w + PAD + s.shims * SHIM + 2 * CUP + s.up + s.t + s.down + n + 3.5
    made = made.add("mount washer", washer, at(z + PAD))
    made = made.add("mount bolt", hexagon_bolt(s.bolt, bolt_length(grip)), at(z + PAD + w))
    return made.add("mount nut", hexagon_nut(s.bolt), at(-s.down - CUP - n))
