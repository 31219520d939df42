"""Labels for parts, bags and offcuts on sheets of label paper."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from itertools import chain
from pathlib import Path
from typing import Annotated, Final

from tinbook.errors import BadValue, of_kind
from tinbook.fields import Count, FromZero, Positive, Text, check_fields
from tinbook.values import dataclass
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.flowing import LEAD
from tinbook.write.names import plain_name
from tinbook.write.page import BOLD, PLAIN, PT, Page, Paper, paper_size, text_width
from tinbook.write.stamp import stamp_of_drawing

_PAD: Final = 3.5
"""mm inside a label's edge: printers are off by up to 2."""
_POINTS: Final = (15.0, 13.0, 11.0, 9.5, 8.0, 7.0)
"""Sizes of the number on a label: the largest at which it fits on one line, else the largest at which all of it fits."""
_MARK, _SIZE = 9.0, 7.5
MOST: Final = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """What stands on a label.

    Parameters
    ----------
    number : str
        In large letters: of the part, bag or offcut.
    mark : str
        Below it, bold: revision and hand, as "rev B, other hand".
    lines : tuple of str
        Below that; what does not fit ends in three dots.
    count : int
        How many of this label are printed.
    """

    number: Annotated[str, Text(most=80)]
    mark: Annotated[str, Text(empty=True, most=60)] = ""
    lines: tuple[str, ...] = ()
    count: Annotated[int, Count(1, MOST)] = 1

    def __post_init__(self) -> None:
        check_fields(self, f"label '{self.number}'")
        if not isinstance(self.lines, tuple | list) or not all(isinstance(t, str) for t in self.lines):
            raise BadValue(f"label '{self.number}' lines", self.lines, "texts, as ('tray for the cab', 'DC01 1.5')")
        object.__setattr__(self, "lines", tuple(self.lines))


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSheet:
    """How labels lie on a sheet of paper; left out, three across and eight down, 70 x 37 mm on A4.

    Parameters
    ----------
    paper : {"A4", "A3"}
        Upright.
    width, height : float
        Of a label, mm.
    columns, rows : int
        Of labels on a sheet.
    left, top : float
        From the paper's edges to the first label, mm.
    across, down : float
        Gaps between labels, mm.
    """

    paper: Paper = "A4"
    width: Positive = 70.0
    height: Positive = 37.0
    columns: Annotated[int, Count(1, 20)] = 3
    rows: Annotated[int, Count(1, 40)] = 8
    left: FromZero = 0.0
    top: FromZero = 0.5
    across: FromZero = 0.0
    down: FromZero = 0.0

    def __post_init__(self) -> None:
        check_fields(self, "label sheet")
        wide, high = paper_size(self.paper)
        used = (
            self.left + self.columns * self.width + (self.columns - 1) * self.across,
            self.top + self.rows * self.height + (self.rows - 1) * self.down,
        )
        if used[0] > wide + 0.1 or used[1] > high + 0.1:
            raise BadValue("label sheet", f"{used[0]:g} x {used[1]:g} mm", f"labels that lie on {self.paper} paper")
        if min(self.width, self.height) < 15.0:
            raise BadValue("label sheet", f"{self.width:g} x {self.height:g} mm", "labels of 15 mm or more each way")

    def place(self, n: int) -> tuple[float, float]:
        """Return the lower left corner of label n of a sheet, from 0, row by row, mm from that of the paper."""
        row, column = divmod(n, self.columns)
        _, high = paper_size(self.paper)
        x = self.left + column * (self.width + self.across)
        return x, high - self.top - (row + 1) * self.height - row * self.down


