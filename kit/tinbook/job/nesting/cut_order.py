"""The order of the cuts on one plate, and where each begins.

Inside before outside, so that nothing is cut free before what lies in it; then near before far, and small before large
where two are as near. The cutter's controller may order anew.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely.geometry import Polygon

from tinbook.job.nesting.layout import Joint, Nest, PlateLayout, ranged
from tinbook.plane.loops import Edge, Loop, Move, Point
from tinbook.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Contour:
    """One contour to cut.

    Parameters
    ----------
    number : int
        Place in the order of cuts, from 1.
    blank, copy : str, int
        Whose contour.
    hole : bool
        Whether it is an inner one.
    loop : Loop
        The contour on the plate at finished size, mm.
    pierce : Point
        Where the cutter starts: in the waste, outside of an outer contour and within a hole.
    entry : Point
        Where the cut meets the contour.
    joints : tuple of Joint
        Micro-joints that are not cut.
    """

    number: int
    blank: str
    copy: int
    hole: bool
    loop: Loop
    pierce: Point
    entry: Point
    joints: tuple[Joint, ...] = ()

    @property
    def starts(self) -> int:
        """How often the cutter pierces for it: once for each piece between joints."""
        return max(1, len(self.joints))

    @property
    def length(self) -> float:
        """Length that is cut, mm."""
        return self.loop.length - math.fsum(j.width for j in self.joints)


def cut_order(nest: Nest, layout: PlateLayout, lead: float) -> tuple[Contour, ...]:
    """Return the contours of a plate in the order in which they are cut.

    Parameters
    ----------
    nest : Nest
        The layout's nest.
    layout : PlateLayout
        One of its plates.
    lead : float
        Distance from the contour at which the cutter pierces, mm, 0 to 100; shorter where the gap is too narrow for
        it, 0 where a hole has no room.

    Returns
    -------
    tuple of Contour
    """
    lead = ranged("lead", lead, 0.0, 100.0, "mm")
    by_name = {b.name: b for b in nest.blanks}
    outers = [Polygon(shape.exterior) for shape in nest.shapes(layout)]
    inside = _within(nest.shapes(layout))
    tree = shapely.STRtree([shape.boundary for shape in nest.shapes(layout)])
    left = set(range(len(outers)))
    at: Point = (layout.plate.outline.box[0], layout.plate.outline.box[1])
    out: list[Contour] = []
    while left:
        free = [n for n in left if not (inside[n] & left)]
        n = min(free, key=lambda k: (round(_distance(at, outers[k])), round(outers[k].area), k))
        left.remove(n)
        placement = layout.placements[n]
        blank = by_name[placement.blank]
        a, b, c, d, x, y = placement.matrix()
        move = Move(a, b, c, d, x, y)
        holes = [hole.moved(move).anticlockwise() for hole in blank.holes]
        while holes:
            hole = min(holes, key=lambda h: (math.dist(at, _centre(h)), abs(h.area)))
            holes.remove(hole)
            at, pierce = _start(hole, at, lead, True, tree)
            out.append(
                Contour(
                    number=len(out) + 1,
                    blank=blank.name,
                    copy=placement.copy,
                    hole=True,
                    loop=hole,
                    pierce=pierce,
                    entry=at,
                )
            )
        outer = blank.outer.moved(move).anticlockwise()
        at, pierce = _start(outer, at, lead, False, tree)
        out.append(
            Contour(
                number=len(out) + 1,
                blank=blank.name,
                copy=placement.copy,
                hole=False,
                loop=outer,
                pierce=pierce,
                entry=at,
                joints=tuple(replace(j, at=move(j.at)) for j in blank.joints),
            )
        )
    return tuple(out)


def _within(shapes: Sequence[Polygon]) -> list[set[int]]:
    """Return for each shape which others lie in its holes."""
    tree = shapely.STRtree(shapes)
    out: list[set[int]] = []
    for n, shape in enumerate(shapes):
        filled = Polygon(shape.exterior)
        out.append({int(k) for k in tree.query(filled, "contains_properly") if k != n} if shape.interiors else set())
    return out


def _distance(at: Point, shape: Polygon) -> float:
    return float(shapely.Point(at).distance(shape.exterior))


def _centre(loop: Loop) -> Point:
    x0, y0, x1, y1 = loop.box
    return (x0 + x1) / 2, (y0 + y1) / 2


def _start(loop: Loop, at: Point, lead: float, hole: bool, tree: shapely.STRtree) -> tuple[Point, Point]:
    """Return where a cut meets its contour, near where the cutter comes from, and where it pierces."""
    edges: list[Edge] = sorted(loop, key=lambda e: math.dist(at, e.at(0.5)))
    best: tuple[float, Point, Point] | None = None
    for edge in edges[:12]:
        entry = edge.at(0.5)
        dx, dy = edge.direction(0.5)
        side = 1.0 if hole else -1.0  # of an anticlockwise contour the metal of the blank lies left
        normal = (-dy * side, dx * side)
        reach = lead
        while reach > 0.05:
            pierce = (entry[0] + normal[0] * reach, entry[1] + normal[1] * reach)
            _, apart = tree.query_nearest(shapely.Point(pierce), return_distance=True)
            if float(apart[0]) >= 0.8 * reach:  # nothing is nearer than the contour itself
                break
            reach /= 2
        else:
            reach, pierce = 0.0, entry
        if best is None or reach > best[0] + 1e-9:
            best = (reach, entry, pierce)
        if reach == lead:
            break
    assert best is not None
    return best[1], best[2]
