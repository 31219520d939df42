"""From an unfolded foreign part to a Part of one's own: panels, folds, holes, ready for other tools.

The Part is made once on the shop and its blank compared with the unfolded one, so
what cannot be declared is refused instead of guessed.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from tinbook.errors import BadValue, CannotMake, TinbookError
from tinbook.make.resolve import make
from tinbook.part.features import Relief
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane import Edge, Loop, Move, Point
from tinbook.read.step import Unfolded, unfold

if TYPE_CHECKING:
    from tinbook.flatpattern import FlatPattern, FoldLine
    from tinbook.make.made import Made
    from tinbook.read.step_view import FoundPanel
    from tinbook.shop.material import Sheet
    from tinbook.shop.shop import Shop

ON_LINE = 0.02
"""mm: an edge this near to a bend's tangent line lies on it."""

AS_DRAWN = 1e-4
"""Relative area by which the declared part's blank may differ from the unfolded one."""


def editable(
    found: Unfolded, shop: Shop, sheet: Sheet | str, *, number: str | None = None, keep_radius: bool = False
) -> Part:
    """Declare an unfolded foreign part anew, so that tools, radius and K are one's own.

    Parameters
    ----------
    found : Unfolded
        From `unfold`.
    shop : Shop
        Whose sheets and tools.
    sheet : Sheet or str
        What to make it from; its thickness may differ from the drawn one, the outside stays.
    number : str, optional
        Part number, else made from the found name.
    keep_radius : bool
        Insist on the drawn inside radii instead of the shop's own.

    Returns
    -------
    Part

    Raises
    ------
    CannotMake
        With the reason: formed metal, openings across a fold, panels cut open, sharp folds, or
        a blank that would not come out the same.
    """
    key = sheet if isinstance(sheet, str) else sheet.key
    chosen = shop.sheet_by_key(key)
    _refuse(found)
    same = replace(
        shop, sheets=tuple(replace(s, measured=_near(found, chosen)) if s is chosen else s for s in shop.sheets)
    )
    drawn = _declared(found, key, number, True)
    made = make(drawn, same)
    if not made.ok or made.flat is None:
        why = next((f.what for f in made.findings if f.severity == "stop"), "it cannot be made")
        raise CannotMake(f"{found.name}: cannot be declared as a part of its own: {why}")
    off = _difference(found, made)
    if off > AS_DRAWN:
        raise CannotMake(
            f"{found.name}: cannot be declared as a part of its own: its blank would differ by {off * 100:.2f} % "
            "of the area (edges that run on into a bend at a slant, or reliefs of another kind)"
        )
    return drawn if keep_radius else _declared(found, key, number, False)


def _near(found: Unfolded, sheet: Sheet) -> float:
    if not 0.7 <= found.thickness / sheet.nominal <= 1.3:
        raise BadValue("sheet", sheet.key, f"a sheet of about {found.thickness:g} mm, as the part was drawn")
    return found.thickness


def _refuse(found: Unfolded) -> None:
    me = f"{found.name}: cannot be declared as a part of its own"
    stops = [f.what for f in found.findings if f.severity == "stop" or f.code in ("unfold.seam", "unfold.cone")]
    if stops:
        raise CannotMake(f"{me}: {stops[0]}")
    if any(m.kind == "formed" for m in found.marks):
        raise CannotMake(f"{me}: it has formed features ({found.marks[0].label})")
    if any(f.radius <= 0 for f in found.folds):
        raise CannotMake(f"{me}: it has folds without an inside radius")
    if not found.panels:
        raise CannotMake(f"{me}: it has no flat panel")
    within = sum(len(p.holes) for p in found.panels)
    if within != len(found.cuts):
        raise CannotMake(f"{me}: {len(found.cuts) - within} opening(s) run across a fold")


@dataclass(frozen=True, slots=True)
class _Hinge:
    """A panel's edge on a bend: the fold, and the edge's place in the panel's loop."""

    fold: FoldLine
    edge: int
    setback: float


