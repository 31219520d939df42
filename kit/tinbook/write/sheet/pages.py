"""The fold sheet: one page that goes to the bench with the blank.

The blank with dimensions that a tape can check, the folds in working order,
the folded part, what it is made of, and the cautions. What does not fit goes on
a continuation page, and the first page says so.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final

from tinbook.errors import BadValue, of_kind
from tinbook.finding import Finding, gathered, places
from tinbook.flatpattern import FlatPattern
from tinbook.making.made import Made, MadeStrip, need_made
from tinbook.plane.loops import polygon
from tinbook.route.given import Hit
from tinbook.route.steps import Sequence as FoldSequence
from tinbook.write import facts
from tinbook.write.drafts import draft_of
from tinbook.write.facts import figure
from tinbook.write.flowing import Area, flow
from tinbook.write.folded import folded_patches, picture_box
from tinbook.write.names import Label, blank_of, label
from tinbook.write.page import BOLD, PT, Page, Paper, Table, paper_size, text_width, wrapped
from tinbook.write.setting_out import SettingOut, hole_table, setting_out
from tinbook.write.sheet.folds import Folding, folding, reading_notes, step_notes, step_table, work_line
from tinbook.write.sheet.pictures import draw_blank, draw_folded
from tinbook.write.sheet.setting import room_for, setting_pages
from tinbook.write.stamp import Despite, Stamp, stamp_of

_MARGIN: Final = 8.0
_STRIP: Final = 17.0  # height of the title strip
_GAP: Final = 3.0
_SIZES: Final = (7.0, 6.5, 6.0, 5.5)
"""Letter sizes in points, tried until all fits on one page."""

_DRAWING: Final = (0.42, 0.34)
"""Least share of the page for the drawing: a smaller one rather than a second page, but not for more than that."""

Text = tuple[str, tuple[str, ...]]  # a heading and its paragraphs


def write_sheet(
    made: Made,
    path: str | os.PathLike[str],
    *,
    paper: Paper = "A4",
    order: FoldSequence | Iterable[str | Hit] | None = None,
    quantity: int | None = None,
    more_cautions: Sequence[str] = (),
    date: str = "",
    despite: Despite = None,
    replace: bool = False,
) -> Path:
    """Write the fold sheet as PDF.

    Parameters
    ----------
    made : Made
        The part.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    paper : {"A4", "A3"}
        Upright or lengthwise as the blank's shape asks.
    order : fold sequence, iterable of str or Hit, optional
        What `fold_sequence` answered or `read_folds` read, or names of the folds in working order, which are proved
        here. Left out, the order is searched, so that the same part always gives the same sheet.
        Where none is proved the sheet says so, and why.
    quantity : int, optional
        Instead of the part's own.
    more_cautions : sequence of str
        Printed with the caution that every sheet carries.
    date : str
        Printed in the title strip; none is printed by itself, so that equal parts give equal files.
    despite : str or sequence of str, optional
        A reason, or the codes of findings, for writing it although something stops it; the file says so.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    CannotMake
        Something stops the part and `despite` does not name it; nothing is written.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    BadValue
        A name, folder, paper or order that cannot be used.
    """
    need_made(made, "write_sheet")
    blank_of(made)
    folds = folding(made, order)
    plan = folds.sequence
    draft = draft_of(made, path, ".pdf", quantity=quantity, despite=despite, replace=replace, plan=plan)
    return draft.write(_drawn(made, folds, draft.stamp, paper, quantity, more_cautions, date))


def sheet_bytes(
    made: Made,
    *,
    paper: Paper = "A4",
    order: FoldSequence | Iterable[str | Hit] | None = None,
    quantity: int | None = None,
    more_cautions: Sequence[str] = (),
    date: str = "",
    despite: Despite = None,
) -> bytes:
    """Return the fold sheet as the bytes of a PDF file; see `write_sheet`."""
    blank_of(made)
    folds = folding(made, order)
    stamp = stamp_of(made, quantity=quantity, despite=despite, plan=folds.sequence)
    return _drawn(made, folds, stamp, paper, quantity, more_cautions, date)


def _drawn(
    made: Made,
    folds: Folding,
    stamp: Stamp,
    paper: Paper,
    quantity: int | None,
    more_cautions: Sequence[str],
    date: str,
) -> bytes:
    flat = blank_of(made)
    it = label(made, quantity)
    if not isinstance(more_cautions, (tuple, list)) or not all(isinstance(c, str) for c in more_cautions):
        raise BadValue("more_cautions", more_cautions, "sentences, as ('Carries a seat.',)")
    of_kind(date, str, "date", "text, as '2026-11-25'")
    short, long = paper_size(paper)
    across = flat.size[0] >= 0.9 * flat.size[1]
    width, height = (long, short) if across else (short, long)
    kind = "Fold sheet" if made.strips else "Part sheet"
    about = f"{it.material} {it.thickness:.4g} mm, {it.quantity} off"
    page = Page(width, height, f"{it.name}, {kind.lower()}", about, stamp.mark)
    out = setting_out(flat)
    tables = _tables(made, out, folds)
    said = _texts(made, out, folds, more_cautions, stamp)
    body = Area(_MARGIN, _MARGIN + _STRIP + _GAP, width - 2 * _MARGIN, height - 2 * _MARGIN - _STRIP - _GAP)
    side_w = min(88.0, 0.36 * body.w) if across else 0.38 * body.w
    rest_tables, rest_text, scale = _first_page(page, made, out, folds.strips, body, side_w, tables, said)
    # A few lines need no page of their own.
    above = rest_text if not rest_tables and room_for(rest_text, body) else []
    rest_text = [] if above else rest_text
    pages = _count_pages(body, rest_tables, rest_text)
    pages += setting_pages(None, made, out, folds.strips, body, lambda: None)
    _title_strip(page, it, made, width, (kind, 1, pages), scale, date, stamp)
    n = 1

    def begin() -> None:
        nonlocal n
        page.next()
        n += 1
        _title_strip(page, it, made, width, (kind, n, pages), "", date, stamp)

    while rest_tables or rest_text:
        begin()
        rest_tables, rest_text = _continued(page, body, rest_tables, rest_text)
    setting_pages(page, made, out, folds.strips, body, begin, above)
    return page.done()


def _tables(made: Made, out: SettingOut, folds: Folding) -> list[Table]:
    listed = (
        facts.fold_table(made, out.flat, folds.strips) if folds.strips else None,
        step_table(folds),
        hole_table(out),
        facts.form_table(made),
        facts.size_table(made, folds.sequence if folds.proved else None),
    )
    return [t for t in listed if t]


def _texts(made: Made, out: SettingOut, folds: Folding, more: Sequence[str], stamp: Stamp) -> list[Text]:
    said: list[Text] = []
    if stamp.stopped:
        why = f"Written all the same: {stamp.despite}."
        said.append(
            ("Stop: do not make it like this", (why, *(_sentence(g[0], places(g)) for g in gathered(stamp.stopped))))
        )
    said.append(("Before you cut", tuple(facts.cautions(made, more))))
    cautions = [_sentence(f) for f in (*made.findings, *folds.findings("caution")) if f.severity == "caution"]
    if cautions:
        said.append(("Cautions", tuple(cautions)))
    said.append(("Order", (*step_notes(folds), work_line(folds))))
    said.append(
        (
            "How to read it",
            (*facts.notes(made, out, folds.strips, folds.sequence if folds.proved else None), *reading_notes(folds)),
        )
    )
    return said


def _sentence(f: Finding, where: str = "") -> str:
    size = (
        ""
        if f.value is None
        else f" ({figure(f.value)}{'' if f.limit is None else f' against {figure(f.limit)}'} {f.unit})"
    )
    return f"{where or f.where}: {f.what}{size}. {f.remedy[:1].upper()}{f.remedy[1:]}".rstrip()


# --- first page --------------------------------------------------------------------------------


def _first_page(
    page: Page,
    made: Made,
    out: SettingOut,
    strips: Sequence[MadeStrip],
    body: Area,
    side_w: float,
    tables: list[Table],
    said: list[Text],
) -> tuple[list[Table], list[Text], str]:
    """Lay out the first page; return what did not fit, and the drawing's scale in words."""
    across = page.width > page.height
    main_w = body.w - side_w - _GAP
    table_w = main_w if across else body.w
    tries = [(share * body.h, s) for share in _DRAWING for s in _SIZES]
    least, size = next(
        ((h, s) for h, s in tries if body.h - _stack(tables, table_w, s) >= h), (_DRAWING[0] * body.h, _SIZES[-1])
    )
    kept, rest_tables = _fitting(tables, table_w, size, body.h - least)
    tables_h = _stack(kept, table_w, size)
    if across:
        drawing = Area(body.x, body.y + tables_h, main_w, body.h - tables_h)
        side = Area(body.x + main_w + _GAP, body.y, side_w, body.h)
    else:
        top_h = body.h - tables_h
        drawing = Area(body.x, body.top - top_h, main_w, top_h)
        side = Area(body.x + main_w + _GAP, drawing.y, side_w, top_h)
    scale = draw_blank(page, made, out, strips, drawing)
    y = body.y + tables_h if across else drawing.y
    for t in kept:
        y = t.draw(page, body.x, y - _GAP / 2, table_w, size) - _GAP / 2
    return rest_tables, _side(page, made, out.flat, side, said), scale


