"""A store as text and back: one line a row, readable in a hundred years."""

from __future__ import annotations

import json
import os
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any, Final

from tinbook.errors import BadFile, CannotWrite, Mistake
from tinbook.job.stock.rows import insert
from tinbook.job.stock.schema import NEWEST, TABLES, in_words, store_of_version
from tinbook.job.stock.store import Store
from tinbook.paths import existing
from tinbook.write.files import target, whole, write_whole

_HEAD: Final = "tinbook store"


def dump_store(store: Store, path: str | os.PathLike[str]) -> Path:
    """Write all that a store holds as text.

    Parameters
    ----------
    store : Store
        Any store.
    path : str or path-like
        File name ending in .jsonl, or an existing folder; an earlier dump there is written over.

    Returns
    -------
    Path
        The file: JSON, one line a row, in one order, so that two dumps can be compared line by line.
    """
    file = target(path, ".jsonl", store.file.stem)
    if file.exists() and not file.read_bytes()[:40].startswith(f'{{"{_HEAD}"'.encode()):
        raise CannotWrite(f"{file}: nothing was written; the file there is no dump of a store; valid: another name")
    lines = [json.dumps({_HEAD: NEWEST})]
    with in_words(store.file), closing(sqlite3.connect(f"{store.file.absolute().as_uri()}?mode=ro", uri=True)) as db:
        db.execute("BEGIN")
        db.row_factory = sqlite3.Row
        for table in TABLES:
            rows = db.execute(f"SELECT * FROM {table} ORDER BY rowid")  # noqa: S608
            lines += [json.dumps({"table": table, **dict(row)}, ensure_ascii=False) for row in rows]
    write_whole({file: "\n".join(lines) + "\n"})
    return file


def restore_store(dump: str | os.PathLike[str], path: str | os.PathLike[str]) -> Path:
    """Make a store of a dump.

    Parameters
    ----------
    dump : str or path-like
        What `dump_store` wrote, by this version or an earlier one.
    path : str or path-like
        A file that does not exist yet; it stands complete or not at all.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadFile
        No dump, one of a newer version, or rows that do not go together; with the line.
    CannotWrite
        There is a file already.
    """
    file = Path(path)
    if file.exists():
        raise CannotWrite(f"{file}: nothing was written; there is a file already; valid: a new name")
    name = str(dump)
    try:
        lines = existing(dump, "a dump of a store").read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as wrong:
        raise BadFile(name, [Mistake("file", f"cannot be read: {wrong}")]) from None
    version = _version(name, lines)
    with whole(file) as (part,):
        part.touch()
        with closing(store_of_version(part, version)) as db:
            db.execute("PRAGMA foreign_keys = ON")
            db.execute("BEGIN")
            for n, line in enumerate(lines[1:], 2):
                try:
                    _insert(db, json.loads(line))
                except (ValueError, TypeError, KeyError, sqlite3.Error) as wrong:
                    raise BadFile(name, [Mistake(f"line {n}", f"is no row of a store: {wrong}")]) from None
            db.execute("COMMIT")
    Store(file).close()  # brings an earlier version up to date
    return file


def _version(name: str, lines: list[str]) -> int:
    try:
        version = json.loads(lines[0])[_HEAD]
    except (IndexError, ValueError, TypeError, KeyError):
        raise BadFile(name, [Mistake("line 1", f'must be {{"{_HEAD}": version}}')]) from None
    if type(version) is not int or not 1 <= version <= NEWEST:
        what = f"a dump of version {version!r}; this kit knows versions 1 to {NEWEST}"
        raise BadFile(name, [Mistake("line 1", what)])
    return version


def _insert(db: sqlite3.Connection, row: dict[str, Any]) -> None:
    table = row.pop("table")
    if table not in TABLES:
        raise ValueError(f"no table {table!r}")
    known = {r[1] for r in db.execute(f"PRAGMA table_info({table})")}
    if set(row) != known:
        raise ValueError(f"columns {sorted(set(row) ^ known)} do not belong to {table}")
    insert(db, table, row)
