"""The views page of a fold sheet: the folded part from the front, above and the side, hidden lines left out, with its sizes."""

from __future__ import annotations

from typing import Final

from tinbook.dims import Dim
from tinbook.language import Language
from tinbook.making.made import Made
from tinbook.making.preview.drawing import Drawing, drawing
from tinbook.making.preview.view import View
from tinbook.space import SPACE
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
_ROOM: Final = 9.0
"""mm: round each view for its sizes and its name."""

HOW: Final = (
    "Views in first-angle projection (ISO 5456-2): below the front view the one from above, at its right the one from the "
    "left. Hidden lines are left out. Sizes are overall, over the outside of the folded part: hook the tape on the far edge."
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
        _view(page, d, Placing(scale, at[k][0] - scale * d.box[0], at[k][1] - scale * d.box[1]), names[k], say)
    return say("scale {ratio}, for reading, not for measuring", ratio=ratio(scale, say))


def _size(d: Drawing) -> tuple[float, float]:
    return d.box[2] - d.box[0], d.box[3] - d.box[1]


def _view(page: Page, d: Drawing, place: Placing, name: str, say: Language) -> None:
    for kind, width in PENS.items():
        page.draw(map(chain, d.lines[kind]), place, width=0.25 * width, colour=INK)
    x0, y0, x1, y1 = d.box
    size = 2.5 / place.scale
    draw_dim(page, Dim(a=(x0, y1), b=(x1, y1), at=y1 + 1.0 * size, upright=False, text=""), place, size, say)
    draw_dim(page, Dim(a=(x0, y0), b=(x0, y1), at=x0 - 1.2 * size, upright=True, text=""), place, size, say)
    x, y = place((x0, y0))
    page.text(x, y - 4.4, name, SIZE, font=BOLD)


def revision_table(revisions: tuple[tuple[str, ...], ...], width: float, say: Language) -> list[Flowable]:
    """Return the table of revisions with two lines to fill in, under its heading."""
    heads = ("Rev", "Date", "What changed", "By")
    rows = (*((rev, say.date(day), what, "") for rev, day, what in revisions), ("", "", "", ""), ("", "", "", ""))
    listed = Table(heads=tuple(map(say, heads)), rows=rows, by_hand=(1, 2, 3))
    return [heading(say("Revisions"), SIZE), table(listed, width, SIZE)]
