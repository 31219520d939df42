"""The views page of a fold sheet: the folded part from the front, above and the side, hidden lines left out, with its sizes."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from tinbook.dims import Dim
from tinbook.language import Language
from tinbook.making.made import Made
from tinbook.making.preview.drawing import Drawing, drawing
from tinbook.making.preview.view import View
from tinbook.space import SPACE, Vec, dot
from tinbook.write.flowing import Area, Flowable, Table, fill, heading, height, section, table
from tinbook.write.folded import INK, PENS
from tinbook.write.page import BOLD, Page, Placing, chain
from tinbook.write.sheet.pictures import draw_dim, fitted_scale, ratio
from tinbook.write.strip import GAP, SIZE

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
_BACK = (0.0, -1.0, 0.0)

FRONT: Final = View(X, Z, _BACK)
ABOVE: Final = View(X, Y, Z)
LEFT: Final = View(_BACK, Z, (-1.0, 0.0, 0.0))
"""First-angle projection (ISO 5456-2): below the front view the one from above, at its right the one from the left."""

FINE: Final = 700
_ROOM: Final = 15.0
"""mm: round each view for its sizes and its name."""
_APART: Final = 3.0
"""mm: between faces that are told apart on the part, and between two numbers on the paper."""

HOW: Final = (
    "Views in first-angle projection (ISO 5456-2): below the front view the one from above, at its right the one from the "
    "left. Hidden lines are left out. Inner numbers run from the ring at one end: to the outer faces of what stands up, to "
    "free edges. The number beyond them is overall, over the outside: hook the tape on the far edge."
)


def view_page(page: Page, made: Made, body: Area, revisions: tuple[tuple[str, ...], ...], say: Language) -> str:
    """Draw the views and the table of revisions on a page of their own; return the scale in words."""
    page.next()
    left: list[Flowable] = [
        *section(say("Views"), [say(HOW)], SIZE),
        *revision_table(revisions, body.w, say),
    ]
    tall = height(left, body.w) + GAP
    fill(page, [Area(body.x, body.y, body.w, tall)], left, say)
    area = Area(body.x, body.y + tall + GAP, body.w, body.h - tall - GAP)
    views = [drawing((((made.folded,), SPACE),), v, FINE) for v in (FRONT, ABOVE, LEFT)]
    (w, h), (_, deep) = _size(views[0]), _size(views[1])
    most = min((area.w - 4 * _ROOM) / (w + deep), (area.h - 4 * _ROOM) / (h + deep))
    scale = fitted_scale(most)
    x, y = area.x + 1.4 * _ROOM, area.top - _ROOM
    at = {
        0: (x, y - scale * h),
        1: (x, y - scale * h - 2 * _ROOM - scale * deep),
        2: (x + scale * w + 2.4 * _ROOM, y - scale * h),
    }
    names = (say("front"), say("above"), say("left"))
    for k, d in enumerate(views):
        place = Placing(scale, at[k][0] - scale * d.box[0], at[k][1] - scale * d.box[1])
        view = (FRONT, ABOVE, LEFT)[k]
        _view(page, d, place, names[k], say, (stations(made, view.right), stations(made, view.up)))
    return say("scale {ratio}, for reading, not for measuring", ratio=ratio(scale, say))


def _size(d: Drawing) -> tuple[float, float]:
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


def _chain(page: Page, d: Drawing, place: Placing, places: tuple[float, ...], upright: bool, say: Language) -> None:
    """Draw numbers that run from one end of a view to faces and edges; where two find no room the outer one goes."""
    x0, y0, _, y1 = d.box
    off, last = 2.0, -math.inf
    ox, oy = place((x0, y0)) if upright else place((x0, y1))
    ends = [p * place.scale for p in places]
    told = [(v, end) for v, end in zip(places, ends, strict=True) if end > _APART]
    for v, end in told:
        if end - last < _APART:
            continue
        last = end
        x, y = (ox - off, oy + end) if upright else (ox + end, oy + off)
        page.line((x - 0.6, y - 0.6), (x + 0.6, y + 0.6), 0.2)
        if upright:
            page.line((x, y), (ox, y), 0.1)
            page.text(x - 1.0, y - 0.9, say.number(v), SIZE, align="right")
        else:
            page.line((x, y), (x, oy), 0.1)
            page.text(x + 0.9, y + 1.0, say.number(v), SIZE, turn=90)
    if told:
        a, b = ((ox - off, oy), (ox - off, oy + last)) if upright else ((ox, oy + off), (ox + last, oy + off))
        page.line(a, b, 0.13)
        page.disc(*a, 1.2, INK)


def _view(
    page: Page,
    d: Drawing,
    place: Placing,
    name: str,
    say: Language,
    places: tuple[tuple[float, ...], tuple[float, ...]],
) -> None:
    for kind, width in PENS.items():
        page.draw(map(chain, d.lines[kind]), place, width=0.25 * width, colour=INK)
    x0, y0, x1, y1 = d.box
    size = 2.5 / place.scale
    over, beside = ((4.4 if listed else 1.0) * size for listed in places)
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
