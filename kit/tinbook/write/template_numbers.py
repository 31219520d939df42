"""The pages of a template that carry its numbers: a small picture with letters, notes, and tables with a column for measured values."""

from __future__ import annotations

from typing import Final

from tinbook.language import ENGLISH, Language
from tinbook.tracing import Drawing
from tinbook.write.flowing import GAP, Area, Table, fill, paragraph, section, table
from tinbook.write.page import BOLD, Page, Placing, text_width

_MARGIN: Final = 12.0
_SIZE: Final = 8.0
_PICTURE: Final = 0.32
"""Share of the page's height for the picture."""
APART: Final = "\u00a0\u00a0"


def number_pages(page: Page, drawing: Drawing, say: Language = ENGLISH) -> None:
    """Add the pages with a drawing's numbers; none without numbers."""
    if drawing.numbers:
        page.next()
        numbers(page, drawing, say)


def numbers(page: Page, drawing: Drawing, say: Language = ENGLISH) -> None:
    """Draw a drawing's notes, its small picture and its numbers from the top of a page on."""
    body = Area(_MARGIN, _MARGIN, page.width - 2 * _MARGIN, page.height - 2 * _MARGIN)
    title = drawing.heading or say("{name}: numbers for the tape, mm", name=drawing.name)
    _, y = fill(page, [body], section(title, drawing.notes or ("",), _SIZE))
    high = _PICTURE * body.h
    _picture(page, drawing, Area(body.x, y - high, body.w, high))
    left, _ = fill(page, [_below(body, y - high - GAP)], [table(t, body.w, _SIZE) for t in _tables(drawing, say)])
    while left:
        page.next()
        _, y = fill(page, [body], [paragraph(say("{heading}, continued", heading=title), _SIZE, font=BOLD)])
        left, _ = fill(page, [_below(body, y - GAP)], left)


def _below(body: Area, top: float) -> Area:
    return Area(body.x, body.y, body.w, top - body.y)


def _tables(drawing: Drawing, say: Language) -> list[Table]:
    found = []
    for n in drawing.numbers:
        numeric = tuple(i for i, head in enumerate(n.heads) if head.endswith(("mm", "degrees")))
        # A word right of a number keeps away from it.
        away = [APART if i - 1 in numeric and i not in numeric else "" for i in range(len(n.heads))]
        said = tuple(map(say, n.heads))
        heads, *rows = (tuple(map("".join, zip(away, row, strict=True))) for row in (said, *n.rows))
        if n.by_hand:
            written = tuple((*row, "") for row in rows)
            found.append(Table(heads=(*heads, say("measured")), rows=written, right=numeric, by_hand=(len(heads),)))
        else:
            found.append(Table(heads=heads, rows=tuple(rows), right=numeric))
    return found


def _picture(page: Page, drawing: Drawing, area: Area) -> None:
    x0, y0, x1, y1 = drawing.box
    room = 8.0  # for letters beyond the outline
    scale = min((area.w - 2 * room) / (x1 - x0), (area.h - 2 * room) / (y1 - y0))
    place = Placing.centred(scale, drawing.box, area.x, area.y, area.w, area.h)
    middle = area.x + area.w / 2, area.y + area.h / 2
    taken: list[Area] = []
    for line in drawing.lines:
        page.draw([line.edges], place, width=0.3 if line.kind in ("cut", "scribe") else 0.15)
        if line.kind not in ("centre", "mark") or not line.text:
            continue
        (x, y), w = place(line.edges[0].at(0.5)), text_width(line.text, _SIZE, BOLD)
        for k in range(1, 9):
            # Outward, and farther where a letter stands already.
            long = max(1e-6, ((x - middle[0]) ** 2 + (y - middle[1]) ** 2) ** 0.5)
            far = 1 + (3.4 * k + w / 2 * abs(x - middle[0]) / long) / long
            at = middle[0] + far * (x - middle[0]), middle[1] + far * (y - middle[1])
            here = Area(at[0] - w / 2, at[1] - 1.4, w, 2.8)
            if not any(here.meets(other) for other in taken):
                break
        taken.append(here)
        page.text(at[0], at[1] - 1.0, line.text, _SIZE, font=BOLD, align="middle")