def _stack(tables: Sequence[Table], width: float, size: float) -> float:
    return sum(t.height(width, size) + _GAP for t in tables)


def _fitting(tables: list[Table], width: float, size: float, room: float) -> tuple[list[Table], list[Table]]:
    """Return the tables, the last one perhaps in part, that fit into `room` mm, and the rest."""
    kept: list[Table] = []
    for i, t in enumerate(tables):
        heights = t.heights(width, size)
        if sum(heights) + _GAP <= room:
            kept.append(t)
            room -= sum(heights) + _GAP
            continue
        n = 0
        while n < len(t.rows) and sum(heights[: n + 2]) + _GAP <= room:
            n += 1
        if n == 0:
            return kept, tables[i:]
        first, rest = t.split(n)
        return [*kept, first], [rest, *tables[i + 1 :]]
    return kept, []


def _side(page: Page, made: Made, flat: FlatPattern, side: Area, said: list[Text]) -> list[Text]:
    """Fill the side column: folded picture, facts, sentences; return the sentences that did not fit."""
    patches = folded_patches(made)
    x0, y0, x1, y1 = picture_box(patches)
    picture_h = min(0.34 * side.h, side.w * (y1 - y0) / max(x1 - x0, 1e-6))
    draw_folded(page, patches, Area(side.x, side.top - picture_h, side.w, picture_h))
    y = side.top - picture_h - _GAP
    size = 7.0
    line = size / PT * 1.3
    pairs = facts.facts(made, flat, label(made).quantity)
    indent = max(text_width(k, size, BOLD) for k, _ in pairs) + 2
    for key, value in pairs:
        page.text(side.x, y - 0.8 * line, key, size, font=BOLD)
        for part in wrapped(value, side.w - indent, size):
            page.text(side.x + indent, y - 0.8 * line, part, size)
            y -= line
    y -= _GAP / 2
    return _columns(page, Area(side.x, side.y, side.w, y - side.y), said, 1)


