"""The fold sheet: one page that goes to the bench with the blank.

The blank with dimensions that a tape can check, the folds in working order,
the folded part, what it is made of, and the cautions. What does not fit goes on
a continuation page, and the first page says so.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from tinbook.errors import BadValue, of_kind
from tinbook.finding import Finding, gathered, places
from tinbook.making.made import Made, need_made
from tinbook.plane.loops import polygon
from tinbook.route.steps import FoldPlan
from tinbook.route.stored_order import StoredHit
from tinbook.rules.registry import live
from tinbook.rules.verdict import Verdict
from tinbook.write import facts
from tinbook.write.drafts import draft_of
from tinbook.write.facts import figure
from tinbook.write.flowing import Area, Flowable, Table, fill, grid, height, paragraph, section, table
from tinbook.write.folded import folded_drawing
from tinbook.write.names import Label, blank_of, label
from tinbook.write.page import BOLD, PLAIN, PT, Page, Paper, paper_size, text_width
from tinbook.write.setting_out import SettingOut, hole_table, setting_out
from tinbook.write.sheet.folds import Folding, folding, reading_notes, step_notes, step_table, work_line
from tinbook.write.sheet.pictures import draw_blank, draw_folded
from tinbook.write.sheet.setting import SIZE, setting_pages
from tinbook.write.stamp import Despite, Stamp

_MARGIN: Final = 8.0
_STRIP: Final = 17.0  # height of the title strip
_GAP: Final = 3.0
_DRAWING: Final = (0.42, 0.34, 0.28)
"""Least share of the page for the drawing: a smaller one rather than a second page, but not for more than that."""

_LATE: Final = 2
"""So many tables may stand on the setting-out pages."""

_LEGEND: Final = "How to read it"
"""Heading of the text that may stand last: nobody is hurt who reads it late."""

Text = tuple[str, tuple[str, ...]]  # a heading and its paragraphs


def write_sheet(
    made: Made,
    path: str | os.PathLike[str],
    *,
    paper: Paper = "A4",
    order: Verdict | FoldPlan | Iterable[str | StoredHit] | None = None,
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
    order : verdict, fold sequence, iterable of str or StoredHit, optional
        What `check` answered (it carries its fold plan), `fold_sequence` answered or `read_folds` read, or names of the
        folds in working order, which are proved here. Left out, the order is searched, so that the same part always gives the same sheet.
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
    flat = blank_of(made)
    folds = folding(made, order)
    plan = folds.sequence
    draft = draft_of(made, path, ".pdf", quantity=quantity, despite=despite, replace=replace, plan=plan)
    it = label(made, quantity)
    if not isinstance(more_cautions, (tuple, list)) or not all(isinstance(c, str) for c in more_cautions):
        raise BadValue("more_cautions", more_cautions, "sentences, as ('Carries a seat.',)")
    of_kind(date, str, "date", "text, as '2026-11-25'")
    short, long = paper_size(paper)
    across = flat.size[0] >= 0.9 * flat.size[1]
    sheet = _Sheet(
        made=made,
        folds=folds,
        out=setting_out(flat),
        label=it,
        stamp=draft.stamp,
        date=date,
        width=long if across else short,
        height=short if across else long,
    )
    tables = _tables(made, sheet.out, folds)
    texts = _texts(made, sheet.out, folds, more_cautions, draft.stamp)
    about = f"{it.material} {it.thickness:.4g} mm, {it.quantity} off"
    page = Page(sheet.width, sheet.height, f"{it.name}, {sheet.kind.lower()}", about, draft.stamp.mark)
    scale = _lay_out(page, sheet, tables, texts)
    return draft.write(page.done(lambda n, pages: _title_strip(page, sheet, (n, pages), scale if n == 1 else "")))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    made: Made
    folds: Folding
    out: SettingOut
    label: Label
    stamp: Stamp
    date: str
    width: float
    height: float

    @property
    def kind(self) -> str:
        return "Fold sheet" if self.made.strips else "Part sheet"

    @property
    def across(self) -> bool:
        """Whether the paper lies lengthwise."""
        return self.width > self.height

    @property
    def main_w(self) -> float:
        """Width of the drawing, and lengthwise of the tables below it; text stands beside it."""
        w = self.body.w
        return w - _GAP - (min(88.0, 0.36 * w) if self.across else 0.38 * w)

    @property
    def body(self) -> Area:
        """The area above the title strip."""
        below = _MARGIN + _STRIP + _GAP
        return Area(_MARGIN, below, self.width - 2 * _MARGIN, self.height - below - _MARGIN)


def _lay_out(page: Page, sheet: _Sheet, tables: list[Table], texts: list[Text]) -> str:
    """Draw all pages but for their title strips; return the scale of the first drawing in words."""
    body = sheet.body
    rest_tables, late, rest_text, scale = _first_page(page, sheet, tables, texts)
    while rest_tables or (rest_text and rest_text[0].section[0] != _LEGEND):
        page.next()
        if sheet.across:  # as on the first page: tables beside the text
            rest_tables, _ = fill(page, [Area(body.x, body.y, sheet.main_w, body.h)], rest_tables)
            beside = body.x + sheet.main_w + _GAP
            rest_text, _ = fill(page, [Area(beside, body.y, body.x + body.w - beside, body.h)], rest_text)
            continue
        rest_tables, y = fill(page, [body], rest_tables)
        if not rest_tables:
            rest_text, _ = fill(page, Area(body.x, body.y, body.w, y - body.y).columns(2), rest_text)
    setting_pages(page, sheet.made, sheet.out, sheet.folds.strips, body, rest_text, late)
    return scale


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
    texts: list[Text] = []
    if stamp.stopped:
        why = f"Written all the same: {stamp.despite}."
        texts.append(
            ("Stop: do not make it like this", (why, *(_sentence(g[0], places(g)) for g in gathered(stamp.stopped))))
        )
    texts.append(("Before you cut", tuple(facts.cautions(made, more))))
    cautions = gathered(dict.fromkeys((*live(made).cautions, *folds.findings("caution"))))
    if cautions:
        texts.append(("Cautions", tuple(_sentence(g[0], places(g)) for g in cautions)))
    texts.append(("Order", (*step_notes(folds), work_line(folds))))
    texts.append(
        (
            _LEGEND,
            (*facts.notes(made, out, folds.strips, folds.sequence if folds.proved else None), *reading_notes(folds)),
        )
    )
    return texts


def _sentence(f: Finding, where: str = "") -> str:
    size = (
        ""
        if f.value is None
        else f" ({figure(f.value)}{'' if f.limit is None else f' against {figure(f.limit)}'} {f.unit})"
    )
    return f"{where or f.where}: {f.what}{size}. {f.remedy[:1].upper()}{f.remedy[1:]}".rstrip()


# --- first page --------------------------------------------------------------------------------


def _first_page(
    page: Page, sheet: _Sheet, tables: list[Table], texts: list[Text]
) -> tuple[list[Flowable], list[Table], list[Flowable], str]:
    """Lay out the first page.

    Returns the tables that go on from here, those that go to the setting-out pages, text that did not fit, and the
    drawing's scale in words.
    """
    body, across, main_w = sheet.body, sheet.across, sheet.main_w
    side_w = body.w - main_w - _GAP
    table_w = main_w if across else body.w
    story = [table(t, table_w, SIZE) for t in tables]
    tables_h = height(story, table_w)
    share = next((share for share in _DRAWING if tables_h <= (1 - share) * body.h), _DRAWING[0])
    tables_h = min(tables_h, (1 - share) * body.h)
    low = body.y + tables_h
    drawing = Area(body.x, low, main_w, body.top - low)
    side_y = body.y if across else low
    scale = draw_blank(page, sheet.made, sheet.out, sheet.folds.strips, drawing)
    rest, _ = fill(page, [Area(body.x, body.y, table_w, tables_h)], story)
    # A table or two that are left over whole take no page of their own.
    late = tables[len(tables) - len(rest) :] if len(rest) <= _LATE and all(r in story for r in rest) else []
    rest = [] if late else rest
    return (
        rest,
        late,
        _side(page, sheet, Area(drawing.x + main_w + _GAP, side_y, side_w, body.top - side_y), texts),
        scale,
    )


def _side(page: Page, sheet: _Sheet, side: Area, texts: list[Text]) -> list[Flowable]:
    """Fill the side column with the folded picture, facts and sentences; return what did not fit."""
    seen = folded_drawing(sheet.made)
    x0, y0, x1, y1 = seen.box
    picture_h = min(0.34 * side.h, side.w * (y1 - y0) / max(x1 - x0, 1e-6))
    draw_folded(page, seen, Area(side.x, side.top - picture_h, side.w, picture_h))
    pairs = facts.facts(sheet.made, sheet.out.flat, sheet.label.quantity)
    indent = max(text_width(k, SIZE, BOLD) for k, _ in pairs) + 2
    cells = [(paragraph(k, SIZE, font=BOLD), paragraph(v, SIZE)) for k, v in pairs]
    below = Area(side.x, side.y, side.w, side.h - picture_h - _GAP)
    _, y = fill(page, [below], [grid(cells, (indent, side.w - indent), SIZE)])
    room = Area(side.x, side.y, side.w, y - _GAP / 2 - side.y)
    story = [flowable for heading, paragraphs in texts for flowable in section(heading, paragraphs, SIZE)]
    rest, _ = fill(page, [room], story)
    return rest


# --- title strip -------------------------------------------------------------------------------


def _title_strip(page: Page, sheet: _Sheet, which: tuple[int, int], scale: str) -> None:
    """Draw the strip at the foot of page n of a number of pages."""
    from reportlab.lib.utils import simpleSplit

    it, made, width = sheet.label, sheet.made, sheet.width
    n, pages = which
    x, y, w = _MARGIN, _MARGIN, width - 2 * _MARGIN
    page.box(x, y, w, _STRIP, width=0.35)
    number_w = max(0.34 * w, text_width(it.number, 17, BOLD) + text_width(f"rev {it.rev}", 11, BOLD) + 9)
    number_w = min(number_w, 0.5 * w)
    page.line((x + number_w, y), (x + number_w, y + _STRIP), 0.18)
    size = min(17.0, 17.0 * (number_w - 8 - text_width(f"rev {it.rev}", 11, BOLD)) / text_width(it.number, 17, BOLD))
    page.text(x + 3, y + 8.3, it.number, size, font=BOLD)
    page.text(x + number_w - 3, y + 8.3, f"rev {it.rev}", 11, font=BOLD, align="right")
    title = simpleSplit(it.title or "-", PLAIN, 8, (number_w - 9) * PT)
    page.text(x + 3, y + 2.8, title[0] + (" …" if len(title) > 1 else ""), 8)
    left = x + number_w + 3
    column = (w - number_w) / 2
    page.text(left, y + 11.2, f"{it.material}  {it.thickness:.4g} mm", 10, font=BOLD)
    page.text(left, y + 6.4, f"{it.quantity} off", 8)
    page.text(left, y + 2.2, made.shop.name, 7)
    middle = x + number_w + column
    _state(page, middle - 3, y + 6.4, sheet.stamp)
    page.line((middle, y), (middle, y + _STRIP), 0.18)
    more = f", continued on page {n + 1}" if n < pages else ""
    where = f"{sheet.kind}, page {n} of {pages}{more}"
    lines = [(line, BOLD) for line in simpleSplit(where, BOLD, SIZE, (column - 5) * PT)]
    measure = f"mm; {scale}" if scale else "mm"
    lines += [(line, PLAIN) for line in simpleSplit(measure, PLAIN, SIZE, (column - 5) * PT)]
    for k, (line, font) in enumerate(lines):
        page.text(middle + 3, y + 13.6 - (3.0 if len(lines) > 2 else 4.4) * k, line, SIZE, font=font)
    page.text(middle + 3, y + 1.6, f"Date {sheet.date}" if sheet.date else "Date", SIZE)
    page.text(middle + 3 + 0.45 * column, y + 1.6, "Checked", SIZE)


def _state(page: Page, right: float, y: float, stamp: Stamp) -> None:
    """Write the state of the part, in a red box unless it is proved."""
    state, red = stamp.state.upper(), "#b3261e"
    if stamp.state == "proved":
        page.text(right, y, "proved", 8, align="right")
        return
    page.text(right, y, state, 9, font=BOLD, align="right", colour=red)
    w = text_width(state, 9, BOLD) + 2
    left, low, high = right + 1 - w, y - 1.2, y + 3.2
    frame = polygon([(left, low), (right + 1, low), (right + 1, high), (left, high)])
    page.draw([frame], width=0.5, colour=red)
