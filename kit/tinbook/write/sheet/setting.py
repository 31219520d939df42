"""The setting-out pages of a sheet: the blank with its corners numbered, and every number to set it out and check it by."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from tinbook.making.made import Made, MadeStrip
from tinbook.write import setting_out
from tinbook.write.flowing import GAP, Area, flow
from tinbook.write.page import BOLD, PT, Page, Table, wrapped
from tinbook.write.setting_out import SettingOut
from tinbook.write.sheet.pictures import draw_numbered

_SIZE = 6.5  # letters, points
_COLUMN = 88.0  # mm: width that each table is content with
_ABOVE = 14  # lines of the sheet's own text that the first page takes

HOW = (
    "x and y are measured from O on the flat blank, minus to the other side of O; measure a blank that is cut by hand "
    "before it is folded. Corners are numbered anticlockwise; those between short sides stand in the table only. Write "
    "what the tape says under Measured."
)


def setting_pages(
    page: Page | None,
    made: Made,
    it: SettingOut,
    strips: Sequence[MadeStrip],
    body: Area,
    begin: Callable[[], None],
    said: Sequence[tuple[str, tuple[str, ...]]] = (),
) -> int:
    """Draw the setting-out pages.

    Parameters
    ----------
    page : Page or None
        Where to draw; None only to count the pages.
    made, it, strips
        The part, what its blank is measured from, its folds in working order.
    body : Area
        What is free on every page.
    begin : callable
        Called before each page is drawn, to end the one before and draw the title strip.
    said : sequence of (str, tuple of str)
        What is left of the sheet's text, a heading and its paragraphs each; it stands above the picture.

    Returns
    -------
    int
        How many pages there are.
    """
    across = body.w > body.h
    first = (
        Area(body.x, body.y, (body.w - GAP) / 2, body.h)
        if across
        else Area(body.x, body.y + body.h / 2, body.w, body.h / 2)
    )
    rest = body.columns(2)[1:] if across else Area(body.x, body.y, body.w, body.h / 2 - GAP).columns(2)
    left = tables(made, it, strips)
    begin()
    if page is not None:
        _picture(page, made, it, strips, first, said)
    left, _ = flow(left, rest, _SIZE, page)
    count = 1
    while left:
        begin()
        count += 1
        left, _ = flow(left, body.columns(int((body.w + GAP) / (_COLUMN + GAP))), _SIZE, page)
    return count


def tables(made: Made, it: SettingOut, strips: Sequence[MadeStrip]) -> list[Table]:
    """Return the tables that have rows: diagonals and sides first, as the blank is checked in that order."""
    listed = [
        setting_out.diagonal_table(it),
        setting_out.fold_line_table(it, made, strips),
        setting_out.hole_place_table(it),
        setting_out.bead_line_table(it),
        setting_out.corner_table(it),
    ]
    return [t for t in listed if t.rows]


def room_for(said: Sequence[tuple[str, tuple[str, ...]]], body: Area) -> bool:
    """Whether what is left of the sheet's text finds room above the picture of the first setting-out page."""
    width = (body.w - GAP) / 2 if body.w > body.h else body.w
    rows = sum(1 + sum(len(wrapped(p, width, _SIZE)) for p in paragraphs) for _, paragraphs in said)
    return rows <= _ABOVE


def _picture(
    page: Page,
    made: Made,
    it: SettingOut,
    strips: Sequence[MadeStrip],
    area: Area,
    said: Sequence[tuple[str, tuple[str, ...]]],
) -> None:
    words = [it.datum.words(), HOW]
    if it.trims:
        words.append(setting_out.trim_note(it))
    words += setting_out.mark_notes(made, it.flat)
    words += setting_out.hole_notes(it, made.shop.cutter_for(made.sheet).etches)
    words += setting_out.unlisted(it)
    line = _SIZE / PT * 1.25
    y = area.top
    for heading, paragraphs in (*said, ("Setting out", tuple(words))):
        page.text(area.x, y - 0.8 * line, heading, _SIZE, font=BOLD)
        for row in (row for p in paragraphs for row in wrapped(p, area.w, _SIZE)):
            y -= line
            page.text(area.x, y - 0.8 * line, row, _SIZE)
        y -= 1.5 * line
    y -= GAP
    draw_numbered(page, made, it, strips, Area(area.x, area.y, area.w, y - area.y))
