"""Cross-sections of tools and beams, as the shop file draws them, and generic ones where a shop does not know its own.

A section is drawn in mm in the plane square to the fold: y away from the operator's back
gauge (the front is +y), z upward. Where its nought lies depends on what it is:

=============  ===========================================================================
punch          the sharp tip at (0, 0), the lowest point; the nose radius is put on it
die            the middle of its top face at (0, 0); the opening is drawn in
ram            the middle of the punch's head at (0, 0), the beam above
bed            the middle of the die's foot at (0, 0), the table below
clamp          a folder's nose bar: its sharp edge at (0, 0), the bar at y <= 0 above the sheet
folder bed     what the sheet is clamped on: y <= 0, z <= 0
folder beam    the beam that swings: y >= 0, z <= 0, at rest under the leg
=============  ===========================================================================
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, Any, Final, TypeAlias

from tinbook.errors import BadValue
from tinbook.fields import POSITIVE, Choice, Flag, FromZero, Number, Pair, Positive, Several, Text, check_fields
from tinbook.plane.loops import polygon
from tinbook.plane.meeting import self_crossing
from tinbook.values import dataclass

SECTION_KINDS: Final = ("punch", "die", "ram", "bed", "clamp", "folder bed", "folder beam")
Polygon: TypeAlias = tuple[tuple[float, float], ...]
_POINT = Pair(Number("mm"), names=("item 1", "item 2"))


@dataclass(frozen=True, slots=True)
class Polyline:
    """A closed line through points, back to its first point, that nowhere crosses or touches itself."""

    valid: str = "points [[y, z], ...] of a closed line that ends at its first point and does not cross itself"

    def read(self, value: Any, field: str) -> Polygon:
        """Return the points, the repeated last one left out, anticlockwise."""
        if isinstance(value, str) or not isinstance(value, Sequence) or len(value) < 3:
            raise BadValue(field, value, self.valid)
        points = [_POINT.read(p, f"{field} point {n}") for n, p in enumerate(value, 1)]
        if points[0] != points[-1]:
            if not isinstance(value, Closed):
                first, last = points[0], points[-1]
                raise BadValue(
                    field, f"open: ends at {list(last)}, begins at {list(first)}", "a line that ends at its first point"
                )
            points.append(points[0])
        ring = [(float(y), float(z)) for y, z in points[:-1]]
        if len(ring) < 3:
            raise BadValue(field, value, self.valid)
        for n, (a, b) in enumerate(zip(ring, [*ring[1:], ring[0]], strict=True), 1):
            if math.dist(a, b) < 1e-6:
                raise BadValue(field, f"points {n} and {n % len(ring) + 1} are the same", "each point once")
        loop = polygon(ring)
        if crossed := self_crossing(loop):
            i, j = (loop.edges.index(e) + 1 for e in crossed[:2])
            raise BadValue(field, f"sides {i} and {j} cross or touch", self.valid)
        return Closed(ring if loop.area > 0 else ring[::-1])


class Closed(tuple[tuple[float, float], ...]):
    """A ring that was read already: anticlockwise, without its first point repeated."""

    __slots__ = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A cross-section.

    Parameters
    ----------
    key : str
        Name in the shop.
    kind : str
        One of `SECTION_KINDS`; it says where the drawing's nought lies.
    title : str
        Plain description.
    points : tuple of (float, float)
        Closed line, anticlockwise, mm; in a file the last point repeats the first.
    assumed : bool
        Whether it is a generic drawing and not that of the tool in the machine.
    """

    key: Annotated[str, Text()]
    kind: Annotated[str, Choice(SECTION_KINDS)]
    title: Annotated[str, Text(empty=True)] = ""
    points: Annotated[Polygon, Polyline()]
    assumed: Annotated[bool, Flag()] = False
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        where = f"section '{self.key}'"
        check_fields(self, where)
        if self.kind in ("punch", "clamp") and (0.0, 0.0) not in self.points:
            raise BadValue(f"{where} points", "no point (0, 0)", "the sharp tip of a punch or nose bar at [0, 0]")
        low = min(z for _, z in self.points)
        if self.kind == "punch" and (low < 0.0 or sum(z == 0.0 for _, z in self.points) > 1):
            raise BadValue(f"{where} points", low, "the tip at [0, 0] as the only lowest point of a punch")

    @property
    def height(self) -> float:
        """From its lowest to its highest point, mm."""
        z = [p[1] for p in self.points]
        return max(z) - min(z)


