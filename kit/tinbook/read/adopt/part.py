"""Turn an unfolded foreign solid into an editable Part, so that its blank is computed for the user's own tools."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

import tinbook.read.step as step
from tinbook.calc.bending import outside_setback
from tinbook.errors import CannotMake, of_kind
from tinbook.finding import Findings
from tinbook.flatpattern import Cut
from tinbook.part.features import PRESSED, Fold, Hole, HoleUse, Relief
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.cuts import contains, distance
from tinbook.plane.loops import Edge, Loop, Move, Point
from tinbook.read.adopt.hinges import Hinge, hinges_of
from tinbook.read.adopt.pieces import Pieces, Remark, pieces_of, straightened

if TYPE_CHECKING:
    from tinbook.read.step.unfold import Unfolded

SLIT = 0.05
"""mm: how far a tear relief reaches past its bend where a foreign part tears from the metal beside it."""


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
    of_kind(found, step.unfold.Unfolded, "adopt", "what tb.unfold(file) answers")
    if not found.panels:
        raise CannotMake(f"{found.name}: no flat panel was found, so there is nothing to edit")
    pieces = pieces_of(found)
    hinges, cut = _tree(hinges_of(found, pieces), pieces)
    base = found.panels[0].name
    t = found.thickness
    # The base begins at (0, 0), as one that is drawn by hand does: where it lay in the blank is no place to measure from.
    stepped = _stepped(pieces.panels[base], base, hinges, t, None)
    corner = Move(u=stepped.box[0], v=stepped.box[1])
    steps = {base: stepped.moved(corner.inverse())}
    part = Part(
        number or _number(found.name), rev=rev, sheet=sheet, base=Outline(loop=steps[base], findings=_of_solid(found))
    )
    names, frames = {base: "base"}, {base: corner}
    folds: list[Fold] = []
    waiting = [base]
    while waiting:
        parent = waiting.pop(0)
        for h in hinges:
            if not h.joins(parent) or h.other(parent) in names:
                continue
            child = h.other(parent)
            mould = steps[parent].edge(h.name)
            d = outside_setback(min(h.line.angle, 180.0), h.line.radius, t)
            to_strip = frames[parent].after(Move.to_edge(mould)).after(Move(v=-d))
            to_leg = to_strip.after(Move(v=h.line.allowance - d))
            frames[child], names[child] = to_leg, h.name
            shape = _on_axis(_stepped(pieces.panels[child], child, hinges, t, h).moved(to_leg.inverse()))
            steps[child] = shape
            folds.append(
                Fold(
                    name=h.name,
                    panel=names[parent],
                    edge=h.name,
                    direction=h.line.direction,
                    angle=h.line.angle,
                    leg=(shape.box[3], shape.box[3]),
                    shape=shape,
                    strip=_strip(h, parent, child, to_strip.inverse(), shape.edge("base")),
                    radius=max(h.line.radius, 1e-3) if keep_radius or h.line.angle > 180.0 else None,
                    curl=h.line.angle > 180.0,
                    relief=Relief(kind="tear", depth=SLIT) if _torn(pieces, h) else Relief(),
                )
            )
            waiting.append(child)
    lost = sorted(set(pieces.panels) - set(names))
    if lost:
        raise CannotMake(f"{found.name}: {', '.join(lost)} hangs on no fold that a part can say; cut the flat as it is")
    holes = [_hole(c, names[n], frames[n].inverse()) for n in frames for c in pieces.whole.get(n, [])] + [
        _hole(c, names[n], frames[n].inverse()) for n, c in pieces.over
    ]
    notes = _formed(found, pieces, names, frames)
    for panel, words, ends in (
        *(_left_out(h, names) for h in cut),
        *(_slit(s, names) for s in pieces.slits),
        *pieces.rims,
    ):
        back = frames[panel].inverse()
        notes.append((words[:120], names[panel], [back(p) for p in ends]))
    holes = [replace(h, name=f"{h.name} {k}") for k, h in enumerate(holes, 1)]
    part = replace(part, folds=tuple(folds), holes=tuple(holes))
    for words, panel, path in notes:
        part = part.etch(path, closed=len(path) > 2, panel=panel, note=words, name=_line_name(part, words))
    return part


def _of_solid(found: Unfolded) -> Findings:
    """Return what is to be looked at in the solid, for every part that is made from it."""
    return Findings(replace(f, where=f"{found.name}, {f.where}") for f in found.findings if f.severity != "fine")


def _line_name(part: Part, words: str) -> str:
    """Return a name for a line that is not taken."""
    word = " ".join(w for w in words.split(":", maxsplit=1)[0].split()[:2] if w.isalpha()) or "formed"
    taken, n = {e.name for e in part.etches}, 1
    while f"{word} {n}" in taken:
        n += 1
    return f"{word} {n}"


def _number(name: str) -> str:
    return re.sub(r"[^A-Za-z0-9._-]+|\.{2,}", "-", name).strip("-._")[:40] or "part"


def _tree(hinges: list[Hinge], pieces: Pieces) -> tuple[list[Hinge], list[Hinge]]:
    """Return the bends that hang all panels on one another, the longest first, and those that would close a ring."""
    group = {n: n for n in pieces.panels}

    def root(n: str) -> str:
        while group[n] != n:
            n = group[n]
        return n

    kept: list[Hinge] = []
    cut: list[Hinge] = []
    for h in sorted(hinges, key=lambda h: (-round(min(e.length for _, e in h.sides), 3), h.name)):
        a, b = (root(n) for n, _ in h.sides)
        (cut if a == b else kept).append(h)
        group[a] = b
    order = [h.name for h in hinges]
    return sorted(kept, key=lambda h: order.index(h.name)), cut


def _torn(pieces: Pieces, h: Hinge) -> bool:
    """Whether metal of a panel begins right beside an end of a bend, without a relief between."""
    for n, e in h.sides:
        (ux, uy) = e.direction()
        for o in pieces.panels[n].edges:
            if not o.is_line:
                continue
            for p, q, at in ((o.start, o.end, e.end), (o.end, o.start, e.start)):
                # It leaves the end of the bend outward, on the strip's side, along the strip's own end.
                away = (q[0] - p[0]) * uy - (q[1] - p[1]) * ux
                if math.dist(p, at) < 1e-6 and away > 0.99 * o.chord:
                    return True
    return False


def _strip(h: Hinge, parent: str, child: str, to_strip: Move, base: Edge) -> Loop | None:
    """Return the bend's outline in the leg's frame, None where its ends are square and in line with both panels."""
    length, width = h.edge(parent).length, h.line.allowance
    own = {parent: "parent", child: "child"}
    edges = [replace(e, name=own.get(e.name, "")) for e in h.strip.moved(to_strip).edges]
    spots = {"parent": ((0.0, 0.0), (length, 0.0)), "child": ((base.end[0], width), (base.start[0], width))}
    n = len(edges)
    for i, e in enumerate(edges):
        if e.name in spots:
            start, end = spots[e.name]
            edges[i] = replace(e, start=start, end=end)
            edges[i - 1] = replace(edges[i - 1], end=start)
            edges[(i + 1) % n] = replace(edges[(i + 1) % n], start=end)
    square = n == 4 and all(abs(e.start[0] - e.end[0]) < 1e-5 for e in edges if not e.name)
    return None if square else Loop(tuple(e for e in edges if e.chord > 1e-7 or not e.is_line))


def _stepped(outline: Loop, panel: str, hinges: list[Hinge], thickness: float, root: Hinge | None) -> Loop:
    """Return a panel in flat coordinates with every fold edge stepped out square to its mould line."""
    out: list[Edge] = []
    k = 0
    for e in outline.edges:
        at = e.start
        for hinge, piece in _on(e, panel, hinges):
            d = outside_setback(min(hinge.line.angle, 180.0), hinge.line.radius, thickness)
            ux, uy = e.direction()
            far = replace(Move(u=uy * d, v=-ux * d).edge(piece), name="base" if hinge is root else hinge.name)
            k += 3
            out += [Edge(at, piece.start, 0.0, f"e{k - 2}")] if math.dist(at, piece.start) > 1e-6 else []
            out += [Edge(piece.start, far.start, 0.0, f"e{k - 1}"), far, Edge(far.end, piece.end, 0.0, f"e{k}")]
            at = piece.end
        if at == e.start or math.dist(at, e.end) > 1e-6:
            k += 1
            out.append(replace(e, start=at, name=f"e{k}"))
    # Free edges that run straight on become one, so that a larger radius may eat further into them.
    return straightened(Loop(tuple(_unspiked(out))), _free)


def _unspiked(edges: list[Edge]) -> list[Edge]:
    """Remove free edges that run back along the one before: a step beside a tear."""
    out = list(edges)
    i = 0
    while i < len(out) and len(out) > 3:
        a, b = out[i - 1], out[i]
        if _free(a) and _free(b) and a.is_line and b.is_line:
            (ax, ay), (bx, by) = a.direction(), b.direction()
            if ax * bx + ay * by < -1 + 1e-9:
                longer = replace(a if a.chord > b.chord else b, start=a.start, end=b.end)
                out[i - 1] = longer
                out.pop(i)
                if longer.chord < 1e-6:
                    out.remove(longer)
                i = 0
                continue
        i += 1
    return out


def _on(e: Edge, panel: str, hinges: list[Hinge]) -> list[tuple[Hinge, Edge]]:
    """Return the hinges of a panel that lie on one of its edges, in the edge's direction."""
    found = []
    for h in hinges:
        if not h.joins(panel):
            continue
        piece = h.edge(panel)
        if e.is_line and distance(e, piece.start) < 1e-6 and distance(e, piece.end) < 1e-6:
            found.append((math.dist(e.start, piece.start), h, piece))
    return [(h, piece) for _, h, piece in sorted(found, key=lambda f: f[0])]


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


