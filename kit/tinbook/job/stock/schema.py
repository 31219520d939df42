"""The tables of a store, version by version, and the file that holds them: opened, checked, migrated."""

from __future__ import annotations

import os
import re
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Final

from tinbook.errors import BadFile, BadValue, CannotWrite, Mistake, of_kind
from tinbook.write.files import whole

APPLICATION: Final = 0x74696E62
"""Number by which SQLite files of this kit are known."""
WAIT: Final = 10.0
"""Seconds that one process waits for another one's booking, which takes milliseconds."""
_MAGIC: Final = b"SQLite format 3\x00"
_SHARES: Final = (
    "nfs",
    "cifs",
    "smb",
    "9p",
    "afs",
    "ncp",
    "webdav",
    "fuse.sshfs",
    "fuse.rclone",
    "fuse.davfs",
    "glusterfs",
    "ceph",
)

MIGRATIONS: Final = (
    """
    CREATE TABLE jobs (
        id INTEGER PRIMARY KEY AUTOINCREMENT, number TEXT NOT NULL, title TEXT NOT NULL, due TEXT NOT NULL,
        sets INTEGER NOT NULL CHECK (sets > 0), text TEXT NOT NULL, day TEXT NOT NULL,
        state TEXT NOT NULL CHECK (state IN ('booked', 'cancelled')));
    CREATE UNIQUE INDEX jobs_number ON jobs (number) WHERE state = 'booked';
    CREATE TABLE sheets (
        id INTEGER PRIMARY KEY AUTOINCREMENT, sheet TEXT NOT NULL, length REAL NOT NULL, width REAL NOT NULL,
        quantity INTEGER NOT NULL CHECK (quantity >= 0), grain TEXT NOT NULL, price TEXT, supplier TEXT NOT NULL,
        heat TEXT NOT NULL, certificate TEXT NOT NULL, place TEXT NOT NULL);
    CREATE INDEX sheets_sheet ON sheets (sheet);
    CREATE TABLE offcuts (
        id INTEGER PRIMARY KEY AUTOINCREMENT, sheet TEXT NOT NULL, outline TEXT NOT NULL, long REAL NOT NULL,
        short REAL NOT NULL, grain REAL, origin TEXT NOT NULL, heat TEXT NOT NULL, certificate TEXT NOT NULL,
        place TEXT NOT NULL, state TEXT NOT NULL CHECK (state IN ('free', 'used', 'scrapped')),
        left_by INTEGER REFERENCES jobs (id));
    CREATE INDEX offcuts_free ON offcuts (sheet, state, short);
    CREATE TABLE takes (
        id INTEGER PRIMARY KEY AUTOINCREMENT, job INTEGER NOT NULL REFERENCES jobs (id),
        sheet INTEGER REFERENCES sheets (id), offcut INTEGER REFERENCES offcuts (id), new TEXT NOT NULL,
        heat TEXT NOT NULL, certificate TEXT NOT NULL);
    CREATE INDEX takes_job ON takes (job);
    CREATE TABLE cut_parts (
        take INTEGER NOT NULL REFERENCES takes (id), number TEXT NOT NULL, count INTEGER NOT NULL CHECK (count > 0));
    CREATE INDEX cut_parts_number ON cut_parts (number);
    CREATE INDEX cut_parts_take ON cut_parts (take);
    """,
    """
    CREATE TABLE rates (name TEXT PRIMARY KEY, amount TEXT NOT NULL);
    CREATE TABLE minutes (
        id INTEGER PRIMARY KEY AUTOINCREMENT, job TEXT NOT NULL, operation TEXT NOT NULL, quantity TEXT NOT NULL,
        minutes TEXT NOT NULL, UNIQUE (job, operation));
    CREATE TABLE releases (
        id INTEGER PRIMARY KEY AUTOINCREMENT, number TEXT NOT NULL, rev TEXT NOT NULL, day TEXT NOT NULL,
        UNIQUE (number, rev));
    CREATE TABLE release_files (
        release INTEGER NOT NULL REFERENCES releases (id), name TEXT NOT NULL, sha256 TEXT NOT NULL,
        UNIQUE (release, name));
    """,
    """
    CREATE TABLE sent (
        id INTEGER PRIMARY KEY AUTOINCREMENT, release INTEGER NOT NULL REFERENCES releases (id), person TEXT NOT NULL,
        how TEXT NOT NULL, day TEXT NOT NULL);
    CREATE INDEX sent_release ON sent (release);
    """,
)
NEWEST: Final = len(MIGRATIONS)
TABLES: Final = tuple(re.findall(r"CREATE TABLE (\w+)", "".join(MIGRATIONS)))
"""In an order in which rows can be put in."""


