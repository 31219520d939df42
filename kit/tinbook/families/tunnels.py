"""A tapered tunnel: flat or rolled crown, flanges to the pans, an opening with a bolted lid."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Final, Literal

from tinbook.families.bolt_patterns import Bolting, bolted
from tinbook.families.calls import Place, Room, Size, family, helper, require_between, thickness_of, zero_or_at_least
from tinbook.fields import Range
from tinbook.finding import Finding, fine, stop
from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Point
from tinbook.rules.rule import family_rule
from tinbook.shop.material import OfSheet
from tinbook.space import Vec, cross, dot, plus, unit
from tinbook.values import dataclass

ROLLED: Final = 10.0
"""mm: a bend of a larger inside radius counts as a rolled shoulder, whose own room is looked at."""


@family
def tunnel(
    length: Annotated[float, Range(300, 1800, 5, "mm")] = 900.0,
    crown_front: Annotated[float, Range(90, 400, 1, "mm")] = 260.0,
    crown_rear: Annotated[float, Range(90, 400, 1, "mm")] = 220.0,
    height_front: Annotated[float, Range(80, 350, 1, "mm")] = 210.0,
    height_rear: Annotated[float, Range(80, 350, 1, "mm")] = 170.0,
    slope: Annotated[float, Range(50, 88, 1, "deg")] = 78.0,
    folds: Annotated[int, Range(1, 5)] = 2,
    shoulder: Annotated[float, Range(15, 90, 1, "mm")] = 45.0,
    corners: Literal["folded", "rolled"] = "folded",
    flange: Annotated[float, Range(15, 60, 1, "mm")] = 25.0,
    weld_pitch: Annotated[float, Range(25, 90, 1, "mm")] = 45.0,
    sheet: OfSheet = "DC01 1.5",
    number: str = "TUNNEL",
    rev: str = "A",
) -> Part:
    """Return a tunnel; its base panel is the crown, x across, y from front to rear.

    Parameters
    ----------
    length : float
        Along the floor.
    crown_front, crown_rear : float
        Width of the flat crown at both ends, outside.
    height_front, height_rear : float
        Top of the crown above the underside of the flanges.
    slope : float
        Of the sides from the floor; the same at both ends, so that the sides stay flat.
    folds : int
        Folds from crown to side: 1 gives three facets, 2 five; more come near a rolled shoulder.
    shoulder : float
        Outside radius that the shoulder's facets go round, or that it is rolled to.
    corners : {"folded", "rolled"}
        Shoulders in `folds` facets, or formed round a bar in one sweep.
    flange : float
        Width on the pans.
    weld_pitch : float
        Of the plug welds in the flanges.
    """
    why = "a taper of 1 in 5 at each side"
    require_between("tunnel crown_rear", crown_rear, crown_front - 0.4 * length, crown_front + 0.4 * length, why)
    require_between(
        "tunnel height_rear", height_rear, height_front - 0.2 * length, height_front + 0.2 * length, "a fall of 1 in 5"
    )
    t = thickness_of("tunnel sheet", sheet)
    rolled = corners == "rolled"
    if rolled:
        # Past its tangent lines the crown keeps 10 mm flat, and the sides what their flanges' folds need.
        most = min(min(crown_front, crown_rear) / 2 - 5, min(height_front, height_rear) - 40)
        most /= math.tan(math.radians(slope) / 2)
        require_between("tunnel shoulder", shoulder, 5 * t, most, "the crown's width and the lower height")
    count = 1 if rolled else folds
    f = facets(length, crown_front, crown_rear, height_front, height_rear, slope, count, shoulder, flange, t)
    half = f.crown / 2
    places = [(-crown_front / 2, -half), (crown_front / 2, -half), (crown_rear / 2, half), (-crown_rear / 2, half)]
    base = Outline.polygon(places, ("front", "right", "rear", "left"))
    part = Part(number, rev=rev, sheet=sheet, base=base, title="tunnel", drawn_thickness=t)
    part = folded_facets(part, f, shoulder - t if rolled else 0.0)
    edges = ("right flange.end", "left flange.end")
    return part.holes_along(edges, pitch=weld_pitch, inset=flange / 2, use="plug weld", name="plug weld")


@family
def lid_opening(part: Part, lid: Bolting, at: Annotated[float, Range(0, 3000, 1, "mm")] = 0.0) -> Part:
    """Cut a lid's opening and the holes for its nut inserts into a tunnel's crown.

    Parameters
    ----------
    part : Part
        From `tunnel`.
    lid : Bolting
        The pattern that lid and gasket have too.
    at : length
        Middle of the lid along the crown from the front; 0 for the crown's middle.

    Returns
    -------
    Part

    Raises
    ------
    BadValue
        A lid wider or longer than the crown leaves: the rim needs 15 mm of flat outside it.
    """
    front, rear = part.base.edge("front"), part.base.edge("rear")
    crown = rear.start[1] - front.start[1]
    middle = at or crown / 2
    reach = lid.length / 2 + lid.land + 15
    require_between(
        "lid_opening length", lid.length, None, crown - 2 * (lid.land + 15), "the crown's length less the rim"
    )
    require_between("lid_opening at", middle, reach, crown - reach, "so that the lid lies on the crown")
    taper = (rear.length - front.length) / crown
    t = part.drawn_thickness or thickness_of("lid_opening sheet", part.sheet)
    rolled = [f for f in part.folds if f.curl and f.panel == "base"]
    gone = sum(((f.radius or 0.0) + t) * math.tan(math.radians(f.angle) / 2) for f in rolled)
    narrow = min(front.length + taper * (middle + s * reach) for s in (-1, 1)) - gone
    require_between("lid_opening width", lid.width, None, narrow - 2 * (lid.land + 15), "the crown less the rim")
    place = (0.0, front.start[1] + middle)
    return bolted(part.cut_out(lid.frame(0.0), place, name="lid opening"), lid, place, "nut insert", "insert")


@family
def tunnel_lid(
    lid: Bolting,
    lip: Annotated[float, Range(0, 30, 1, "mm")] = 12.0,
    sheet: OfSheet = "DC01 2.0",
    number: str = "TUNNEL-LID",
    rev: str = "A",
) -> Part:
    """Return the lid of a pattern: clearance holes from the shop's table, stiffening lips along its long sides.

    Parameters
    ----------
    lid : Bolting
        The pattern that tunnel and gasket have too.
    lip : float
        Height of the lips, upward; 0 for none, else at least 12.

    Returns
    -------
    Part
        Its base panel is centred at (0, 0).
    """
    zero_or_at_least("tunnel_lid lip", lip, 12.0)  # shorter ones slip off the tools
    x, y = lid.width / 2 + lid.land, lid.length / 2 + lid.land
    out = 8.0 if lip else 0.0  # the lip stands clear of the screws' heads
    corners = [(-x - out, -y), (x + out, -y), (x + out, y), (-x - out, y)]
    base = Outline.polygon(corners, ("front", "right", "rear", "left"))
    part = Part(
        number, rev=rev, sheet=sheet, base=base if lip else base.rounded(min(10.0, lid.land)), title="tunnel lid"
    )
    part = bolted(part, lid, (0.0, 0.0), "bolt", "screw")
    return part.fold("left", "up", leg=lip).fold("right", "up", leg=lip) if lip else part


@family_rule
@helper
def drive_clearance(
    made: Made, width: Size, length: Size, height: Place, front: Place, least: Room = 15.0
) -> Iterator[Finding]:
    """Check the room between a tunnel and the drive unit in its middle.

    Parameters
    ----------
    made : Made
        From `tunnel`; the faces are measured as they stand folded.
    width, length, height : float
        Box round the unit; height above the flanges' underside, mm.
    front : float
        From the tunnel's front end to the unit's, along the floor, mm.
    least : float
        Clearance wanted for movement on its mounts, mm (common practice 15).

    Returns
    -------
    Findings
        `tunnel.clearance` for the crown, each facet and a rolled shoulder of the right half: exact distance of the box
        from its inner face.
    """
    for value, what in ((width, "width"), (length, "length"), (height, "height")):
        require_between(f"drive_clearance {what}", value, 1.0, None, "a box with a size")
    floor = made.panel("right flange").frame
    edge = made.part.base.edge("front")
    up, across = floor.z, (1.0, 0.0, 0.0)
    along = cross(up, across)
    middle: Vec = (0.0, edge.start[1], made.thickness)
    start = plus(middle, up, -dot(plus(middle, floor.origin, -1.0), up))
    corners = [plus(plus(plus(start, along, front + dy), across, width / 2), up, height) for dy in (0.0, length)]
    for panel in made.panels:
        if panel.name.endswith("flange") or panel.name.startswith("left"):
            continue
        gap = min(dot(panel.frame.z, plus(panel.frame.origin, p, -1.0)) for p in corners)
        yield _room(panel.name, gap, least)
    for strip in made.strips:
        if strip.name.startswith("right") and strip.radius > ROLLED:
            gaps = [g for p in corners if (g := _under_roll(strip, p)) is not None]
            if gaps:
                yield _room(f"rolled {strip.name}", min(gaps), least)


def _under_roll(strip: BendZone, p: Vec) -> float | None:
    """Return how far inside a rolled shoulder a point lies, None where a flat panel is nearer."""
    away = plus(p, strip.frame(0.0, 0.0, -strip.radius), -1.0)
    y, z = dot(away, strip.frame.y), dot(away, strip.frame.z)
    if not 0.0 <= math.degrees(math.atan2(y, z)) <= strip.angle:
        return None
    return strip.radius - math.hypot(y, z)


def _room(where: str, gap: float, least: float) -> Finding:
    if gap >= least:
        return fine("tunnel.clearance", where, "there is clearance to the drive unit", gap, least)
    remedy = f"{least - gap:.1f} mm more height or crown here"
    return stop("tunnel.clearance", where, "the clearance to the drive unit is too small", remedy, gap, least)


SMALLEST: Final = 12.0
"""mm: narrowest facet that a folder takes; common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facet:
    """One facet of the right half, its outer face between two lines from front to rear.

    Parameters
    ----------
    upper, lower : ((float, float, float), (float, float, float))
        Front and rear end of its mould lines, x across, y to the rear, z up, mm.
    normal : (float, float, float)
        Outward.
    """

    upper: tuple[Vec, Vec]
    lower: tuple[Vec, Vec]
    normal: Vec


