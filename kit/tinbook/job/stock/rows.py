"""Rows of the store's tables as values, and the statements that read and change them."""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Mapping
from dataclasses import fields, replace
from datetime import date
from typing import Any, Final

from tinbook.errors import BadValue, TinbookError
from tinbook.fields import Count
from tinbook.job.quoted import Day
from tinbook.job.stock.booking import Take
from tinbook.job.stock.values import NEW, Offcut, StockSheet
from tinbook.plane.loops import Edge, Loop


class StockChanged(TinbookError, RuntimeError):
    """Somebody else has taken what a booking needs since its snapshot; nothing was booked."""


_SHEET, _OFFCUT = (tuple(f.name for f in fields(kind) if f.name != "key") for kind in (StockSheet, Offcut))
"""Columns of the tables: every field of the values but the number, which is that of the row."""
SHEETS: Final = f"SELECT id, {', '.join(_SHEET)} FROM sheets"  # noqa: S608
OFFCUTS: Final = f"SELECT id, {', '.join(_OFFCUT)} FROM offcuts"  # noqa: S608


def insert(db: sqlite3.Connection, table: str, row: Mapping[str, Any]) -> int | None:
    """Put values by the names of their columns into a table; return the number of the row."""
    marks = ", ".join("?" * len(row))
    sql = f"INSERT INTO {table} ({', '.join(row)}) VALUES ({marks})"  # noqa: S608
    return db.execute(sql, tuple(row.values())).lastrowid


def sheet_of(row: sqlite3.Row) -> StockSheet:
    """Return a row of the table of sheets as a value."""
    return StockSheet(key=f"S{row['id']}", **{name: row[name] for name in _SHEET})


def offcut_of(row: sqlite3.Row) -> Offcut:
    """Return a row of the table of offcuts as a value."""
    corners = json.loads(row["outline"])
    ends = [(x, y) for x, y, _ in (*corners[1:], *corners[:1])]
    outline = Loop(tuple(Edge((x, y), end, bulge) for (x, y, bulge), end in zip(corners, ends, strict=True)))
    return Offcut(key=f"O{row['id']}", **{name: row[name] for name in _OFFCUT} | {"outline": outline})


def put_sheet(db: sqlite3.Connection, sheet: StockSheet) -> str:
    """Put a delivery into the table of sheets; return its number."""
    values = {name: getattr(sheet, name) for name in _SHEET}
    price = None if sheet.price is None else str(sheet.price)
    return f"S{insert(db, 'sheets', {**values, 'price': price})}"


def bought_sheet(name: str, heat: str, certificate: str) -> StockSheet | None:
    """Return a new sheet of a job as a sheet of the stock, rolled along its length; None where its name says no size."""
    found = re.fullmatch(rf"{NEW} (.+) ([0-9.e+]+) x ([0-9.e+]+)", name)
    if found is None:
        return None
    sheet, length, width = found.groups()
    return StockSheet(sheet=sheet, length=float(length), width=float(width), heat=heat, certificate=certificate)


def put_offcut(db: sqlite3.Connection, offcut: Offcut, job: int | None) -> str:
    """Put an offcut into its table; return its number."""
    values = {name: getattr(offcut, name) for name in _OFFCUT}
    values["outline"] = json.dumps([[*e.start, e.bulge] for e in offcut.outline])
    values["short"], values["long"] = sorted(offcut.size)
    return f"O{insert(db, 'offcuts', {**values, 'state': 'free', 'left_by': job})}"


def taken(db: sqlite3.Connection, take: Take) -> tuple[int | None, int | None, str]:
    """Take one plate out of the stock; return its row in sheets or offcuts, or the name of a new one."""
    if take.new:
        return None, None, take.key
    if take.key.startswith("S"):
        row = row_id(take.key, "S")
        sql = "UPDATE sheets SET quantity = quantity - 1 WHERE id = ? AND quantity > 0"
        found: tuple[int | None, int | None, str] = (row, None, "")
    else:
        row = row_id(take.key, "O")
        sql = "UPDATE offcuts SET state = 'used' WHERE id = ? AND state = 'free'"
        found = (None, row, "")
    if not db.execute(sql, (row,)).rowcount:
        raise StockChanged(f"{take.key} is not in the stock any more; nothing was booked: nest the job again")
    return found


def same(db: sqlite3.Connection, key: str, row: StockSheet | Offcut) -> bool:
    """Whether a plate is still what it was, however many are left and wherever it lies."""
    if isinstance(row, StockSheet):
        found = db.execute(f"{SHEETS} WHERE id = ?", (row_id(key, "S"),)).fetchone()
        return found is not None and replace(sheet_of(found), quantity=0, place="") == replace(
            row, quantity=0, place=""
        )
    found = db.execute(f"{OFFCUTS} WHERE id = ? AND state = 'free'", (row_id(key, "O"),)).fetchone()
    return found is not None and _shape(offcut_of(found)) == _shape(row)


def _shape(offcut: Offcut) -> tuple[Any, ...]:
    corners = tuple((*e.start, e.bulge) for e in offcut.outline)
    return corners, offcut.sheet, offcut.grain, offcut.heat, offcut.certificate


def row_id(key: Any, letter: str) -> int:
    """Return the row of a number such as S12 or O7."""
    digits = key[1:] if isinstance(key, str) and key[:1] == letter and letter in ("S", "O") else ""
    if not (digits.isascii() and digits.isdigit() and len(digits) < 19):
        raise BadValue("stock key", key, "the number of a sheet or an offcut in the store, such as 'S12' or 'O7'")
    return Count(0, 2**62).read(int(digits), "stock key")


def day_of(day: str | None) -> str:
    """Return a date as text, today's if none is given."""
    return date.today().isoformat() if day is None else Day().read(day, "day")  # noqa: DTZ011