def _declared(found: Unfolded, sheet: str, number: str | None, keep_radius: bool) -> Part:
    folds = {f.name: f for f in found.folds}
    hinges = {p.name: _hinges(found, p) for p in found.panels}
    base = found.panels[0]
    loop = _to_mould_lines(base.outer, hinges[base.name])
    part = Part(number or _number(found.name), sheet=sheet, base=Outline(loop=loop), marking=False)
    part = _with_holes(part, base, Move(), "base")
    called = {base.name: "base"}
    todo, done = [base], {base.name}
    while todo:
        parent = todo.pop(0)
        for hinge in hinges[parent.name]:
            child, root = _across(found, parent, hinge, hinges, done)
            if child is None or root is None:
                continue
            done.add(child.name)
            own = called[parent.name]
            edge = _name(hinge)
            frame = _leg_frame(parent, hinge, child, root)
            outline = _to_mould_lines(child.outer, hinges[child.name], base=root)
            fold = folds[hinge.fold.name]
            part = part.fold(
                edge if own == "base" else f"{own}.{edge}",
                fold.direction,
                angle=fold.angle,
                shape=Outline(loop=outline.moved(frame)),
                radius=fold.radius if keep_radius else None,
                relief=Relief(kind="tear", depth=0.0),
                name=child.name,
            )
            part = _with_holes(part, child, frame, child.name)
            called[child.name] = child.name
            todo.append(child)
    if len(done) != len(found.panels):
        raise CannotMake(f"{found.name}: cannot be declared as a part of its own: its panels do not hang in a tree")
    return part


def _number(name: str) -> str:
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip("._-")[:40].strip("._-")
    return re.sub(r"\.\.+", ".", plain) or "PART"


def _name(hinge: _Hinge) -> str:
    return f"{hinge.fold.name} at {hinge.edge + 1}"


def _hinges(found: Unfolded, panel: FoundPanel) -> list[_Hinge]:
    """Find the panel's edges that lie on the tangent lines of folds, all in the flat."""
    flat = panel.outer.moved(panel.flat)
    made = []
    for f in found.folds:
        setback = (f.radius + found.thickness) * math.tan(math.radians(min(f.angle, 90.0)) / 2)
        for i, e in enumerate(flat.edges):
            if e.is_line and any(_beside(e, a, b, f.allowance / 2) for a, b in f.pieces):
                made.append(_Hinge(f, i, setback))
    return made


def _beside(e: Edge, a: Point, b: Point, off: float) -> bool:
    """Whether a line runs along the bend line's piece, half an allowance to its own right (the outer side)."""
    n = e.chord
    ux, uy = (e.end[0] - e.start[0]) / n, (e.end[1] - e.start[1]) / n
    across = [(p[0] - e.start[0]) * uy - (p[1] - e.start[1]) * ux for p in (a, b)]
    along = sorted((p[0] - e.start[0]) * ux + (p[1] - e.start[1]) * uy for p in (a, b))
    return all(abs(s - off) < ON_LINE for s in across) and min(along[1], n) - max(along[0], 0.0) > ON_LINE


def _to_mould_lines(loop: Loop, hinges: list[_Hinge], base: _Hinge | None = None) -> Loop:
    """Move every hinge edge outward by its setback; neighbours square to it run on, else short sides are added."""
    by_edge = {h.edge: h for h in hinges}
    run: list[Edge] = []
    for i, e in enumerate(loop.edges):
        hinge = by_edge.get(i)
        if hinge is None:
            run.append(replace(e, name=f"edge {i + 1}"))
            continue
        dx, dy = e.direction()
        a = (e.start[0] + dy * hinge.setback, e.start[1] - dx * hinge.setback)
        b = (e.end[0] + dy * hinge.setback, e.end[1] - dx * hinge.setback)
        name = "base" if base is not None and base.edge == i else _name(hinge)
        run += [Edge(e.start, a, 0.0, f"side {i + 1}a"), Edge(a, b, 0.0, name), Edge(b, e.end, 0.0, f"side {i + 1}b")]
    joined: list[Edge] = []
    for e in run:
        if joined and _runs_on(joined[-1], e):
            joined[-1] = replace(joined[-1], end=e.end)
        else:
            joined.append(e)
    if len(joined) > 3 and _runs_on(joined[-1], joined[0]):
        joined[0] = replace(joined[0], start=joined[-1].start)
        joined.pop()
    return Loop(tuple(joined))


