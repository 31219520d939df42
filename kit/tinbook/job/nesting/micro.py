"""Micro-joints: where a blank stays tied to its sheet, so that it neither tips nor falls while the rest is cut."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as Place
from shapely.ops import split

from tinbook.flatpattern import FlatPattern
from tinbook.job.nesting.layout import Joint, polygon
from tinbook.making.made import Made
from tinbook.part.names import EVERY_EDGE
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.shop.cutting import JointRule

HEM: Final = 150.0
"""degrees: a fold turned further is a hem, on whose metal no joint stands."""
CLEAR: Final = 5.0
"""mm: from a fold's tangent lines and from corners (own proposal: a stub there opens the bend or tears)."""
SEALED: Final = 20.0
"""mm: from a plug weld, beside which the lap is sealed (own proposal)."""
_STEP: Final = 4.0
"""mm between two places that are tried."""


def micro_joints(thing: Made | FlatPattern, flat: FlatPattern, rule: JointRule) -> tuple[Joint, ...]:
    """Return where a blank is tied to its sheet: evenly round its outer contour, where that is allowed.

    Parameters
    ----------
    thing : Made or FlatPattern
        The part, whose edges to keep clean are known, or a flat.
    flat : FlatPattern
        Its blank.
    rule : JointRule
        Of the cutter for this thickness.

    Returns
    -------
    tuple of Joint
        Never on a fold line, on a hem, beside a plug weld whose lap is sealed, or on an edge that is kept clean; fewer than
        the rule says, or none, where no more places are left.
    """
    clean = thing.part.clean if isinstance(thing, Made) else ()
    if EVERY_EDGE in clean:
        return ()
    barred = _barred(flat)
    names = {f"{panel}|{edge}" for panel, edge in clean}
    length = flat.outer.length
    count = rule.count(length)
    free: list[tuple[float, Point]] = []
    along = 0.0
    for e in flat.outer:
        ends = CLEAR if not flat.outer.is_circle else 0.0
        steps = int((e.length - 2 * ends) / _STEP)
        for k in range(steps + 1) if steps >= 0 and e.name not in names else ():
            s = (ends + (e.length - 2 * ends) * (k + 0.5) / (steps + 1)) / e.length
            if not barred.intersects(Place(e.at(s))):
                free.append((along + s * e.length, e.at(s)))
        along += e.length
    chosen: list[tuple[float, Point]] = []
    for k in range(count):
        wanted = (k + 0.5) * length / count
        near = [f for f in free if all(_apart(f[0], c[0], length) >= 0.4 * length / count for c in chosen)]
        if near:
            chosen.append(min(near, key=lambda f: (_apart(f[0], wanted, length), f[0])))
    return tuple(Joint(at=at, width=rule.width) for _, at in sorted(chosen))


def _apart(a: float, b: float, length: float) -> float:
    return min(abs(a - b), length - abs(a - b))


def _barred(flat: FlatPattern) -> shapely.Geometry:
    """Return where no joint may stand."""
    whole = polygon(flat.outer)
    out: list[shapely.Geometry] = [polygon(c.loop).buffer(SEALED) for c in flat.cuts if c.use == "plug weld"]
    for fold in flat.folds:
        for a, b in fold.pieces:
            line = LineString([a, b])
            out.append(line.buffer(fold.allowance / 2 + CLEAR))
            if fold.angle >= HEM:
                out.append(_hem(whole, line))
    return shapely.union_all(out)


def _hem(whole: Polygon, line: LineString) -> shapely.Geometry:
    """Return the metal beyond a hem's fold line, the smaller side; all of the blank where the line does not part it."""
    (x0, y0), (x1, y1) = line.coords
    k = 0.5 / line.length
    longer = LineString([(x0 - k * (x1 - x0), y0 - k * (y1 - y0)), (x1 + k * (x1 - x0), y1 + k * (y1 - y0))])
    sides = shapely.get_parts(split(whole, longer))
    return min(sides, key=lambda p: p.area).buffer(0.01) if len(sides) > 1 else whole.buffer(0.01)


def interrupted(loop: Loop, joints: Sequence[Joint]) -> tuple[tuple[Edge, ...], ...]:
    """Return the pieces of a contour that are cut between its joints, as chains of lines and arcs; [] joints give one chain."""
    if not joints:
        return (tuple(loop),)
    starts, total = [], 0.0
    for e in loop:
        starts.append(total)
        total += e.length
    gaps = sorted((_along(loop, starts, j.at), j.width) for j in joints)
    chains = []
    for n, (at, width) in enumerate(gaps):
        after, wide = gaps[(n + 1) % len(gaps)]
        end = after - wide / 2 + (total if n == len(gaps) - 1 else 0.0)
        chains.append(_between(loop, starts, total, at + width / 2, end))
    return tuple(chains)


def _along(loop: Loop, starts: Sequence[float], at: Point) -> float:
    """Return how far along a contour a point of it lies, mm."""
    best = (math.inf, 0.0)
    for e, start in zip(loop, starts, strict=True):
        s = _fraction(e, at)
        best = min(best, (math.dist(e.at(s), at), start + s * e.length))
    return best[1]


def _fraction(e: Edge, at: Point) -> float:
    """Return the fraction of an edge that is nearest to a point."""
    if e.is_line:
        (x0, y0), (x1, y1) = e.start, e.end
        dx, dy = x1 - x0, y1 - y0
        return min(1.0, max(0.0, ((at[0] - x0) * dx + (at[1] - y0) * dy) / (dx * dx + dy * dy)))
    cx, cy = e.centre
    turn = math.atan2(at[1] - cy, at[0] - cx) - math.atan2(e.start[1] - cy, e.start[0] - cx)
    turn = math.remainder(turn - e.sweep / 2, 2 * math.pi) + e.sweep / 2
    return min(1.0, max(0.0, turn / e.sweep))


def _between(loop: Loop, starts: Sequence[float], total: float, a: float, b: float) -> tuple[Edge, ...]:
    """Return the edges of a contour from `a` to `b` mm along it, round its beginning if need be."""
    out = []
    for lap in (0.0, total):
        for e, start in zip(loop, starts, strict=True):
            s0 = max(0.0, (a - lap - start) / e.length)
            s1 = min(1.0, (b - lap - start) / e.length)
            if s1 - s0 > 1e-9:
                out.append(e.part(s0, s1))
    return tuple(out)
