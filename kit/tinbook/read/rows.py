"""A table of measured points from a text file: every mistake found, with its line and column."""

from __future__ import annotations

import csv
import io
import math
import re
from pathlib import Path
from typing import Final

import numpy as np

from tinbook.errors import BadFile, BadValue, Mistake
from tinbook.part.outline import check_edge_name
from tinbook.paths import existing
from tinbook.plane.loops import Array
from tinbook.values import dataclass

COLUMNS: Final = ("edge", "x", "y", "z")
LARGEST: Final = 64 * 1024 * 1024
"""Bytes: about four million points, read in some 10 s and 2 GB; a larger scan has to be thinned first."""

LISTED: Final = 100
"""Mistakes listed one by one; the rest is counted."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_PLAIN = re.compile(r"[0-9eE+.,\-]*", re.ASCII)
_WITH_COMMA = re.compile(r"[+-]?[\d.]*,\d+", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """Points as read from a file.

    Parameters
    ----------
    edges : tuple of str
        Edge of each row.
    xyz : ndarray, shape (n, 3)
        Coordinates, in the file's own unit.
    lines : tuple of int
        Line of the file of each row, counted from 1.
    """

    edges: tuple[str, ...]
    xyz: Array
    lines: tuple[int, ...]


def read_rows(path: str | Path, *, delimiter: str | None = None, decimal: str = ".") -> Rows:
    """Read a table with the columns edge, x, y, z.

    Parameters
    ----------
    path : str or Path
        Text file, UTF-8 (with or without a byte order mark), UTF-16 with one, or Latin-1. Lines that start
        with "#" and empty lines are passed over; the first other line names the columns, in any order;
        further columns are left alone.
    delimiter : {",", ";", tab}, optional
        What stands between cells; by default whichever the line of column names uses.
    decimal : {".", ","}
        Decimal mark. A comma needs another delimiter.

    Raises
    ------
    BadFile
        With every wrong row and cell.
    """
    if decimal not in (".", ","):
        raise BadValue("decimal", decimal, "'.' or ','")
    if delimiter not in (None, ",", ";", "\t"):
        raise BadValue("delimiter", delimiter, "',', ';' or a tab")
    if decimal == "," and delimiter == ",":
        raise BadValue("decimal", decimal, "'.', or another delimiter: a comma cannot be both")
    text = read_text(path)
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    at, header = next(((i, s) for i, raw in enumerate(lines) if (s := raw.strip(" \t\f\v")) and s[0] != "#"), (0, ""))
    if not header:
        raise BadFile(str(path), [Mistake("file", f"holds no rows; the first must read {','.join(COLUMNS)}")])
    delimiter = delimiter or next((d for d in (";", "\t") if d in header), ",")
    if decimal == "," and delimiter == ",":
        raise BadFile(str(path), [Mistake(f"line {at + 1}", "is split by commas, so decimals cannot have commas too")])
    places = _header(str(path), header, at + 1, delimiter)
    width = len(header.split(delimiter))
    mistakes: list[Mistake] = []
    kept = [(i, row) for i, raw in enumerate(lines[at + 1 :], at + 2) if (row := raw.strip(" \f\v")) and row[0] != "#"]
    kept = [(i, row if '"' not in row else _quoted(row, delimiter)) for i, row in kept]
    for i, row in kept:
        if row.count(delimiter) != width - 1:
            mistakes.append(Mistake(f"line {i}", _wrong_width(row, width, delimiter)))
    if mistakes:
        kept = [(i, row) for i, row in kept if row.count(delimiter) == width - 1]
    numbers = [i for i, _ in kept]
    # One flat list: a million small lists would slow the garbage collector.
    cells = delimiter.join([row for _, row in kept]).split(delimiter) if kept else []
    columns = [cells[p::width] for p in places]
    names = [c.strip() for c in columns[0]]
    first = dict(zip(reversed(names), reversed(numbers), strict=True))
    for name in dict.fromkeys(names):
        try:
            check_edge_name(name)
        except BadValue as why:
            mistakes.append(Mistake(f"line {first[name]}, column edge", f"{name!r}; valid: {why.valid}"))
    values = [_column(c, COLUMNS[k], numbers, decimal, mistakes) for k, c in enumerate(columns) if k]
    if not cells and not mistakes:
        mistakes.append(Mistake("file", "holds column names but no points"))
    if mistakes:
        raise BadFile(str(path), shortened(mistakes))
    return Rows(edges=tuple(names), xyz=np.column_stack(values), lines=tuple(numbers))


def shortened(mistakes: list[Mistake]) -> list[Mistake]:
    """Return mistakes by their lines; of a long list the first ones and one that counts the rest."""
    mistakes = sorted(mistakes, key=lambda m: int(n.group()) if (n := re.search(r"\d+", m.where)) else 0)
    if len(mistakes) <= LISTED:
        return mistakes
    return [*mistakes[:LISTED], Mistake("and", f"{len(mistakes) - LISTED} more")]


def read_text(path: str | Path) -> str:
    """Return the text of a file in whichever of the usual encodings it is."""
    try:
        file = existing(path, "a text file with rows (CSV)")
        if file.stat().st_size > LARGEST:
            size = f"{file.stat().st_size / 1e6:.0f} MB; at most {LARGEST / 1e6:.0f} MB are read, thin the scan first"
            raise BadFile(str(path), [Mistake("file", size)])
        data = file.read_bytes()
    except BadFile:
        raise
    except (OSError, ValueError, TypeError) as why:
        raise BadFile(
            str(path), [Mistake("file", f"cannot be read: {getattr(why, 'strerror', None) or why}")]
        ) from None
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        order = ["utf-16"]
    elif b"\0" in data:
        raise BadFile(str(path), [Mistake("file", "holds zero bytes; valid: a text file (CSV)")])
    else:
        order = ["utf-8-sig", "cp1252", "latin-1"]
    for encoding in order:
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise BadFile(str(path), [Mistake("file", "is no readable text; valid: UTF-8, UTF-16 or Latin-1")])


def _header(path: str, header: str, line: int, delimiter: str) -> list[int]:
    """Return the places of the columns edge, x, y, z."""
    names = [c.strip().strip('"').lower() for c in header.split(delimiter)]
    mistakes = []
    for c in COLUMNS:
        if names.count(c) > 1:
            mistakes.append(Mistake(f"line {line}", f"column '{c}' is named {names.count(c)} times"))
        elif c not in names:
            hint = " (0 throughout if all was measured on a flat table)" if c == "z" else ""
            mistakes.append(
                Mistake(
                    f"line {line}",
                    f"column '{c}'{hint} is missing; the first line that is no comment must name the columns: "
                    f"{delimiter.join(COLUMNS)}",
                )
            )
    if mistakes:
        raise BadFile(path, mistakes)
    return [names.index(c) for c in COLUMNS]


def _quoted(row: str, delimiter: str) -> str:
    """Return a row without its quotes; a delimiter inside a quoted cell becomes a blank."""
    try:
        cells = next(csv.reader(io.StringIO(row), delimiter=delimiter, strict=True), [])
    except csv.Error:
        return row  # a quote left open; the cell it stands in will be refused
    return delimiter.join(c.replace(delimiter, " ") for c in cells)


def _wrong_width(row: str, width: int, delimiter: str) -> str:
    shown = row if len(row) <= 60 else row[:57] + "..."
    found = row.count(delimiter) + 1
    hint = ""
    if found > width and delimiter == ",":
        hint = "; commas as decimal marks? write 12.5, or split the cells by ';' and pass decimal=','"
    elif found == 1:
        hint = f"; cells are split by {delimiter!r} here"
    return f"{shown!r} has {found} cells where the line of column names has {width}{hint}"


def _column(cells: list[str], name: str, lines: list[int], decimal: str, mistakes: list[Mistake]) -> Array:
    """Return one column of numbers; what is wrong is added to `mistakes`."""
    joined = "".join(cells)
    if _PLAIN.fullmatch(joined) and ("," not in joined or decimal == ","):
        # Convert all cells at once; only if one is no number, go cell by cell.
        try:
            values = np.array([float(c.replace(",", ".") if decimal == "," else c) for c in cells])
        except ValueError:
            pass
        else:
            if np.isfinite(values).all() and not (decimal == "," and "." in joined):
                return values
    values = np.zeros(len(cells))
    for i, (cell, line) in enumerate(zip(cells, lines, strict=True)):
        text = cell.strip()
        what = ""
        pointed = decimal == "," and "." in text
        plain = text.replace(",", ".") if decimal == "," and not pointed else text
        if not pointed and _NUMBER.fullmatch(plain) and math.isfinite(float(plain)):
            values[i] = float(plain)
            continue
        if not text:
            what = "is empty; valid: a number"
        elif (not pointed and _NUMBER.fullmatch(plain)) or text.lower().lstrip("+-") in ("nan", "inf", "infinity"):
            what = f"{text!r} is not a finite number"
        elif decimal == "." and _WITH_COMMA.fullmatch(text):
            what = f"{text!r} has a decimal comma; write {text.replace(',', '.')}, or pass decimal=','"
        elif pointed:
            what = f"{text!r} has a point where decimal=',' was asked for"
        else:
            shown = text if len(text) <= 40 else text[:37] + "..."
            what = f"{shown!r} is not a number; valid: digits with a decimal {'point' if decimal == '.' else 'comma'}, no unit"
        mistakes.append(Mistake(f"line {line}, column {name}", what))
    return values
