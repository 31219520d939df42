"""Bends that tear from the metal beside them, without a relief: found in the solid, named in the flat."""

from __future__ import annotations

import math
from collections.abc import Sequence

from tinbook.finding import Finding, caution
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.read.step.faces import Coedge
from tinbook.read.step.skins import LinkKind, Skins
from tinbook.space import dot

SQUARE = 0.02
"""Cosine: how square a torn end face stands on the skin beside it."""

TOUCH = 5e-3
"""mm: edges of the flat that lie closer than this are the two sides of a slit."""


def slits(skin: Skins, kinds: dict[Coedge, tuple[LinkKind, int | None]]) -> None:
    """Make those "formed" links "slit" where the skin meets the cut edge of its own neighbour.

    A bend that tears from the metal beside it leaves its end face standing on that metal.
    Such a face is the wall of a cut elsewhere on the same skin, flat, and square to the skin here.
    """
    walls: dict[int, set[int]] = {}
    for c, (kind, other) in kinds.items():
        if kind == "wall" and other is not None and skin.body.faces[other].kind == "plane":
            walls.setdefault(other, set()).add(c.face)
    for c, (kind, other) in list(kinds.items()):
        if kind != "formed" or other is None or not walls.get(other, set()) - {c.face}:
            continue
        if abs(dot(*skin.body.normals(c, other))) < SQUARE:
            kinds[c] = ("slit", other)


def torn(edges: Sequence[Edge], loops: Sequence[Loop], thickness: float) -> list[Finding]:
    """Name each slit of the flat, and offer a relief.

    Parameters
    ----------
    edges : sequence of Edge
        Where the solid shows that the skin tears, in the flat.
    loops : sequence of Loop
        The flat's outline and openings, in which both sides of a slit coincide.
    thickness : float
        mm.
    """
    made: dict[tuple[float, ...], Finding] = {}
    for e in edges:
        if e.is_line and e.length > TOUCH:
            a, b = _doubled(e, loops)
            ends = sorted((round(p[0], 2) + 0.0, round(p[1], 2) + 0.0) for p in (a, b))
            made.setdefault((*ends[0], *ends[1]), _said(a, b, thickness))
    return list(made.values())


def _said(a: Point, b: Point, t: float) -> Finding:
    where = f"slit from ({a[0]:.2f}, {a[1]:.2f}) to ({b[0]:.2f}, {b[1]:.2f}) in the flat"
    what = f"a fold ends beside metal that stays, without a relief: drawn as a slit without width, {math.dist(a, b):.2f} mm long, where the sheet tears as it folds"
    remedy = f"cut a relief along it, {max(t, 1.0):g} mm wide, {t / 2:g} mm past the end of the slit"
    return caution("unfold.slit", where, what, remedy)


def _doubled(e: Edge, loops: Sequence[Loop]) -> tuple[Point, Point]:
    """Return the stretch about an edge along which the outline runs both ways; the edge itself if there is none."""
    ux, uy = e.direction()

    def along(p: Point) -> float:
        return (p[0] - e.start[0]) * ux + (p[1] - e.start[1]) * uy

    def off(p: Point) -> float:
        return abs((p[1] - e.start[1]) * ux - (p[0] - e.start[0]) * uy)

    there: list[tuple[float, float]] = []
    back: list[tuple[float, float]] = []
    for f in (f for loop in loops for f in loop.edges):
        if f.is_line and off(f.start) < TOUCH and off(f.end) < TOUCH:
            s, t = along(f.start), along(f.end)
            (there if t > s else back).append((min(s, t), max(s, t)))
    both = [(max(a, c), min(b, d)) for a, b in there for c, d in back if min(b, d) - max(a, c) > TOUCH]
    near = [(a, b) for a, b in both if a < e.length + TOUCH and b > -TOUCH]
    if not near:
        return e.start, e.end
    low, high = min(a for a, _ in near), max(b for _, b in near)
    x, y = e.start
    return (x + low * ux, y + low * uy), (x + high * ux, y + high * uy)
