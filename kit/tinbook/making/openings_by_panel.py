"""Openings that run over folds: each panel and strip gets its own part of them."""

from __future__ import annotations

import math
from dataclasses import field, replace
from typing import Final

import numpy as np

from tinbook.finding import Refused
from tinbook.making.folded import MadeHole
from tinbook.making.tree import PanelNode
from tinbook.plane.arrays import boxes
from tinbook.plane.chaining import CUT, HOLE, cut_spans, divided
from tinbook.plane.loops import Array, Box, Edge, Loop, Move, Point
from tinbook.values import dataclass

TOUCH: Final = 1e-6
"""mm: an opening that ends this near the line where a bend begins touches it."""


@dataclass(slots=True)
class OpeningsByPanel:
    """Openings by panel and by strip: whole ones, and parts that end on tangent lines with the names of their openings.

    `flat` holds every opening once, whole, on the panel it is drawn on;
    `over_fold` tells for each strip which of them run into it.
    """

    panel_holes: dict[str, list[MadeHole]] = field(default_factory=dict)
    panel_parts: dict[str, list[tuple[Loop, str]]] = field(default_factory=dict)
    strip_holes: dict[str, list[MadeHole]] = field(default_factory=dict)
    strip_parts: dict[str, list[Loop]] = field(default_factory=dict)
    flat: list[tuple[str, MadeHole]] = field(default_factory=list)
    over_fold: dict[str, list[int]] = field(default_factory=dict)
    boxes: Array = field(default_factory=lambda: np.empty((0, 4)))  # of `flat`, in its order

    def hole_boxes(self, panel: str) -> Array:
        """Return the boxes of a panel's whole holes, shape (n, 4)."""
        holes = self.panel_holes.get(panel, ())
        same = [i for i, (name, _) in enumerate(self.flat) if name == panel]
        if len(same) == len(holes) and all(h is self.flat[i][1] for i, h in zip(same, holes, strict=True)):
            return self.boxes[same]
        return boxes([h.loop for h in holes])


def split_openings(nodes: dict[str, PanelNode], found: list[tuple[str, MadeHole]]) -> OpeningsByPanel:
    """Assign each opening, or its part, to the panels and bends that it covers.

    Parameters
    ----------
    nodes : dict of str to PanelNode
        The tree.
    found : list of (str, MadeHole)
        Each with the panel it is drawn on, in that panel's frame.

    Returns
    -------
    OpeningsByPanel
    """
    result = OpeningsByPanel(boxes=boxes([hole.loop for _, hole in found]))
    for o, clear in zip(found, _clear(nodes, found, result.boxes), strict=True):
        panel, hole = o
        result.flat.append(o)
        if clear:
            result.panel_holes.setdefault(panel, []).append(hole)
        else:
            _panel(nodes, panel, hole.loop, hole, None, result)
    return result


def _lines(node: PanelNode) -> list[tuple[str, Point, Point, tuple[float, float], bool]]:
    """Return (fold, origin, direction, strip stretch, whether it is the root) of every tangent line."""
    out = []
    for j in node.bends:
        e = node.loop.edges[j.edge]
        ux, uy = e.direction()
        origin = (e.start[0] - uy * j.setback, e.start[1] + ux * j.setback)
        out.append((j.name, origin, (ux, uy), node.boundary.spans[j.name], j.span is not None))
    return out


def _clear(nodes: dict[str, PanelNode], found: list[tuple[str, MadeHole]], around: Array) -> list[bool]:
    """Whether the circle round each opening's box keeps inside all tangent lines: the quick way for most holes."""
    clear = np.ones(len(found), dtype=np.bool_)
    by_panel: dict[str, list[int]] = {}
    for i, (panel, _) in enumerate(found):
        by_panel.setdefault(panel, []).append(i)
    for panel, listed in by_panel.items():
        box = around[listed]
        x, y = (box[:, 0] + box[:, 2]) / 2, (box[:, 1] + box[:, 3]) / 2
        dia = [found[i][1].dia for i in listed]
        r = np.where(
            [d is None for d in dia], np.hypot(box[:, 2] - box[:, 0], box[:, 3] - box[:, 1]), [d or 0 for d in dia]
        )
        inside = np.ones(len(listed), dtype=np.bool_)
        for _, (ox, oy), (ux, uy), _, _ in _lines(nodes[panel]):
            inside &= (x - ox) * uy - (y - oy) * ux + r / 2 <= -TOUCH
        clear[listed] = inside
    return clear.tolist()


