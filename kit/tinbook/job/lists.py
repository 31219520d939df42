"""Lists of a job: what is cut from which sheet, and the parts with their masses; how a list is written."""

from __future__ import annotations

import csv
import io
import os
import zipfile
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from tinbook.errors import of_kind
from tinbook.flatpattern import FlatPattern
from tinbook.htmltable import html_table
from tinbook.job.nested import JobNest
from tinbook.values import dataclass
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.stamp import stamp_of_drawing

_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
"""A spreadsheet takes text that begins so for a formula."""
_EPOCH: Final = datetime(2000, 1, 1, tzinfo=UTC).replace(tzinfo=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobList:
    """A table of a job that a notebook shows, and that goes to CSV and XLSX.

    Parameters
    ----------
    name : str
        What it lists.
    heads : tuple of str
        Headings.
    rows : tuple of tuple
        Texts and numbers.
    """

    name: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str | int | float, ...], ...]

    @property
    def text(self) -> str:
        """The list as CSV; text that a spreadsheet would take for a formula has an apostrophe before it."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(self.heads)
        writer.writerows([_safe(cell) for cell in row] for row in self.rows)
        return out.getvalue()

    def __repr__(self) -> str:
        return f"<{self.name}: {len(self.rows)} rows>"

    def _repr_html_(self) -> str:
        return html_table(self.heads, [tuple(map(str, row)) for row in self.rows], caption=self.name)


def _safe(cell: str | float) -> str | float:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell


def cut_list(nest: JobNest) -> JobList:
    """Return which parts are cut from which sheet: number, revision, finish, sheet, layout, quantity."""
    of_kind(nest, JobNest, "nest", "what tb.job.nest_job gives")
    known = {it.blank: it for it in nest.parts}
    rows: list[tuple[str | int | float, ...]] = []
    for number, (group, layout) in enumerate(nest.layouts, 1):
        for blank, count in Counter(p.blank for p in layout.placements).items():
            it, plate = known[blank], layout.plate.name
            rows.append((it.part.number, it.rev, it.hand, count, group.sheet, number, plate, it.part.finish))
    heads = ("part", "revision", "hand", "quantity", "sheet", "layout", "plate", "finish")
    return JobList(name=f"cut list of {nest.job.number}, {nest.sets} sets", heads=heads, rows=tuple(rows))


def mass_list(nest: JobNest) -> JobList:
    """Return the parts with their masses: number, revision, title, sheet, quantity of all sets, kg each and in all."""
    of_kind(nest, JobNest, "nest", "what tb.job.nest_job gives")
    rows: list[tuple[str | int | float, ...]] = []
    for it in nest.parts:
        sheet = nest.shop.sheet_by_key(it.part.sheet)
        mass, count = it.mass(sheet), it.part.quantity * nest.sets
        kind = "flat" if isinstance(it.made, FlatPattern) else ""
        rows.append((it.part.number, it.rev, it.title, kind, sheet.key, count, round(mass, 4), round(mass * count, 3)))
    heads = ("part", "revision", "title", "", "sheet", "quantity", "kg each", "kg in all")
    return JobList(name=f"parts of {nest.job.number}, {nest.sets} sets", heads=heads, rows=tuple(rows))


def write_list(listed: JobList, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
    """Write a list as CSV or XLSX, by the file's ending.

    Parameters
    ----------
    listed : JobList
        From `cut_list`, `purchase_list` or `mass_list`.
    path : str or path-like
        File name ending in .csv or .xlsx.
    replace : bool
        Write over whatever is there; else only an earlier list of the same name gives way.

    Returns
    -------
    Path
        The file: the same bytes every time.
    """
    of_kind(listed, JobList, "list", "what tb.job.cut_list, purchase_list or mass_list gives")
    suffix = ".xlsx" if str(path).lower().endswith(".xlsx") else ".csv"
    file = target(path, suffix, listed.name.replace(" ", "_").replace(",", ""))
    stamp = stamp_of_drawing(listed.name, [listed.rows])
    if suffix == ".csv":
        return Draft(file=file, stamp=stamp, replace=replace).write(listed.text, ours=",".join(listed.heads).encode())
    return Draft(file=file, stamp=stamp, replace=replace).write(xlsx_bytes(listed, stamp.mark))


def xlsx_bytes(listed: JobList, mark: str) -> bytes:
    """Return a list as the bytes of an XLSX workbook; texts stay texts, dates in it are fixed."""
    import xlsxwriter

    out = io.BytesIO()
    how = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book: Any = xlsxwriter.Workbook(out, how)
    book.set_properties({"created": _EPOCH, "author": "", "comments": ""})
    bold = book.add_format({"bold": True, "bottom": 1})
    page = book.add_worksheet("1")
    page.write_row(0, 0, listed.heads, bold)
    for at, row in enumerate(listed.rows, 1):
        for k, cell in enumerate(row):
            if isinstance(cell, str):
                page.write_string(at, k, cell)
            else:
                page.write_number(at, k, cell)
    page.freeze_panes(1, 0)
    page.autofit()
    book.close()
    with zipfile.ZipFile(out, "a") as archive:
        archive.comment = mark.encode()  # the only place that is not compressed, so that an earlier draft is known
    return out.getvalue()
