"""The flat pattern of a tree of panels: pieces laid side by side, their common outline, its openings and fold lines."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import shapely

from tinbook.errors import BadValue
from tinbook.finding import Refused
from tinbook.flatpattern import Cut, FoldLine
from tinbook.making.draw import Draw, drawn
from tinbook.making.openings_by_panel import OpeningsByPanel
from tinbook.making.tree import PanelNode, strip_loop
from tinbook.part.forms.form import MadeForm
from tinbook.plane.arrays import chords_of
from tinbook.plane.chaining import chain_loops, merged
from tinbook.plane.cuts import crossings
from tinbook.plane.loops import Edge, Loop, Move, Point, circle
from tinbook.plane.offset import offset_loop
from tinbook.values import dataclass

STOCK = 10.0
"""mm left on free edges that are trimmed after beading (common practice: more than any draw of a few beads)."""

SIDE = 0.05
"""mm: sagitta of chords in checks for overlap (areas and outlines themselves stay exact)."""


@dataclass(frozen=True, slots=True)
class Laying:
    """Where every panel and strip lies in the flat pattern, and the outline of all."""

    outer: Loop
    panels: dict[str, Move]
    strips: dict[str, Move]
    shifts: dict[str, Draw]


def lay_flat(nodes: dict[str, PanelNode], forms: dict[str, list[MadeForm]]) -> Laying:
    """Lay all pieces in the plane.

    Parameters
    ----------
    nodes : dict of str to PanelNode
        Parents before children.
    forms : dict
        Forms by panel; those that draw the sheet in make the blank larger.

    Returns
    -------
    Laying

    Raises
    ------
    Refused
        Two pieces overlap, or touch, in the flat.
    """
    panels: dict[str, Move] = {}
    strips: dict[str, Move] = {}
    shifts: dict[str, Draw] = {}
    edges: list[Edge] = []
    pieces: list[tuple[str, Loop]] = []
    for name, node in nodes.items():
        flat = panels.setdefault(name, node.flat)
        shift = drawn(forms.get(name, []), node.boundary.loop, name)
        shifts[name] = shift
        own = _blank_boundary(node, shift)
        moved = own.moved(flat)
        edges.extend(
            Edge(e.start, e.end, e.bulge, f"{name}|{e.name}") for e in moved.edges if not e.name.startswith("fold:")
        )
        pieces.append((name, moved))
        back = node.flat.inverse()
        for fold, (_, strip_flat, x0, x1) in node.strips.items():
            child = nodes[fold]
            assert child.bent is not None
            ba = child.bent.bend.allowance
            to_panel = back.after(strip_flat)
            rigid = flat
            if shift.pulls:
                middle = to_panel(((x0 + x1) / 2, 0.0))
                there = shift(middle)
                rigid = flat.after(Move(u=there[0] - middle[0], v=there[1] - middle[1]))
            strips[fold] = rigid.after(to_panel)
            panels[fold] = strips[fold].after(Move(v=ba - child.bent.setback))
            strip = strip_loop(child.bent, x0, x1).moved(strips[fold])
            edges.extend(replace(e, name="") for e in strip.edges if e.name == "end")
            pieces.append((f"bend {fold}", strip))
    _no_overlap(pieces, nodes)
    try:
        loops = [merged(loop) for loop in chain_loops(edges)]
    except ValueError as broken:
        raise Refused(
            "flat.broken", "flat pattern", f"its outline does not close ({broken})", "simpler corners or reliefs"
        ) from None
    outer = max(loops, key=lambda loop: loop.area)
    total = math.fsum(loop.area for _, loop in pieces)
    if len(loops) > 1 or not math.isclose(outer.area, total, rel_tol=1e-9, abs_tol=1e-6):
        what = "parts of the blank touch each other in the flat and would leave a closed-off gap"
        remedy = "shorten a leg, use open corners, or make the part of two pieces"
        raise Refused("flat.touches", "flat pattern", what, remedy, total, outer.area)
    return Laying(outer, panels, strips, shifts)


def _blank_boundary(node: PanelNode, shift: Draw) -> Loop:
    """Return the boundary as the blank carries it: bend lines move as a whole, the rest point by point."""
    if not shift.pulls:
        return node.boundary.loop
    edges = node.boundary.loop.edges
    ends = np.array([(e.start, e.end) for e in edges])
    bends = np.array([e.name.startswith("fold:") for e in edges])
    ends[bends] = ends[bends].mean(axis=1, keepdims=True)
    by = shift.all(ends.reshape(-1, 2)).reshape(-1, 2, 2) - ends
    by[[e.name == f"fold:{node.name}" for e in edges]] = 0.0
    out: list[Edge] = []
    for e, ((au, av), (bu, bv)) in zip(edges, by.tolist(), strict=True):
        start, end = (e.start[0] + au, e.start[1] + av), (e.end[0] + bu, e.end[1] + bv)
        e = Edge(start, end, e.bulge, e.name)
        if out and math.dist(out[-1].end, e.start) > 1e-9:
            out.append(Edge(out[-1].end, e.start, 0.0, "relief"))
        out.append(e)
    if math.dist(out[-1].end, out[0].start) > 1e-9:
        out.append(Edge(out[-1].end, out[0].start, 0.0, "relief"))
    return Loop(tuple(out))


def _no_overlap(pieces: list[tuple[str, Loop]], nodes: dict[str, PanelNode]) -> None:
    loops = [loop for _, loop in pieces]
    points, of = chords_of(loops, SIDE)
    # Four corners that all turn left cannot cross; only other outlines need a polygon to tell.
    doubt = [i for i, loop in enumerate(loops) if not _is_convex_quad(loop)]
    bad = ~shapely.is_valid(polygons_of([loops[i] for i in doubt]))
    if bad.any():
        what = "its outline crosses itself between its bend lines"
        remedy = "smaller legs, corners or reliefs, or a larger panel"
        raise Refused("flat.crosses", pieces[doubt[int(bad.argmax())]][0], what, remedy)
    if len(loops) < 3:
        return
    # Two pieces share no more area than their boxes do, so boxes settle pieces that only touch.
    count = np.bincount(of)
    begin = np.cumsum(count) - count
    x0, y0 = np.minimum.reduceat(points, begin).T
    x1, y1 = np.maximum.reduceat(points, begin).T
    wide = np.minimum.outer(x1, x1) - np.maximum.outer(x0, x0)
    high = np.minimum.outer(y1, y1) - np.maximum.outer(y0, y0)
    near = (wide > 0) & (high > 0) & (wide * high > 1e-3)
    for i, j in np.argwhere(near).tolist():
        if i >= j:
            continue
        pair = polygons_of([loops[i], loops[j]])
        shared = shapely.intersection(*pair).area
        if shared > 1e-3:
            # On edges shared but for rounding GEOS may answer with a whole polygon; on a grid it does not.
            shared = shapely.intersection(*pair, grid_size=1e-6).area
        if shared > 1e-3:
            what = f"they would need the same {shared:.1f} mm² of the sheet"
            remedy = "shorten one of the two, open the corner between them, or make the part of two pieces"
            raise Refused("flat.overlap", f"{pieces[i][0]} and {pieces[j][0]}", what, remedy)


def _is_convex_quad(loop: Loop) -> bool:
    """Whether a loop is four straight edges that all turn left."""
    if len(loop.edges) != 4 or any(e.bulge for e in loop.edges):
        return False
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = (e.start for e in loop.edges)
    return (
        (bx - ax) * (cy - by) > (by - ay) * (cx - bx)
        and (cx - bx) * (dy - cy) > (cy - by) * (dx - cx)
        and (dx - cx) * (ay - dy) > (dy - cy) * (ax - dx)
        and (ax - dx) * (by - ay) > (ay - dy) * (bx - ax)
    )


def with_stock(outer: Loop, panels: set[str]) -> Loop:
    """Return a blank's outline with `STOCK` to trim off the free edges of some panels.

    Raises
    ------
    Refused
        The edges cannot all be moved out.
    """
    named = [e.name.partition("|") for e in outer.edges]
    out = [STOCK if panel in panels and edge not in ("", "relief") else 0.0 for panel, _, edge in named]
    unique = Loop(tuple(replace(e, name=f"{k} {e.name}") for k, e in enumerate(outer.edges)))
    try:
        moved = offset_loop(unique, out)
    except BadValue as wrong:
        what = f"its edges cannot be given stock to trim ({wrong})"
        remedy = "let the blank be given the draw's allowance instead, or trim before folding"
        raise Refused("bead.stock", "blank", what, remedy) from None
    return Loop(tuple(replace(e, name=e.name.partition(" ")[2]) for e in moved.edges))


def placed_holes(spread: OpeningsByPanel, laying: Laying) -> list[Cut]:
    """Return every opening, whole, where the blank carries it, in the order of `OpeningsByPanel.flat`."""
    by_panel: dict[str, list[int]] = {}
    for i, (panel, _) in enumerate(spread.flat):
        by_panel.setdefault(panel, []).append(i)
    loops: dict[int, Loop] = {}
    for panel, listed in by_panel.items():
        shift, flat = laying.shifts[panel], laying.panels[panel]
        own = [spread.flat[i][1].loop for i in listed]
        if not shift.pulls:
            loops.update((i, loop.moved(flat)) for i, loop in zip(listed, own, strict=True))
            continue
        box = spread.boxes[listed]
        centre = (box[:, :2] + box[:, 2:]) / 2
        by = shift.all(centre) - centre
        for i, loop, (u, v) in zip(listed, own, by.tolist(), strict=True):
            loops[i] = loop.moved(flat, u, v)
    return [Cut(loop=loops[i], name=hole.name, use=hole.use, dia=hole.dia) for i, (_, hole) in enumerate(spread.flat)]


def undersize_holes(spread: OpeningsByPanel, holes: list[Cut]) -> tuple[Cut, ...]:
    """Return the smaller holes that are cut where holes are drilled out afterwards."""
    found = []
    for (_, hole), placed in zip(spread.flat, holes, strict=True):
        if hole.undersize is not None:
            x0, y0, x1, y1 = placed.loop.box
            loop = circle(((x0 + x1) / 2, (y0 + y1) / 2), hole.undersize)
            found.append(Cut(loop=loop, name=hole.name, use=hole.use, dia=hole.undersize))
    return tuple(found)


def fold_line(node: PanelNode, at: float, span: tuple[float, float], holes: list[Cut], move: Move) -> FoldLine:
    """Return a fold's line at flat distance `at` into its strip, broken where holes of the blank run over it."""
    assert node.bent is not None
    gaps: list[tuple[float, float]] = []
    back = move.inverse() if holes else move
    for hole in holes:
        loop = hole.loop.moved(back)
        hits = sorted(
            e.at(s)[0] for e in loop.edges for s in crossings(e, (0.0, at), (1.0, 0.0)) if not _touches(e, s, at)
        )
        gaps.extend(zip(hits[::2], hits[1::2], strict=False))
    pieces: list[tuple[Point, Point]] = []
    x = span[0]
    for a, b in sorted(gaps):
        if a > x:
            pieces.append((move((x, at)), move((a, at))))
        x = max(x, b)
    if x < span[1]:
        pieces.append((move((x, at)), move((span[1], at))))
    bend, fold = node.bent.bend, node.bent.fold
    return FoldLine(
        name=fold.name,
        pieces=tuple(pieces),
        angle=node.bent.angle,
        direction=fold.direction,
        radius=bend.radius,
        allowance=bend.allowance,
        k=bend.k,
        rule=bend.rule,
        tool=bend.tool,
        plus_minus=bend.plus_minus,
    )