def write_labels(
    labels: Iterable[Label],
    path: str | os.PathLike[str],
    *,
    name: str = "labels",
    sheet: LabelSheet = LabelSheet(),  # noqa: B008  a frozen value
    first: int = 1,
    outlines: bool = False,
    replace: bool = False,
) -> Path:
    """Write labels as PDF, to be printed at 100 % on sheets of label paper.

    Parameters
    ----------
    labels : iterable of Label
        In order.
    path : str or path-like
        File name ending in .pdf, or an existing folder.
    name : str
        Name of the file in a folder.
    sheet : LabelSheet
        How labels lie on the paper.
    first : int
        First free label of a sheet that was begun, from 1.
    outlines : bool
        Whether each label is framed, for plain paper that is cut.
    replace : bool
        Write over whatever is there; else only earlier labels of the same name give way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadValue
        No label, too many, a place that the sheet does not have, a number that its label has no room for.
    CannotWrite
        Another file is there, or the system refuses.
    """
    listed = list(labels) if isinstance(labels, Iterable) and not isinstance(labels, str) else []
    if not listed or not all(isinstance(it, Label) for it in listed) or sum(it.count for it in listed) > MOST:
        raise BadValue("labels", labels, f"1 to {MOST} values of tb.job.Label")
    of_kind(sheet, LabelSheet, "sheet", "a tb.job.LabelSheet")
    room = sheet.columns * sheet.rows
    if not isinstance(first, int) or isinstance(first, bool) or not 1 <= first <= room:
        raise BadValue("first", first, f"1 to {room}: a label of the sheet")
    of_kind(outlines, bool, "outlines", "True or False")
    of_kind(name, str, "name", "text")
    file = target(path, ".pdf", plain_name(name))
    stamp = stamp_of_drawing(name, [listed, sheet, first, outlines])
    page = Page(*paper_size(sheet.paper), name, "Labels, to be printed at 100 %", stamp.mark)
    for n, it in enumerate(chain.from_iterable([it] * it.count for it in listed), first - 1):
        if n >= room and n % room == 0:
            page.next()
        x, y = sheet.place(n % room)
        if outlines:
            page.box(x, y, sheet.width, sheet.height, width=0.1)
        _draw(page, it, x + _PAD, y + _PAD, sheet.width - 2 * _PAD, sheet.height - 2 * _PAD)
    return Draft(file=file, stamp=stamp, replace=replace).write(page.done())


def _draw(page: Page, it: Label, x: float, y: float, w: float, h: float) -> None:
    """Draw a label: number and mark whole, below them lines while there is room."""
    mark = [(t, _MARK, BOLD) for t in _wrapped([it.mark] if it.mark else [], w, _MARK, BOLD)]
    room = h - sum(_deep(row) for row in mark)
    heads = [[(t, s, BOLD) for t in _pieces(it.number, w, s)] for s in _POINTS]
    heads = [head for head in heads if sum(map(_deep, head)) <= room]
    if not heads:
        raise BadValue("label", f"{it.number} {it.mark}", "labels large enough for number and mark at 7 points")
    rows = [*next((head for head in heads if len(head) == 1), heads[0]), *mark]
    lines = [(t, _SIZE, PLAIN) for t in _wrapped(it.lines, w, _SIZE, PLAIN)]
    most = int((h - sum(map(_deep, rows)) + 1e-9) / _deep(("", _SIZE, PLAIN)))
    if len(lines) > most:
        lines = [*lines[: max(most - 1, 0)], *((_cut(t, w, s, f), s, f) for t, s, f in lines[most - 1 : most])]
    top = y + h
    for text, points, font in (*rows, *lines):
        top -= _deep((text, points, font))
        page.text(x, top + 0.25 * points / PT, text, points, font=font)


def _deep(row: tuple[str, float, str]) -> float:
    return LEAD * row[1] / PT


def _wrapped(lines: Sequence[str], w: float, size: float, font: str) -> list[str]:
    from reportlab.lib.utils import simpleSplit

    split = (piece for line in lines for piece in simpleSplit(line, font, size, w * PT))
    return [p for piece in split for p in _pieces(piece, w, size, font)]


def _pieces(text: str, w: float, size: float, font: str = BOLD) -> list[str]:
    """Return a text in pieces that fit: a long number has no spaces."""
    found = [""]
    for letter in text:
        if found[-1] and text_width(found[-1] + letter, size, font) > w:
            found.append("")
        found[-1] += letter
    return found


def _cut(text: str, w: float, size: float, font: str) -> str:
    """Return a text with three dots behind it, as much of it as fits."""
    while text and text_width(f"{text} …", size, font) > w:
        text = text[:-1]
    return f"{text} …"