def _columns(page: Page, area: Area, said: list[Text], columns: int) -> list[Text]:
    """Set headed paragraphs in columns, as large as fits; return what did not fit even at the smallest size."""
    width = (area.w - (columns - 1) * _GAP) / columns
    size = next(
        (s for s in _SIZES if _lines(said, width, s) * s / PT * 1.25 <= columns * area.h - columns * 4), _SIZES[-1]
    )
    line = size / PT * 1.25
    x, y = area.x, area.top
    left = list(said)
    column = 0
    while left:
        heading, paragraphs = left[0]
        rows = [(heading, True), *((row, False) for p in paragraphs for row in wrapped(p, width, size))]
        need = min(len(rows), 3) * line
        if y - need < area.y:
            column += 1
            if column >= columns:
                return left
            x, y = x + width + _GAP, area.top
            continue
        done = 0
        for text, head in rows:
            if y - line < area.y:
                break
            page.text(x, y - 0.8 * line, text, size, font=BOLD if head else "tinbook-plain")
            y -= line
            done += 1
        left.pop(0)
        if done < len(rows):
            left.insert(0, (f"{heading}, continued", (" ".join(row for row, _ in rows[done:]),)))
        y -= 0.5 * line
    return []


def _lines(said: Sequence[Text], width: float, size: float) -> float:
    return sum(1.5 + sum(len(wrapped(p, width, size)) for p in paragraphs) for _, paragraphs in said)


