"""The fold sheet: one page that goes to the bench with the blank.

The blank with dimensions that a tape can check, the folds in working order,
the folded part, what it is made of, and the cautions. What does not fit goes on
a continuation page, and the first page says so.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from itertools import accumulate
from pathlib import Path
from typing import Final

from tinbook.errors import BadValue
from tinbook.finding import gathered, places
from tinbook.language import ENGLISH, Language, Spoken
from tinbook.making.made import Made, need_made
from tinbook.part.names import PRINTED_DATE
from tinbook.route.steps import FoldPlan
from tinbook.route.stored_order import StoredHit
from tinbook.rules.registry import live
from tinbook.rules.verdict import Verdict
from tinbook.values import dataclass
from tinbook.write import facts
from tinbook.write.drafts import draft_of
from tinbook.write.flowing import Area, Flowable, Table, fill, grid, height, paragraph, section, table
from tinbook.write.folded import folded_drawing
from tinbook.write.names import Label, blank_of, label
from tinbook.write.page import BOLD, Page, Paper, paper_size, text_width
from tinbook.write.setting_out import SettingOut, hole_table, setting_out
from tinbook.write.sheet.folds import Folding, folding, reading_notes, step_notes, step_table, work_line
from tinbook.write.sheet.pictures import draw_blank, draw_shaded
from tinbook.write.sheet.setting import SIZE, setting_pages
from tinbook.write.sheet.views import revision_table, view_page
from tinbook.write.stamp import Despite, Stamp
from tinbook.write.strip import GAP, Strip, body_of, draw_strip

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
    revisions: Sequence[tuple[str, str, str]] = (),
    language: Language | str = ENGLISH,
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
    revisions : sequence of (str, str, str)
        Letter, date and what changed, for the table of revisions; the part's own revision if left out.
    language : Language or {"en", "de"}
        Of the fixed words, with its decimal sign; what you typed stays as it is.
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
    PRINTED_DATE.read(date, "date")
    say = Spoken().read(language, "language")
    short, long = paper_size(paper)
    across = flat.size[0] >= 0.9 * flat.size[1]
    strip = _strip_of(made, it, draft.stamp, say, date)
    page = Page(
        *((long, short) if across else (short, long)),
        f"{it.name}, {strip.kind.lower()}",
        ", ".join(strip.lines[:2]),
        draft.stamp.mark,
    )
    sheet = _Sheet(made=made, folds=folds, out=setting_out(flat), label=it, body=body_of(page), say=say)
    tables = _tables(sheet)
    texts = _texts(sheet, more_cautions, draft.stamp)
    listed = revised(revisions) or ((it.rev, date, ""),)
    scale = _lay_out(page, sheet, tables, texts, () if made.strips else listed)
    views = view_page(page, made, sheet.body, listed, say) if made.strips else (0, "")

    def strips(n: int, pages: int) -> None:
        measure = scale if n == 1 else views[1] if n == views[0] else ""
        draw_strip(page, strip, say, (n, pages), f"mm; {measure}" if measure else "mm")

    return draft.write(page.done(strips))


def revised(revisions: Sequence[tuple[str, str, str]]) -> tuple[tuple[str, str, str], ...]:
    """Return revisions as they were given; BadValue for anything but texts in threes."""
    listed = tuple(revisions) if isinstance(revisions, list | tuple) else (None,)
    for row in listed:
        good = isinstance(row, list | tuple) and len(row) == 3 and all(isinstance(v, str) for v in row)
        narrow = good and len(row[0]) <= 8 and len(row[1]) <= PRINTED_DATE.most  # as their columns are
        if not narrow or not all(v.isprintable() for v in row):
            raise BadValue("revisions", row, "letter, date and what changed, as ('B', '2027-03-31', 'two more holes')")
    return tuple((row[0], row[1], row[2]) for row in listed if row is not None)


def _strip_of(made: Made, it: Label, stamp: Stamp, say: Language, date: str) -> Strip:
    return Strip(
        number=it.number,
        rev=it.rev,
        title=it.title,
        lines=(f"{it.material}  {say.number(it.thickness, '.4g')} mm", say("{n} off", n=it.quantity), made.shop.name),
        kind=say("Fold sheet") if made.strips else say("Part sheet"),
        state=say(stamp.state),
        good=stamp.state == "proved",
        date=say.date(date),
        code=f"{it.number} {it.rev} {stamp.inputs}",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    made: Made
    folds: Folding
    out: SettingOut
    label: Label
    body: Area
    say: Language

    @property
    def across(self) -> bool:
        """Whether the paper lies lengthwise."""
        return self.body.w > self.body.h

    @property
    def main_w(self) -> float:
        """Width of the drawing, and lengthwise of the tables below it; text stands beside it."""
        w = self.body.w
        return w - GAP - (min(88.0, 0.36 * w) if self.across else 0.38 * w)


def _lay_out(
    page: Page, sheet: _Sheet, tables: list[Table], texts: list[Text], revisions: tuple[tuple[str, str, str], ...]
) -> str:
    """Draw all pages but for their title strips; return the scale of the first drawing in words."""
    body, say = sheet.body, sheet.say
    rest_tables, late, rest_text, scale = _first_page(page, sheet, tables, texts)
    while rest_tables or (rest_text and rest_text[0].section[0] != sheet.say(_LEGEND)):
        page.next()
        if sheet.across and rest_tables:  # as on the first page: tables beside the text
            rest_tables, _ = fill(page, [Area(body.x, body.y, sheet.main_w, body.h)], rest_tables, say)
            beside = body.x + sheet.main_w + GAP
            rest_text, _ = fill(page, [Area(beside, body.y, body.x + body.w - beside, body.h)], rest_text, say)
            continue
        rest_tables, y = fill(page, [body], rest_tables, say)
        if not rest_tables:
            rest_text, _ = fill(page, Area(body.x, body.y, body.w, y - body.y).columns(2), rest_text, say)
    last = revision_table(revisions, 88.0, say) if revisions else []
    strips = sheet.folds.strips
    setting_pages(page, sheet.made, sheet.out, strips, body, rest_text, late, last=last, say=say)
    return scale


def _tables(sheet: _Sheet) -> list[Table]:
    made, out, folds, say = sheet.made, sheet.out, sheet.folds, sheet.say
    listed = (
        facts.fold_table(made, out.flat, folds.strips, say) if folds.strips else None,
        step_table(folds, say),
        hole_table(out, say),
        facts.form_table(made, say),
        facts.size_table(made, folds.sequence if folds.proved else None, say),
    )
    return [t for t in listed if t]


def _texts(sheet: _Sheet, more: Sequence[str], stamp: Stamp) -> list[Text]:
    made, out, folds, say = sheet.made, sheet.out, sheet.folds, sheet.say
    texts: list[Text] = []
    if stamp.stopped:
        why = say("Written all the same: {why}.", why=stamp.despite)
        stops = (facts.sentence(g[0], places(g), say) for g in gathered(stamp.stopped))
        texts.append((say("Stop: do not make it like this"), (why, *stops)))
    texts.append((say("Before you cut"), tuple(facts.cautions(made, more, say))))
    cautions = gathered(dict.fromkeys((*live(made).cautions, *folds.findings("caution"))))
    if cautions:
        texts.append((say("Cautions"), tuple(facts.sentence(g[0], places(g), say) for g in cautions)))
    texts.append((say("Order"), (*step_notes(folds, say), work_line(folds, say))))
    order = folds.sequence if folds.proved else None
    legend = (*facts.notes(made, out, folds.strips, order, say), *reading_notes(folds, say))
    texts.append((say(_LEGEND), legend))
    return texts


# --- first page --------------------------------------------------------------------------------


def _first_page(
    page: Page, sheet: _Sheet, tables: list[Table], texts: list[Text]
) -> tuple[list[Flowable], list[Table], list[Flowable], str]:
    """Lay out the first page.

    Returns the tables that go on from here, those that go to the setting-out pages, text that did not fit, and the
    drawing's scale in words.
    """
    body, across, main_w = sheet.body, sheet.across, sheet.main_w
    side_w = body.w - main_w - GAP
    table_w = main_w if across else body.w
    story = [table(t, table_w, SIZE) for t in tables]
    tables_h = height(story, table_w)
    share = next((share for share in _DRAWING if tables_h <= (1 - share) * body.h), _DRAWING[0])
    most = (1 - share) * body.h
    if tables_h > most:
        # A table that goes to the next page whole leaves its room to the drawing.
        fit = [h for h in accumulate(height([t], table_w) for t in story) if h <= most]
        tables_h = fit[-1] + 0.1 if fit and getattr(story[len(fit)], "together", False) else most
    low = body.y + tables_h
    drawing = Area(body.x, low, main_w, body.top - low)
    side_y = body.y if across else low
    scale = draw_blank(page, sheet.made, sheet.out, sheet.folds.strips, drawing, sheet.say)
    rest, _ = fill(page, [Area(body.x, body.y, table_w, tables_h)], story, sheet.say)
    # A table or two that are left over whole take no page of their own.
    late = tables[len(tables) - len(rest) :] if len(rest) <= _LATE and all(r in story for r in rest) else []
    rest = [] if late else rest
    return (
        rest,
        late,
        _side(page, sheet, Area(drawing.x + main_w + GAP, side_y, side_w, body.top - side_y), texts),
        scale,
    )


def _side(page: Page, sheet: _Sheet, side: Area, texts: list[Text]) -> list[Flowable]:
    """Fill the side column with the folded picture, facts and sentences; return what did not fit."""
    seen = folded_drawing(sheet.made)
    x0, y0, x1, y1 = seen.box
    picture_h = min(0.34 * side.h, side.w * (y1 - y0) / max(x1 - x0, 1e-6))
    draw_shaded(page, seen, Area(side.x, side.top - picture_h, side.w, picture_h))
    pairs = facts.facts(sheet.made, sheet.out.flat, sheet.label.quantity, sheet.say)
    indent = max(text_width(k, SIZE, BOLD) for k, _ in pairs) + 2
    cells = [(paragraph(k, SIZE, font=BOLD), paragraph(v, SIZE)) for k, v in pairs]
    below = Area(side.x, side.y, side.w, side.h - picture_h - GAP)
    _, y = fill(page, [below], [grid(cells, (indent, side.w - indent), SIZE)])
    room = Area(side.x, side.y, side.w, y - GAP / 2 - side.y)
    story = [flowable for heading, paragraphs in texts for flowable in section(heading, paragraphs, SIZE)]
    rest, _ = fill(page, [room], story, sheet.say)
    return rest
