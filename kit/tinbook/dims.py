"""Dimensions that a tape can check on a blank: overall, fold lines from a datum edge, rows of holes.

This module computes numbers and positions only; `svg` and `write.sheet` draw them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from tinbook.flatlines import Cut, FoldLine
from tinbook.plane.cuts import distance
from tinbook.plane.loops import Edge, Move, Point
from tinbook.values import dataclass

if TYPE_CHECKING:
    from tinbook.flatpattern import FlatPattern

_UNEVEN: Final = 0.15
"""Part of a pitch by which a row may be uneven and still be one row: beads that draw the sheet in spread it."""

_ASIDE: Final = 0.3
"""mm: how far a hole may stand beside the direction of its row."""

LISTED: Final = 8
"""Loose holes of one kind up to this number are listed one by one."""

TAPER: Final = 30.0
"""Degrees: an edge that is turned more against a fold line is no datum for it."""

_SIDES: Final = 24
"""Edges of an opening along which its size is looked for."""

_STRAIGHT: Final = 1e-6
"""rad: a fold line turned less than this against an axis counts as parallel to it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dim:
    """A dimension along x or y.

    Parameters
    ----------
    a, b : (float, float)
        The two feet on the part, mm.
    at : float
        Where the dimension line runs: its y for a dimension along x, its x for one along y.
    upright : bool
        Whether it measures along y.
    text : str
        The number as printed.
    """

    a: Point
    b: Point
    at: float
    upright: bool
    text: str

    @property
    def ends(self) -> tuple[Point, Point]:
        """Ends of the dimension line."""
        if self.upright:
            return (self.at, self.a[1]), (self.at, self.b[1])
        return (self.a[0], self.at), (self.b[0], self.at)

    @property
    def value(self) -> float:
        """Measured length, mm."""
        return abs(self.b[1] - self.a[1]) if self.upright else abs(self.b[0] - self.a[0])


def mm(value: float) -> str:
    """Return a length as printed: one decimal, the resolution of a tape or a rule."""
    return f"{round(value, 1) + 0.0:.1f}"  # no minus before a zero


def text_width(dim: Dim, size: float) -> float:
    """Return the approximate width of a dimension's number at a letter height."""
    return 0.58 * size * len(dim.text)


def text_place(dim: Dim, size: float) -> Point:
    """Return the middle of a dimension's number: on its line, or beyond the end of a line that is too short."""
    (ax, ay), (bx, by) = dim.ends
    width = text_width(dim, size)
    if dim.value > width + 0.8 * size:
        return (ax + bx) / 2, (ay + by) / 2
    back = 0.5 * width + 0.6 * size
    # Upright ones go above: below, they would cover the numbers of the row along x.
    return (ax, max(ay, by) + back) if dim.upright else (min(ax, bx) - back, ay)


def _corners(flat: FlatPattern) -> list[Point]:
    return [e.at(s) for e in flat.outer for s in ((0.0,) if e.is_line else (0.0, 0.25, 0.5, 0.75))]


def overall(flat: FlatPattern, size: float) -> tuple[Dim, Dim]:
    """Return width and height of the blank's bounding box as two dimensions.

    Parameters
    ----------
    flat : FlatPattern
        The blank.
    size : float
        Height of letters, mm of the drawing: sets how far out the lines stand.
    """
    x0, y0, x1, y1 = flat.outer.box
    left, right, low, high = _outermost(flat)
    out = 2.4 * size
    return (
        Dim(a=(x0, left[1]), b=(x1, right[1]), at=y1 + out, upright=False, text=mm(x1 - x0)),
        Dim(a=(low[0], y0), b=(high[0], y1), at=x1 + out, upright=True, text=mm(y1 - y0)),
    )


def _outermost(flat: FlatPattern) -> tuple[Point, Point, Point, Point]:
    """Return the corners farthest to the left, to the right, down and up."""
    points = _corners(flat)
    # Rounded, so that noise in the last digits never picks another corner.
    across = [(round(x, 6), round(y, 6)) for x, y in points]
    up = [(y, x) for x, y in across]
    found = (across.index(min(across)), across.index(max(across)), up.index(min(up)), up.index(max(up)))
    left, right, low, high = (points[k] for k in found)
    return left, right, low, high


def _axis(f: FoldLine) -> str:
    if not f.pieces:
        return ""
    (ax, ay), (bx, by) = f.pieces[0][0], f.pieces[-1][1]
    turn = math.atan2(by - ay, bx - ax)
    if abs(math.sin(turn)) < _STRAIGHT:
        return "x"
    return "y" if abs(math.cos(turn)) < _STRAIGHT else ""


_NONE: Final = 0.05
"""mm: a shorter dimension would read 0.0."""


