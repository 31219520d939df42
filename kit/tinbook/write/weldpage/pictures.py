"""Pictures of an assembly on paper: members as they stand or drawn out, with numbers of the list of parts and of welds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from tinbook.making.assembled import Assembled
from tinbook.making.preview.drawing import Drawing
from tinbook.making.preview.view import View, corner_view
from tinbook.plane.loops import Point
from tinbook.space import Vec
from tinbook.write.assembly import PartsRow, balloon_tips, member_drawing
from tinbook.write.flowing import Area
from tinbook.write.labelling import Labels, around
from tinbook.write.page import BOLD, Page, Placing
from tinbook.write.png import TINTS
from tinbook.write.sheet.pictures import draw_shaded
from tinbook.write.weldpage.welds import Seam

_RING = 4.8
"""mm: across a balloon."""
_TIP = 1.6
"""mm: across the place that a balloon points at."""
_RED = "#b03a2e"
_BLUE = "#1f4e79"
FINE = 520
"""Pixels of the longer side: enough for a picture of half a page."""


def draw_members(
    page: Page,
    area: Area,
    made: Assembled,
    shifts: Mapping[str, Vec],
    *,
    numbered: Sequence[str] = (),
    welds: Sequence[Seam] = (),
) -> set[int]:
    """Draw members, each shifted from its place; return the numbers of the welds that are seen.

    Parameters
    ----------
    page, area
        Where.
    made : Assembled
        The assembly.
    shifts : mapping of str to (float, float, float)
        Members that are drawn, and how far out of their places, mm.
    numbered : sequence of str
        Members whose row of the list of parts gets a balloon.
    welds : sequence of Seam
        Welds that get their number where they are seen; one that is not has none, for it would point at something else.
    """
    names = list(shifts)
    members = [made.assembly.member(n) for n in names]
    view = corner_view()
    d = member_drawing(made, shifts, view, FINE)
    inner = Area(area.x + 2 * _RING, area.y + _RING, area.w - 4 * _RING, area.h - 2 * _RING)
    place = draw_shaded(page, d, inner, [TINTS[m.kind] for m in members])
    labels = Labels(page, area)
    tips = [
        (str(row.item), place(tip), _RED)
        for row, tip in balloon_tips(made, [n if n in numbered else "" for n in names], d).items()
    ]
    found = {s.number: _seen(s, shifts, d, view) for s in welds}
    tips += [(f"W{n}", place(tip), _BLUE) for n, tip in found.items() if tip is not None]
    # No ring covers the place that another one points at.
    labels.taken += [Area(x - _TIP / 2, y - _TIP / 2, _TIP, _TIP) for _, (x, y), _ in tips]
    for text, tip, colour in tips:
        _balloon(page, labels, text, tip, colour, _middle(d, place))
    return {n for n, tip in found.items() if tip is not None}


def _seen(s: Seam, shifts: Mapping[str, Vec], d: Drawing, view: View) -> Point | None:
    """Return where a seam is seen, as far as can be from where it is not; None where nothing of it is."""
    names = list(shifts)
    if not s.rim or s.weld.a not in shifts or s.weld.b not in shifts:
        return None
    # On the member that stands in its place.
    off = min((shifts[s.weld.a], shifts[s.weld.b]), key=lambda v: math.hypot(*v))
    rim = view.flat(np.array(s.rim) + np.array(off))[:, :2]
    clear = np.isin(d.item.ravel()[d.grid.cell(rim)], [names.index(n) for n in (s.weld.a, s.weld.b)])
    if not clear.any():
        return None
    away = np.hypot(*(rim[:, None] - rim[None, ~clear]).transpose(2, 0, 1)).min(axis=1, initial=1e9)
    best = int(np.argmax(np.where(clear, away, -1.0)))
    return float(rim[best, 0]), float(rim[best, 1])


def _middle(d: Drawing, place: Placing) -> Point:
    x0, y0, x1, y1 = d.box
    return place(((x0 + x1) / 2, (y0 + y1) / 2))


def _balloon(page: Page, labels: Labels, text: str, tip: Point, colour: str, middle: Point) -> None:
    """Write a number in a ring beside its tip, away from the middle first, and a line between them."""
    out = math.atan2(tip[1] - middle[1], tip[0] - middle[0])
    turns = (0.0, 0.4, -0.4, 0.8, -0.8, 1.2, -1.2)
    first = [
        (tip[0] + r * math.cos(out + t), tip[1] + r * math.sin(out + t)) for r in (9.0, 13.0, 17.0, 22.0) for t in turns
    ]
    page.disc(*tip, 0.9, colour, 0.2)
    labels.put(text, (*first, *around(tip, 6.0, 46.0, 3.0)), font=BOLD, colour=colour, leader=tip, ring=_RING)


def rows_of(rows: Sequence[PartsRow], names: Sequence[str]) -> list[int]:
    """Return the numbers in the list of parts of some members."""
    return sorted({r.item for r in rows for n in names if n in r.members})