@dataclass(frozen=True, slots=True, kw_only=True)
class Facets:
    """The right half of a tunnel: crown's length along its slope, facets from crown to floor, flange."""

    crown: float
    crown_normal: Vec
    sides: tuple[Facet, ...]
    flange: float


def facets(
    length: float,
    crown_front: float,
    crown_rear: float,
    height_front: float,
    height_rear: float,
    slope: float,
    folds: int,
    shoulder: float,
    flange: float,
    thickness: float,
) -> Facets:
    """Set out the outer faces of a tunnel's right half; see `tinbook.families.tunnels.tunnel` for the parameters.

    Every facet has the same slope at both ends, so it is flat. Intermediate facets are tangents of the shoulder's
    circle: each 2 R tan(turn / 2) wide.
    """
    turn = slope / folds
    wide = 2 * shoulder * math.tan(math.radians(turn) / 2) if folds > 1 else 0.0
    if folds > 1:
        least = SMALLEST / (2 * math.tan(math.radians(turn) / 2))
        require_between(
            "tunnel shoulder", shoulder, least, None, f"so that {folds - 1} facets are {SMALLEST:g} mm wide"
        )
    slopes = [math.radians(turn * (k + 1)) for k in range(folds)]
    drop = sum(wide * math.sin(a) for a in slopes[:-1])
    lowest = min(height_front, height_rear)
    require_between(
        "tunnel shoulder", shoulder, None, shoulder * max(lowest - 40, 0) / drop if drop else None, "the lower height"
    )
    at = [(crown_front / 2, 0.0, height_front), (crown_rear / 2, length, height_rear)]
    tilt = unit(cross((1.0, 0.0, 0.0), (0.0, length, height_rear - height_front)))
    sides = []
    for k, a in enumerate(slopes):
        down = (math.cos(a), 0.0, -math.sin(a))
        normal = unit(cross(plus(at[1], at[0], -1.0), (-down[0], 0.0, -down[2])))
        if k < folds - 1:
            below = [plus(p, down, wide) for p in at]
        else:
            below = [_foot(at[0], normal, y, thickness) for y in (0.0, length)]
        sides.append(Facet(upper=(at[0], at[1]), lower=(below[0], below[1]), normal=normal))
        at = below
    return Facets(
        crown=math.hypot(length, height_rear - height_front), crown_normal=tilt, sides=tuple(sides), flange=flange
    )


