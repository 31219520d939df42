"""The setting-out pages of a sheet: the blank with its corners numbered, and every number to set it out and check it by."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from tinbook.language import ENGLISH, Language
from tinbook.making.folded import BendZone
from tinbook.making.made import Made
from tinbook.write import setting_out
from tinbook.write.flowing import GAP, PENS, Area, Flowable, Table, fill, fill_pages, height, resumed, section, table
from tinbook.write.page import Page
from tinbook.write.setting_out import SettingOut
from tinbook.write.sheet.pictures import ROUND, draw_numbered
from tinbook.write.strip import SIZE as SIZE

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
    *,
    last: Sequence[Flowable] = (),
    say: Language = ENGLISH,
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
    last : sequence of flowables
        What stands after the tables.
    say : Language
        Of the fixed words.
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
        left = [table(t, columns[0].w, SIZE, pen) for t in (*late, *tables(it, strips, say))]
        left += [*([] if above else resumed(rest, say)), *last]
        if height(left, columns[0].w) <= room:
            break
    page.next()
    words = _words(made, it, say)
    count = len(columns) - 1 if wide else 0
    low = _picture(page, made, it, strips, first, [*above, *words], count, height(left, columns[0].w), say)
    fill_pages(page, [columns[-1], *low] if wide else half.columns(len(columns)), columns, left, say)


def tables(it: SettingOut, strips: Sequence[BendZone], say: Language = ENGLISH) -> list[Table]:
    """Return the tables that have rows: diagonals and sides first, as the blank is checked in that order."""
    listed = [
        setting_out.diagonal_table(it, say),
        setting_out.fold_line_table(it, strips, say),
        setting_out.hole_place_table(it, say),
        setting_out.form_line_table(it, say),
        setting_out.corner_table(it, say),
    ]
    return [t for t in listed if t.rows]


def _words(made: Made, it: SettingOut, say: Language) -> list[Flowable]:
    words = [it.datum.words(say=say), say(HOW)]
    if it.trims:
        words.append(setting_out.trim_note(it, say))
    words += setting_out.mark_notes(made, it.flat, say)
    words += setting_out.hole_notes(it, made.shop.cutter_for(made.sheet).etches, say)
    words += setting_out.unlisted(it, say)
    return section(say("Setting out"), words, SIZE)


def _picture(
    page: Page,
    made: Made,
    it: SettingOut,
    strips: Sequence[BendZone],
    area: Area,
    above: Sequence[Flowable],
    count: int,
    tall: float,
    say: Language,
) -> list[Area]:
    """Draw the picture; return `count` columns below it for tables `tall` mm high that need them, if a long blank leaves room."""
    _, y = fill(page, [area], above, say)
    y -= GAP
    w, h = it.flat.size
    need = ROUND + area.w * h / w
    low = Area(area.x, area.y, area.w, y - need - GAP - area.y)
    if not count or tall <= area.h or low.h < _LOW:
        draw_numbered(page, made, it, strips, Area(area.x, area.y, area.w, y - area.y))
        return []
    draw_numbered(page, made, it, strips, Area(area.x, y - need, area.w, need))
    return low.columns(count)