def _hole(cut: Cut, panel: str, move: Move) -> Hole:
    """Return an opening of the flat as a feature of a panel; pressed-in fixings keep their thread."""
    loop = cut.loop.moved(move)
    x0, y0, x1, y1 = loop.box
    centre = ((x0 + x1) / 2, (y0 + y1) / 2)
    use, _, size = cut.use.rpartition(" ")
    if use in PRESSED:
        return Hole(name=use, panel=panel, centre=centre, use=cast(HoleUse, use), size=size)
    if loop.is_circle:
        return Hole(name="hole", panel=panel, centre=centre, dia=x1 - x0)
    if (slot := _slot(loop)) is not None:
        width, length, turn = slot
        return Hole(name="slot", panel=panel, centre=centre, dia=width, length=length, turn=turn)
    plain = Loop(tuple(replace(e, name="") for e in loop.anticlockwise().edges))
    return Hole(name="cut-out", panel=panel, centre=(0.0, 0.0), loop=plain)


def _slot(loop: Loop) -> tuple[float, float, float] | None:
    """Return width, over-all length and turn of an opening with two straight sides and half-round ends, None for others."""
    straight, ends = [e for e in loop.edges if e.is_line], [e for e in loop.edges if not e.is_line]
    half_round = all(abs(abs(e.bulge) - 1.0) < 1e-6 for e in ends)
    if len(straight) != 2 or len(ends) != 2 or loop.edges[0].is_line == loop.edges[1].is_line or not half_round:
        return None
    (a, b), (c, d) = straight, ends
    if abs(a.chord - b.chord) > 1e-5 or abs(c.chord - d.chord) > 1e-5:
        return None
    return c.chord, a.chord + c.chord, math.degrees(math.atan2(a.end[1] - a.start[1], a.end[0] - a.start[0])) % 180.0


