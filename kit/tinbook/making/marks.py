"""Marks on a blank: fold lines, hand-drilled holes, the trim line, part number, up side, rolling direction."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import shapely

from tinbook.flatpattern import Cut, FoldLine, Mark
from tinbook.making.flat import polygons_of
from tinbook.making.folded import MadePanel
from tinbook.part.names import EVERY_EDGE
from tinbook.plane.arrays import boxes, rows
from tinbook.plane.loops import Array, Edge, Loop, Move, Point
from tinbook.strokes import strokes, text_width

if TYPE_CHECKING:
    from tinbook.part.features import Fold
    from tinbook.part.part import Part

NICK = 0.5
"""mm: depth of the nick in the edge at the end of a fold line; a deeper one starts a crack (common practice)."""


def fold_marks(lines: tuple[FoldLine, ...], etches: bool, nicked: frozenset[str]) -> list[Mark]:
    """Return the marks of every fold.

    Parameters
    ----------
    lines : tuple of FoldLine
        Where the marks go.
    etches : bool
        Whether the cutter draws on the up face.
    nicked : frozenset of str
        Folds whose ends may be nicked.

    Returns
    -------
    list of Mark
        An etched line where the cutter draws and the folder looks at the up face; for other folds nicks at
        both ends where their edges allow it, and a line for whoever marks the down face of an etched blank by hand.
    """
    marks = []
    for f in lines:
        if not f.pieces:
            continue
        label = fold_label(f)
        if etches:
            strokes_ = tuple(Edge(a, b) for a, b in f.pieces)
            marks.append(Mark(kind="fold", edges=strokes_, label=label, face=f.direction))
        if f.name in nicked and not (etches and f.direction == "up"):
            (a, a2), (b2, b) = f.pieces[0], f.pieces[-1]
            marks.append(Mark(kind="nick", edges=(_toward(a, a2), _toward(b, b2)), label=label, face=f.direction))
    return marks


def fold_label(f: FoldLine) -> str:
    """Return the label of a fold's marks."""
    return f"{f.name} {f.direction} {round(f.angle, 1):g}"


def _toward(end: Point, other: Point) -> Edge:
    s = min(1.0, NICK / max(math.dist(end, other), 1e-9))
    return Edge(end, (end[0] + s * (other[0] - end[0]), end[1] + s * (other[1] - end[1])))


def drill_marks(drills: tuple[Cut, ...]) -> list[Mark]:
    """Return a centre cross for every hole that is drilled by hand."""
    marks = []
    for d in drills:
        x0, y0, x1, y1 = d.loop.box
        x, y, r = (x0 + x1) / 2, (y0 + y1) / 2, 2.0
        cross = (Edge((x - r, y), (x + r, y)), Edge((x, y - r), (x, y + r)))
        marks.append(Mark(kind="drill", edges=cross, label=f"{d.name} Ø{round(d.dia, 2):g}" if d.dia else d.name))
    return marks


def trim_marks(finished: Loop, blank: Loop) -> list[Mark]:
    """Return the line that the blank is trimmed to after beading."""
    kept = {(e.start, e.end) for e in blank.edges}
    return [Mark(kind="trim", edges=tuple(e for e in finished.edges if (e.start, e.end) not in kept), label="trim")]


def label_mark(label: str, base: MadePanel, cuts: tuple[Cut, ...], marks: list[Mark], grain: bool) -> list[Mark]:
    """Return part number, up side and rolling direction where the base panel has room for them.

    The largest of four heights that finds a free place is taken; where none
    fits nothing is marked and the sheet alone carries the number.
    """
    ground = polygons_of([base.boundary.moved(base.flat)], 0.5)[0].buffer(-1.0)
    if ground.is_empty:
        return []
    shapely.prepare(ground)
    taken = _Taken(
        [c.loop for c in cuts], [f.footprint.moved(base.flat) for f in base.forms if f.footprint is not None], marks
    )
    for height in (10.0, 7.0, 5.0, 3.5):
        width, tall = max(text_width(label, height), 6 * height), 3.6 * height
        for turn in (0.0, 90.0):
            w, h = (width, tall) if turn == 0.0 else (tall, width)
            at = _free_place(ground, taken, w, h)
            if at is None:
                continue
            place = Move(u=at[0] + (tall if turn else 0.0), v=at[1]).after(Move.turn(turn))
            marked = [Mark(kind="text", edges=_lettering(label, height).moved(place).edges, label=f"{label} UP")]
            if grain and turn == 0.0:
                arrow = _arrow(at[0] + 2.2 * height, at[1] + 0.85 * height, 3.5 * height)
                marked.append(Mark(kind="grain", edges=arrow, label="rolling direction"))
            return marked
    return []


@lru_cache(maxsize=64)
def _lettering(label: str, height: float) -> Loop:
    """Return part number and up side in lines above each other; no loop, but moved like one."""
    lines = [*strokes(label, height, (0.0, 2.0 * height))]
    return Loop((*lines, *strokes("UP", height * 0.7, (0.0, 0.5 * height))))


