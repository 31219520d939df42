"""Runs of a rim fitted robustly, those of one edge put together, and what the scanner missed told from metal."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from tinbook.plane.arrays import Index
from tinbook.plane.loops import Array, Point
from tinbook.plane.meeting import cross
from tinbook.read.fitting import Carrier, Straight, crossings, fit_arc, fit_line, point
from tinbook.read.scans.runs import ARC, LINE, WINDOW, Run
from tinbook.values import dataclass

CUT: Final = 3.0
"""Points farther off than so many standard deviations are burrs or strays."""
ARC_SURE: Final = 25.0
"""An arc is believed when it takes this much off the squares, in variances: a straight edge gives that once in a million."""
METAL: Final = 0.8
"""Share of a detour's points that must lie in the metal for a patch that the scanner missed."""
SPREADS: Final = 1.35
"""Pieces together scatter at most so many times as much as the longer of them: a ragged border is no part of an edge."""
TORN: Final = 1.6
"""Pieces together scatter at most so many times as much as long edges usually do."""
LASTING: Final = 40
"""Points of a long edge."""
GENTLE: Final = 1.5
"""An arc that two lines are parts of has this many times their length as its radius."""
SHARP: Final = 12.0
"""Degrees: edges that turn by less have no corner that could be missing."""
NEAR_CORNER: Final = 60.0
"""mm: points farther from a corner than this are not beyond it."""
ENDS: Final = 6
"""Points at each end of a run that are left out of the last fit."""
LONG: Final = 0.1
"""Of the rim: longest stretch that may be missing in one place (own proposal)."""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """An edge, or a part of one.

    Parameters
    ----------
    first, last : int
        From which point of the rim to which (not included); beyond the end they begin again at 0.
    numbers : array, shape (n,)
        Its points in turn, without those left out.
    on : Straight or Circle
        Fitted to the points.
    scatter : float
        Standard deviation of the points about it, mm.
    spans : tuple of (int, int)
        The runs it was put together from.
    """

    first: int
    last: int
    numbers: Index
    on: Carrier
    scatter: float
    spans: tuple[tuple[int, int], ...]

    def length(self, xy: Array) -> float:
        """Return the distance between its ends, mm."""
        return math.dist(xy[self.numbers[0]], xy[self.numbers[-1]])


