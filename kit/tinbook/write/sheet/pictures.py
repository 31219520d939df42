"""The two pictures of a fold sheet: the blank with its dimensions and tags, and the folded part."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

from tinbook.datum import Datum
from tinbook.dims import Dim, fold_stations, hole_rows, overall, text_place
from tinbook.flatpattern import FlatPattern
from tinbook.language import ENGLISH, Language
from tinbook.making.draw import footprints
from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.making.preview.drawing import Drawing
from tinbook.plane.loops import Edge
from tinbook.svg import DOWN, MARK, UP
from tinbook.write import setting_out
from tinbook.write.flowing import Area
from tinbook.write.folded import INK, PENS
from tinbook.write.page import BOLD, Page, Placing, chain, text_width
from tinbook.write.png import Tint, shades_png
from tinbook.write.setting_out import SettingOut

_LETTER: Final = 2.5  # mm, height given to the lines of dimensions
_DIM_PT: Final = 7.0
_SCALES: Final = (10, 5, 2, 1, *(1 / n for n in (2, 2.5, 5, 10, 15, 20, 25, 50, 100, 200)))
"""Scales of ISO 5455, with 1 : 2.5, 1 : 15 and 1 : 25 between them (common practice)."""

ROUND: Final = 16.0
"""mm: room above and below the numbered blank for its numbers."""

_SHORT: Final = 6.0
"""mm on the paper: a corner between shorter sides gets no number in the picture, it would stand on others."""

_CORNER: Final = "#7a1f5c"
"""Colour of origin and corners."""


def draw_blank(
    page: Page, made: Made, it: SettingOut, strips: Sequence[BendZone], area: Area, say: Language = ENGLISH
) -> str:
    """Draw the blank with its dimensions; return its scale in words."""
    flat = it.flat
    # Running dimensions start from the same datum as the tables.
    origin = it.datum.origin if it.datum.level else None
    stations = fold_stations(flat, 1.0, origin) if origin else ()
    left = (sum(d.upright for d in stations) * 1.8 + 1.6) * _LETTER
    below = (sum(not d.upright for d in stations) * 1.8 + 1.0) * _LETTER
    place = _fitted(flat, area, left, below, 4.0 * _LETTER, 4.0 * _LETTER)
    _draw_flat(page, made, flat, place)
    size = _LETTER / place.scale
    for d in (*overall(flat, size), *(fold_stations(flat, size, origin) if origin else ())):
        draw_dim(page, d, place, size, say)
    taken = _origins(page, it, place)
    _fold_tags(page, flat, strips, place, taken)
    _hole_tags(page, flat, place, taken)
    return say("scale {ratio}, for reading, not for measuring", ratio=ratio(place.scale, say))


def draw_numbered(page: Page, made: Made, it: SettingOut, strips: Sequence[BendZone], area: Area) -> None:
    """Draw the blank with the names that the setting-out tables use: origin, corners, folds, forms, holes."""
    flat = it.flat
    place = _fitted(flat, area, *4 * (ROUND / 2,))
    _draw_flat(page, made, flat, place)
    taken = _origins(page, it, place)
    _fold_tags(page, flat, strips, place, taken)
    _hole_tags(page, flat, place, taken)
    x0, y0, x1, y1 = flat.outer.box
    middle = place(((x0 + x1) / 2, (y0 + y1) / 2))
    listed = setting_out.corners(it)[: setting_out.MOST]
    for k, (number, e) in enumerate(listed):
        if place.scale * max(e.length, listed[k - 1][1].length) < _SHORT and not setting_out.is_far(it, number):
            continue
        x, y = place(e.start)
        # Outward first, where there is usually room.
        _tag(page, number, (x, y), 0.0, math.atan2(y - middle[1], x - middle[0]), taken, _CORNER)
    for b in flat.form_lines[: setting_out.MOST]:
        (x, y), (u, v) = place(b.edges[0].start), place(b.edges[0].at(0.3))
        _tag(page, b.name, (x, y), 0.0, math.atan2(v - y, u - x) + math.pi / 6, taken, MARK)


def _fitted(flat: FlatPattern, area: Area, left: float, below: float, right: float, above: float) -> Placing:
    """Return the place of the blank in an area, at a round scale, with margins on its sides."""
    x0, y0, x1, y1 = flat.outer.box
    room_w, room_h = area.w - left - right, area.h - below - above
    scale = fitted_scale(min(room_w / (x1 - x0), room_h / (y1 - y0)))
    return Placing.centred(scale, flat.outer.box, area.x + left, area.y + below, room_w, room_h)


def fitted_scale(most: float) -> float:
    """Return the largest standard scale that is at most `most`, or that where none is small enough."""
    return next((s for s in _SCALES if s <= most), most)


def draw_size(page: Page, place: Placing, box: Sequence[float], say: Language) -> None:
    """Draw length and width of a box below it and at its left."""
    x0, y0, x1, y1 = box
    size = _LETTER / place.scale
    for d in (
        Dim(a=(x0, y0), b=(x1, y0), at=y0 - 1.2 * size, upright=False, text=""),
        Dim(a=(x0, y0), b=(x0, y1), at=x0 - 1.2 * size, upright=True, text=""),
    ):
        draw_dim(page, d, place, size, say)


def _draw_flat(page: Page, made: Made, flat: FlatPattern, place: Placing) -> None:
    page.draw([flat.outer, *(c.loop for c in flat.inner)], place, width=0.3, fill="#f1f3f5", close=True)
    for m in flat.marks:
        page.draw([m.edges], place, width=0.12, colour=MARK)
    for c in flat.drills:
        page.draw([c.loop], place, width=0.12, colour=MARK, close=True)
    for p in made.panels:
        page.draw(footprints(p), place, width=0.12, colour="#6b757d", close=True)
    for f in flat.folds:
        up = f.direction == "up"
        dash = () if up else (2.2, 1.0)
        page.draw([[Edge(a, b)] for a, b in f.pieces], place, width=0.25, colour=UP if up else DOWN, dash=dash)


def _origins(page: Page, it: SettingOut, place: Placing) -> list[Area]:
    """Draw the origin, and that of the holes if it differs; return the areas of their letters."""
    holes = _small_holes(it.flat, place)
    return [
        *_origin(page, it.datum, place, "O", holes),
        *(_origin(page, it.holes, place, "T", holes) if it.trims else ()),
    ]


def _origin(page: Page, datum: Datum, place: Placing, name: str, holes: Sequence[Area]) -> list[Area]:
    """Draw an origin with short arrows along x and y, its name clear of small holes; return the areas of its letters."""
    stand: list[Area] = []
    (x, y), (ux, uy) = place(datum.origin), datum.along
    for (vx, vy), axis in (((ux, uy), "x"), ((-uy, ux), "y")):
        tip = x + 7.0 * vx, y + 7.0 * vy
        page.line((x, y), tip, 0.35, _CORNER)
        for side in (0.6, -0.6):
            page.line(tip, (tip[0] - 1.6 * vx - side * vy, tip[1] - 1.6 * vy + side * vx), 0.25, _CORNER)
        # Beside the arrow, on the metal.
        wx, wy = (-uy, ux) if axis == "x" else (ux, uy)
        at = tip[0] - 0.6 * vx + 1.5 * wx, tip[1] - 0.6 * vy + 1.5 * wy - 0.7
        page.text(*at, axis, _DIM_PT, font=BOLD, align="middle", colour=_CORNER)
        stand.append(Area(at[0] - 0.9, at[1] - 0.3, 1.8, 2.2))
    page.disc(x, y, 1.6, _CORNER)
    # On the metal between the arrows: the dimensions are outside. Else behind the y arrow.
    ats = [(x + 2.2 * (s * ux - uy), y + 2.2 * (ux + s * uy)) for s in (1, -1)]
    rooms = [Area(a - 1.4, b - 1.4, 2.8, 2.8) for a, b in ats]
    k = next((k for k, room in enumerate(rooms) if not any(room.meets(h) for h in holes)), 0)
    page.text(ats[k][0], ats[k][1] - 0.9, name, 7.5, font=BOLD, align="middle", colour=_CORNER)
    return [*stand, rooms[k]]


def _small_holes(flat: FlatPattern, place: Placing) -> list[Area]:
    """Return the boxes of the openings that a letter would cover."""
    boxes = [(place(cut.loop.box[:2]), place(cut.loop.box[2:])) for cut in flat.cuts]
    return [Area(x0, y0, x1 - x0, y1 - y0) for (x0, y0), (x1, y1) in boxes if max(x1 - x0, y1 - y0) < 9.0]


def ratio(scale: float, say: Language) -> str:
    """Return a scale as drawings write it (ISO 5455)."""
    return f"{say.number(scale, '.3g')} : 1" if scale >= 1 else f"1 : {say.number(1 / scale, '.3g')}"


def draw_dim(page: Page, d: Dim, place: Placing, size: float, say: Language) -> None:
    """Draw a dimension with its number: on its line, or beyond the end of a line that is too short."""
    a, b = (place(p) for p in d.ends)
    for foot, end in zip((d.a, d.b), (a, b), strict=True):
        page.line(place(foot), end, 0.1)
        page.line((end[0] - 0.6, end[1] - 0.6), (end[0] + 0.6, end[1] + 0.6), 0.2)
    page.line(a, b, 0.13)
    x, y = place(text_place(replace(d, text=say.number(d.value)), size))
    if d.upright:
        page.text(x - 0.6, y, say.number(d.value), _DIM_PT, align="middle", turn=90)
    else:
        page.text(x, y + 0.6, say.number(d.value), _DIM_PT, align="middle")


def _fold_tags(page: Page, flat: FlatPattern, strips: Sequence[BendZone], place: Placing, discs: list[Area]) -> None:
    """Write each fold's number on its line, clear of earlier labels, and add the numbers' areas to those."""
    number = {s.name: i for i, s in enumerate(strips, 1)}
    for f in flat.folds:
        if f.name not in number or not f.pieces:
            continue
        a, b = max(f.pieces, key=lambda piece: math.dist(*piece))
        # Not in the middle, where marks and beads are, and not on earlier numbers.
        for s in (0.31, 0.2, 0.42, 0.69, 0.8, 0.58):
            s = s if a <= b else 1 - s
            x, y = place((a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])))
            here = Area(x - 2.3, y - 2.3, 4.6, 4.6)
            if not any(here.meets(other) for other in discs):
                break
        else:
            (x, y), here = _beside(page, place(a), place(b), discs)
        discs.append(here)
        page.disc(x, y, 4.4, UP if f.direction == "up" else DOWN)
        page.text(x, y - 0.85, str(number[f.name]), _DIM_PT, font=BOLD, align="middle")


def _beside(page: Page, a: tuple[float, float], b: tuple[float, float], discs: Sequence[Area]) -> tuple[Any, Area]:
    """Return a free place beside a short fold line among others, and draw the leader to it."""
    mx, my = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
    n = math.dist(a, b) or 1.0
    ux, uy = -(b[1] - a[1]) / n, (b[0] - a[0]) / n
    for off in (6.0, -6.0, 11.0, -11.0, 16.0, -16.0):
        x, y = mx + off * ux, my + off * uy
        here = Area(x - 2.3, y - 2.3, 4.6, 4.6)
        if not any(here.meets(other) for other in discs):
            break
    page.line((mx, my), (x, y), 0.1, "#6b757d")
    return (x, y), here


def _hole_tags(page: Page, flat: FlatPattern, place: Placing, discs: Sequence[Area]) -> None:
    # Labels must cover neither another label nor a small hole.
    taken = [*discs, *_small_holes(flat, place)]
    middle = place(((flat.outer.box[0] + flat.outer.box[2]) / 2, (flat.outer.box[1] + flat.outer.box[3]) / 2))
    for i, row in enumerate(hole_rows(flat)):
        x, y = place(row.first)
        half = place.scale * max(row.size) / 2
        if half > 4.5:
            page.text(x, y - 0.8, setting_out.tag(i), _DIM_PT, font=BOLD, align="middle")
            continue
        # Toward the middle of the blank.
        _tag(page, setting_out.tag(i), (x, y), half, math.atan2(middle[1] - y, middle[0] - x), taken, "#000000")


def _tag(
    page: Page, name: str, at: tuple[float, float], half: float, toward: float, taken: list[Area], colour: str
) -> None:
    """Write a name beside a place, with a leader: tried in direction `toward` first, then around and farther out until it is free."""
    x, y = at
    w = text_width(name, _DIM_PT, BOLD)
    for k in range(96):
        turn, reach = toward + (k % 12 + 1) // 2 * (-1) ** k * math.pi / 6, half + 3.8 + 1.2 * (k // 12)
        p = x + reach * math.cos(turn), y + reach * math.sin(turn)
        here = Area(p[0] - w / 2 - 0.3, p[1] - 1.2, w + 0.6, 2.4)
        if not any(here.meets(other) for other in taken):
            break
    taken.append(here)
    ends = [x + (p[0] - x) * s for s in (half / reach, 1 - 1.9 / reach)]
    heights = [y + (p[1] - y) * s for s in (half / reach, 1 - 1.9 / reach)]
    page.line((ends[0], heights[0]), (ends[1], heights[1]), 0.1, "#6b757d")
    page.text(p[0], p[1] - 0.8, name, _DIM_PT, font=BOLD, align="middle", colour=colour)


def draw_shaded(
    page: Page,
    d: Drawing,
    area: Area,
    tints: Sequence[Tint] = (),
    shown: tuple[float, float, float, float] | None = None,
    pen: float = 0.15,
) -> Placing:
    """Draw bodies, each in its tint, or the stretch of them that is shown, as large as an area allows; return where they lie."""
    box = x0, y0, x1, y1 = shown or d.box
    scale = 0.96 * min(area.w / max(x1 - x0, 1e-6), area.h / max(y1 - y0, 1e-6))
    place, g = Placing.centred(scale, box, area.x, area.y, area.w, area.h), d.grid
    page.image(shades_png(d, tints), place(g.low), scale * g.columns * g.pitch, scale * g.rows * g.pitch)
    for kind, width in PENS.items():
        page.draw(map(chain, d.lines[kind]), place, width=pen * width, colour=INK)
    return place
