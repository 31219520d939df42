"""The views page of a fold sheet: the folded part from the front, above and the side, hidden lines left out, with its sizes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from tinbook.dims import Dim
from tinbook.language import Language
from tinbook.making.made import Made
from tinbook.making.preview.drawing import LineDrawing, line_drawing
from tinbook.making.preview.view import View
from tinbook.space import SPACE, Vec, dot
from tinbook.write.flowing import PENS as HAND
from tinbook.write.flowing import Area, Flowable, Table, fill, fill_pages, heading, height, section, table
from tinbook.write.folded import INK, PENS
from tinbook.write.page import BOLD, Page, Placing, chain
from tinbook.write.sheet.pictures import draw_dim, fitted_scale, ratio
from tinbook.write.sheet.slopes import Sloping, sloped
from tinbook.write.strip import GAP, SIZE
from tinbook.write.taping import folded_hole_table, over_folds

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
_BACK = (0.0, -1.0, 0.0)

FRONT: Final = View(X, Z, _BACK)
ABOVE: Final = View(X, Y, Z)
LEFT: Final = View(_BACK, Z, (-1.0, 0.0, 0.0))
"""First-angle projection (ISO 5456-2): below the front view the one from above, at its right the one from the left."""

VIEWS: Final = (FRONT, ABOVE, LEFT)

FINE: Final = 500
_CLOSE: Final = 2.5
_FAR: Final = 11.0
"""mm: from a view to its overall size, without and with running sizes between."""
_LETTERS: Final = 3.4
"""mm: for the number on a size's line."""
_NAME: Final = 6.0
"""mm: below a view for its name."""
_BESIDE: Final = 3.0
"""mm: between a view and the sizes of the next."""
_ROOM: Final = 15.0
"""mm: most that stands between views beyond that, and round them, where the page has room."""
_SPLIT: Final = 8.0
"""mm: what the end of a column wastes where a table is split, and its headings above the rest."""
_ENDLESS: Final = 50
"""Columns after which something is known not to fit."""
_APART: Final = 3.0
"""mm: between faces that are told apart on the part, and between two numbers on the paper."""

HOW: Final = (
    "Views in first-angle projection (ISO 5456-2): below the front view the one from above, at its right the one from the "
    "left. Hidden lines are left out. Inner numbers run from the ring at one end: to the outer faces of what stands up, to "
    "free edges. The number beyond them is overall, over the outside: hook the tape on the far edge. Numbers along sloping "
    "faces run from mould line to mould line or edge, as in the table of finished sizes, which has those that find no room."
)

HOLES: Final = (
    "Holes are measured to their middle, along the face. A mould line is where straightedges on the two outer faces meet. "
    "Between the ends of an even row its pitch counts."
)
_COLUMN: Final = 88.0
"""mm: width of a column of text and tables."""
_BAND: Final = 0.4
"""Share of the page that text and tables below the views may take; the rest goes on behind."""


def view_page(
    page: Page, made: Made, body: Area, revisions: tuple[tuple[str, ...], ...], say: Language
) -> tuple[int, str]:
    """Draw the views, where a tape finds the holes, and the table of revisions, on pages of their own.

    Returns
    -------
    (int, str)
        Number of the page with the views, and their scale in words.
    """
    page.next()
    number = page.number
    views = [line_drawing((((made.folded,), SPACE),), v, FINE) for v in VIEWS]
    listed = [(stations(made, v.right), stations(made, v.up)) for v in VIEWS]
    columns = body.columns(int((body.w + GAP) / (_COLUMN + GAP)))
    for pen in (*HAND, HAND[0]):
        story = _story(made, revisions, columns[0].w, pen, say)
        low = _low(story, columns, _BAND * body.h, body)
        if low < _BAND * body.h:
            break
    ways = [(_foot(columns, low), Area(body.x, body.y + low + GAP, body.w, body.h - low - GAP))]
    if len(columns) > 2:
        ways.append((columns[-1:], Area(body.x, body.y, columns[-1].x - GAP - body.x, body.h)))
    text, area = max(ways, key=lambda way: _scale(views, listed, way[1]))
    scale = _scale(views, listed, area)
    _draw(page, made, views, listed, area, scale, say)
    fill_pages(page, text, columns, story, say)
    return number, say("scale {ratio}, for reading, not for measuring", ratio=ratio(scale, say))