def fitted(xy: Array, numbers: Index, kind: int) -> tuple[Carrier, Index, float] | None:
    """Return the line or arc through points of which some are wrong, those that are kept, and their scatter.

    Parameters
    ----------
    xy : array, shape (n, 2)
        All points.
    numbers : array
        Those to fit, in turn.
    kind : int
        `LINE` or `ARC`.

    Returns
    -------
    tuple or None
        None where nothing could be fitted.
    """
    p = xy[numbers]
    fit = fit_line if kind == LINE else fit_arc
    # Medians of neighbours give a start that single strays do not move.
    start = p
    if len(p) >= 3 * WINDOW:
        start = np.median(p[: len(p) // WINDOW * WINDOW].reshape(-1, WINDOW, 2), axis=1)
    on = fit(start)
    keep = np.zeros(len(p), dtype=bool)  # so that the first round fits every point that is near
    scatter = 0.0
    for _ in range(12):
        if on is None:
            return None
        off = np.abs(on.out(p))
        # The median is that of all points: what is cut off does not narrow it.
        scatter = 1.4826 * float(np.median(off))
        now = off <= CUT * max(scatter, 1e-6)
        if now.sum() < 4 or (now == keep).all():
            break
        keep = now
        on = fit(p[keep])
    return (on, numbers[keep], scatter) if on is not None and keep.sum() >= 4 else None


def best(xy: Array, numbers: Index, tol: float) -> tuple[Carrier, Index, float] | None:
    """Return the line through points, or the arc where it is sure and rises by more than a fifth of the tolerance."""
    line, arc = fitted(xy, numbers, LINE), fitted(xy, numbers, ARC)
    if line is None or arc is None or isinstance(arc[0], Straight):
        return line or arc
    both = np.intersect1d(line[1], arc[1]) if len(line[1]) > len(numbers) / 2 else arc[1]
    gain = float((line[0].out(xy[both]) ** 2).sum() - (arc[0].out(xy[both]) ** 2).sum())
    chord = math.dist(xy[numbers[0]], xy[numbers[-1]])
    rise = chord**2 / (8 * arc[0].radius)
    return arc if gain > ARC_SURE * max(arc[2], 1e-6) ** 2 and rise > tol / 5 else line


def settled(xy: Array, p: Piece, tol: float) -> Piece:
    """Return an edge fitted once more, to the inner points of its runs; those at their ends may belong to a corner.

    Its points are then all within its ends that lie as near as scatter allows.
    """
    less = [min(ENDS, (b - a) // 4) for a, b in p.spans]
    core = np.concatenate([np.arange(a + k, b - k) for (a, b), k in zip(p.spans, less, strict=True)]) % len(xy)
    on, _, scatter = best(xy, core, tol) or (p.on, core, p.scatter)
    span = np.arange(p.first, p.last) % len(xy)
    near = span[np.abs(on.out(xy[span])) <= CUT * scatter]
    return Piece(p.first, p.last, near, on, scatter, p.spans)


def pieces_of(xy: Array, runs: Sequence[Run], tol: float, shortest: float, detours: bool = True) -> list[Piece]:
    """Return the edges of a rim in turn, from its runs.

    Parameters
    ----------
    xy : array, shape (n, 2)
        Points of the rim, anticlockwise round the opening.
    runs : sequence of Run
        See `runs.cut`.
    tol : float
        Lines and arcs hold within it, mm.
    shortest : float
        mm; a shorter one is no edge.
    detours : bool
        Whether the points run round patches that the scanner missed, as those of a border do.
    """
    made = []
    for run in runs:
        numbers = run.numbers(len(xy))
        found = fitted(xy, numbers, run.kind) if len(numbers) >= 5 else None
        if found is not None:
            made.append(Piece(run.first, run.last, found[1], found[0], found[2], ((run.first, run.last),)))
    longest = LONG * float(np.hypot(*np.diff(xy[::WINDOW], axis=0).T).sum())
    made = _one_edge(xy, made, tol, longest)
    if detours:
        made = _across_corners(xy, made, tol, shortest, longest)
    return [p for p in made if _along(p, xy) >= shortest]


def _along(p: Piece, xy: Array) -> float:
    """Return the length of an edge along itself, mm."""
    if isinstance(p.on, Straight):
        return p.length(xy)
    (cx, cy), q = p.on.centre, xy[p.numbers]
    turned = np.unwrap(np.arctan2(q[:, 1] - cy, q[:, 0] - cx))
    return float(p.on.radius * abs(turned[-1] - turned[0]))


def _one_edge(xy: Array, made: list[Piece], tol: float, longest: float) -> list[Piece]:
    """Put together pieces that one line or arc holds, with nothing between them or only a detour into the metal."""
    skip = 0
    # What scatters more than long edges do is the end of the scan, and no part of an edge.
    most = TORN * float(np.median([p.scatter for p in made if len(p.numbers) >= LASTING] or [tol]))
    while skip < min(9, len(made) - 1):
        for i in range(len(made)):
            a = made[i]
            b = _after(a, made[(i + skip + 1) % len(made)], len(xy))
            joined = _together(xy, a, b, tol, longest)
            if joined is not None and joined.scatter > max(most, tol / 3):
                joined = None
            if joined is not None:
                kept = [made[(i + skip + 2 + k) % len(made)] for k in range(len(made) - skip - 2)]
                made, skip = [joined, *kept], -1
                break
        skip += 1
    return made


def _after(a: Piece, b: Piece, count: int) -> Piece:
    """Return piece `b` with numbers that follow those of `a`."""
    shift = a.last + (b.first - a.last) % count - b.first
    return replace(b, first=b.first + shift, last=b.last + shift)


def _together(xy: Array, a: Piece, b: Piece, tol: float, longest: float) -> Piece | None:
    """Return two pieces as one, None where they are not."""
    between = np.arange(a.last, b.first) % len(xy)
    mouth = math.dist(xy[a.numbers[-1]], xy[b.numbers[0]])
    both = isinstance(a.on, Straight) + isinstance(b.on, Straight)
    if mouth > longest or len(between) > 3 * LONG * len(xy):
        return None
    for kind in (LINE, ARC) if both else (ARC,):
        joined = _held(xy, a, b, kind, between, tol)
        # Lines, and lines beside arcs, may be parts of one gentle arc.
        if joined is not None and (
            isinstance(joined.on, Straight) or not both or joined.on.radius > GENTLE * joined.length(xy)
        ):
            return joined
    return None


def _held(xy: Array, a: Piece, b: Piece, kind: int, between: Index, tol: float) -> Piece | None:
    """Return the line or arc that holds two pieces, with what lies between them in the metal; None if there is none."""
    found = fitted(xy, np.concatenate((a.numbers, b.numbers)), kind)
    if found is None:
        return None
    on, kept, scatter = found
    for p in (a, b):
        # Half the points of each near it, and as many as scatter allows.
        if abs(float(np.median(on.out(xy[p.numbers])))) > tol / 2 or np.isin(p.numbers, kept).mean() < 0.7:
            return None
    longer = max(a, b, key=lambda p: len(p.numbers))
    if scatter > SPREADS * max(longer.scatter, tol / 3):
        return None
    if len(between) and float((on.out(xy[between]) > -tol).mean()) < METAL:
        return None
    return Piece(a.first, b.last, kept, on, scatter, (*a.spans, *b.spans))


def _across_corners(xy: Array, made: list[Piece], tol: float, shortest: float, longest: float) -> list[Piece]:
    """Leave out what lies in the metal between two edges that meet in a corner: the scanner missed the corner."""
    skip = 1
    while skip < min(9, len(made) - 1):
        for i in range(len(made)):
            a = made[i]
            b = _after(a, made[(i + skip + 1) % len(made)], len(xy))
            if min(a.length(xy), b.length(xy)) >= shortest and _missed_corner(xy, a, b, tol, longest):
                made = [made[(i + skip + 1 + k) % len(made)] for k in range(len(made) - skip)]
                skip = 0
                break
        skip += 1
    return made


def trimmed(xy: Array, found: Sequence[Piece]) -> list[Piece]:
    """Return the edges without points that lie beyond the corners with their neighbours."""
    keep = [np.ones(len(p.numbers), dtype=bool) for p in found]
    for i in range(len(found)):
        j = (i + 1) % len(found)
        a, b = found[i], found[j]
        at = corner_of(xy, a, b)
        if at is None:
            continue
        for k, way in ((i, 1.0), (j, -1.0)):
            p = found[k]
            off = xy[p.numbers] - at
            over = way * (off @ np.array(p.on.heading(at)))
            keep[k] &= ~((over > CUT * p.scatter) & (np.hypot(*off.T) < NEAR_CORNER))
    return [replace(p, numbers=p.numbers[k]) for p, k in zip(found, keep, strict=True)]


def corner_of(xy: Array, a: Piece, b: Piece) -> Point | None:
    """Return where two edges cross next to their ends, None where they do not."""
    last, first = point(xy[a.numbers[-1]]), point(xy[b.numbers[0]])
    found = crossings(a.on, b.on)
    return min(found, key=lambda q: math.dist(q, last) + math.dist(q, first)) if found else None


def _missed_corner(xy: Array, a: Piece, b: Piece, tol: float, longest: float) -> bool:
    """Whether everything between two edges lies in the metal beyond the corner where they meet."""
    last, first = point(xy[a.numbers[-1]]), point(xy[b.numbers[0]])
    at = corner_of(xy, a, b)
    if at is None:
        return False
    if max(math.dist(at, last), math.dist(at, first)) > longest:
        return False
    between = np.arange(a.last, b.first) % len(xy)
    out = np.stack((a.on.out(xy[between]), b.on.out(xy[between]))) > -tol
    turned = cross(a.on.heading(at), b.on.heading(at))
    convex = turned > 0
    if abs(turned) < math.sin(math.radians(SHARP)):
        return False
    return float((out.any(axis=0) if convex else out.all(axis=0)).mean()) >= METAL
