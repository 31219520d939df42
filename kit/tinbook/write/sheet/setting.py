"""The setting-out pages of a sheet: the blank with its corners numbered, and every number to set it out and check it by."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.write import setting_out
from tinbook.write.flowing import GAP, Area, Flowable, Table, fill, section, table
from tinbook.write.page import Page
from tinbook.write.setting_out import SettingOut
from tinbook.write.sheet.pictures import draw_numbered

SIZE: Final = 6.5
"""Of letters, points."""

_COLUMN: Final = 88.0
"""mm: width that is enough for each table."""

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
    above: Sequence[Flowable] = (),
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
    above : sequence of flowables
        What is left of the sheet's text; it stands above the picture.
    """
    columns = body.columns(int((body.w + GAP) / (_COLUMN + GAP)))
    wide = len(columns) > 2  # then the picture takes all columns but one, else the upper half of the page
    half = Area(body.x, body.y, body.w, body.h / 2 - GAP)
    first = (
        Area(body.x, body.y, columns[-1].x - GAP - body.x, body.h)
        if wide
        else Area(body.x, half.top + GAP, body.w, body.h / 2)
    )
    left = [table(t, columns[0].w, SIZE) for t in tables(made, it, strips)]
    page.next()
    _picture(page, made, it, strips, first, above)
    left, _ = fill(page, columns[-1:] if wide else half.columns(len(columns)), left)
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
) -> None:
    words = [it.datum.words(), HOW]
    if it.trims:
        words.append(setting_out.trim_note(it))
    words += setting_out.mark_notes(made, it.flat)
    words += setting_out.hole_notes(it, made.shop.cutter_for(made.sheet).etches)
    words += setting_out.unlisted(it)
    _, y = fill(page, [area], [*above, *section("Setting out", words, SIZE)])
    y -= GAP
    draw_numbered(page, made, it, strips, Area(area.x, area.y, area.w, y - area.y))
