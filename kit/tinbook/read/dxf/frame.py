"""Borders and title blocks of drawing sheets, and bends marked by three lines."""

from __future__ import annotations

import math

from tinbook.plane.cuts import contains, distance
from tinbook.plane.loops import Edge, Loop, Point
from tinbook.read.dxf.entities import Stroke
from tinbook.read.dxf.notes import Budget
from tinbook.values import dataclass

SHEETS = ((210.0, 297.0), (297.0, 420.0), (420.0, 594.0), (594.0, 841.0), (841.0, 1189.0))
"""mm: trimmed sheets A4 to A0 (ISO 216, ISO 5457)."""
SPACES = ((180.0, 277.0), (277.0, 390.0), (400.0, 564.0), (574.0, 811.0), (821.0, 1159.0))
"""mm: the drawing space within the border of the same sheets (ISO 5457)."""
INCHES = tuple((a * 25.4, b * 25.4) for a, b in ((8.5, 11), (11, 17), (17, 22), (22, 34), (34, 44)))
"""mm: sheets A to E of ASME Y14.1."""
SCALES = (1.0, 2.0, 2.5, 5.0, 10.0, 20.0, 0.5, 0.2)
"""A sheet is often drawn as many times larger as the part is to be plotted smaller (ISO 5455)."""
EXTENT = 30.0
"""mm: half the strip of a bend is no wider (own proposal: 90 degrees at an inside radius of 35 mm)."""


def border(
    loops: list[Loop], depth: list[int], texts: list[Point], strokes: list[list[Edge]], asked: bool | None
) -> tuple[list[int], str]:
    """Find the border of a drawing sheet among closed contours, and the cells of its title block.

    A border is a rectangle with contours inside and two of these: the size of a drawing sheet, texts beside the
    contours, lines that end on it (a title block), metal that would lie loose in an opening.

    Parameters
    ----------
    loops, depth
        Contours and how many others lie around each.
    texts, strokes
        Places of texts; open lines, those within a figure included.
    asked : bool or None
        True takes the outermost contour off whatever it is, False none.

    Returns
    -------
    (contours, doubt)
        Borders and cells of the title block by their place in `loops`; and why the outermost contour may be a border
        although not enough says so, "" where that is settled.
    """
    if asked is False:
        return [], ""
    taken: list[int] = []
    unsure = ""
    while True:
        outer = _outermost(loops, depth, taken)
        if outer is None:
            break
        signs = _signs(outer, loops, depth, texts, strokes, taken)
        # A border in a border (the trimmed sheet round the drawing space) needs no second proof.
        again = bool(taken) and _is_box(loops[outer]) and _around(loops[taken[-1]], loops[outer])
        if (asked and not taken) or len(signs) > 1 or again:
            taken.append(outer)
            continue
        if "loose metal" in signs and _is_box(loops[outer]) and asked is None and not taken:
            unsure = "contours inside its openings would be metal that falls away"
        break
    return [*taken, *_cells(loops, texts, taken)] if taken else [], unsure


def _outermost(loops: list[Loop], depth: list[int], taken: list[int]) -> int | None:
    """Return the one contour that holds all others but those taken off, None if there is no such."""
    left = [i for i in range(len(loops)) if i not in taken]
    if len(left) < 2:
        return None
    first = min(left, key=lambda i: (depth[i], -loops[i].area))
    inside = sum(_within(loops[i], loops[first]) for i in left)
    return first if inside == len(left) - 1 else None


def _within(a: Loop, b: Loop) -> bool:
    return a is not b and abs(a.area) < abs(b.area) and contains(b, a.edges[0].at(0.5))


def _is_box(loop: Loop) -> bool:
    return len(loop) == 4 and all(e.is_line and min(abs(v) for v in e.direction()) < 1e-6 for e in loop.edges)


def _around(outer: Loop, inner: Loop) -> bool:
    """Whether a contour follows another at a margin as it is usual on paper: at most a tenth of its side."""
    a, b = outer.box, inner.box
    room = 0.1 * max(a[2] - a[0], a[3] - a[1])
    return all(abs(p - q) <= room for p, q in zip(a, b, strict=True))


def _signs(
    outer: int, loops: list[Loop], depth: list[int], texts: list[Point], strokes: list[list[Edge]], taken: list[int]
) -> list[str]:
    """Return the signs that a contour is a border."""
    loop = loops[outer]
    if not _is_box(loop):
        return []
    x0, y0, x1, y1 = loop.box
    signs = []
    if _paper(x1 - x0, y1 - y0):
        signs.append("sheet size")
    inner = [x for i, x in enumerate(loops) if i != outer and i not in taken and depth[i] == depth[outer] + 1]
    beside = [p for p in texts if contains(loop, p) and not any(contains(k, p) for k in inner if not _is_box(k))]
    if len(beside) > 1:
        signs.append("texts")
    if sum(any(distance(e, p) < 0.05 for e in loop.edges) for run in strokes for p in (run[0].start, run[-1].end)) > 2:
        signs.append("lines to it")
    if any(depth[i] > depth[outer] + 1 for i in range(len(loops)) if i not in taken):
        signs.append("loose metal")
    return signs


