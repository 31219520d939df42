"""The facets of a tapered tunnel in space, and each as a leg in its own plane."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from tinbook.families.calls import require_between
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Point
from tinbook.space import Vec, cross, dot, plus, unit

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