def fold_stations(flat: FlatPattern, size: float, origin: Point | None = None) -> tuple[Dim, ...]:
    """Return the distance of each axis-parallel fold line from the left or lower edge of the blank, or from an origin.

    Running dimensions from one datum: a tape hooked on that edge reads them all; a line through it has none.
    Fold lines that are not parallel to an axis are measured by `fold_to_edges`.
    """
    x0, y0, *_ = flat.outer.box
    upright = {round(f.pieces[0][0][1], 3): f for f in flat.folds if _axis(f) == "x"}
    along = {round(f.pieces[0][0][0], 3): f for f in flat.folds if _axis(f) == "y"}
    result = []
    left, _, low, _ = _outermost(flat)
    across, up = ((x0, left[1]), (low[0], y0)) if origin is None else (origin, origin)
    for row, key in enumerate(sorted(k for k in along if abs(k - across[0]) > _NONE)):
        p = min(along[key].pieces[0], key=lambda q: q[1])
        at = y0 - (row + 1) * 1.8 * size
        result.append(Dim(a=across, b=p, at=at, upright=False, text=mm(p[0] - across[0])))
    for row, key in enumerate(sorted(k for k in upright if abs(k - up[1]) > _NONE)):
        p = min(upright[key].pieces[0])
        result.append(Dim(a=up, b=p, at=x0 - (row + 1) * 1.8 * size, upright=True, text=mm(p[1] - up[1])))
    return tuple(result)


def fold_to_edge(flat: FlatPattern, fold: FoldLine) -> tuple[float, Edge] | None:
    """Return the distance from a fold line to the straight outer edge that serves it as datum.

    The edge is parallel to the fold, lies opposite it for some length and is the
    nearest such edge; in an ordinary leg that is the leg's free edge.

    Returns
    -------
    (float, Edge) or None
        mm and the edge; None when no outer edge is parallel, or openings leave nothing of the line.
    """
    found = [(away[0], e) for tapered, away, e in _edges_along(flat, fold) if not tapered]
    return min(found, key=lambda row: row[0]) if found else None


def fold_to_edges(flat: FlatPattern, fold: FoldLine) -> tuple[float, float] | None:
    """Return the distances from a fold line to the two corners of the straight outer edge that serves it as datum.

    As `fold_to_edge`, but the edge may taper by up to `TAPER`.

    Returns
    -------
    (float, float) or None
        mm, square to the line from the edge's corner toward the line's start and from the one toward its end: equal
        but for rounding where the two are parallel. None when there is no such edge, or openings leave nothing of
        the line.
    """
    found = [(round(sum(away) / 2, 6), tapered, away) for tapered, away, _ in _edges_along(flat, fold)]
    return min(found)[2] if found else None


def _edges_along(flat: FlatPattern, fold: FoldLine) -> Iterator[tuple[bool, tuple[float, float], Edge]]:
    """Yield the straight outer edges that lie opposite a fold line: whether they taper, and how far their corners lie off."""
    if not fold.pieces:
        return
    a, b = fold.pieces[0][0], fold.pieces[-1][1]
    n = math.dist(a, b)
    ux, uy = (b[0] - a[0]) / n, (b[1] - a[1]) / n
    for e in flat.outer:
        if not e.is_line or e.chord < fold.radius:
            continue
        dx, dy = e.direction()
        turned = abs(dx * uy - dy * ux)
        if turned > math.sin(math.radians(TAPER)):
            continue
        ends = sorted(((p[0] - a[0]) * ux + (p[1] - a[1]) * uy, p) for p in (e.start, e.end))
        tapered = turned > _STRAIGHT
        if min(ends[1][0], n) - max(ends[0][0], 0.0) < (0.5 if tapered else 0.2) * min(n, e.chord):
            continue
        first, last = ((p[0] - a[0]) * uy - (p[1] - a[1]) * ux for _, p in ends)
        if first * last > 0 and min(abs(first), abs(last)) > fold.allowance / 2:
            yield tapered, (abs(first), abs(last)), e


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRow:
    """Holes of one size and use, in a straight row or as a loose group.

    Parameters
    ----------
    name, use : str
        As the part names them.
    dia : float or None
        Diameter of round holes, mm.
    size : (float, float)
        Length and width of the first one as a caliper finds them, the longer first unless it lies level, mm.
    turn : float
        How far its length is turned from the blank's x, degrees, 0 up to 180; 0 for round holes.
    count : int
        Number of holes.
    first, last : (float, float)
        Centres of the first and last hole, mm.
    pitch : (float, float) or None
        Smallest and largest distance between neighbours, mm; None when the holes are not in a row.
    first_from, last_from : float
        Smallest distance from the first and from the last centre to the blank's edge, mm.
    centres : tuple of (float, float)
        All centres in order, mm.
    drilled : bool
        Whether they are drilled by hand: not in the cut file.
    undersize : float or None
        Diameter that is cut before they are drilled out, mm.
    """

    name: str
    use: str
    dia: float | None
    size: tuple[float, float]
    count: int
    first: Point
    last: Point
    pitch: tuple[float, float] | None
    first_from: float
    last_from: float
    centres: tuple[Point, ...] = ()
    drilled: bool = False
    undersize: float | None = None
    turn: float = 0.0


