"""From an unfolded foreign solid to an editable Part, so that the blank follows the user's own tools."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from tinbook.calc.bending import outside_setback
from tinbook.errors import CannotMake, of_kind
from tinbook.flatpattern import FoldLine
from tinbook.part.features import Fold, Hole
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane import Edge, Loop, Move, Point
from tinbook.plane_cuts import distance
from tinbook.read.adopt_openings import closed_over
from tinbook.read.step import Unfolded
from tinbook.read.step_view import FoundPanel

NEAR = 2e-3
"""mm: a foreign solid's edges lie where its folds say, to this."""


@dataclass(frozen=True, slots=True)
class _Hinge:
    """One fold line piece with the panel edges on its two sides, in flat coordinates."""

    name: str
    line: FoldLine
    parent: str
    child: str
    parent_edge: Edge
    child_edge: Edge


def adopt(found: Unfolded, sheet: Any, *, number: str = "", rev: str = "A", keep_radius: bool = False) -> Part:
    """Return an editable part that folds to the same outside dimensions.

    Parameters
    ----------
    found : Unfolded
        From `unfold`.
    sheet : Sheet or str
        Sheet of the user's shop; its thickness may differ from the solid's, the outside then stays.
    number, rev : str
        Part number and revision; the solid's name if no number is given.
    keep_radius : bool
        Insist on the inside radii found, instead of taking what the shop's tools give.

    Returns
    -------
    Part

    Raises
    ------
    CannotMake
        The solid has something that a Part cannot say: a bend whose ends are not square to it, an opening
        over two folds or past the end of one, a ring, a rolled edge. The flat itself stays good to cut.
    """
    of_kind(found, Unfolded, "adopt", "what tb.unfold(file) answers")
    if not found.panels:
        raise CannotMake(f"{found.name}: no flat panel was found, so there is nothing to edit")
    panels, lines, over = closed_over(found)
    hinges = _hinges(found, panels, lines)
    base = panels[found.panels[0].name]
    steps = {base.name: _stepped(base, hinges, found.thickness, None)}
    part = Part(number or _number(found.name), rev=rev, sheet=sheet, base=Outline(loop=steps[base.name]))
    names, frames = {base.name: "base"}, {base.name: Move()}
    folds: list[Fold] = []
    holes = [*_holes(base, "base", base.flat, [])]
    waiting = [base.name]
    while waiting:
        parent = waiting.pop(0)
        for h in hinges:
            if h.parent != parent or h.child in names:
                continue
            mould = steps[parent].edge(h.name)
            d = outside_setback(h.line.angle, h.line.radius, found.thickness)
            to_leg = frames[parent].after(Move.to_edge(mould)).after(Move(v=h.line.allowance - 2 * d))
            frames[h.child], names[h.child] = to_leg, h.name
            shape = _stepped(panels[h.child], hinges, found.thickness, h).moved(to_leg.inverse())
            steps[h.child] = shape
            folds.append(
                Fold(
                    name=h.name,
                    panel=names[parent],
                    edge=h.name,
                    direction=h.line.direction,
                    angle=h.line.angle,
                    leg=(shape.box[3], shape.box[3]),
                    shape=_on_axis(shape),
                    radius=max(h.line.radius, 1e-3) if keep_radius else None,
                )
            )
            child = panels[h.child]
            holes += _holes(child, h.name, to_leg.inverse().after(child.flat), holes)
            waiting.append(h.child)
    if len(names) < len(panels):
        lost = ", ".join(sorted(set(panels) - set(names)))
        raise CannotMake(f"{found.name}: {lost} hangs on no fold that a part can say; cut the flat as it is")
    for o in over:
        holes.append(_hole(o.loop.moved(frames[o.panel].inverse()), names[o.panel], len(holes) + 1))
    return part.with_features(folds=tuple(folds), holes=tuple(holes))


def _number(name: str) -> str:
    import re

    return re.sub(r"[^A-Za-z0-9._-]+|\.{2,}", "-", name).strip("-._")[:40] or "part"


def _hinges(found: Unfolded, panels: dict[str, FoundPanel], lines: dict[str, FoldLine]) -> list[_Hinge]:
    hinges: list[_Hinge] = []
    for s in found.strips:
        line = lines[s.fold]
        if line.angle > 180.0:
            raise CannotMake(f"{found.name}: {s.fold} curls beyond 180 degrees; cut the flat as it is")
        if not s.children:
            raise CannotMake(f"{found.name}: {s.fold} is a rolled edge without a leg; cut the flat as it is")
        for k, (a, b) in enumerate(line.pieces):
            sides = [(n, e) for n in (s.parent, *s.children) for e in _along(panels[n], a, b, line.allowance / 2)]
            mine = [(n, e) for n, e in sides if n == s.parent]
            theirs = [(n, e) for n, e in sides if n != s.parent]
            if len(mine) != 1 or len(theirs) != 1:
                raise CannotMake(
                    f"{found.name}: {s.fold} is interrupted or its ends are not square; cut the flat as it is"
                )
            name = s.fold if len(line.pieces) == 1 else f"{s.fold} {k + 1}"
            hinges.append(_Hinge(name, line, s.parent, theirs[0][0], mine[0][1], theirs[0][1]))
    if len({h.child for h in hinges}) < len(hinges):
        raise CannotMake(f"{found.name}: a panel hangs on two folds; cut the flat as it is")
    return hinges