def _arrow(x: float, y: float, length: float) -> tuple[Edge, ...]:
    h = length / 8
    tip, tail = (x + length, y), (x, y)
    ends = [(tail, tip), (tip, (x + length - h, y + h)), (tip, (x + length - h, y - h))]
    ends += [(tail, (x + h, y + h)), (tail, (x + h, y - h))]
    return tuple(Edge(a, b) for a, b in ends)


class _Taken:
    """The places on the blank that are taken: boxes of cuts, strokes of marks, footprints of forms."""

    def __init__(self, cuts: list[Loop], forms: list[Loop], marks: list[Mark]) -> None:
        ends = rows([e for m in marks for e in m.edges])[:, :4]
        a, b = ends[:, :2], ends[:, 2:]
        strokes_ = np.concatenate((np.minimum(a, b), np.maximum(a, b)), axis=1)
        slanted = (a != b).all(axis=1)
        self._plain = np.concatenate((boxes(cuts), strokes_[~slanted]))  # these fill their boxes
        self._boxes = np.concatenate((strokes_[slanted], boxes(forms)))
        self._slanted, self._forms = ends[slanted].reshape(-1, 2, 2), forms

    def hits(self, places: Array) -> npt.NDArray[np.bool_]:
        """Return for each box, shape (n, 4), whether it meets something."""
        hit = _meet(places, self._plain)
        # Shapes are made only for places that boxes do not settle.
        doubt = np.flatnonzero(~hit & _meet(places, self._boxes))
        if len(doubt):
            tree = shapely.STRtree(np.concatenate((shapely.linestrings(self._slanted), polygons_of(self._forms, 0.5))))
            hit[doubt[tree.query(shapely.box(*places[doubt].T), predicate="intersects")[0]]] = True
        return hit


def _meet(a: Array, b: Array) -> npt.NDArray[np.bool_]:
    """Return for each box of `a` whether it touches one of `b`."""
    ax0, ay0, ax1, ay1 = a.T[:, :, None]
    bx0, by0, bx1, by1 = b.T
    meet = (ax0 <= bx1) & (ax1 >= bx0) & (ay0 <= by1) & (ay1 >= by0)
    found: npt.NDArray[np.bool_] = meet.any(axis=1)
    return found


_PLACES = np.array([(x / 10, y / 10) for x in range(11) for y in range(11)])
"""Where a mark is tried, as shares of the room that the blank leaves it."""


def _free_place(ground: shapely.Geometry, taken: _Taken, w: float, h: float) -> Point | None:
    x0, y0, x1, y1 = ground.bounds
    room = np.array((x1 - x0 - 4 - w, y1 - y0 - 4 - h))
    if room.min() < 0:
        return None
    # Nearest to the middle first: that is where a folder looks, and clear of the edges.
    off = ((_PLACES - 0.5) * room) ** 2
    corners = (_PLACES * room + (x0 + 2, y0 + 2))[np.argsort(np.round(off[:, 0] + off[:, 1], 3), kind="stable")]
    # A few at a time: mostly one of the first is free.
    for some in (corners[:12], corners[12:]):
        # 2 mm of air round the text.
        places = np.concatenate((some - 2.0, some + np.array((w + 2.0, h + 2.0))), axis=1)
        for i in np.flatnonzero(~taken.hits(places)):
            if shapely.contains_properly(ground, shapely.box(*places[i])):
                x, y = some[i].tolist()
                return x, y
    return None


def may_nick(part: Part) -> frozenset[str]:
    """Return the names of the folds whose ends may be nicked."""
    return frozenset(f.name for f in part.folds if not why_no_nick(part, f))


def why_no_nick(part: Part, fold: Fold) -> str:
    """Return why the ends of a fold may not be nicked, "" where they may.

    A nick is a notch. A hem or a curl cracks from it or shows it, and an edge that the part keeps clean is seen
    or carries load (common practice).
    """
    if fold.hem is not None:
        return "hemmed"
    if fold.curl:
        return "curled"
    beside = _beside(part, fold)
    rolled = {(f.panel, f.edge) for f in part.folds if f.hem is not None or f.curl}
    if not rolled.isdisjoint(beside):
        return "its ends run into a hemmed or curled edge"
    if EVERY_EDGE in part.clean or not set(part.clean).isdisjoint(beside):
        return "its ends lie on edges that are kept clean"
    return ""


def _beside(part: Part, fold: Fold) -> list[tuple[str, str]]:
    """Return the edges that a fold's line ends on: those beside its own edge, and those of its leg beside the fold."""
    loop = part.base.loop if fold.panel == "base" else next(f.shape for f in part.folds if f.name == fold.panel)
    found = [(fold.panel, fold.edge)]
    if loop is not None:
        names = [e.name for e in loop.edges]
        found += [(fold.panel, name) for name in _next_to(names, fold.edge)]
    else:  # a plain leg has right, end and left, in this order from its fold
        names = ["base", "right", "end", "left"]
        found += [(fold.panel, name) for name in _next_to(names, fold.edge)]
    own = [e.name for e in fold.shape.edges] if fold.shape is not None else ["base", "right", "end", "left"]
    return found + [(fold.name, name) for name in _next_to(own, "base")]


def _next_to(names: list[str], name: str) -> tuple[str, str]:
    k = names.index(name)
    return names[k - 1], names[(k + 1) % len(names)]