Note = tuple[str, str, list[Point]]


def _formed(found: Unfolded, pieces: Pieces, names: dict[str, str], frames: dict[str, Move]) -> list[Note]:
    """Return (words, panel, path) of each formed feature: it is drawn and named, but not cut."""
    notes: list[Note] = []
    for m in found.marks:
        if m.kind != "formed":
            continue
        loop = Loop(m.edges)
        x0, y0, x1, y1 = loop.box
        middle = ((x0 + x1) / 2 + 1.7e-4, (y0 + y1) / 2 + 2.3e-4)
        panel = next((n for n, outer in pieces.panels.items() if contains(outer, middle)), next(iter(pieces.panels)))
        back = frames[panel].inverse()
        points = [back((float(x), float(y))) for x, y in loop.chords(0.2)]
        points = [p for k, p in enumerate(points) if math.dist(p, points[k - 1]) > 1e-3]
        if len(points) > 2:
            words = f"{m.label} {x1 - x0:.4g} x {y1 - y0:.4g} mm, standing {m.face}"
            notes.append((words[:120], names[panel], points))
    return notes


def _slit(slit: tuple[str, Point, Point], names: dict[str, str]) -> Remark:
    """Return the note of a panel that was slit because it hung on two bends."""
    panel, a, b = slit
    words = f"slit {names[panel]}: {math.dist(a, b):.4g} mm from an opening to the edge, since it hangs on two bends"
    return panel, words, (a, b)


def _left_out(h: Hinge, names: dict[str, str]) -> Remark:
    """Return the note of a bend that was left out because its panels hang together elsewhere already."""
    panel, e = h.sides[0]
    a, b = (names[n] for n, _ in h.sides)
    words = f"cut at {h.line.name}: bend of {e.length:.5g} x {h.line.allowance:.4g} mm left out between {a} and {b}"
    return panel, words, (e.start, e.end)
