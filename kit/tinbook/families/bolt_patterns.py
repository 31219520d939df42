"""One source for the holes of everything that is bolted round an opening: tunnel, lid and gasket read the same pattern."""

from __future__ import annotations

import math
from typing import Annotated

from tinbook.families.calls import family, helper, require_between
from tinbook.fields import Range
from tinbook.part.assembly import Assembly
from tinbook.part.fasteners import (
    bolt_length,
    hexagon_bolt,
    hexagon_nut,
    nut_height,
    nut_insert,
    plain_washer,
    washer_thickness,
)
from tinbook.part.features import HoleUse
from tinbook.part.part import Part
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.shop.fixings import Fixings
from tinbook.space import Frame, frame_at
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolting:
    """Screws round a rectangular opening with rounded corners, centred at (0, 0).

    Parameters
    ----------
    width, length : float
        Opening along x and y, mm.
    land : float
        Width of the rim that gasket and lid share, mm; the screws run in its middle.
    radius : float
        Of the opening's corners, mm.
    size : str
        Thread.
    points : tuple of (float, float)
        Centres of the screws, anticlockwise from the lower left corner.
    """

    width: float
    length: float
    land: float
    radius: float
    size: str
    points: tuple[Point, ...]

    @property
    def pitch(self) -> float:
        """Largest distance between neighbours, mm."""
        return max(math.dist(p, q) for p, q in zip(self.points, (*self.points[1:], self.points[0]), strict=True))

    @property
    def seat(self) -> float:
        """Length of the line of screws, mm."""
        return math.fsum(math.dist(p, q) for p, q in zip(self.points, (*self.points[1:], self.points[0]), strict=True))

    def frame(self, out: float) -> Loop:
        """Return the opening's contour moved outward by `out`, its corners concentric."""
        return rounded_box(self.width + 2 * out, self.length + 2 * out, max(self.radius + out, 0.0))


@family
def bolting(
    width: Annotated[float, Range(60, 600, 1, "mm")] = 140.0,
    length: Annotated[float, Range(60, 1500, 1, "mm")] = 300.0,
    land: Annotated[float, Range(24, 60, 1, "mm")] = 30.0,
    pitch: Annotated[float, Range(30, 200, 1, "mm")] = 75.0,
    radius: Annotated[float, Range(3, 80, 1, "mm")] = 15.0,
    size: str = "M5",
) -> Bolting:
    """Lay screws evenly round an opening, one at each corner.

    Parameters
    ----------
    width, length : float
        Opening along x and y.
    land : float
        Rim round it; twice the insert's edge distance or more.
    pitch : float
        At most so far apart.
    radius : float
        Of the opening's corners.
    size : str
        Thread of the shop's tables.

    Returns
    -------
    Bolting
    """
    require_between(
        "bolting radius", radius, None, min(width, length) / 2 - 1, "half the shorter side of the opening less 1 mm"
    )
    x, y, r = (width + land) / 2, (length + land) / 2, radius + land / 2
    back = r * (1 - math.sqrt(0.5))  # a corner's screw lies in the middle of its arc
    across, along = math.ceil(2 * (x - back) / pitch), math.ceil(2 * (y - back) / pitch)
    ring = [(_even(x - back, i, across), -_rim(_even(x - back, i, across), x, y, r)) for i in range(across)]
    ring += [(_rim(_even(y - back, i, along), y, x, r), _even(y - back, i, along)) for i in range(along)]
    points = [*ring, *((-px, -py) for px, py in ring)]
    return Bolting(width=width, length=length, land=land, radius=radius, size=size, points=tuple(points))


def _even(half: float, i: int, count: int) -> float:
    return -half + 2 * half * i / count


def _rim(along: float, half: float, side: float, r: float) -> float:
    """Return how far out the line of screws runs at a place along a side: straight, then round the corner."""
    beyond = max(abs(along) - (half - r), 0.0)
    return side - r + math.sqrt(r * r - beyond * beyond)


