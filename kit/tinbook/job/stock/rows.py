"""Rows of the store's tables as values, and the statements that read and change them."""

from __future__ import annotations

import json
import re
import sqlite3
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any, Final

from tinbook.errors import BadValue, TinbookError
from tinbook.fields import Count
from tinbook.job.quoted import Day
from tinbook.job.stock.booking import Take
from tinbook.job.stock.values import NEW, Offcut, StockSheet
from tinbook.plane.loops import Edge, Loop


class StockChanged(TinbookError, RuntimeError):
    """Somebody else has taken what a booking needs since its snapshot; nothing was booked."""


SHEETS: Final = (
    "SELECT id, sheet, length, width, quantity, grain, price, supplier, heat, certificate, place FROM sheets"
)
OFFCUTS: Final = "SELECT id, sheet, outline, grain, origin, heat, certificate, place FROM offcuts"


def sheet_of(r: tuple[Any, ...]) -> StockSheet:
    """Return a row of the table of sheets as a value."""
    return StockSheet(
        key=f"S{r[0]}",
        sheet=r[1],
        length=r[2],
        width=r[3],
        quantity=r[4],
        grain=r[5],
        price=None if r[6] is None else Decimal(r[6]),
        supplier=r[7],
        heat=r[8],
        certificate=r[9],
        place=r[10],
    )


def offcut_of(r: tuple[Any, ...]) -> Offcut:
    """Return a row of the table of offcuts as a value."""
    rows = json.loads(r[2])
    ends = [(row[0], row[1]) for row in (*rows[1:], *rows[:1])]
    outline = Loop(tuple(Edge((row[0], row[1]), end, row[2]) for row, end in zip(rows, ends, strict=True)))
    return Offcut(
        key=f"O{r[0]}", sheet=r[1], outline=outline, grain=r[3], origin=r[4], heat=r[5], certificate=r[6], place=r[7]
    )


def put_sheet(db: sqlite3.Connection, sheet: StockSheet) -> str:
    """Put a delivery into the table of sheets; return its number."""
    price = None if sheet.price is None else str(sheet.price)
    new = db.execute(
        "INSERT INTO sheets (sheet, length, width, quantity, grain, price, supplier, heat, certificate, place) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            sheet.sheet,
            sheet.length,
            sheet.width,
            sheet.quantity,
            sheet.grain,
            price,
            sheet.supplier,
            sheet.heat,
            sheet.certificate,
            sheet.place,
        ),
    ).lastrowid
    return f"S{new}"


def bought_sheet(name: str, heat: str, certificate: str) -> StockSheet | None:
    """Return a new sheet of a job as a sheet of the stock, rolled along its length; None where its name says no size."""
    found = re.fullmatch(rf"{NEW} (.+) ([0-9.e+]+) x ([0-9.e+]+)", name)
    if found is None:
        return None
    sheet, length, width = found.groups()
    return StockSheet(sheet=sheet, length=float(length), width=float(width), heat=heat, certificate=certificate)


def put_offcut(db: sqlite3.Connection, offcut: Offcut, job: int | None) -> str:
    """Put an offcut into its table; return its number."""
    w, h = offcut.size
    outline = json.dumps([[*e.start, e.bulge] for e in offcut.outline])
    new = db.execute(
        "INSERT INTO offcuts (sheet, outline, long, short, grain, origin, heat, certificate, place, state, left_by) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, 'free', ?)",
        (
            offcut.sheet,
            outline,
            max(w, h),
            min(w, h),
            offcut.grain,
            offcut.origin,
            offcut.heat,
            offcut.certificate,
            offcut.place,
            job,
        ),
    ).lastrowid
    return f"O{new}"


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
