"""Kits of blanks for nesting, drawn from a seed, and the density that a layout of them has.

A kit holds the shapes of a body shop: pans with cut corners, brackets, discs, rings, angles, channels, curved arms and
straps. They are drawn without knowledge of how they are nested, and written before the search was.

Density is the area within the outer outlines over the area of the sheets used; of the last sheet only the length that
the layout reaches counts. A part in the hole of another counts like any other, so the figure can pass 1 in theory.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence

from shapely.affinity import rotate
from shapely.geometry import Point, Polygon, box

from tinbook.job.nesting.layout import Blank
from tinbook.plane.loops import Edge, Loop

SHEETS = ((2400.0, 1200.0), (3000.0, 1500.0))
GAP = 6.0  # mm between parts, common practice at a plasma on thin sheet
MARGIN = 10.0  # mm to the edges of the sheet, likewise
COUNT = 40


def _pan(r: random.Random) -> Polygon:
    """Return a floor or side panel: a trapezoid with cut corners."""
    w, h, lean, cut = r.uniform(420, 950), r.uniform(260, 600), r.uniform(0, 120), r.uniform(15, 60)
    whole = Polygon([(0, 0), (w, 0), (w - lean, h), (r.uniform(0, 40), h)])
    for x, y in list(whole.exterior.coords)[:-1]:
        if r.random() < 0.6:
            whole = whole.difference(rotate(box(x - cut, y - cut, x + cut, y + cut), 0))
    return max(getattr(whole, "geoms", [whole]), key=lambda p: p.area)


def _bracket(r: random.Random) -> Polygon:
    """Return a gusset: a triangle with its corners cut off."""
    w, h = r.uniform(70, 260), r.uniform(70, 260)
    return Polygon([(0, 0), (w, 0), (w, 18), (22, h), (0, h)])


def _disc(r: random.Random) -> Polygon:
    return Point(0, 0).buffer(r.uniform(35, 150), quad_segs=24)


def _ring(r: random.Random) -> Polygon:
    outside = r.uniform(110, 270)
    return (
        Point(0, 0)
        .buffer(outside, quad_segs=32)
        .difference(Point(0, 0).buffer(outside * r.uniform(0.55, 0.82), quad_segs=32))
    )


def _angle(r: random.Random) -> Polygon:
    """Return an L."""
    a, b, t, s = r.uniform(180, 620), r.uniform(140, 460), r.uniform(40, 110), r.uniform(40, 110)
    return Polygon([(0, 0), (a, 0), (a, t), (s, t), (s, b), (0, b)])


def _channel(r: random.Random) -> Polygon:
    """Return a U."""
    a, b, t = r.uniform(220, 560), r.uniform(160, 380), r.uniform(40, 90)
    return box(0, 0, a, b).difference(box(t, t, a - r.uniform(40, 90), b + 1))


def _arm(r: random.Random) -> Polygon:
    """Return a C: part of a broad ring."""
    outside, turn = r.uniform(120, 300), r.uniform(120, 250)
    inside = outside * r.uniform(0.5, 0.75)
    angles = [math.radians(turn * k / 40) for k in range(41)]
    return Polygon(
        [(outside * math.cos(a), outside * math.sin(a)) for a in angles]
        + [(inside * math.cos(a), inside * math.sin(a)) for a in reversed(angles)]
    )


def _strap(r: random.Random) -> Polygon:
    return box(0, 0, r.uniform(500, 1400), r.uniform(30, 60))


SHAPES = (_pan, _bracket, _disc, _ring, _angle, _channel, _arm, _strap)
SHARES = (6, 8, 4, 4, 5, 5, 4, 4)  # of 40


def kit(seed: int, count: int = COUNT) -> list[Polygon]:
    """Return `count` blanks in mm, the same for the same seed."""
    r = random.Random(seed)
    kinds = [shape for shape, share in zip(SHAPES, SHARES, strict=True) for _ in range(share)]
    return [kinds[k % len(kinds)](r) for k in range(count)]


def density(outers: Sequence[Polygon], sheets: Sequence[tuple[float, float]], last_length: float) -> float:
    """Return the area within the outer outlines over that of the sheets, the last one up to `last_length` mm."""
    used = math.fsum(w * h for w, h in sheets[:-1]) + last_length * sheets[-1][1]
    return math.fsum(Polygon(p.exterior).area for p in outers) / used


def loop(ring: Sequence[tuple[float, float]]) -> Loop:
    """Return corners as a contour."""
    points = [(float(x), float(y)) for x, y in ring]
    return Loop(tuple(Edge(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True))).anticlockwise()


def blank(name: str, shape: Polygon, **more: object) -> Blank:
    """Return a polygon as a blank."""
    holes = tuple(loop(list(r.coords)[:-1]) for r in shape.interiors)
    return Blank(name=name, outer=loop(list(shape.exterior.coords)[:-1]), holes=holes, **more)