def folded_facets(part: Part, f: Facets, rolled: float = 0.0) -> Part:
    """Hang the facets and flanges of both sides on a crown; `rolled` forms the shoulder round a bar of that radius."""
    for hand in ("right", "left"):
        edge, before = hand, f.crown_normal
        for k, facet in enumerate(f.sides):
            name = f"{hand} side" if k == len(f.sides) - 1 else f"{hand} shoulder {k + 1}"
            shape = _outline(_plane(facet), hand)
            turn = _between(before, facet.normal)
            if rolled:
                part = part.curl(edge, "down", radius=rolled, angle=turn, shape=shape, name=name)
            else:
                part = part.fold(edge, "down", shape=shape, angle=turn, name=name)
            edge, before = f"{name}.end", facet.normal
        part = part.fold(
            edge, "up", shape=_outline(_flange(f), hand), angle=_between(before, (0.0, 0.0, 1.0)), name=f"{hand} flange"
        )
    return part


def _foot(on: Vec, normal: Vec, y: float, t: float) -> Vec:
    """Return where a side's inner face meets the floor, the flange's underside, put out onto its outer face.

    That is how mould lines lie: the flange turns the other way, so its fold has the inner face outside.
    """
    x = (dot(normal, on) - t - normal[1] * y) / normal[0]
    return plus((x, y, 0.0), normal, t)


