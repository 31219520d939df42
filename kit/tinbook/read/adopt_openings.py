"""Openings that run over the folds of a foreign solid: taken out of its panels and folds, kept whole beside them."""

from __future__ import annotations

import bisect
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from tinbook.errors import CannotMake
from tinbook.flatpattern import FoldLine
from tinbook.plane import Edge, Loop, Point
from tinbook.plane_cuts import contains, distance
from tinbook.read.step import Unfolded
from tinbook.read.step_view import FoundPanel

NEAR = 1e-3
"""mm: an edge of a panel that is part of an opening lies on it, to this."""


@dataclass(frozen=True, slots=True)
class OverFold:
    """An opening over a fold, whole, in flat coordinates, and the panel that it is drawn on."""

    panel: str
    loop: Loop


def closed_over(found: Unfolded) -> tuple[dict[str, FoundPanel], dict[str, FoldLine], list[OverFold]]:
    """Return the panels and fold lines as if no opening ran over a fold, and those openings.

    Parameters
    ----------
    found : Unfolded
        From `unfold`.

    Returns
    -------
    panels, folds : dict
        By name, panels in their own frames, bounded by whole tangent lines.
    over : list of OverFold
        In the order of the flat's cuts.

    Raises
    ------
    CannotMake
        An opening takes more of a panel than a stretch of one tangent line.
    """
    inside = sorted(h.moved(p.flat).box for p in found.panels for h in p.holes)
    loops = [c.loop for c in found.cuts if not _among(c.loop.box, inside)]
    panels = {p.name: p for p in found.panels}
    lines = {f.name: f for f in found.folds}
    over: list[OverFold] = []
    for loop in loops:
        touched = ""
        for name, panel in panels.items():
            here = _closed(panel.outer.moved(panel.flat), loop, found.name)
            if here is not None:
                panels[name] = replace(panel, outer=here.moved(panel.flat.inverse()))
                touched = touched or name
        for strip in found.strips:
            line = lines[strip.fold]
            whole = _bridged(line.pieces, loop)
            if len(whole) < len(line.pieces):
                lines[strip.fold] = replace(line, pieces=whole)
            # A hole wholly within the bend belongs to the panel that the bend hangs from.
            if not touched and any(distance(Edge(*p), _middle(loop)) < line.allowance for p in whole):
                touched = strip.parent
        if not touched:
            raise CannotMake(f"{found.name}: an opening belongs to no panel and no fold; cut the flat as it is")
        over.append(OverFold(touched, loop))
    return panels, lines, over


Box = tuple[float, float, float, float]


def _among(box: Box, boxes: list[Box]) -> bool:
    """Whether a box stands in a sorted list of them."""
    k = bisect.bisect_left(boxes, (box[0] - NEAR,))
    while k < len(boxes) and boxes[k][0] < box[0] + NEAR:
        if all(abs(p - q) < NEAR for p, q in zip(box, boxes[k], strict=True)):
            return True
        k += 1
    return False


def _middle(loop: Loop) -> Point:
    x0, y0, x1, y1 = loop.box
    return (x0 + x1) / 2, (y0 + y1) / 2


def _closed(outer: Loop, opening: Loop, name: str) -> Loop | None:
    """Return a panel's outline with the bite of an opening closed by its tangent line, None if it has no bite."""
    edges = [(e, _on(opening, e)) for e in outer.edges]
    if not any(on for _, on in edges):
        return None
    first = next((i for i, (_, on) in enumerate(edges) if not on and not edges[i - 1][1]), None)
    if first is None:
        raise CannotMake(f"{name}: an opening takes all corners of a panel; cut the flat as it is")
    out: list[Edge] = []
    bitten = False
    for e, on in (*edges[first:], *edges[:first]):
        if on:
            bitten = True
        elif not bitten:
            out.append(e)
        elif not _in_line(out[-1], e):
            raise CannotMake(
                f"{name}: an opening runs over a fold past its end or over two folds; cut the flat as it is"
            )
        else:
            out[-1], bitten = replace(out[-1], end=e.end), False
    return Loop(tuple(out))


def _on(opening: Loop, e: Edge) -> bool:
    return all(min(distance(o, e.at(s)) for o in opening.edges) < NEAR for s in (0.0, 0.31, 0.5, 0.83, 1.0))


def _in_line(a: Edge, b: Edge) -> bool:
    """Whether b goes on along a's line after a gap."""
    if not (a.is_line and b.is_line):
        return False
    (ux, uy), (vx, vy) = a.direction(), b.direction()
    dx, dy = b.start[0] - a.end[0], b.start[1] - a.end[1]
    return abs(dx * uy - dy * ux) < NEAR and ux * vx + uy * vy > 1 - 1e-6 and dx * ux + dy * uy > 0


def _bridged(pieces: Sequence[tuple[Point, Point]], opening: Loop) -> tuple[tuple[Point, Point], ...]:
    """Join the pieces of a fold line whose gap an opening made."""
    if len(pieces) < 2:
        return tuple(pieces)
    (ax, ay), (bx, by) = pieces[0]
    n = math.hypot(bx - ax, by - ay)
    ux, uy = (bx - ax) / n, (by - ay) / n
    ordered = sorted(
        (sorted(p, key=lambda q: q[0] * ux + q[1] * uy) for p in pieces), key=lambda p: p[0][0] * ux + p[0][1] * uy
    )
    out = [(ordered[0][0], ordered[0][1])]
    for start, end in ordered[1:]:
        gap = Edge(out[-1][1], start)
        if contains(opening, gap.at(0.5)) and all(
            min(distance(o, p) for o in opening.edges) < NEAR for p in (gap.start, gap.end)
        ):
            out[-1] = (out[-1][0], end)
        else:
            out.append((start, end))
    return tuple(out)
