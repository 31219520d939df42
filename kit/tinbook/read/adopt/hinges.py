"""Which panels each bend of a foreign solid joins, and along which stretch of their edges."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

from tinbook.errors import CannotMake
from tinbook.flatpattern import FoldLine
from tinbook.part.features import MOST_CURLED
from tinbook.plane.cuts import clip
from tinbook.plane.loops import Edge, Loop
from tinbook.read.adopt.pieces import NEAR, SLIT, Band, Pieces, reach, rejoined, straightened
from tinbook.read.curves import against
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.read.step.unfold import Unfolded

LEAST = 0.05
"""mm: two edges that meet over less than this only touch."""


@dataclass(frozen=True, slots=True)
class Hinge:
    """A bend with the panel edges on its two sides, in flat coordinates.

    Parameters
    ----------
    name : str
        Of the fold that a part will have for it.
    line : FoldLine
        Angle, inside radius, direction, allowance.
    sides : ((str, Edge), (str, Edge))
        Panel, and the stretch of its outline along which it bends.
    strip : Loop
        Its own metal, anticlockwise; the edges on the tangent lines bear the names of their panels.
    """

    name: str
    line: FoldLine
    sides: tuple[tuple[str, Edge], tuple[str, Edge]]
    strip: Loop

    def edge(self, panel: str) -> Edge:
        """Return the edge of a panel along which it bends."""
        return next(e for n, e in self.sides if n == panel)

    def other(self, panel: str) -> str:
        """Return the panel on the other side."""
        return next(n for n, _ in self.sides if n != panel)

    def joins(self, panel: str) -> bool:
        """Whether it bends a panel."""
        return any(n == panel for n, _ in self.sides)


@dataclass(frozen=True, slots=True)
class _Contact:
    low: float
    high: float
    panel: str
    edge: Edge


def hinges_of(found: Unfolded, pieces: Pieces) -> list[Hinge]:
    """Return the bends as hinges between panels.

    Raises
    ------
    CannotMake
        A curl beyond what a part can say, a rolled edge without a leg, a bend within an opening.
    """
    hinges: list[Hinge] = []
    for fold, loops in pieces.strips.items():
        band = pieces.bands[fold]
        if band.line.angle > MOST_CURLED:
            raise CannotMake(f"{found.name}: {fold} curls beyond {MOST_CURLED:g} degrees; cut the flat as it is")
        parted = [p for loop in loops for p in _parted(straightened(loop), band, pieces)]
        parted = [p for p in parted if not _left_flat(p, band, pieces, found)]
        for k, loop in enumerate(parted):
            name = fold if len(parted) == 1 else f"{fold} {k + 1}"
            hinges.append(_hinge(name, loop, band, pieces, found.name))
    return hinges


def _left_flat(rim: Loop, band: Band, pieces: Pieces, found: Unfolded) -> bool:
    """Add a bend without a leg to its panel if it rises by less than the sheet is thick: what a cut left of a bend."""
    touching = tangents(rim, band, pieces)
    panels = {c.panel for side in touching.values() for c in side}
    rise = (band.line.radius + found.thickness / 2) * (1 - math.cos(math.radians(min(band.line.angle, 180.0))))
    if len(panels) != 1 or all(touching.values()) or rise > found.thickness:
        return False
    (panel,) = panels
    joined = rejoined([*pieces.panels[panel].edges, *rim.edges], found.name)
    if len(joined) != 1:
        return False
    pieces.panels[panel] = joined[0]
    edge = next(c.edge for side in touching.values() for c in side)
    words = f"{band.line.name}: {band.line.angle:.3g} degrees without a leg, {rise:.2g} mm high, left flat"
    pieces.rims.append((panel, words, (edge.start, edge.end)))
    return True


def tangents(loop: Loop, band: Band, pieces: Pieces) -> dict[int, list[_Contact]]:
    """Return what a strip touches on its two tangent lines, in order along the fold."""
    out: dict[int, list[_Contact]] = {1: [], -1: []}
    for e in loop.edges:
        side = band.side(e)
        if not side:
            continue
        lo, hi = sorted((band.along(e.start), band.along(e.end)))
        for panel, outline in pieces.panels.items():
            for o in outline.edges:
                if band.side(o) != side or not against(e, o):
                    continue
                a, b = sorted((band.along(o.start), band.along(o.end)))
                if min(b, hi) - max(a, lo) > LEAST:
                    out[side].append(_Contact(max(a, lo), min(b, hi), panel, o))
    for found in out.values():
        found.sort(key=lambda c: c.low)
    return out


def _parted(loop: Loop, band: Band, pieces: Pieces) -> list[Loop]:
    """Part a strip by slits where it joins one panel to several, so that each gets a bend of its own."""
    touching = tangents(loop, band, pieces)
    gaps: list[tuple[float, float]] = []
    for side, found in touching.items():
        for p, q in itertools.pairwise(found):
            middle = (p.high + q.low) / 2
            if any(c.low < middle < c.high for c in touching[-side]):
                gaps.append((p.high, q.low))
    if not gaps:
        return [loop]
    parts = [loop]
    for lo, hi in gaps:
        middle, half = (lo + hi) / 2, (SLIT if hi - lo < LEAST else min(hi - lo, SLIT)) / 2
        ux, uy = band.u
        left = (band.at[0] + (middle - half) * ux, band.at[1] + (middle - half) * uy)
        right = (band.at[0] + (middle + half) * ux, band.at[1] + (middle + half) * uy)
        across = (-uy, ux)
        halves = [x for p in parts for x in (*clip(p, left, across), *clip(p, right, (uy, -ux)))]
        reaches = [(x, *reach([x], band)) for x in halves]
        parts = [x for x, s0, s1 in reaches if s1 - s0 > LEAST]
    return [straightened(Loop(tuple(replace(e, name="") for e in p.edges))) for p in parts]


def _hinge(name: str, loop: Loop, band: Band, pieces: Pieces, part: str) -> Hinge:
    touching = tangents(loop, band, pieces)
    for found in touching.values():
        if not found:
            raise CannotMake(f"{part}: {name} is a rolled edge without a leg; cut the flat as it is")
        if len(found) > 1:
            raise CannotMake(f"{part}: {name} bends {len(found)} edges at once; cut the flat as it is")
    (one,), (two,) = touching[1], touching[-1]
    if one.panel == two.panel:
        raise CannotMake(f"{part}: {name} bends {one.panel} within an opening of it; cut the flat as it is")
    sides = tuple((c.panel, _stretch(c, band)) for c in (one, two))
    edges: list[Edge] = []
    for e in loop.edges:
        side = band.side(e)
        if not side:
            edges.append(replace(e, name=""))
            continue
        c = one if side > 0 else two
        ahead = band.along(e.end) > band.along(e.start)
        first, last = (c.low, c.high) if ahead else (c.high, c.low)
        p, q = (_on_line(band, side, s) for s in (first, last))
        before, after = math.dist(e.start, p) > 1e-5, math.dist(q, e.end) > 1e-5
        edges += [Edge(e.start, p)] if before else []
        edges.append(Edge(p if before else e.start, q if after else e.end, 0.0, c.panel))
        edges += [Edge(q, e.end)] if after else []
    return Hinge(name, band.line, (sides[0], sides[1]), Loop(tuple(edges)))


def _on_line(band: Band, side: int, s: float) -> tuple[float, float]:
    x, y = band.tangent(side)
    return x + s * band.u[0], y + s * band.u[1]


def _stretch(c: _Contact, band: Band) -> Edge:
    """Return the part of a panel's edge that bends."""
    a, b = band.along(c.edge.start), band.along(c.edge.end)
    s = sorted(min(max((v - a) / (b - a), 0.0), 1.0) for v in (c.low, c.high))
    near = NEAR / c.edge.chord
    return c.edge.part(*(0.0 if v < near else 1.0 if v > 1 - near else v for v in s))