def _low(story: Sequence[Flowable], columns: Sequence[Area], most: float, body: Area) -> float:
    """Return the least height of columns in which a story stands, mm; `most` if it takes more. Long tables may be split."""
    lots, above = list[tuple[float, bool]](), 0.0
    for it in story:  # a heading stands above what follows it
        above += height([it], columns[0].w)
        if not getattr(it, "leads", False):
            lots.append((above, getattr(it, "together", True)))
            above = 0.0
    tall = math.fsum(h for h, _ in lots) / len(columns)
    while tall < most and _columns(lots, tall) > len(columns):
        tall += 2.0
    tall += 1.0
    # Columns end where a table can be split, so the estimate is tried on a page that nobody sees.
    while tall < most and fill(Page(body.w, body.h, ""), _foot(columns, tall), story)[0]:
        tall += 4.0
    return min(tall, most)


def _foot(columns: Sequence[Area], tall: float) -> list[Area]:
    return [Area(c.x, c.y, c.w, tall) for c in columns]


def _columns(lots: Sequence[tuple[float, bool]], tall: float) -> int:
    """Return how many columns `tall` mm high take lots of a height each, of which only long tables are split."""
    used, at = 1, 0.0
    for h, whole in lots:
        left = h
        while at + left > tall and used < _ENDLESS:
            if not whole:
                left -= max(tall - at - _SPLIT, 0.0)
            used, at = used + 1, 0.0
        at += left
    return used


def _story(
    made: Made, revisions: tuple[tuple[str, ...], ...], width: float, pen: float, say: Language
) -> list[Flowable]:
    holes = folded_hole_table(made, say)
    words, bent = [say(HOW), *([say(HOLES)] if holes else [])], over_folds(made)
    if bent:
        words.append(say("In a bend, to be measured on the flat blank: {each}.", each=", ".join(bent)))
    found: list[Flowable] = [*section(say("Views"), words, SIZE)]
    if holes:
        found += [heading(say("Holes of the folded part"), SIZE), table(holes, width, SIZE, pen)]
    return [*found, *revision_table(revisions, width, say)]


def _margins(listed: tuple[tuple[float, ...], tuple[float, ...]]) -> tuple[float, float]:
    """Return the room above and at the left of a view, mm: its sizes, and the letters beyond them."""
    return tuple((_FAR if it else _CLOSE) * (1.0, 1.2)[k] + _LETTERS for k, it in enumerate(listed))  # type: ignore[return-value]


def _scale(views: Sequence[LineDrawing], listed: Sequence[Any], area: Area) -> float:
    """Return the largest standard scale at which the three views stand in an area."""
    (w, h), (_, deep) = _size(views[0]), _size(views[1])
    (above, beside), (between, beside_2), (above_3, beside_3) = map(_margins, listed)
    across = area.w - max(beside, beside_2) - beside_3 - _BESIDE
    upright = area.h - max(above, above_3) - between - 2 * _NAME
    return fitted_scale(max(min(across / (w + deep), upright / (h + deep)), 1e-3))


def _draw(
    page: Page, made: Made, views: Sequence[LineDrawing], listed: Sequence[Any], area: Area, scale: float, say: Language
) -> None:
    (w, h), (_, deep) = _size(views[0]), _size(views[1])
    (above, beside), (between, beside_2), (above_3, beside_3) = map(_margins, listed)
    # What is left over stands between the views and round them.
    spare_w = area.w - max(beside, beside_2) - beside_3 - _BESIDE - scale * (w + deep)
    spare_h = area.h - max(above, above_3) - between - 2 * _NAME - scale * (h + deep)
    gap_w, gap_h = (min(max(spare / 3, 0.0), _ROOM) for spare in (spare_w, spare_h))
    x, y = area.x + max(beside, beside_2) + gap_w, area.top - max(above, above_3) - gap_h / 2
    corners = (
        (x, y - scale * h),
        (x, y - scale * (h + deep) - between - _NAME - gap_h),
        (x + scale * w + beside_3 + _BESIDE + gap_w, y - scale * h),
    )
    places = [
        Placing(scale, cx - scale * d.box[0], cy - scale * d.box[1]) for (cx, cy), d in zip(corners, views, strict=True)
    ]
    slopes = Sloping(page, area, say)
    for d, place, sizes in zip(views, places, listed, strict=True):
        slopes.see(d, place, _taken(d, place, sizes))
    for k, name in enumerate((say("front"), say("above"), say("left"))):
        _view(page, views[k], places[k], name, say, listed[k])
    told: set[tuple[str, str]] = set()
    for view, place in zip(VIEWS, places, strict=True):
        for it in sloped(made, view):
            if (it.size.panel, it.size.name) not in told and slopes.draw(it, place):
                told.add((it.size.panel, it.size.name))


def _taken(d: LineDrawing, place: Placing, listed: tuple[tuple[float, ...], tuple[float, ...]]) -> tuple[Area, ...]:
    """Return where the sizes and the name of a view stand."""
    (x0, y0), (x1, y1) = place(d.box[:2]), place(d.box[2:])
    above, beside = _margins(listed)
    return (
        Area(x0, y1 + 0.5, x1 - x0, above - 0.5),
        Area(x0 - beside, y0, beside - 0.5, y1 - y0),
        Area(x0, y0 - _NAME, 12.0, _NAME - 1.0),
    )


