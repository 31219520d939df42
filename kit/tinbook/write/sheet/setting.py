"""The setting-out pages of a sheet: the blank with its corners numbered, and every number to set it out and check it by."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.write import setting_out
from tinbook.write.flowing import GAP, PENS, Area, Flowable, Table, fill, height, resumed, section, table
from tinbook.write.page import Page
from tinbook.write.setting_out import SettingOut
from tinbook.write.sheet.pictures import ROUND, draw_numbered

SIZE: Final = 7.0
"""Of letters, points."""

_COLUMN: Final = 88.0
"""mm: width that is enough for each table."""

_FEW: Final = 40.0
"""mm: text left over up to this height stands above the picture."""

_LOW: Final = 30.0
"""mm: least height of columns below the picture."""

HOW = (
    "x and y are measured from O on the flat blank, minus to the other side of O; measure a blank that is cut by hand "
    "before it is folded. Corners are numbered anticlockwise; those between short sides stand in the table only. Write "
    "what the tape says under Measured."
)


def setting_pages(
    page: Page,
    made: Made,
    it: SettingOut,
    strips: Sequence[BendZone],
    body: Area,
    rest: Sequence[Flowable] = (),
    late: Sequence[Table] = (),
) -> None:
    """Draw the setting-out pages.

    Parameters
    ----------
    page : Page
        Where to draw, on pages of their own.
    made, it, strips
        The part, what its blank is measured from, its folds in working order.
    body : Area
        What is free on every page.
    rest : sequence of flowables
        What is left of the sheet's text; it stands above the picture if it is short, else after the tables.
    late : sequence of Table
        Tables of the sheet that found no room before.
    """
    columns = body.columns(int((body.w + GAP) / (_COLUMN + GAP)))
    wide = len(columns) > 2  # then the picture takes all columns but one, else the upper half of the page
    half = Area(body.x, body.y, body.w, body.h / 2 - GAP)
    first = (
        Area(body.x, body.y, columns[-1].x - GAP - body.x, body.h)
        if wide
        else Area(body.x, half.top + GAP, body.w, body.h / 2)
    )
    above = rest if height(rest, first.w) <= _FEW else []
    room = columns[-1].h if wide else 2 * half.h
    for pen in (*PENS, PENS[0]):
        left = [table(t, columns[0].w, SIZE, pen) for t in (*late, *tables(made, it, strips))]
        left += [] if above else resumed(rest)
        if height(left, columns[0].w) <= room:
            break
    page.next()
    low = _picture(page, made, it, strips, first, above, len(columns) - 1 if wide else 0, height(left, columns[0].w))
    left, _ = fill(page, [columns[-1], *low] if wide else half.columns(len(columns)), left)
    while left:
        page.next()
        left, _ = fill(page, columns, left)


def tables(made: Made, it: SettingOut, strips: Sequence[BendZone]) -> list[Table]:
    """Return the tables that have rows: diagonals and sides first, as the blank is checked in that order."""
    listed = [
        setting_out.diagonal_table(it),
        setting_out.fold_line_table(it, made, strips),
        setting_out.hole_place_table(it),
        setting_out.form_line_table(it),
        setting_out.corner_table(it),
    ]
    return [t for t in listed if t.rows]


def _picture(
    page: Page,
    made: Made,
    it: SettingOut,
    strips: Sequence[BendZone],
    area: Area,
    above: Sequence[Flowable],
    count: int,
    tall: float,
) -> list[Area]:
    """Draw the picture; return `count` columns below it for tables `tall` mm high that need them, if a long blank leaves room."""
    words = [it.datum.words(), HOW]
    if it.trims:
        words.append(setting_out.trim_note(it))
    words += setting_out.mark_notes(made, it.flat)
    words += setting_out.hole_notes(it, made.shop.cutter_for(made.sheet).etches)
    words += setting_out.unlisted(it)
    _, y = fill(page, [area], [*above, *section("Setting out", words, SIZE)])
    y -= GAP
    w, h = it.flat.size
    need = ROUND + area.w * h / w
    low = Area(area.x, area.y, area.w, y - need - GAP - area.y)
    if not count or tall <= area.h or low.h < _LOW:
        draw_numbered(page, made, it, strips, Area(area.x, area.y, area.w, y - area.y))
        return []
    draw_numbered(page, made, it, strips, Area(area.x, y - need, area.w, need))
    return low.columns(count)