Lengths: TypeAlias = Annotated[tuple[float, ...], Several(POSITIVE, 0, 60, "lengths", ordered=True)]
"""Pieces that a tool is cut into, shortest first, each as often as there are pieces of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Punch:
    """A punch of a brake or a press.

    Parameters
    ----------
    key : str
        Name in the shop.
    machine : str
        Key of the machine that holds it.
    section : str
        Key of its section.
    nose : float
        Radius of its tip, mm.
    angle : float
        Included angle of its tip, degrees: no bend is closed further over it.
    segments : tuple of float
        Lengths of the pieces it can be put together from, mm; empty: one piece.
    length : float or None
        Length of the whole punch, mm; None takes the machine's.
    turns_round : bool
        Whether it may also be set the other way round.
    horn, foot : float
        How far both ends are cut away above a foot, and how high that foot is, mm: horn pieces pass under the ends of
        returns; 0 where it has none.
    """

    key: Annotated[str, Text()]
    machine: Annotated[str, Text()]
    section: Annotated[str, Text()]
    nose: Positive
    angle: Annotated[float, Number("deg", above=0, most=150)]
    segments: Lengths = ()
    length: Positive | None = None
    turns_round: Annotated[bool, Flag()] = True
    horn: FromZero = 0.0
    foot: FromZero = 0.0
    source: Annotated[str, Text()]

    def __post_init__(self) -> None:
        check_fields(self, f"punch '{self.key}'")
        if (self.horn > 0.0) != (self.foot > 0.0):
            valid = "both greater than 0 for horn pieces, or both left out"
            raise BadValue(f"punch '{self.key}' horn and foot", (self.horn, self.foot), valid)


GENERIC_SEGMENTS: Final = (10.0, 15.0, 20.0, 20.0, 25.0, 40.0, 50.0, 100.0, 100.0, 200.0, 300.0, 500.0)
"""Pieces that a usual set is cut into, mm (common practice)."""

GENERIC_PUNCHES: Final = ("straight", "acute", "gooseneck")


def generic_section(key: str, kind: str, title: str, points: Sequence[tuple[float, float]]) -> Section:
    """Return a usual drawing where the shop has none; assumed."""
    return Section(
        key=key,
        kind=kind,
        title=title,
        points=Closed(points if polygon(points).area > 0 else points[::-1]),
        assumed=True,
        source="common practice",
    )


def generic_punch(kind: str, angle: float) -> Section:
    """Return a usual punch whose tip has an included angle: "straight", "acute" or "gooseneck"; assumed."""
    slope = math.tan(math.radians(angle / 2))
    if kind in ("straight", "acute"):
        w = 8.0
        right = [(w, w / slope), (w, 80), (13, 85), (13, 105)]
        points = [(0, 0), *right, *((-y, z) for y, z in reversed(right))]
    elif kind == "gooseneck":
        # Relieved at the front: a return that comes back over the fold finds room up to 20 mm behind the tip.
        points = [
            *[(0, 0), (4, 4 / slope), (4, 4 / slope + 4), (-20, 42), (-20, 70), (13, 92), (13, 105)],
            *[(-13, 105), (-13, 98), (-42, 80), (-42, 50), (-6, 6 / slope)],
        ]
    else:
        raise BadValue("generic punch", kind, f"one of: {', '.join(GENERIC_PUNCHES)}")
    return generic_section(f"generic {kind} punch", "punch", f"usual {kind} punch, {angle:g} degrees", points)


def generic_die(opening: float, angle: float) -> Section:
    """Return a usual die without its opening, as high as the opening needs; assumed."""
    half = opening / 2 + 7
    depth = opening / 2 / math.tan(math.radians(angle / 2))
    low = -max(60.0, depth + 15.0)
    foot = max(30.0, half)
    left = [(-half, 0.0), (-half, low), (-foot, low - 1), (-foot, low - 40)]
    points = [(half, 0.0), *left, *((-y, z) for y, z in left[:0:-1])]
    return generic_section("generic die", "die", f"usual die for an opening of {opening:g}", points)


def generic_block(opening: float, angle: float) -> Section:
    """Return a usual V block without its opening; assumed."""
    half = opening + 5
    low = -(opening / 2 / math.tan(math.radians(angle / 2)) + 15)
    return generic_section(
        "generic V block", "die", f"usual V block of {opening:g}", [(half, 0), (-half, 0), (-half, low), (half, low)]
    )


def generic_beam(kind: str, half: float) -> Section:
    """Return a plain ram ("ram") or table ("bed") of a half width; assumed."""
    sign = 1.0 if kind == "ram" else -1.0
    points = [(half, 0), (half, sign * 300), (-half, sign * 300), (-half, 0)]
    return generic_section(f"generic {kind}", kind, f"plain {kind}, {2 * half:g} wide", points)


def generic_folder(kind: str) -> Section:
    """Return a usual nose bar ("clamp"), "folder bed" or "folder beam"; assumed."""
    drawn: dict[str, list[tuple[float, float]]] = {
        # 40 degrees at the edge: a leg can be turned to 140 before it meets the bar.
        "clamp": [(0, 0), (-40, 40 * math.tan(math.radians(40))), (-40, 110), (-90, 110), (-90, 0)],
        "folder bed": [(-3, 0), (-100, 0), (-100, -220), (-3, -220)],
        "folder beam": [(3, 0), (28, 0), (28, -20), (60, -60), (60, -90), (3, -90)],
    }
    return generic_section(f"generic {kind}", kind, f"usual {kind}", [(float(y), float(z)) for y, z in drawn[kind]])
