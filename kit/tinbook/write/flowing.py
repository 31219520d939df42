"""Text and tables that flow over columns and pages, set by the PDF library's own flowables; lengths in mm."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Any, Final, TypeAlias

from tinbook.language import ENGLISH, Language
from tinbook.values import dataclass
from tinbook.write.page import BOLD, PLAIN, PT, Page, fonts, on_paper, text_width

GAP: Final = 3.0
"""mm between two tables, and between two columns."""

TOGETHER: Final = 12
"""Rows up to which a table moves to the next column as a whole."""

LEAD: Final = 1.17
"""Distance of two base lines over the size of the letters."""

_PAD: Final = 0.8
_PEN: Final = 17.0
"""mm: least width of a cell that is filled in by hand."""

PENS: Final = (4.4, 3.9)
"""mm: height of such a cell, and the least where that saves a page."""

_RULE: Final = "#8a949c"
_BENEATH: Final = 24.0
"""mm: so much of what follows a heading stands on the same page."""
_UNBOUNDED: Final = 1e6

Flowable: TypeAlias = Any
"""A flowable of the PDF library, which is loaded only when something is written."""


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle of the paper: its lower left corner, width and height in mm."""

    x: float
    y: float
    w: float
    h: float

    @property
    def top(self) -> float:
        """The y of its upper edge."""
        return self.y + self.h

    def meets(self, other: Area) -> bool:
        """Whether two areas overlap."""
        return (
            self.x < other.x + other.w
            and other.x < self.x + self.w
            and self.y < other.y + other.h
            and other.y < self.y + self.h
        )

    def within(self, other: Area) -> bool:
        """Whether the area lies in another."""
        return (
            other.x <= self.x and self.x + self.w <= other.x + other.w and other.y <= self.y and self.top <= other.top
        )

    def columns(self, count: int) -> list[Area]:
        """Return the area in columns with a gap between them."""
        w = (self.w - (count - 1) * GAP) / count
        return [Area(self.x + i * (w + GAP), self.y, w, self.h) for i in range(count)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """The content of a table on paper.

    Parameters
    ----------
    heads : tuple of str
        Headings.
    rows : tuple of tuple of str
        Cells, as many in a row as there are headings.
    right : tuple of int
        Columns set to the right: numbers.
    by_hand : tuple of int
        Columns to fill in with a pen: wide enough, ruled off, in taller rows.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    by_hand: tuple[int, ...] = ()


def paragraph(text: str, size: float, *, font: str = PLAIN, heading: str = "", right: bool = False) -> Flowable:
    """Return text that wraps, below a heading in bold if there is one; no column holds a single line of it."""
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph

    fonts()
    style = ParagraphStyle("", fontName=font, fontSize=size, leading=LEAD * size, alignment=2 if right else 0)
    style.allowOrphans = style.allowWidows = 0
    above = f'<font name="{BOLD}">{escape(on_paper(heading))}</font><br/>' if heading else ""
    return Paragraph(above + escape(on_paper(text)), style)


def section(heading: str, paragraphs: Sequence[str], size: float) -> list[Flowable]:
    """Return a text under a heading; `fill` repeats the heading where the text goes on in another column."""
    found = [paragraph(text, size, heading="" if k else heading) for k, text in enumerate(paragraphs)]
    for k, flowable in enumerate(found):
        flowable.section, flowable.begun = (heading, size), k > 0
    if found:
        found[-1].spaceAfter = 0.5 * LEAD * size
    return found


def heading(text: str, size: float) -> Flowable:
    """Return a heading that stays above what follows it."""
    found = paragraph(text, size + 1.0, font=BOLD)
    found.leads = True
    found.spaceAfter = 0.3 * LEAD * size
    return found


def grid(cells: Sequence[Sequence[Flowable]], widths: Sequence[float], size: float, pad: float = 0.0) -> Flowable:
    """Return rows of cells in columns of `widths` mm; with padding the first row is repeated where the rows go on."""
    from reportlab.platypus import Table as Rows

    found = Rows([list(row) for row in cells], [w * PT for w in widths], hAlign="LEFT", repeatRows=int(pad > 0))
    found.setStyle(
        [
            ("FONT", (0, 0), (-1, -1), PLAIN, size, LEAD * size),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            *((f"{side}PADDING", (0, 0), (-1, -1), pad * PT) for side in ("LEFT", "RIGHT")),
            *((f"{side}PADDING", (0, 0), (-1, -1), pad * PT / 2) for side in ("TOP", "BOTTOM")),
        ]
    )
    return found


def table(it: Table, width: float, size: float, pen: float = PENS[0]) -> Flowable:
    """Return a table no wider than `width`; its headings are repeated wherever it goes on."""
    fonts()
    widths = column_widths(it, width, size)
    cells = [_row(row, widths, size, BOLD if i == 0 else PLAIN, it.right) for i, row in enumerate((it.heads, *it.rows))]
    found = grid(cells, widths, size, _PAD)
    found.spaceAfter = GAP * PT
    found.together = len(it.rows) <= TOGETHER
    if it.by_hand:
        found._minRowHeights = [pen * PT] * len(cells)
    found.setStyle(
        [
            ("FONT", (0, 0), (-1, 0), BOLD, size, LEAD * size),
            ("BACKGROUND", (0, 0), (-1, 0), "#e9edf0"),
            ("LINEBELOW", (0, 0), (-1, -1), 0.1 * PT, _RULE),
            *(("ALIGN", (k, 0), (k, -1), "RIGHT") for k in it.right),
            *((rule, (k, 0), (k, -1), 0.1 * PT, _RULE) for k in it.by_hand for rule in ("LINEBEFORE", "LINEAFTER")),
        ]
    )
    return found


def marked_table(
    heads: Sequence[str], rows: Sequence[Sequence[Any]], width: float, size: float, drawn: Mapping[int, float]
) -> Flowable:
    """Return a table some of whose columns hold drawings of a width in mm; cells of the others wrap."""
    fonts()
    texts = [k for k in range(len(heads)) if k not in drawn]
    it = Table(heads=tuple(heads[k] for k in texts), rows=tuple(tuple(row[k] for k in texts) for row in rows))
    found = iter(column_widths(it, width - sum(w + 2 * _PAD for w in drawn.values()), size))
    widths = [drawn[k] + 2 * _PAD if k in drawn else next(found) for k in range(len(heads))]
    cells = [
        [cell if k in drawn and i else paragraph(cell, size, font=PLAIN if i else BOLD) for k, cell in enumerate(row)]
        for i, row in enumerate((heads, *rows))
    ]
    made = grid(cells, widths, size, _PAD)
    made.spaceAfter = GAP * PT
    made.together = len(rows) <= TOGETHER
    made.setStyle([("BACKGROUND", (0, 0), (-1, 0), "#e9edf0"), ("LINEBELOW", (0, 0), (-1, -1), 0.1 * PT, _RULE)])
    return made


def _row(row: Sequence[str], widths: Sequence[float], size: float, font: str, right: Sequence[int]) -> Sequence[Any]:
    """Return the cells of a row: plain text where all of it fits on one line, which is set ten times as fast."""
    if all(text_width(cell, size, font) <= w - 2 * _PAD for cell, w in zip(row, widths, strict=True)):
        return row
    return [paragraph(cell, size, font=font, right=k in right) for k, cell in enumerate(row)]


def column_widths(it: Table, width: float, size: float) -> list[float]:
    """Return column widths in mm, `width` in all or less: those of the longest cells, else between those and the longest words."""
    longest, least = [], []
    for k, head in enumerate(it.heads):
        cells = [(head, BOLD), *((row[k], PLAIN) for row in it.rows)]
        pen, pad = _PEN if k in it.by_hand else 0.0, 2 * _PAD + 0.01
        longest.append(max(pen, *(text_width(c, size, font) + pad for c, font in cells)))
        least.append(max(pen, pad, *(text_width(w, size, font) + pad for c, font in cells for w in c.split())))
    over = sum(longest) - width
    if over <= 0:
        return [n - 0.5 * over / len(longest) for n in longest]
    slack = sum(longest) - sum(least)
    give = min(1.0, over / slack) if slack > 0 else 0.0
    found = [n - give * (n - m) for n, m in zip(longest, least, strict=True)]
    return [w * min(1.0, width / sum(found)) for w in found]


def height(story: Iterable[Flowable], width: float) -> float:
    """Return the height in mm of flowables set one below the other in a column of `width` mm."""
    return sum(float(f.wrap(width * PT, _UNBOUNDED)[1] + f.getSpaceAfter()) for f in story) / PT


def resumed(story: Sequence[Flowable], say: Language = ENGLISH) -> list[Flowable]:
    """Return a story with the heading repeated if it begins within a text."""
    if not story or not getattr(story[0], "begun", False):
        return list(story)
    heading, size = story[0].section
    return [paragraph(say("{heading}, continued", heading=heading), size, font=BOLD), *story]


def fill(
    page: Page, areas: Sequence[Area], story: Sequence[Flowable], say: Language = ENGLISH
) -> tuple[list[Flowable], float]:
    """Set flowables into areas, one area after the other.

    Parameters
    ----------
    page : Page
        Where to draw.
    areas : sequence of Area
        Columns of the page, in order.
    story : sequence of flowables
        In order.
    say : Language
        Of the headings that are repeated.

    Returns
    -------
    (list of flowables, float)
        What did not fit, and the y in mm below the last row in the last area that was used.
    """
    from reportlab.platypus import Frame

    left = list(story)
    y = areas[0].top
    for area in areas:
        if not left:
            break
        frame = Frame(area.x * PT, area.y * PT, area.w * PT, area.h * PT, 0, 0, 0, 0)
        left, empty = resumed(left, say), True
        while left and _set(page, frame, left, area, empty):
            empty = False
        y = frame._y / PT
    return left, y


def fill_pages(
    page: Page, first: Sequence[Area], areas: Sequence[Area], story: Sequence[Flowable], say: Language = ENGLISH
) -> float:
    """Set flowables into the areas that are left on this page, then into `areas` of as many pages more as it takes.

    Returns
    -------
    float
        The y below the last of them.
    """
    left, y = fill(page, first, story, say)
    while left:
        page.next()
        left, y = fill(page, areas, left, say)
    return y


def _set(page: Page, frame: Any, left: list[Flowable], area: Area, empty: bool) -> bool:
    """Set the first flowable, or what fits of it; return whether there is room for the next."""
    it = left[0]
    if getattr(it, "leads", False) and not empty:
        whole = any(getattr(next_, "together", False) for next_ in left[1:2])
        beneath = min(height(left[1:2], area.w), area.h - height([it], area.w) if whole else _BENEATH)
        if height([it], area.w) + beneath > frame._y / PT - area.y:
            return False
    if frame.add(it, page.canvas, trySplit=1):
        del left[0]
        return True
    if not empty and getattr(it, "together", False) and height([it], area.w) <= area.h:
        return False
    it.splitInRow = int(empty)  # a row higher than a whole column has no better place
    first, *rest = frame.split(it, page.canvas) or (None,)
    if rest:
        frame.add(first, page.canvas)
        if hasattr(it, "section"):
            rest[0].section, rest[0].begun = it.section, True
        left[:1] = rest
    return False