# --- title strip and further pages -------------------------------------------------------------


def _title_strip(
    page: Page, it: Label, made: Made, width: float, which: tuple[str, int, int], scale: str, date: str, stamp: Stamp
) -> None:
    kind, n, pages = which
    x, y, w = _MARGIN, _MARGIN, width - 2 * _MARGIN
    page.box(x, y, w, _STRIP, width=0.35)
    number_w = max(0.34 * w, text_width(it.number, 17, BOLD) + text_width(f"rev {it.rev}", 11, BOLD) + 9)
    number_w = min(number_w, 0.5 * w)
    page.line((x + number_w, y), (x + number_w, y + _STRIP), 0.18)
    size = min(17.0, 17.0 * (number_w - 8 - text_width(f"rev {it.rev}", 11, BOLD)) / text_width(it.number, 17, BOLD))
    page.text(x + 3, y + 8.3, it.number, size, font=BOLD)
    page.text(x + number_w - 3, y + 8.3, f"rev {it.rev}", 11, font=BOLD, align="right")
    title = wrapped(it.title or "-", number_w - 9, 8)
    page.text(x + 3, y + 2.8, title[0] + (" …" if len(title) > 1 else ""), 8)
    left = x + number_w + 3
    column = (w - number_w) / 2
    page.text(left, y + 11.2, f"{it.material}  {it.thickness:.4g} mm", 10, font=BOLD)
    page.text(left, y + 6.4, f"{it.quantity} off", 8)
    page.text(left, y + 2.2, made.shop.name, 7)
    middle = x + number_w + column
    _state(page, middle - 3, y + 6.4, stamp)
    page.line((middle, y), (middle, y + _STRIP), 0.18)
    more = f", continued on page {n + 1}" if n < pages else ""
    where = f"{kind}, page {n} of {pages}{more}"
    size = min(7.5, 7.5 * (column - 5) / text_width(where, 7.5, BOLD))
    page.text(middle + 3, y + 11.8, where, size, font=BOLD)
    page.text(middle + 3, y + 7.4, f"mm; {scale}" if scale else "mm", 6)
    page.text(middle + 3, y + 2.6, f"Date {date}" if date else "Date", 6)
    page.text(middle + 3 + 0.45 * column, y + 2.6, "Checked", 6)


def _state(page: Page, right: float, y: float, stamp: Stamp) -> None:
    """Write whether it is proved, boxed where it is not."""
    said, red = stamp.state.upper(), "#b3261e"
    if stamp.state == "proved":
        page.text(right, y, "proved", 8, align="right")
        return
    page.text(right, y, said, 9, font=BOLD, align="right", colour=red)
    w = text_width(said, 9, BOLD) + 2
    left, low, high = right + 1 - w, y - 1.2, y + 3.2
    frame = polygon([(left, low), (right + 1, low), (right + 1, high), (left, high)])
    page.edges(frame, width=0.5, colour=red)


def _continued(page: Page, body: Area, tables: list[Table], said: list[Text]) -> tuple[list[Table], list[Text]]:
    size = 6.5
    rest, y = flow(tables, [body], size, page)
    if rest:
        return rest, said
    return [], _columns(page, Area(body.x, body.y, body.w, y - body.y), said, 2)


def _count_pages(body: Area, tables: list[Table], said: list[Text]) -> int:
    """Return how many pages there will be, by laying the further ones out on a page that is thrown away."""
    n = 1
    while tables or said:
        n += 1
        tables, said = _continued(Page(body.w, body.h, ""), body, tables, said)
    return n