def _plane(facet: Facet) -> list[Point]:
    """Return a facet of the right half in its own frame: from its rear upper end, x to the front, y downward."""
    front, rear = facet.upper
    along = unit(plus(front, rear, -1.0))
    out = cross(facet.normal, along)
    lower = [(dot(plus(p, rear, -1.0), along), dot(plus(p, rear, -1.0), out)) for p in facet.lower]
    return [(0.0, 0.0), (math.dist(front, rear), 0.0), *lower]


def _flange(f: Facets) -> list[Point]:
    """Return the right flange in its own frame, its ends square to the tunnel."""
    front, rear = f.sides[-1].lower
    long = math.dist(front, rear)
    lean = f.flange * (rear[0] - front[0]) / (rear[1] - front[1])
    return [(0.0, 0.0), (long, 0.0), (long - lean, f.flange), (-lean, f.flange)]


def _outline(points: list[Point], hand: str) -> Outline:
    if hand == "right":
        return Outline.polygon(points, ("base", "front", "end", "rear"))
    long = points[1][0]
    turned = [(long - points[k][0], points[k][1]) for k in (1, 0, 3, 2)]
    return Outline.polygon(turned, ("base", "rear", "end", "front"))


def _between(a: Vec, b: Vec) -> float:
    return math.degrees(math.atan2(math.hypot(*cross(a, b)), dot(a, b)))