def _size(d: LineDrawing) -> tuple[float, float]:
    return d.box[2] - d.box[0], d.box[3] - d.box[1]


def stations(made: Made, along: Vec) -> tuple[float, ...]:
    """Return where a tape finds faces and edges of the folded part along a direction, mm from its first point; not its last.

    Faces square to the direction count on their outer side, and straight free edges square to it; what lies closer than
    `_APART` to another is left out.
    """
    seen = made.preview.positions.astype(float) @ np.array(along)
    first, last = float(seen.min()), float(seen.max())
    found = []
    for p in made.folded.panels:
        lean = abs(dot(p.frame.z, along))
        if lean > 1.0 - 1e-6:
            low, high = sorted(dot(p.frame(0.0, 0.0, z), along) for z in (0.0, made.thickness))
            found.append(high if low + high > first + last else low)
        elif lean < 1e-6:
            for e in p.boundary.edges:
                a, b = (dot(p.frame(*q), along) for q in (e.start, e.end))
                if (
                    not e.bulge
                    and abs(a - b) < 1e-6
                    and e.length > _APART
                    and not e.name.startswith(("fold:", "relief"))
                ):
                    found.append(a)
    kept = [first]
    for v in sorted(found):
        if v - kept[-1] > _APART and last - v > _APART:
            kept.append(v)
    return tuple(v - first for v in kept[1:])


def _chain(page: Page, d: LineDrawing, place: Placing, places: tuple[float, ...], upright: bool, say: Language) -> None:
    """Draw numbers that run from one end of a view to faces and edges; where two find no room the outer one goes."""
    x0, y0, x1, y1 = d.box
    off, last, reached = 2.0, -math.inf, 0.0
    # Off the line on which the overall size ends.
    most = ((y1 - y0) if upright else (x1 - x0)) * place.scale - 0.75 * _APART
    ox, oy = place((x0, y0)) if upright else place((x0, y1))
    ends = [p * place.scale for p in places]
    told = [(v, end) for v, end in zip(places, ends, strict=True) if end > _APART]
    for v, end in told:
        at = min(end, most)
        if at - last < _APART:
            continue
        last, reached = at, end
        x, y = (ox - off, oy + end) if upright else (ox + end, oy + off)
        page.line((x - 0.6, y - 0.6), (x + 0.6, y + 0.6), 0.2)
        if upright:
            page.line((x, y), (ox, y), 0.1)
            page.text(x - 1.0, oy + at - 0.9, say.number(v), SIZE, align="right")
        else:
            page.line((x, y), (x, oy), 0.1)
            page.text(ox + at + 0.9, y + 1.0, say.number(v), SIZE, turn=90)
    if told:
        a, b = ((ox - off, oy), (ox - off, oy + reached)) if upright else ((ox, oy + off), (ox + reached, oy + off))
        page.line(a, b, 0.13)
        page.disc(*a, 1.2, INK)


def _view(
    page: Page,
    d: LineDrawing,
    place: Placing,
    name: str,
    say: Language,
    places: tuple[tuple[float, ...], tuple[float, ...]],
) -> None:
    for kind, width in PENS.items():
        page.draw(map(chain, d.lines[kind]), place, width=0.25 * width, colour=INK)
    x0, y0, x1, y1 = d.box
    size = 2.5 / place.scale
    over, beside = ((_FAR if listed else _CLOSE) / place.scale for listed in places)
    draw_dim(page, Dim(a=(x0, y1), b=(x1, y1), at=y1 + over, upright=False, text=""), place, size, say)
    draw_dim(page, Dim(a=(x0, y0), b=(x0, y1), at=x0 - 1.2 * beside, upright=True, text=""), place, size, say)
    for listed, upright in zip(places, (False, True), strict=True):
        _chain(page, d, place, listed, upright, say)
    x, y = place((x0, y0))
    page.text(x, y - 4.4, name, SIZE, font=BOLD)


def revision_table(revisions: tuple[tuple[str, ...], ...], width: float, say: Language) -> list[Flowable]:
    """Return the table of revisions with two lines to fill in, under its heading."""
    heads = ("Rev", "Date", "What changed", "By")
    rows = (
        *((rev, say.date(day), say.retold(what), "") for rev, day, what in revisions),
        ("", "", "", ""),
        ("", "", "", ""),
    )
    listed = Table(heads=tuple(map(say, heads)), rows=rows, by_hand=(1, 2, 3))
    return [heading(say("Revisions"), SIZE), table(listed, width, SIZE)]