def _touches(e: Edge, s: float, at: float) -> bool:
    """Whether a crossing is only the end of an edge that the next edge counts, or lies along the line."""
    if e.is_line and abs(e.start[1] - at) < 1e-9 and abs(e.end[1] - at) < 1e-9:
        return True
    return s >= 1 - 1e-9


def polygons_of(loops: list[Loop], sagitta: float = SIDE) -> npt.NDArray[np.object_]:
    """Return loops as polygons, full circles all at once."""
    out = np.empty(len(loops), dtype=object)
    round_ones = [i for i, loop in enumerate(loops) if loop.is_full_circle]
    if round_ones:
        ends = np.array([(*loops[i].edges[0].start, *loops[i].edges[0].end) for i in round_ones])
        centres, r = (ends[:, :2] + ends[:, 2:]) / 2, np.hypot(*(ends[:, 2:] - ends[:, :2]).T) / 2
        out[round_ones] = shapely.polygons(centres[:, None] + r[:, None, None] * _CIRCLE)
    rest = sorted(set(range(len(loops))).difference(round_ones)) if round_ones else list(range(len(loops)))
    if rest:
        points, of = chords_of([loops[i] for i in rest], sagitta)
        out[rest] = shapely.polygons(shapely.linearrings(points, indices=of))
    return out


_TURN = np.linspace(0.0, math.tau, 24, endpoint=False)
_CIRCLE = np.column_stack((np.cos(_TURN), np.sin(_TURN))) / math.cos(math.pi / 24)
"""Polygon round the unit circle: it never calls two holes apart that touch."""
