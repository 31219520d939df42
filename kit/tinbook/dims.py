"""Dimensions that a tape can check on a blank: overall, fold lines from a datum edge, rows of holes.

Only numbers and places are worked out here; `svg` and `write.sheet` draw them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from tinbook.flatpattern import Cut, FlatPattern, FoldLine
from tinbook.plane import Edge, Point

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
    """Return a length as printed: one decimal, as a tape or a rule can tell."""
    return f"{value:.1f}"


def text_width(dim: Dim, size: float) -> float:
    """Return about how wide a dimension's number is at a height of letters, in ordinary digits."""
    return 0.58 * size * len(dim.text)


def text_place(dim: Dim, size: float) -> Point:
    """Return where the middle of a dimension's number goes: on its line, or before it where it is too short."""
    (ax, ay), (bx, by) = dim.ends
    width = text_width(dim, size)
    if dim.value > width + 0.8 * size:
        return (ax + bx) / 2, (ay + by) / 2
    back = 0.5 * width + 0.6 * size
    return (ax, min(ay, by) - back) if dim.upright else (min(ax, bx) - back, ay)


def _corners(flat: FlatPattern) -> list[Point]:
    return [e.at(s) for e in flat.outer for s in ((0.0,) if e.is_line else (0.0, 0.25, 0.5, 0.75))]


def overall(flat: FlatPattern, size: float, level: int = 1) -> tuple[Dim, Dim]:
    """Return width and height of the blank's bounding box as two dimensions.

    Parameters
    ----------
    flat : FlatPattern
        The blank.
    size : float
        Height of letters, mm of the drawing: sets how far out the lines stand.
    level : int
        1 for the first row of dimension lines, 2 for the next one out.
    """
    x0, y0, x1, y1 = flat.outer.box
    points = _corners(flat)
    left, right = min(points), max(points)
    low, high = min(points, key=lambda p: (p[1], p[0])), max(points, key=lambda p: (p[1], p[0]))
    out = level * 2.4 * size
    return (
        Dim(a=(x0, left[1]), b=(x1, right[1]), at=y1 + out, upright=False, text=mm(x1 - x0)),
        Dim(a=(low[0], y0), b=(high[0], y1), at=x1 + out, upright=True, text=mm(y1 - y0)),
    )


def _axis(f: FoldLine) -> str:
    (ax, ay), (bx, by) = f.pieces[0][0], f.pieces[-1][1]
    turn = math.atan2(by - ay, bx - ax)
    if abs(math.sin(turn)) < _STRAIGHT:
        return "x"
    return "y" if abs(math.cos(turn)) < _STRAIGHT else ""


def fold_stations(flat: FlatPattern, size: float) -> tuple[Dim, ...]:
    """Return the distance of each axis-parallel fold line from the left or lower edge of the blank.

    Running dimensions from one datum: a tape hooked on that edge reads them all.
    Fold lines that run askew are left to `fold_to_edge`.
    """
    x0, y0, *_ = flat.outer.box
    upright = {round(f.pieces[0][0][1], 3): f for f in flat.folds if _axis(f) == "x"}
    along = {round(f.pieces[0][0][0], 3): f for f in flat.folds if _axis(f) == "y"}
    result = []
    points = _corners(flat)
    for row, key in enumerate(sorted(along)):
        p = min(along[key].pieces[0], key=lambda q: q[1])
        foot = (x0, min(points)[1])
        result.append(Dim(a=foot, b=p, at=y0 - (row + 1) * 1.8 * size, upright=False, text=mm(p[0] - x0)))
    low = min(points, key=lambda q: (q[1], q[0]))
    for row, key in enumerate(sorted(upright)):
        p = min(upright[key].pieces[0])
        result.append(Dim(a=(low[0], y0), b=p, at=x0 - (row + 1) * 1.8 * size, upright=True, text=mm(p[1] - y0)))
    return tuple(result)


