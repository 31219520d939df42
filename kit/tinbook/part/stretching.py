"""Drawing a part out, or in, at a line across its base.

A line stands square to one axis of the base panel. On a panel that hangs on an edge along that axis it goes on; on one
that hangs on an edge across the axis nothing changes, and the panel moves as a whole.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from tinbook.errors import BadValue
from tinbook.part.features import Fold, Hole, HoleGrid, HoleRow
from tinbook.plane.loops import Edge, Loop, Move, Point
from tinbook.plane.stretch import Stretch, edge_box, stretch_at

if TYPE_CHECKING:
    from tinbook.part.forms.form import Form
    from tinbook.part.part import Part


def stretched_part(part: Part, at: Any, by: Any, axis: Any) -> Part:
    """Return a part drawn out at a line; see `Part.stretched`."""
    line = stretch_at(at, by, axis)
    base = replace(part.base, loop=line.loop(part.base.loop, "the base"))
    line.across(part.base.loop, "the base")
    lines: dict[str, Stretch | None] = {"base": line}
    loops: dict[str, Loop] = {"base": part.base.loop}
    folds = []
    for fold in part.folds:
        edge = _edge_of(loops[fold.panel], fold)
        above = lines[fold.panel]
        own = None if above is None else above.on(edge)
        if above is not None and own is None and above.crosses(edge_box(edge)):
            _refuse_leaning(part, fold, edge)
        lines[fold.name], loops[fold.name] = own, fold.shape or _leg(fold, edge)
        folds.append(_fold(fold, edge, above, own))
    changed: dict[str, Any] = {
        "base": base,
        "folds": tuple(folds),
        "holes": tuple(_holes(h, lines) for h in part.holes),
        "forms": tuple(_form(f, lines) for f in part.forms),
    }
    return part._changed(**changed)


def _edge_of(loop: Loop, fold: Fold) -> Edge:
    return next(e for e in loop.edges if e.name == fold.edge)


def _leg(fold: Fold, edge: Edge) -> Loop:
    """Return a plain leg as it is declared, in its own frame: near enough to tell what lies beyond the line."""
    low = edge.length - (edge.length if fold.stop is None else fold.stop)
    high = edge.length - (fold.start or 0.0)
    points = [(low, 0.0), (high, 0.0), (high, fold.leg[1]), (low, fold.leg[0])]
    names = ("base", "right", "end", "left")
    return Loop(tuple(Edge(points[i], points[(i + 1) % 4], 0.0, names[i]) for i in range(4)))


def _refuse_leaning(part: Part, fold: Fold, edge: Edge) -> None:
    """Refuse what would stand askew on an edge that leans across the line, and so changes its direction."""
    on_it = [h.name for h in part.holes if not isinstance(h, HoleRow) and h.panel == fold.name]
    on_it += [f.name for f in part.forms if f.panel == fold.name]
    if on_it or fold.shape is not None or fold.start is not None or fold.stop is not None:
        what = ", ".join(on_it) or "a drawn shape or a stretch of its edge"
        valid = (
            f"a line that does not cross edge '{edge.name}', which leans and carries panel '{fold.name}' with {what}"
        )
        raise BadValue("stretched at", "crosses a leaning edge", valid)


def _fold(fold: Fold, edge: Edge, above: Stretch | None, own: Stretch | None) -> Fold:
    if above is None or own is None:
        return fold
    ends: dict[str, Any] = {}
    for name in ("start", "stop"):
        if (value := getattr(fold, name)) is not None:
            before = edge.length - value  # from the panel's left end
            after = own.point((before, 0.0))[0]
            ends[name] = _length(edge, above) - (after + _left(own))
    shape = None if fold.shape is None else _shifted(own.loop(fold.shape, f"panel '{fold.name}'"), own)
    strip = None if fold.strip is None else _shifted(own.loop(fold.strip, f"the bend of '{fold.name}'"), own)
    return replace(fold, **ends, shape=shape, strip=strip)


def _length(edge: Edge, above: Stretch) -> float:
    start, end = above.point(edge.start), above.point(edge.end)
    return math.dist(start, end)


def _left(own: Stretch) -> float:
    """Return what coordinates of a panel gain whose left end itself lies beyond the line: its own origin moves."""
    return -own.by * own.way[0] if own.beyond((0.0, 0.0)) else 0.0


def _shifted(loop: Loop, own: Stretch) -> Loop:
    gain = _left(own)
    return loop.moved(Move(u=gain)) if gain else loop


def _point(p: Point, line: Stretch | None, panel: str) -> Point:
    if line is None:
        return p
    x, y = line.point(p)
    return (x + _left(line), y) if panel != "base" else (x, y)


def _holes(hole: Hole | HoleRow | HoleGrid, lines: dict[str, Stretch | None]) -> Any:
    if isinstance(hole, HoleRow):
        return hole  # a row follows its edges
    line = lines[hole.panel]
    if line is None:
        return hole
    if isinstance(hole, HoleGrid):
        last = hole.places[-1]
        for x, y in (hole.first, last):  # those between spread
            line.spare((x, y, x, y), f"an end of grid '{hole.name}' on panel '{hole.panel}'")
        first, end = _point(hole.first, line, hole.panel), _point(last, line, hole.panel)
        dx, dy = (
            (b - a) / (n - 1) if n > 1 else d for a, b, n, d in zip(first, end, hole.counts, hole.steps, strict=True)
        )
        return replace(hole, first=first, steps=(dx, dy))
    if hole.dia is not None or hole.loop is not None:
        outline = hole.outline(hole.dia or 1.0)
        if line.crosses(outline.box):
            if hole.loop is None or hole.turn:
                valid = f"a line beside hole '{hole.name}' on panel '{hole.panel}'"
                raise BadValue("stretched at", round(line.at, 3), valid)
            x, y = _point(hole.centre, line, hole.panel)
            drawn = line.loop(outline, f"cut-out '{hole.name}'")
            placed = drawn if hole.panel == "base" else _shifted(drawn, line)
            return replace(hole, centre=(x, y), loop=placed.moved(Move(u=-x, v=-y)))
        line.spare(outline.box, f"hole '{hole.name}' on panel '{hole.panel}'")
    middle = _middle(hole)
    line.spare((*middle, *middle), f"hole '{hole.name}' on panel '{hole.panel}'")
    moved = _point(middle, line, hole.panel)
    return replace(hole, centre=(hole.centre[0] + moved[0] - middle[0], hole.centre[1] + moved[1] - middle[1]))


def _middle(hole: Hole) -> Point:
    if hole.loop is None:
        return hole.centre
    x0, y0, x1, y1 = hole.outline(1.0).box
    return (x0 + x1) / 2, (y0 + y1) / 2


def _form(form: Form, lines: dict[str, Stretch | None]) -> Form:
    line = lines.get(form.panel)
    if line is None:
        return form

    def to(p: Point) -> Point:
        line.spare((*p, *p), f"a point of '{form.name}' on panel '{form.panel}'")
        return _point(p, line, form.panel)

    return form.carried(to)