def _runs_on(a: Edge, b: Edge) -> bool:
    if not (a.is_line and b.is_line) or not (a.name.startswith("side") or b.name.startswith("side")):
        return False
    (ax, ay), (bx, by) = a.direction(), b.direction()
    return abs(ax * by - ay * bx) < 1e-7 and ax * bx + ay * by > 0


def _across(
    found: Unfolded, parent: FoundPanel, hinge: _Hinge, hinges: dict[str, list[_Hinge]], done: set[str]
) -> tuple[FoundPanel | None, _Hinge | None]:
    """Find the panel on the other side of a hinge: its own edge faces this one across the strip."""
    mine = parent.outer.moved(parent.flat).edges[hinge.edge]
    for p in found.panels:
        if p.name in done:
            continue
        for h in hinges[p.name]:
            if h.fold is hinge.fold and _faces(mine, p.outer.moved(p.flat).edges[h.edge], hinge.fold.allowance):
                return p, h
    return None, None


def _faces(a: Edge, b: Edge, apart: float) -> bool:
    n = a.chord
    ux, uy = (a.end[0] - a.start[0]) / n, (a.end[1] - a.start[1]) / n
    across = [(p[0] - a.start[0]) * uy - (p[1] - a.start[1]) * ux for p in (b.start, b.end)]
    along = sorted((p[0] - a.start[0]) * ux + (p[1] - a.start[1]) * uy for p in (b.start, b.end))
    return all(abs(s - apart) < ON_LINE for s in across) and min(along[1], n) - max(along[0], 0.0) > ON_LINE


def _leg_frame(parent: FoundPanel, hinge: _Hinge, child: FoundPanel, root: _Hinge) -> Move:
    """Return the move from the found panel's frame to the leg's: x from the edge's left end, y from the mould line."""
    above = Move.to_edge(parent.outer.moved(parent.flat).edges[hinge.edge])
    # In the flat the leg's tangent line lies an allowance beyond the parent's; from its mould line it is one setback.
    to_leg = Move(v=root.setback - hinge.fold.allowance).after(above.inverse())
    return to_leg.after(child.flat)


def _with_holes(part: Part, panel: FoundPanel, frame: Move, name: str) -> Part:
    for loop in panel.holes:
        moved = loop.moved(frame)
        if moved.is_circle:
            part = part.hole(moved.edges[0].centre, 2 * moved.edges[0].radius, panel=name)
        else:
            part = part.cut_out(moved, panel=name)
    return part


def _difference(found: Unfolded, made: Made) -> float:
    """Return how much the made blank differs from the solid unfolded with the made part's own allowances."""
    rule = {
        (round(s.angle, 3), round(s.radius, 3)): (s.allowance / math.radians(s.angle) - s.radius) / made.thickness
        for s in made.strips
    }

    def k_of(angle: float, radius: float, t: float) -> float:
        return rule[min(rule, key=lambda key: abs(key[0] - angle) + 10 * abs(key[1] - radius))]

    try:
        theirs = unfold(found.folded.shape, bend=k_of if rule else 0.5)
    except TinbookError:
        return math.inf
    assert made.flat is not None
    over = made.panels[0].flat.after(theirs.panels[0].flat.inverse())
    mine = _polygon(made.flat, Move())
    other = _polygon(theirs, over)
    return float(mine.symmetric_difference(other).area / other.area)


def _polygon(flat: FlatPattern, move: Move) -> Any:
    from shapely import Polygon

    # Holes that the shop's cutter leaves to the drill are holes of the part all the same.
    loops = [flat.outer, *(c.loop for c in flat.cuts), *(d.loop for d in flat.drills)]
    rings = [loop.moved(move).chords(1e-3) for loop in loops]
    return Polygon(rings[0], rings[1:]).buffer(0)