def connection(path: str | os.PathLike[str]) -> sqlite3.Connection:
    """Open a store, made if it is not there, brought to the newest version if it is older.

    Raises
    ------
    BadFile
        A file that is no store, or one of a newer version. It is not touched.
    CannotWrite
        On a network share, locked, no permission, no room.
    """
    of_kind(path, (str, os.PathLike), "store", "a path of a file on this machine")
    file = Path(path)
    if not str(path).strip() or "\0" in str(path):
        raise BadValue("store", str(path), "a path of a file on this machine")
    if not file.parent.is_dir():
        raise BadValue("store folder", str(file.parent), "a folder that exists; make it first")
    if file.exists() and not file.is_file():
        raise BadValue("store", str(file), "a file")
    share = network_share(file)
    if share:
        raise CannotWrite(
            f"{file}: lies on a network share ({share}), whose locks cannot be trusted; nothing was opened; "
            "valid: a disk of the machine that keeps the stock"
        )
    with in_words(file):
        version = _version(file)
        opened = sqlite3.connect(file, timeout=WAIT, isolation_level=None)
        try:
            opened.row_factory = sqlite3.Row
            opened.execute("PRAGMA foreign_keys = ON")
            opened.execute("PRAGMA synchronous = FULL")
            mode = opened.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            if mode != "wal":
                raise CannotWrite(f"{file}: this file system keeps no write-ahead log; valid: a local disk")
            if version < NEWEST:
                if version:
                    _back_up(opened, file, version)
                _migrate(opened, NEWEST)
        except BaseException:
            opened.close()
            raise
    return opened


def _version(file: Path) -> int:
    """Return the version of a store, 0 for none; refuse what is no store, without writing anything."""
    if not file.exists() or file.stat().st_size == 0:
        return 0
    with open(file, "rb") as f:
        if f.read(len(_MAGIC)) != _MAGIC:
            raise BadFile(str(file), [Mistake("file", "is no store of the kit: it is not an SQLite file")])
    with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True, timeout=WAIT)) as probe:
        mark = probe.execute("PRAGMA application_id").fetchone()[0]
        version = int(probe.execute("PRAGMA user_version").fetchone()[0])
        if mark != APPLICATION and probe.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            raise BadFile(
                str(file), [Mistake("file", "is no store of the kit: it is some other program's SQLite file")]
            )
    if version > NEWEST:
        what = f"is a store of version {version}; this kit knows versions up to {NEWEST}: update the kit"
        raise BadFile(str(file), [Mistake("file", what)])
    return version


def _back_up(opened: sqlite3.Connection, file: Path, version: int) -> None:
    """Copy a store beside it before it is changed to a newer version."""
    kept = file.with_name(f"{file.name}.version{version}")
    if kept.exists():
        return  # of an earlier try that did not come to its end
    with whole(kept) as (part,), closing(sqlite3.connect(part)) as copy:
        opened.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")


def _migrate(opened: sqlite3.Connection, to: int) -> None:
    """Bring a store to a version, whole or not at all; another process may have done it meanwhile."""
    opened.execute("BEGIN IMMEDIATE")
    try:
        version = int(opened.execute("PRAGMA user_version").fetchone()[0])
        for script in MIGRATIONS[version:to]:
            for statement in script.split(";"):
                if statement.strip():
                    opened.execute(statement)
        if version < to:
            opened.execute(f"PRAGMA application_id = {APPLICATION}")
            opened.execute(f"PRAGMA user_version = {to}")
        opened.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):
            opened.execute("ROLLBACK")
        raise


def store_of_version(file: Path, version: int) -> sqlite3.Connection:
    """Return a new store of an earlier version, for restoring a text of it."""
    opened = sqlite3.connect(file, isolation_level=None)
    _migrate(opened, version)
    return opened


@contextmanager
def in_words(file: Path) -> Iterator[None]:
    """Turn what SQLite says into errors of the kit; a transaction that failed has changed nothing."""
    try:
        yield
    except sqlite3.IntegrityError:
        raise
    except sqlite3.DatabaseError as wrong:
        said = str(wrong)
        if "locked" in said or "busy" in said:
            why = f"another program has held it for {WAIT:g} s; valid: try again, or end that program"
        elif "full" in said:
            why = "the disk is full; valid: make room and try again"
        elif "readonly" in said or "unable to open" in said:
            why = "it may not be written to; valid: a file and folder with permission to write"
        elif "malformed" in said or "not a database" in said:
            why = f"it is damaged ({said}); valid: restore the last dump"
        else:
            why = f"the database says: {said}"
        raise CannotWrite(f"{file}: nothing was changed; {why}") from wrong
    except OSError as wrong:
        if isinstance(wrong, CannotWrite):
            raise
        raise CannotWrite(f"{file}: nothing was changed; the system says: {wrong.strerror or wrong}") from wrong


def network_share(file: Path, mounts: str = "/proc/mounts") -> str:
    """Return the kind of network share on which a file lies, "" for a local disk or where the system does not tell.

    Linux says so in its table of mounts, Windows by drive; on other systems nothing is known.
    """
    if sys.platform == "win32":
        import ctypes

        full = str(file.resolve())
        remote = full.startswith("\\\\") or ctypes.windll.kernel32.GetDriveTypeW(full[:3]) == 4  # DRIVE_REMOTE
        return "network drive" if remote else ""
    with suppress(OSError):
        place = file.resolve()
        best = (-1, "")
        for line in Path(mounts).read_text(errors="replace").splitlines():
            words = line.split()
            if len(words) < 3:
                continue
            root = Path(words[1].replace("\\040", " "))
            if place == root or root in place.parents:
                best = max(best, (len(root.parts), words[2]))
        return best[1] if any(best[1] == s or best[1].startswith(s) for s in _SHARES) else ""
    return ""