def bolted(part: Part, holes: Bolting, at: Point, use: HoleUse, name: str, dia: float | None = None) -> Part:
    """Drill a pattern into a part's base panel, its centre at `at`; the shop's tables give the diameter."""
    for i, (x, y) in enumerate(holes.points):
        part = part.hole((at[0] + x, at[1] + y), dia, use=use, size=holes.size, name=f"{name} {i + 1}")
    return part


@helper
def screwed(
    made: Assembly,
    holes: Bolting,
    at: Frame,
    *,
    seat: float,
    lid: float,
    gap: float = 0.0,
    name: str = "screw",
    fixings: Fixings | None = None,
) -> Assembly:
    """Put a nut insert, a washer and a screw into every hole of a pattern.

    Parameters
    ----------
    made : Assembly
        Where they are added.
    holes : Bolting
        The pattern that seat and lid have too.
    at : Frame
        Its middle on the seat's face, z toward the lid.
    seat, lid, gap : float
        Thickness of the sheet with the inserts, of what is screwed on, and of a squeezed gasket between them, mm.
    name : str
        What the screws are called.
    fixings : Fixings, optional
        The shop's tables, else the kit's.

    Returns
    -------
    Assembly
        With three bought items more for each hole.
    """
    insert = nut_insert(holes.size, seat, flush=True, fixings=fixings)
    washer, w = plain_washer(holes.size, fixings=fixings), washer_thickness(holes.size, fixings=fixings)
    grip = gap + lid + w
    dia = float(holes.size[1:])
    screw = hexagon_bolt(holes.size, bolt_length(grip + seat + dia), fixings=fixings)
    for i, (x, y) in enumerate(holes.points, 1):
        made = made.add(f"{name} {i} insert", insert, at @ frame_at((x, y, 0.0)))
        made = made.add(f"{name} {i} washer", washer, at @ frame_at((x, y, gap + lid)))
        made = made.add(f"{name} {i}", screw, at @ frame_at((x, y, grip)))
    return made


def bolt_through(made: Assembly, what: str, i: int, at: Frame, grip: float, beyond: str) -> Assembly:
    """Add an M12 bolt down through `grip` mm from a place, washers on both sides and its nut: "rail bolt 1" and so on.

    Parameters
    ----------
    made : Assembly
        Where they are added.
    what, beyond : str
        What the bolt holds, and how the washer at its nut's side is told from the other.
    i : int
        Number of the bolt.
    at : Frame
        On the face under its head, z toward the head.
    grip : float
        Of all that it goes through, mm.
    """
    washer, w, n = plain_washer("M12"), washer_thickness("M12"), nut_height("M12")
    bolt = hexagon_bolt("M12", bolt_length(2 * w + grip + n + 3.5))
    low = -grip - w
    made = made.add(f"{what} washer {i}", washer, at).add(f"{what} bolt {i}", bolt, at @ frame_at((0.0, 0.0, w)))
    made = made.add(f"{what} washer {i} {beyond}", washer, at @ frame_at((0.0, 0.0, low)))
    return made.add(f"{what} nut {i}", hexagon_nut("M12"), at @ frame_at((0.0, 0.0, low - n)))


def rounded_box(width: float, length: float, radius: float) -> Loop:
    """Return a rectangle centred at (0, 0) with rounded corners, mm, anticlockwise."""
    x, y, r = width / 2, length / 2, radius
    if r <= 0:
        corners = [(-x, -y), (x, -y), (x, y), (-x, y)]
        return Loop(tuple(Edge(p, q) for p, q in zip(corners, [*corners[1:], corners[0]], strict=True)))
    quarter = math.tan(math.pi / 8)
    a, b, c, d = (-x + r, -y), (x - r, -y), (x, -y + r), (x, y - r)
    e, f, g, h = (x - r, y), (-x + r, y), (-x, y - r), (-x, -y + r)
    edges = [(a, b, 0.0), (b, c, quarter), (c, d, 0.0), (d, e, quarter)]
    edges += [(e, f, 0.0), (f, g, quarter), (g, h, 0.0), (h, a, quarter)]
    return Loop(tuple(Edge(p, q, s) for p, q, s in edges if math.dist(p, q) > 1e-9))