def _panel(
    nodes: dict[str, PanelNode], name: str, loop: Loop, hole: MadeHole, came: str | None, result: OpeningsByPanel
) -> None:
    node = nodes[name]
    parts = [loop]
    for fold, origin, u, span, is_root in _lines(node):
        if fold == came:
            continue
        kept: list[Loop] = []
        for part in parts:
            line = f"{fold}:child" if is_root else fold
            lo, left, hi, _ = _seen(part, origin, u)
            if left >= -1e-9 and not _lies_on(part, origin, u):
                if left < TOUCH and hi > span[0] and lo < span[1]:
                    raise _touching(hole, fold)
                kept.append(part)
                continue
            inside, beyond = _parted(part, origin, u, line)
            here = [_seen(b, origin, u)[::2] for b in beyond]
            if all(hi < span[0] or lo > span[1] for lo, hi in here):
                kept.append(part)  # beside the fold, not over it
                continue
            for lo, hi in here:
                if lo < span[0] + 1e-6 or hi > span[1] - 1e-6:
                    what = f"it runs over fold {fold!r} past the end of its bend"
                    remedy = f"keep it between {span[0]:.2f} and {span[1]:.2f} mm along the fold, or clear of it"
                    numbers = (lo, span[0]) if lo < span[0] + 1e-6 else (hi, span[1])
                    raise Refused("hole.off_fold", f"hole {hole.name!r}", what, remedy, *numbers)
            kept.extend(inside)
            for b in beyond:
                _strip(nodes, name, fold, is_root, b, hole, result)
        parts = kept
    for part in parts:
        if any(e.name.startswith(CUT) for e in part.edges):
            result.panel_parts.setdefault(name, []).append((_named(part, hole.name), hole.name))
        else:
            result.panel_holes.setdefault(name, []).append(_like(hole, part))


def _strip(
    nodes: dict[str, PanelNode],
    panel: str,
    fold: str,
    from_child: bool,
    part: Loop,
    hole: MadeHole,
    result: OpeningsByPanel,
) -> None:
    child = nodes[fold]
    assert child.bent is not None
    parent = nodes[child.bent.fold.panel]
    strip_flat = parent.strips[fold][1]
    local = part.moved(strip_flat.inverse().after(nodes[panel].flat))
    width = child.bent.bend.allowance
    lines = (fold, (0.0, 0.0), (1.0, 0.0)), (f"{fold}:child", (0.0, width), (-1.0, 0.0))
    line, origin, u = lines[not from_child]
    if _seen(local, origin, u)[1] >= -1e-9 and not _lies_on(local, origin, u):
        here, beyond = [local], list[Loop]()
    else:
        here, beyond = _parted(local, origin, u, line)
    result.over_fold.setdefault(fold, []).append(len(result.flat) - 1)
    for h in here:
        named = {e.name for e in h.edges}
        for name, at, way in lines:
            if CUT + name not in named and _seen(h, at, way)[1] < TOUCH:
                raise _touching(hole, fold)
        if any(name.startswith(CUT) for name in named):
            result.strip_parts.setdefault(fold, []).append(_named(h, hole.name))
        else:
            result.strip_holes.setdefault(fold, []).append(_like(hole, h))
    target = parent if from_child else child
    for b in beyond:
        _panel(nodes, target.name, b.moved(target.flat.inverse().after(strip_flat)), hole, fold, result)


def _touching(hole: MadeHole, fold: str) -> Refused:
    what = f"it ends on the line where the bend of fold {fold!r} begins, and leaves no metal there"
    return Refused(
        "hole.off_fold", f"hole {hole.name!r}", what, "move it by a tenth of a millimetre, off the line or over it"
    )


def _lies_on(part: Loop, origin: Point, u: Point) -> bool:
    """Whether an edge of a part lies on a line."""
    return any(
        e.is_line
        and not e.name.startswith(CUT)
        and all(abs((p[0] - origin[0]) * u[1] - (p[1] - origin[1]) * u[0]) < 1e-6 for p in (e.start, e.end))
        for e in part.edges
    )


def _parted(part: Loop, origin: Point, u: Point, line: str) -> tuple[list[Loop], list[Loop]]:
    """Part an opening at a tangent line; where an edge of it lies on the line, its far side gets an empty part there.

    An empty part, one edge out and back, makes the boundary on that side a free edge.
    """
    inside, beyond = divided(part, origin, u, line)
    spans = [[s for loop in side for s in cut_spans(loop, line, origin, u)] for side in (inside, beyond)]
    for mine, theirs, side, sense in ((spans[0], spans[1], beyond, 1), (spans[1], spans[0], inside, -1)):
        for lo, hi in mine:
            at = lo
            for a, b in [*sorted(s for s in theirs if s[0] < hi and s[1] > lo), (hi, hi)]:
                if a - at > 1e-5:
                    side.append(_empty(origin, u, at, a, line, sense))
                at = max(at, b)
    return inside, beyond


def _empty(origin: Point, u: Point, lo: float, hi: float, line: str, sense: int) -> Loop:
    p, q = ((origin[0] + s * u[0], origin[1] + s * u[1]) for s in ((lo, hi) if sense > 0 else (hi, lo)))
    return Loop((Edge(p, q), Edge(q, p, 0.0, CUT + line)))


def _seen(part: Loop, origin: Point, u: Point) -> Box:
    """Return a part's box as seen from a line: x along it, y to its left."""
    return part.moved(Move(u[0], u[1], -u[1], u[0]).after(Move(u=-origin[0], v=-origin[1]))).box


def _named(part: Loop, name: str) -> Loop:
    """Return a part whose edges remember their opening, where they will break a boundary."""
    return Loop(tuple(e if e.name.startswith(CUT) else replace(e, name=HOLE + name) for e in part.edges))


def _like(hole: MadeHole, loop: Loop) -> MadeHole:
    if loop is hole.loop:
        return hole
    whole = math.isclose(loop.area, hole.loop.area, rel_tol=1e-9)
    if whole:
        return replace(hole, loop=loop)
    return MadeHole(loop=loop, name=hole.name, use=hole.use)
