"""The title strip at the foot of every paper: number, revision, state, page, and a code that a telephone reads."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import groupby
from typing import Final

from tinbook.language import Language
from tinbook.plane.loops import Loop, polygon
from tinbook.values import dataclass
from tinbook.write.flowing import Area
from tinbook.write.page import BOLD, PLAIN, PT, Page, text_width

MARGIN: Final = 8.0
HIGH: Final = 17.0
"""mm: height of the strip."""
GAP: Final = 3.0
SIZE: Final = 7.0
"""Of letters, points: none on paper is smaller."""
RED: Final = "#b3261e"
_CODE: Final = 15.0
"""mm: side of the code; 29 modules of half a millimetre are read from a hand's breadth."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """What a title strip says; texts of the papers are in the paper's language already.

    Parameters
    ----------
    number, rev, title : str
        Of what the paper is about.
    lines : tuple of str
        Up to three lines: material and thickness, quantity, shop.
    kind : str
        Of paper.
    state : str
        Of the part where it is proved, or not.
    good : bool
        Whether the state needs no frame.
    date : str
        In the language, "" to fill in.
    code : str
        What the code says, "" for none.
    """

    number: str
    rev: str
    title: str
    lines: tuple[str, ...]
    kind: str
    state: str = ""
    good: bool = True
    date: str = ""
    code: str = ""


def body_of(page: Page) -> Area:
    """Return the area of a page above its strip."""
    below = MARGIN + HIGH + GAP
    return Area(MARGIN, below, page.width - 2 * MARGIN, page.height - below - MARGIN)


def draw_strip(page: Page, it: Strip, say: Language, which: tuple[int, int], measure: str = "mm") -> None:
    """Draw the strip at the foot of page n of a number of pages; `measure` says what its drawing is measured in."""
    n, pages = which
    x, y, w = MARGIN, MARGIN, page.width - 2 * MARGIN
    page.box(x, y, w, HIGH, width=0.35)
    if it.code:
        w -= HIGH
        draw_code(page, it.code, Area(x + w + 1, y + 1, _CODE, _CODE))
        page.line((x + w, y), (x + w, y + HIGH), 0.18)
    rev = say("rev {rev}", rev=it.rev) if it.rev else ""
    rev_w = text_width(rev, 11, BOLD)
    number_w = min(max(0.34 * w, text_width(it.number, 17, BOLD) + rev_w + 9), 0.5 * w)
    page.line((x + number_w, y), (x + number_w, y + HIGH), 0.18)
    size = max(SIZE, min(17.0, 17.0 * (number_w - 8 - rev_w) / text_width(it.number, 17, BOLD)))
    number, room = it.number, number_w - 8 - rev_w
    if text_width(number, size, BOLD) > room:  # the longest ones stand on two lines, whole
        half = (len(number) + 1) // 2
        page.text(x + 3, y + 11.6, fitting(number[:half], size, room, BOLD), size, font=BOLD)
        number = number[half:]
    page.text(x + 3, y + 8.3, fitting(number, size, room, BOLD), size, font=BOLD)
    page.text(x + number_w - 3, y + 8.3, rev, 11, font=BOLD, align="right")
    page.text(x + 3, y + 2.8, fitting(it.title or "-", 8, number_w - 6), 8)
    column = (w - number_w) / 2
    _middle(page, it, Area(x + number_w + 3, y, column - 6, HIGH))
    middle = x + number_w + column
    page.line((middle, y), (middle, y + HIGH), 0.18)
    where = say("{kind}, page {n} of {all}", kind=it.kind, n=n, all=pages)
    where += say(", continued on page {n}", n=n + 1) if n < pages else ""
    lines = [(t, f) for text, f in ((where, BOLD), (measure, PLAIN)) for t in wrapped(text, SIZE, column - 5, f)][:4]
    for k, (line, font) in enumerate(lines):
        page.text(middle + 3, y + 13.6 - (3.0 if len(lines) > 2 else 4.4) * k, line, SIZE, font=font)
    page.text(middle + 3, y + 1.2, f"{say('Date')} {it.date}".rstrip(), SIZE)
    page.text(middle + 3 + 0.45 * column, y + 1.2, say("Checked"), SIZE)


def _middle(page: Page, it: Strip, area: Area) -> None:
    """Write material, quantity and shop, and the state at their right."""
    state = "" if not it.state else it.state if it.good else it.state.upper()
    font, size = (PLAIN, 8) if it.good else (BOLD, 9)
    state_w = text_width(state, size, font) + (3 if state else 0)
    for line, up, own, face in zip(it.lines, (11.2, 6.4, 2.2), (10.0, 8.0, SIZE), (BOLD, PLAIN, PLAIN), strict=False):
        fits = min(own, max(SIZE, own * area.w / max(text_width(line, own, face), 1e-6)))
        room = area.w - (state_w if up == 6.4 else 0)
        page.text(area.x, area.y + up, fitting(line, fits, room, face), fits, font=face)
    if state:
        right, y = area.x + area.w, area.y + 6.4
        page.text(right, y, state, size, font=font, align="right", colour="#000000" if it.good else RED)
        if not it.good:
            page.box(right + 1 - state_w + 1, y - 1.2, state_w - 1, 4.4, width=0.5, colour=RED)


def wrapped(text: str, size: float, width: float, font: str = PLAIN) -> Sequence[str]:
    """Return the lines of a text that is broken between words to fit a width in mm."""
    from reportlab.lib.utils import simpleSplit

    found: list[str] = simpleSplit(text, font, size, width * PT)
    return found


def fitting(text: str, size: float, width: float, font: str = PLAIN) -> str:
    """Return a text, or as much of it with an ellipsis as fits a width in mm."""
    if text_width(text, size, font) <= width:
        return text
    while text and text_width(text + "…", size, font) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def draw_code(page: Page, text: str, area: Area) -> None:
    """Draw a text as a two-dimensional code (ISO/IEC 18004) in a square area, which must have white around it."""
    rows = _modules(text)
    step = area.w / len(rows)
    dark: list[Loop] = []
    for k, row in enumerate(rows):
        at, high = 0, area.top - k * step
        for inked, run in groupby(row):
            a, b = area.x + at * step, area.x + (at + len(tuple(run))) * step
            at = round((b - area.x) / step)
            if inked:
                dark.append(polygon([(a, high - step), (b, high - step), (b, high), (a, high)]))
    # One path: a box each would take a hundred times as long to write and to read.
    page.draw(dark, width=0, fill="#000000", close=True)


@lru_cache(maxsize=64)
def _modules(text: str) -> tuple[tuple[bool, ...], ...]:
    """Return the dark modules of a code that bears 15 % of damage (level M)."""
    from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel

    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text)
    code.make()
    return tuple(tuple(bool(m) for m in row) for row in code.modules)