def centre_of(cut: Cut) -> Point:
    """Return the centre of a cut's bounding box, for a round hole its centre."""
    x0, y0, x1, y1 = cut.loop.box
    return (x0 + x1) / 2, (y0 + y1) / 2


def _calipered(cut: Cut) -> tuple[tuple[float, float], float]:
    """Return length and width of an opening in the smallest box that lies along one of its straight edges, and its turn."""
    x0, y0, x1, y1 = cut.loop.box
    best = ((x1 - x0) * (y1 - y0) - 1e-6, (x1 - x0, y1 - y0), 0.0)
    for e in cut.loop.edges[:_SIDES] if cut.dia is None else ():
        ux, uy = e.direction() if e.is_line else (1.0, 0.0)
        if min(abs(ux), abs(uy)) < _STRAIGHT:
            continue
        x0, y0, x1, y1 = cut.loop.moved(Move(ux, uy, -uy, ux)).box
        w, h = x1 - x0, y1 - y0
        along = math.degrees(math.atan2(uy, ux)) + (0.0 if w >= h else 90.0)
        if w * h < best[0] - 1e-9:
            best = (w * h, (max(w, h), min(w, h)), along % 180.0)
    return best[1], best[2]


def _from_edge(flat: FlatPattern, p: Point) -> float:
    return min(distance(e, p) for e in flat.outer)


def _runs(centres: Sequence[Point]) -> Iterable[list[int]]:
    """Split centres, in their given order, into the longest straight runs of about even pitch."""
    i = 0
    while i < len(centres):
        run = [i]
        if i + 1 < len(centres):
            first = _step(centres, i)
            j = i + 1
            while j < len(centres) and _goes_on(first, _step(centres, j - 1)):
                run.append(j)
                j += 1
        if len(run) == 2 and len(centres) > 2:
            run.pop()
        yield run
        i = run[-1] + 1


def _goes_on(first: Point, step: Point) -> bool:
    n = math.hypot(*first)
    aside = abs(first[0] * step[1] - first[1] * step[0]) / n
    return aside < _ASIDE and math.dist(step, first) < _UNEVEN * n


def _step(centres: Sequence[Point], i: int) -> Point:
    return centres[i + 1][0] - centres[i][0], centres[i + 1][1] - centres[i][1]


def hole_rows(flat: FlatPattern) -> tuple[HoleRow, ...]:
    """Return all openings grouped into rows, in the order of the flat pattern: cut ones first, then drilled ones."""
    groups: dict[tuple[bool, float | None, str, float | None, float], list[Cut]] = {}
    before = {c.name: c.dia for c in flat.undersize}
    for drilled, c in (*((False, c) for c in flat.cuts), *((True, c) for c in flat.drills)):
        dia = None if c.dia is None else round(c.dia, 4)
        cut = before.get(c.name) if drilled else None
        groups.setdefault((drilled, cut, c.use, dia, 0.0 if c.dia else round(abs(c.loop.area), 3)), []).append(c)
    rows: list[HoleRow] = []
    for (drilled, cut, *_), cuts in groups.items():
        centres = [centre_of(c) for c in cuts]
        loose: list[int] = []
        for run in _runs(centres):
            if len(run) == 1:
                loose += run
            else:
                rows.append(_row(flat, cuts, centres, run, even=True, made=(drilled, cut)))
        # A few loose holes get a row each; a larger loose group gets one row.
        lots = [[i] for i in loose] if len(loose) <= LISTED else [loose]
        rows += [_row(flat, cuts, centres, lot, even=False, made=(drilled, cut)) for lot in lots]
    return tuple(rows)


def _row(
    flat: FlatPattern,
    cuts: list[Cut],
    centres: list[Point],
    chosen: list[int],
    *,
    even: bool,
    made: tuple[bool, float | None],
) -> HoleRow:
    first, a, b = cuts[chosen[0]], centres[chosen[0]], centres[chosen[-1]]
    size, turn = _calipered(first)
    steps = [math.dist(centres[i], centres[j]) for i, j in pairwise(chosen)]
    return HoleRow(
        name=first.name,
        use=first.use,
        dia=first.dia,
        size=size,
        turn=turn,
        count=len(chosen),
        first=a,
        last=b,
        pitch=(min(steps), max(steps)) if even else None,
        first_from=_from_edge(flat, a),
        last_from=_from_edge(flat, b),
        centres=tuple(centres[i] for i in chosen),
        drilled=made[0],
        undersize=made[1],
    )