def _paper(w: float, h: float) -> bool:
    a, b = min(w, h), max(w, h)
    for p, q in (*SHEETS, *SPACES, *INCHES):
        if any(abs(a - s * p) < 0.006 * s * p and abs(b - s * q) < 0.006 * s * q for s in SCALES):
            return True
    return False


def _cells(loops: list[Loop], texts: list[Point], taken: list[int]) -> list[int]:
    """Return the closed cells of a title block: boxes with a text in them, in the border's lower or right margin."""
    x0, y0, x1, y1 = loops[taken[-1]].box
    cells: list[int] = []
    near = 0.02 * max(x1 - x0, y1 - y0)
    grown = True
    while grown:
        grown = False
        for i, loop in enumerate(loops):
            if i in taken or i in cells or not _is_box(loop) or not any(contains(loop, p) for p in texts):
                continue
            a0, b0, a1, _ = loop.box
            at_edge = b0 - y0 < near and (x1 - a1 < near or a0 - x0 < near)
            beside = any(_touch(loop, loops[c], near) for c in cells)
            if at_edge or beside:
                cells.append(i)
                grown = True
    inside = [i for i, loop in enumerate(loops) if any(_within(loop, loops[c]) for c in cells)]
    return sorted({*cells, *inside} - set(taken))


def _touch(a: Loop, b: Loop, near: float) -> bool:
    p, q = a.box, b.box
    return all(p[k] - near <= q[k + 2] and q[k] - near <= p[k + 2] for k in (0, 1))


@dataclass(frozen=True, slots=True)
class Bend:
    """Three lines that mark one bend.

    Parameters
    ----------
    middle : Stroke
        The line that stays.
    sides : (Stroke, Stroke)
        Where the bend begins and ends.
    half : float
        From the middle to either, mm.
    proved : bool
        Whether layer or line type tells the sides from the middle; else three folds could be meant.
    """

    middle: Stroke
    sides: tuple[Stroke, Stroke]
    half: float
    proved: bool


def bends(strokes: list[Stroke], budget: Budget) -> list[Bend]:
    """Find the bends that are marked by their middle and their two extents.

    The three are parallel, of one length, and the middle lies half way. Where all three look alike they are one
    bend only if no other fold would fit between them (`CLOSE`).
    """
    lines = [s for s in strokes if len(s.edges) == 1 and s.edges[0].is_line and s.role in ("fold", "dashed")]
    used: set[int] = set()
    found: list[Bend] = []
    ranked = sorted(range(len(lines)), key=lambda i: ("extent" in lines[i].layer.lower(), i))
    pairs = [(gap, m, a, b) for m in ranked for gap, a, b in _sides(m, lines, budget)]
    # The narrowest first: of equally spaced folds with extents the extents stand nearest.
    for gap, m, a, b in sorted(pairs, key=lambda p: (round(p[0], 3), p[1])):
        if used & {m, a, b}:
            continue
        proved = _look(lines[a]) == _look(lines[b]) != _look(lines[m])
        if not proved and gap > CLOSE:
            continue
        used |= {m, a, b}
        found.append(Bend(lines[m], (lines[a], lines[b]), gap, proved))
    return found


CLOSE = 3.0
"""mm: two folds of sheet stand further apart: a leg is four thicknesses or more (common practice), of 0.8 mm or more."""


def _look(s: Stroke) -> tuple[str, str]:
    return s.layer, s.linetype


def _sides(m: int, lines: list[Stroke], budget: Budget) -> list[tuple[float, int, int]]:
    """Return the pairs of lines that lie at one distance on both sides of a line, beside all of it."""
    e = lines[m].edges[0]
    (x, y), (ux, uy), n = e.start, e.direction(), e.chord
    off: list[tuple[float, int]] = []
    for i, s in enumerate(lines):
        budget.check("looking for its bends")
        if i == m:
            continue
        heights = [(p[1] - y) * ux - (p[0] - x) * uy for p in (s.edges[0].start, s.edges[0].end)]
        v = sorted((p[0] - x) * ux + (p[1] - y) * uy for p in (s.edges[0].start, s.edges[0].end))
        room = 0.02 * n + 2.5 * abs(heights[0])  # reliefs shorten one of the three
        if (
            abs(heights[0] - heights[1]) < 0.02
            and 0.02 < abs(heights[0]) < EXTENT
            and abs(v[0]) < room
            and abs(v[1] - n) < room
        ):
            off.append(((heights[0] + heights[1]) / 2, i))
    # The nearest on either side only: what lies further out belongs to another bend.
    out: list[tuple[float, int, int]] = []
    left, right = sorted(v for v in off if v[0] > 0), sorted((v for v in off if v[0] < 0), reverse=True)
    for h, i in left[:4]:
        out += [(abs(h) / 2 + abs(k) / 2, i, j) for k, j in right[:4] if math.isclose(h, -k, abs_tol=0.02)]
    return out
