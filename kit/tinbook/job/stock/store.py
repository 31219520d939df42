"""The store: one SQLite file that remembers sheets, offcuts, jobs, releases and corrected rates."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Self

from tinbook.errors import BadValue, UnknownName, of_kind
from tinbook.fields import Text, Word
from tinbook.job.stock.booking import Booking
from tinbook.job.stock.records import BookedJob, Sent, Traced
from tinbook.job.stock.rows import (
    OFFCUTS,
    SHEETS,
    StockChanged,
    bought_sheet,
    day_of,
    offcut_of,
    put_offcut,
    put_sheet,
    row_id,
    same,
    sheet_of,
    taken,
)
from tinbook.job.stock.schema import connection, in_words
from tinbook.job.stock.values import Money, Offcut, Stock, StockSheet
from tinbook.part.names import NUMBER, REVISION
from tinbook.shop.rates import Rates

HASH: Final = Word(r"[0-9a-f]{64}", "a SHA-256 in 64 hexadecimal digits")


class Store:
    """The stock, remembered in one file. Each change is booked whole or not at all, also when the power fails.

    Several processes may use one file at once. `snapshot` gives the frozen value that `nest_job` takes.

    Parameters
    ----------
    path : str or path-like
        A file on a disk of this machine, made if it is not there. An older version is copied beside it and brought up
        to date.

    Raises
    ------
    BadFile
        A file that is no store, or one from a newer version of the kit.
    CannotWrite
        On a network share, locked by another program, no permission.

    Examples
    --------
    >>> import tempfile, tinbook as tb
    >>> folder = tempfile.TemporaryDirectory()
    >>> with tb.job.Store(f"{folder.name}/stock.db") as store:
    ...     sheet = store.receive(tb.job.StockSheet(sheet="DC01 1.5", length=2000, width=1000, quantity=3, price="41.20"))
    ...     print(sheet.key, store.snapshot())
    S1 <stock: 3 sheets, 0 offcuts>
    >>> folder.cleanup()
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.file = Path(path) if isinstance(path, str | os.PathLike) else Path()
        self._db = connection(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def __repr__(self) -> str:
        return f"<store {self.file.name}>"

    def close(self) -> None:
        """Close the file; the store cannot be used any more."""
        self._db.close()

    @contextmanager
    def _change(self) -> Iterator[sqlite3.Connection]:
        """Give a transaction that no other process can come between."""
        with in_words(self.file):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield self._db
                self._db.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):
                    self._db.execute("ROLLBACK")
                raise

    def _rows(self, sql: str, values: Iterable[Any] = ()) -> list[sqlite3.Row]:
        with in_words(self.file):
            return self._db.execute(sql, tuple(values)).fetchall()

    # --- stock -----------------------------------------------------------------------------

    def snapshot(self, sheets: Iterable[str] | None = None) -> Stock:
        """Return the stock at this moment as a frozen value.

        Parameters
        ----------
        sheets : iterable of str, optional
            Keys of the shop's sheets that matter; else all.
        """
        if sheets is not None and (isinstance(sheets, str) or not isinstance(sheets, Iterable)):
            raise BadValue("sheets", sheets, "keys of sheets in brackets, as ['DC01 1.5']")
        keys = None if sheets is None else json.dumps([str(s) for s in sheets])
        some = "" if keys is None else " AND sheet IN (SELECT value FROM json_each(?))"
        values = () if keys is None else (keys,)
        with in_words(self.file):
            self._db.execute("BEGIN")  # one moment for all tables
            try:
                held = self._db.execute(f"{SHEETS} WHERE quantity > 0{some} ORDER BY id", values).fetchall()
                rest = self._db.execute(f"{OFFCUTS} WHERE state = 'free'{some} ORDER BY id", values).fetchall()
                rates = self._db.execute("SELECT name, amount FROM rates ORDER BY name").fetchall()
            finally:
                self._db.execute("COMMIT")
        return Stock(
            sheets=tuple(sheet_of(r) for r in held),
            offcuts=tuple(offcut_of(r) for r in rest),
            rates=tuple((name, Decimal(amount)) for name, amount in rates),
        )

    def receive(self, sheet: StockSheet) -> StockSheet:
        """Enter a delivery of sheets; return it with its number."""
        of_kind(sheet, StockSheet, "receive", "a tb.job.StockSheet")
        if not sheet.quantity:
            raise BadValue("stock sheet quantity", 0, "at least one sheet")
        with self._change() as db:
            return replace(sheet, key=put_sheet(db, sheet))

    def add_offcut(self, offcut: Offcut) -> Offcut:
        """Enter an offcut that lies in the rack; return it with its number."""
        of_kind(offcut, Offcut, "offcut", "a tb.job.Offcut")
        with self._change() as db:
            return replace(offcut, key=put_offcut(db, offcut, None))

    def scrap(self, key: str) -> None:
        """Take an offcut out of the rack for good."""
        with self._change() as db:
            done = db.execute(
                "UPDATE offcuts SET state = 'scrapped' WHERE id = ? AND state = 'free'", (row_id(key, "O"),)
            )
            if not done.rowcount:
                raise BadValue("offcut", key, "the number of an offcut that lies in the rack")

    def move(self, key: str, place: str) -> None:
        """Say where a sheet or an offcut lies now."""
        Text(empty=True, most=200).read(place, "place")
        table = "sheets" if str(key).startswith("S") else "offcuts"
        with self._change() as db:
            done = db.execute(f"UPDATE {table} SET place = ? WHERE id = ?", (place, row_id(key, str(key)[:1])))  # noqa: S608
            if not done.rowcount:
                raise BadValue("stock key", key, "the number of a sheet or an offcut in the store")

    def offcuts(self, sheet: str, length: float = 0.0, width: float = 0.0) -> tuple[Offcut, ...]:
        """Return the offcuts of a sheet whose box is at least `length` by `width` mm either way, the smallest first."""
        long, short = max(length, width), min(length, width)
        rows = self._rows(
            f"{OFFCUTS} WHERE state = 'free' AND sheet = ? AND short >= ? AND long >= ? ORDER BY short * long, id",
            (sheet, short, long),
        )
        return tuple(offcut_of(r) for r in rows)

    # --- jobs ------------------------------------------------------------------------------

    def book(self, booking: Booking, day: str | None = None) -> tuple[Offcut, ...]:
        """Take what a job needs out of the stock and put back what it leaves, whole or not at all.

        Parameters
        ----------
        booking : Booking
            From `booking_of`.
        day : str, optional
            Date as "2027-03-31"; else today.

        Returns
        -------
        tuple of Offcut
            What came back, with numbers.

        Raises
        ------
        BadValue
            A job of this number is booked already.
        StockChanged
            Somebody else has taken a plate since the snapshot, or changed it.
        """
        of_kind(booking, Booking, "booking", "what tb.job.booking_of(nest) gives")
        day = day_of(day)
        seen = {row.key: row for row in booking.seen}
        back: list[Offcut] = []
        with self._change() as db:
            if db.execute("SELECT 1 FROM jobs WHERE number = ? AND state = 'booked'", (booking.number,)).fetchone():
                raise BadValue("job number", booking.number, "a number that no job in the store has")
            job = db.execute(
                "INSERT INTO jobs (number, title, due, sets, text, day, state) VALUES (?, ?, ?, ?, ?, ?, 'booked')",
                (booking.number, booking.title, booking.due, booking.sets, booking.text, day),
            ).lastrowid
            for key, row in seen.items():
                if not same(db, key, row):
                    raise StockChanged(f"{key} has changed since the job was nested; nothing was booked: nest it again")
            for take in booking.takes:
                new = db.execute(
                    "INSERT INTO takes (job, sheet, offcut, new, heat, certificate) VALUES (?, ?, ?, ?, ?, ?)",
                    (job, *taken(db, take), take.heat, take.certificate),
                ).lastrowid
                db.executemany("INSERT INTO cut_parts VALUES (?, ?, ?)", [(new, n, c) for n, c in take.parts])
                back += [replace(o, key=put_offcut(db, o, job)) for o in take.leaves]
        return tuple(back)

    def cancel(self, number: str) -> None:
        """Undo a booking: its plates go back, its offcuts vanish. Refused once one of these is used.

        New sheets that were bought for it come into the stock with heat and certificate, as sheets of their size.
        """
        with self._change() as db:
            found = db.execute("SELECT id FROM jobs WHERE number = ? AND state = 'booked'", (number,)).fetchone()
            if found is None:
                raise UnknownName("job number", number, [r[0] for r in db.execute("SELECT number FROM jobs")])
            job = found[0]
            gone = db.execute("SELECT id FROM offcuts WHERE left_by = ? AND state = 'used'", (job,)).fetchall()
            if gone:
                raise StockChanged(f"job {number}: its offcut O{gone[0][0]} is cut up already; it cannot be cancelled")
            db.execute("UPDATE offcuts SET state = 'scrapped' WHERE left_by = ?", (job,))
            db.execute("UPDATE offcuts SET state = 'free' WHERE id IN (SELECT offcut FROM takes WHERE job = ?)", (job,))
            db.execute(
                "UPDATE sheets SET quantity = quantity + (SELECT count(*) FROM takes WHERE job = ? AND sheet = sheets.id)",
                (job,),
            )
            for name, heat, certificate in db.execute(
                "SELECT new, heat, certificate FROM takes WHERE job = ? AND new <> '' ORDER BY id", (job,)
            ).fetchall():
                sheet = bought_sheet(name, heat, certificate)
                if sheet is not None:
                    put_sheet(db, sheet)
            db.execute("UPDATE jobs SET state = 'cancelled' WHERE id = ?", (job,))

    def jobs(self) -> tuple[BookedJob, ...]:
        """Return all jobs, the oldest first."""
        return tuple(BookedJob(**r) for r in self._rows(f"{_JOBS} ORDER BY id"))

    def job(self, number: str) -> BookedJob:
        """Return a job that stands by its number."""
        rows = self._rows(f"{_JOBS} WHERE number = ? AND state = 'booked'", (number,))
        if not rows:
            raise BadValue("job number", number, "the number of a job in the store")
        return BookedJob(**rows[0])

    def trace(self, number: str) -> tuple[Traced, ...]:
        """Return from which metal the parts of a number were cut, with heat and certificate."""
        rows = self._rows(
            "SELECT c.number, j.number AS job, coalesce('S' || t.sheet, 'O' || t.offcut, t.new) AS plate, c.count, "
            "t.heat, t.certificate "
            "FROM cut_parts c JOIN takes t ON t.id = c.take JOIN jobs j ON j.id = t.job "
            "WHERE c.number = ? AND j.state = 'booked' ORDER BY t.id",
            (number,),
        )
        return tuple(Traced(**r) for r in rows)

    # --- rates, minutes, releases -------------------------------------------------------------

    def correct_rate(self, name: str, amount: Any) -> None:
        """Put a rate in place of the shop file's; snapshots carry it. None: back to the shop file's.

        Parameters
        ----------
        name : str
            A field of `Rates`; of one by name also the name, as in "pierce.laser".
        amount : number, text or None
            In the shop's currency.
        """
        if not isinstance(name, str) or name.partition(".")[0] not in Rates.__dataclass_fields__:
            raise UnknownName("rate", name, Rates.__dataclass_fields__)
        value = None if amount is None else str(Money().read(amount, f"rate '{name}'"))
        with self._change() as db:
            db.execute("DELETE FROM rates WHERE name = ?", (name,))
            if value is not None:
                db.execute("INSERT INTO rates VALUES (?, ?)", (name, value))

    def note_minutes(self, job: str, operation: str, quantity: Any, minutes: Any) -> None:
        """Note how long an operation took in a job: the quantity as priced, the minutes as measured."""
        NUMBER.read(job, "job")
        Text(most=60).read(operation, "operation")
        numbers = [str(Money().read(v, f)) for v, f in ((quantity, "quantity"), (minutes, "minutes"))]
        if Decimal(numbers[0]) == 0:
            raise BadValue("quantity", quantity, "greater than 0")
        with self._change() as db:
            db.execute(
                "INSERT INTO minutes (job, operation, quantity, minutes) VALUES (?, ?, ?, ?) ON CONFLICT (job, operation) "
                "DO UPDATE SET quantity = excluded.quantity, minutes = excluded.minutes",
                (job, operation, *numbers),
            )

    def minutes(self, operation: str) -> tuple[tuple[str, Decimal, Decimal], ...]:
        """Return job, quantity and minutes of all that was noted of an operation."""
        rows = self._rows("SELECT job, quantity, minutes FROM minutes WHERE operation = ? ORDER BY id", (operation,))
        return tuple((job, Decimal(q), Decimal(m)) for job, q, m in rows)

    def release(self, number: str, rev: str, files: Mapping[str, str], day: str | None = None) -> None:
        """Record the released files of a number and revision with their SHA-256; a revision is released once."""
        NUMBER.read(number, "release number")
        REVISION.read(rev, "release revision")
        if not isinstance(files, Mapping) or not files:
            raise BadValue("release files", files, "names of files with their SHA-256, at least one")
        rows = [(Text(most=250).read(n, "file name"), HASH.read(h, f"hash of '{n}'")) for n, h in files.items()]
        day = day_of(day)
        with self._change() as db:
            if db.execute("SELECT 1 FROM releases WHERE number = ? AND rev = ?", (number, rev)).fetchone():
                raise BadValue("release", f"{number} rev {rev}", "a revision that is not released yet")
            new = db.execute("INSERT INTO releases (number, rev, day) VALUES (?, ?, ?)", (number, rev, day)).lastrowid
            db.executemany("INSERT INTO release_files VALUES (?, ?, ?)", [(new, n, h) for n, h in rows])

    def released(self, number: str, rev: str) -> dict[str, str]:
        """Return the files of a release with their SHA-256; empty where there is none."""
        sql = (
            "SELECT name, sha256 FROM release_files f JOIN releases r ON r.id = f.release WHERE number = ? AND rev = ?"
        )
        return {r["name"]: r["sha256"] for r in self._rows(f"{sql} ORDER BY name", (number, rev))}

    def releases(self, number: str) -> tuple[tuple[str, str], ...]:
        """Return revision and SHA-256 of the pack ("" where none was recorded) of each release, in their order."""
        sql = (
            "SELECT rev, coalesce((SELECT sha256 FROM release_files f WHERE f.release = r.id AND f.name = r.number || '_' || "
            "r.rev || '.zip'), '') FROM releases r WHERE number = ? ORDER BY r.id"
        )
        return tuple((rev, packed) for rev, packed in self._rows(sql, (number,)))

    def send(self, number: str, rev: str, to: str, *, how: str = "", day: str | None = None) -> None:
        """Note to whom a release was sent.

        Parameters
        ----------
        number, rev : str
            Of a release that this store recorded.
        to, how : str
            To whom, and by which way ("post, parcel 4711").
        day : str, optional
            ISO 8601; else today.
        """
        Text(most=200).read(to, "to")
        Text(empty=True, most=200).read(how, "how")
        day = day_of(day)
        with self._change() as db:
            rows = db.execute("SELECT id FROM releases WHERE number = ? AND rev = ?", (number, rev)).fetchall()
            if not rows:
                raise BadValue("release", f"{number} rev {rev}", "a release that this store recorded")
            db.execute("INSERT INTO sent (release, person, how, day) VALUES (?, ?, ?, ?)", (rows[0][0], to, how, day))

    def sent(self, number: str | None = None) -> tuple[Sent, ...]:
        """Return who was sent what, in the order in which it was noted: all of it, or of one number."""
        sql = (
            'SELECT r.number, r.rev, s.person AS "to", s.how, s.day, '
            "coalesce((SELECT sha256 FROM release_files f WHERE f.release = r.id AND f.name = r.number || '_' || r.rev || "
            "'.zip'), '') AS sha256 FROM sent s JOIN releases r ON r.id = s.release WHERE ? IS NULL OR r.number = ? ORDER BY s.id"
        )
        return tuple(Sent(**r) for r in self._rows(sql, (number, number)))

    def check(self) -> tuple[str, ...]:
        """Return what the database itself finds wrong with the file; nothing where it is whole."""
        said = [r[0] for r in self._rows("PRAGMA integrity_check")]
        broken = [f"{r[0]} row {r[1]} refers to nothing in {r[2]}" for r in self._rows("PRAGMA foreign_key_check")]
        return (*(s for s in said if s != "ok"), *broken)


_JOBS: Final = "SELECT number, title, due, sets, text, day, state FROM jobs"