def _along(panel: FoundPanel, a: Point, b: Point, half: float) -> list[Edge]:
    """Return the panel's straight edges that run the length of a fold line at the strip's half width."""
    ux, uy = (b[0] - a[0]), (b[1] - a[1])
    n = math.hypot(ux, uy)
    ux, uy = ux / n, uy / n
    found = []
    for e in panel.outer.moved(panel.flat).edges:
        if not e.is_line:
            continue
        s = [(p[0] - a[0]) * ux + (p[1] - a[1]) * uy for p in (e.start, e.end)]
        h = [(p[1] - a[1]) * ux - (p[0] - a[0]) * uy for p in (e.start, e.end)]
        level = all(abs(abs(v) - half) < NEAR for v in h) and h[0] * h[1] >= 0
        if level and min(s) < NEAR and max(s) > n - NEAR:
            # A leg may be wider than its bend: the part of the edge that bends is cut out of it.
            cuts = sorted(min(max((v - s[0]) / (s[1] - s[0]), 0.0), 1.0) for v in (0.0, n))
            found.append(e.part(*(0.0 if c < 1e-6 else 1.0 if c > 1 - 1e-6 else c for c in cuts)))
    return found


def _stepped(panel: FoundPanel, hinges: list[_Hinge], thickness: float, root: _Hinge | None) -> Loop:
    """Return a panel in flat coordinates with every fold edge stepped out square to its mould line."""
    out: list[Edge] = []
    k = 0
    for e in panel.outer.moved(panel.flat).edges:
        at = e.start
        for hinge, piece in _on(e, panel.name, hinges):
            d = outside_setback(hinge.line.angle, hinge.line.radius, thickness)
            ux, uy = e.direction()
            far = replace(Move(u=uy * d, v=-ux * d).edge(piece), name="base" if hinge is root else hinge.name)
            k += 3
            out += [Edge(at, piece.start, 0.0, f"e{k - 2}")] if math.dist(at, piece.start) > 1e-6 else []
            out += [Edge(piece.start, far.start, 0.0, f"e{k - 1}"), far, Edge(far.end, piece.end, 0.0, f"e{k}")]
            at = piece.end
        if at == e.start or math.dist(at, e.end) > 1e-6:
            k += 1
            out.append(replace(e, start=at, name=f"e{k}"))
    return _joined(out)


def _on(e: Edge, panel: str, hinges: list[_Hinge]) -> list[tuple[_Hinge, Edge]]:
    """Return the hinges of a panel that lie on one of its edges, in the edge's direction."""
    found = []
    for h in hinges:
        piece = h.parent_edge if h.parent == panel else h.child_edge if h.child == panel else None
        if piece is not None and e.is_line and distance(e, piece.start) < 1e-6 and distance(e, piece.end) < 1e-6:
            found.append((math.dist(e.start, piece.start), h, piece))
    return [(h, piece) for _, h, piece in sorted(found, key=lambda f: f[0])]


def _joined(edges: list[Edge]) -> Loop:
    """Join free edges that run straight on, so that a larger radius may eat further into them."""
    first = next(i for i, e in enumerate(edges) if not _free(e)) if any(not _free(e) for e in edges) else 0
    out: list[Edge] = []
    for e in (*edges[first:], *edges[:first]):
        last = out[-1] if out else None
        if last is not None and _free(last) and _free(e) and last.is_line and e.is_line:
            (ax, ay), (bx, by) = last.direction(), e.direction()
            if ax * bx + ay * by > 0 and abs(ax * by - ay * bx) * min(last.length, e.length) < 1e-6:
                out[-1] = replace(last, end=e.end)
                continue
        out.append(e)
    return Loop(tuple(out))


def _free(e: Edge) -> bool:
    return e.name[:1] == "e" and e.name[1:].isdigit()


def _on_axis(shape: Loop) -> Loop:
    """Return the shape with its base edge exactly on y = 0, where rounding left it a hair off."""
    edges = []
    n = len(shape)
    for i, e in enumerate(shape.edges):
        before, after = shape.edges[i - 1], shape.edges[(i + 1) % n]
        start = (e.start[0], 0.0) if "base" in (e.name, before.name) else e.start
        end = (e.end[0], 0.0) if "base" in (e.name, after.name) else e.end
        edges.append(replace(e, start=start, end=end))
    return Loop(tuple(edges))


def _holes(panel: FoundPanel, name: str, move: Move, before: list[Hole]) -> list[Hole]:
    return [_hole(loop.moved(move), name, k) for k, loop in enumerate(panel.holes, len(before) + 1)]


def _hole(loop: Loop, panel: str, number: int) -> Hole:
    x0, y0, x1, y1 = loop.box
    if loop.is_circle:
        return Hole(name=f"hole {number}", panel=panel, centre=((x0 + x1) / 2, (y0 + y1) / 2), dia=x1 - x0)
    plain = Loop(tuple(replace(e, name="") for e in loop.anticlockwise().edges))
    return Hole(name=f"cut-out {number}", panel=panel, centre=(0.0, 0.0), loop=plain)
