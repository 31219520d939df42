"""What has to be held, swung and lifted while a fold is made: masses and arcs of both sides, sag of a free end."""

from __future__ import annotations

import math
from typing import Final

import shapely

from tinbook.calc.beams import beam_deflection
from tinbook.making.articulated import ArticulatedPart, Levels
from tinbook.making.made import Made
from tinbook.plane.loops import Loop, Move
from tinbook.values import dataclass

G: Final = 9.80665
"""m/s²."""
ALIKE: Final = 0.01
"""Share by which one side must be smaller than the other to count as the smaller one."""


@dataclass(frozen=True, slots=True)
class FlatSide:
    """One side of a fold, taken flat.

    Parameters
    ----------
    mass : float
        kg, the strip of the fold itself left out.
    area : float
        mm².
    centre, depth : float
        From the fold's middle line to the centre of gravity and to the farthest point, mm.
    """

    mass: float
    area: float
    centre: float
    depth: float


def sides(blank: ArticulatedPart, fold: int) -> tuple[FlatSide, FlatSide]:
    """Return the parent's and the child's side of a fold."""
    return _side(blank, fold, child=False), _side(blank, fold, child=True)


def _side(blank: ArticulatedPart, fold: int, *, child: bool) -> FlatSide:
    folded, strip = blank.folded, blank.strips[fold]
    names = blank.side(fold, child)
    metal = [
        _metal(p.boundary, [h.loop for h in p.holes], p.flat)
        for p in folded.panels
        if blank.rigid_with[p.name] in names
    ]
    metal += [
        _metal(region, [h.loop for h in s.holes] if n == 0 else [], s.flat)
        for s in folded.zones
        if s.name != strip.name and {blank.rigid_with[s.parent], blank.rigid_with[s.child]} <= names.keys()
        for n, region in enumerate(s.regions)
    ]
    area = math.fsum(m.area for m in metal)
    x, y = (math.fsum(m.area * c for m, c in zip(metal, at, strict=True)) / area for at in _centres(metal))
    points = shapely.get_coordinates(metal)
    (ox, oy), (tx, ty) = strip.flat((0.0, strip.allowance / 2)), strip.flat((0.0, strip.allowance / 2 + 1.0))
    nx, ny = (tx - ox, ty - oy) if child else (ox - tx, oy - ty)
    depth = float(((points[:, 0] - ox) * nx + (points[:, 1] - oy) * ny).max())
    return FlatSide(area * folded.thickness * folded.density * 1e-9, area, (x - ox) * nx + (y - oy) * ny, depth)


def _metal(outer: Loop, holes: list[Loop], flat: Move) -> shapely.Polygon:
    shape = shapely.Polygon(outer.moved(flat).chords())
    return (
        shape
        if not holes
        else shape.difference(shapely.union_all([shapely.Polygon(h.moved(flat).chords()) for h in holes]))
    )


def _centres(metal: list[shapely.Polygon]) -> tuple[list[float], list[float]]:
    middle = [m.centroid for m in metal]
    return [c.x for c in middle], [c.y for c in middle]


def swing(side: FlatSide, turn_rad: float, unit: float) -> int:
    """Return mass times arc of the centre of a side that swings, in whole units of `unit` kg m."""
    return int(side.mass * side.centre * 1e-3 * turn_rad / unit + 1e-9)


def sag(made: Made, depth: float, table: float) -> float:
    """Return how far the end of a flat sheet hangs down that reaches `depth` from the fold, carried for `table`, mm.

    A strip of the sheet as a cantilever under its own weight: more than it is where the bending is large, or where the
    sheet is wide and dished. Source: `Roark` table 8.1.
    """
    free, t, metal = depth - table, made.thickness, made.sheet.material
    if free <= 0.0:
        return 0.0
    weight = metal.density * 1e-9 * G * t  # N/mm for each mm of width
    return beam_deflection(free, metal.youngs * t**3 / 12.0, "cantilever", load=weight)


def stiffened(blank: ArticulatedPart, fold: int, levels: Levels, axes: tuple[float, ...], *, child: bool) -> bool:
    """Whether a fold that is formed on a side, and does not run along this one, keeps the side from sagging."""
    names = blank.side(fold, child)
    return any(
        level and n != fold and s.parent in names and s.child in names and _across(axes[n], axes[fold])
        for n, (level, s) in enumerate(zip(levels, blank.strips, strict=True))
    )


def _across(a: float, b: float) -> bool:
    apart = abs(a - b) % 180.0
    return min(apart, 180.0 - apart) > 30.0