def fold_to_edge(flat: FlatPattern, fold: FoldLine) -> tuple[float, Edge] | None:
    """Return the distance from a fold line to the straight outer edge that serves it as datum.

    The edge is parallel to the fold, lies opposite it for some length and is the
    nearest such edge; in an ordinary leg that is the leg's free edge.

    Returns
    -------
    (float, Edge) or None
        mm and the edge; None when no outer edge is parallel.
    """
    a, b = fold.pieces[0][0], fold.pieces[-1][1]
    n = math.dist(a, b)
    ux, uy = (b[0] - a[0]) / n, (b[1] - a[1]) / n
    best: tuple[float, Edge] | None = None
    for e in flat.outer:
        if not e.is_line or e.chord < fold.radius:
            continue
        dx, dy = e.direction()
        if abs(dx * uy - dy * ux) > _STRAIGHT:
            continue
        s = sorted((p[0] - a[0]) * ux + (p[1] - a[1]) * uy for p in (e.start, e.end))
        if min(s[1], n) - max(s[0], 0.0) < 0.2 * min(n, e.chord):
            continue
        away = abs((e.start[0] - a[0]) * uy - (e.start[1] - a[1]) * ux)
        if away > fold.allowance / 2 and (best is None or away < best[0]):
            best = (away, e)
    return best


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleRow:
    """Holes of one size and use that stand in a straight, even row, or a lone group that does not.

    Parameters
    ----------
    name, use : str
        As the part names them.
    dia : float or None
        Diameter of round holes, mm.
    count : int
        Number of holes.
    first, last : (float, float)
        Centres of the first and last hole, mm.
    pitch : float or None
        Even distance between centres, mm; None when the holes are not in one even row.
    first_from, last_from : float
        Smallest distance from the first and from the last centre to the blank's edge, mm.
    """

    name: str
    use: str
    dia: float | None
    count: int
    first: Point
    last: Point
    pitch: float | None
    first_from: float
    last_from: float


def centre_of(cut: Cut) -> Point:
    """Return the centre of a cut's bounding box, for a round hole its centre."""
    x0, y0, x1, y1 = cut.loop.box
    return (x0 + x1) / 2, (y0 + y1) / 2


def _from_edge(flat: FlatPattern, p: Point) -> float:
    from tinbook.plane import distance

    return min(distance(e, p) for e in flat.outer)


def _runs(centres: Sequence[Point]) -> Iterable[list[int]]:
    """Split centres, in their given order, into the longest straight and even runs."""
    i = 0
    while i < len(centres):
        run = [i]
        if i + 1 < len(centres):
            step = (centres[i + 1][0] - centres[i][0], centres[i + 1][1] - centres[i][1])
            j = i + 1
            while (
                j < len(centres)
                and math.dist((centres[j][0] - centres[j - 1][0], centres[j][1] - centres[j - 1][1]), step) < 0.02
            ):
                run.append(j)
                j += 1
        if len(run) == 2 and len(centres) > 2:
            run.pop()
        yield run
        i = run[-1] + 1


def hole_rows(flat: FlatPattern) -> tuple[HoleRow, ...]:
    """Return the inner contours gathered into even rows, in the order of the flat pattern."""
    groups: dict[tuple[str, float | None, float], list[Cut]] = {}
    for c in flat.cuts:
        key = (c.use, None if c.dia is None else round(c.dia, 4), 0.0 if c.dia else round(abs(c.loop.area), 3))
        groups.setdefault(key, []).append(c)
    rows: list[HoleRow] = []
    for (use, dia, _), cuts in groups.items():
        centres = [centre_of(c) for c in cuts]
        loose: list[int] = []
        for run in _runs(centres):
            if len(run) == 1:
                loose += run
                continue
            a, b = centres[run[0]], centres[run[-1]]
            rows.append(
                HoleRow(
                    name=cuts[run[0]].name,
                    use=use,
                    dia=dia,
                    count=len(run),
                    first=a,
                    last=b,
                    pitch=math.dist(a, b) / (len(run) - 1),
                    first_from=_from_edge(flat, a),
                    last_from=_from_edge(flat, b),
                )
            )
        if loose:
            a, b = centres[loose[0]], centres[loose[-1]]
            rows.append(
                HoleRow(
                    name=cuts[loose[0]].name,
                    use=use,
                    dia=dia,
                    count=len(loose),
                    first=a,
                    last=b,
                    pitch=None,
                    first_from=_from_edge(flat, a),
                    last_from=_from_edge(flat, b),
                )
            )
    return tuple(rows)
