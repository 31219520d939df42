"""A fold sequence as a file: an input of the fold sheet, stored beside it, and proved again when it is read."""

from __future__ import annotations

import os
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any

from tinbook.errors import BadValue
from tinbook.making.made import Made, need_made
from tinbook.route.fold_order import fold_sequence
from tinbook.route.steps import FoldPlan
from tinbook.route.stored_order import StoredHit
from tinbook.shop.tomlfile import TomlText, read_toml
from tinbook.write.drafts import put
from tinbook.write.files import target
from tinbook.write.names import file_stem
from tinbook.write.stamp import stamp_of_part

_HEAD = ("part", "rev", "sheet")


def write_folds(sequence: FoldPlan, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
    """Write the hits of a fold sequence as TOML.

    Parameters
    ----------
    sequence : FoldPlan
        With steps.
    path : str or path-like
        File name ending in .toml, or an existing folder.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadValue
        A sequence without steps, a name or folder that cannot be used.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    """
    if not isinstance(sequence, FoldPlan) or not sequence.steps:
        raise BadValue("write_folds", sequence, "a fold sequence with steps")
    file = target(path, ".toml", f"{file_stem(sequence.made)}_folds")
    stamp = stamp_of_part(sequence.made.part)
    return put(file, f"{folds_text(sequence)}# {stamp.mark}\n", stamp, replace)


def folds_text(sequence: FoldPlan) -> str:
    """Return the text of the file; see `write_folds`."""
    import tomlkit

    part = sequence.made.part
    page = tomlkit.document()
    page.add(
        tomlkit.comment(
            "The order of folds, hit by hit: an input of the fold sheet. Reading it proves every hit again."
        )
    )
    page.add(tomlkit.comment(repr(sequence)))
    page.update({"part": part.number, "rev": part.rev, "sheet": sequence.made.sheet.key})
    hits = tomlkit.aot()
    for hit in sequence.hits:
        values = {f.name: getattr(hit, f.name) for f in fields(hit) if getattr(hit, f.name) != f.default}
        hits.append(tomlkit.item({k: list(v) if isinstance(v, tuple) else v for k, v in values.items()}))
    page.append("hits", hits)
    return tomlkit.dumps(page)


def read_folds(path: str | os.PathLike[str], made: Made) -> FoldPlan:
    """Read a stored fold sequence and prove it on a part: no search, so it is quick and always the same.

    Parameters
    ----------
    path : str or path-like
        What `write_folds` wrote.
    made : Made
        The part.

    Returns
    -------
    FoldPlan
        Without steps where a hit is no longer possible; its findings say which and why.

    Raises
    ------
    BadFile
        Not such a file, one of another part, hits that are incomplete or not those of the part; all mistakes at once.
    """
    need_made(made, "read_folds")
    doc = read_toml(path)
    part = made.part
    have = {"part": part.number, "rev": part.rev, "sheet": made.sheet.key}
    for key in _HEAD:
        if doc.data.get(key) != have[key]:
            doc.add([key], f"{doc.data.get(key)!r}; this part's is {have[key]!r}")
    for key in doc.data:
        if key not in (*_HEAD, "hits"):
            doc.add([key], f"not known; valid are {', '.join((*_HEAD, 'hits'))}")
    rows = doc.data.get("hits", [])
    if not isinstance(rows, list) or not all(isinstance(r, dict) for r in rows):
        doc.add(["hits"], "must be tables [[hits]], one a hit")
        rows = []
    hits = [hit for n, row in enumerate(rows) if (hit := _hit(doc, n, row)) is not None]
    doc.raise_mistakes()
    try:
        return fold_sequence(made, order=hits)
    except BadValue as wrong:
        doc.add(["hits"], str(wrong))
        doc.raise_mistakes()
        raise


def _hit(doc: TomlText, n: int, row: dict[str, Any]) -> StoredHit | None:
    known = {f.name: f for f in fields(StoredHit)}
    for key in row:
        if key not in known:
            doc.add(["hits", n, key], f"not known; valid are {', '.join(known)}")
    lost = [f.name for f in known.values() if f.default is MISSING and f.name not in row]
    if lost:
        doc.add(["hits", n], f"{', '.join(lost)} missing")
        return None
    try:
        return StoredHit(**{k: v for k, v in row.items() if k in known})
    except BadValue as wrong:
        doc.add(["hits", n], str(wrong))
        return None
