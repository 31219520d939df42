"""Text files that are read again: a part, its order of folds, the shop's test strips."""

from __future__ import annotations

import os
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any, Final

import tomlkit

from tinbook.errors import BadValue, of_kind
from tinbook.making.made import Made, need_made
from tinbook.part.assembly import Assembly
from tinbook.part.assemblyfile import assembly_to_toml
from tinbook.part.part import Part
from tinbook.part.partfile import part_to_toml
from tinbook.route.fold_order import fold_sequence
from tinbook.route.steps import FoldPlan
from tinbook.route.stored_order import StoredHit
from tinbook.shop.coupons import BendCoupon, DrawCoupon, Fitted
from tinbook.shop.shop import shop_from
from tinbook.shop.tomlfile import TomlText, parse_toml, read_toml
from tinbook.write.drafts import Draft
from tinbook.write.files import target, write_whole
from tinbook.write.names import file_stem
from tinbook.write.stamp import stamp_of_drawing, stamp_of_part

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
    return Draft(file=file, stamp=stamp, replace=replace).write(f"{folds_text(sequence)}# {stamp.mark}\n")


def folds_text(sequence: FoldPlan) -> str:
    """Return the text of the file; see `write_folds`."""
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


def write_part(part: Part, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
    """Write a part as TOML; `read_part` gives it back.

    Parameters
    ----------
    part : Part
        Any part, also one that cannot be made.
    path : str or path-like
        File name ending in .toml, or an existing folder, into which "<number>_<revision>.toml" is written.
    replace : bool
        Write over whatever is there; else only an earlier draft of the same design gives way.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    BadValue
        Something else than a part; a name or folder that cannot be used.
    CannotWrite
        The file there is none of this design's drafts, or the system refuses.
    """
    of_kind(part, Part, "write_part", "a Part; of a made one it is made.part")
    file = target(path, ".toml", f"{part.number}_{part.rev}")
    stamp = stamp_of_part(part)
    return Draft(file=file, stamp=stamp, replace=replace).write(f"{part_to_toml(part)}# {stamp.mark}\n")


def write_assembly(assembly: Assembly, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
    """Write an assembly as TOML; `tb.part.read_assembly` gives it back.

    Parameters
    ----------
    assembly : Assembly
        Any assembly, also one whose parts cannot be made.
    path, replace
        As for `write_part`.

    Returns
    -------
    Path
        The file.
    """
    text = assembly_to_toml(assembly)
    file = target(path, ".toml", f"{assembly.number}_{assembly.rev}")
    stamp = stamp_of_drawing(f"assembly {assembly.number} rev {assembly.rev}", [text])
    return Draft(file=file, stamp=stamp, replace=replace).write(f"{text}# {stamp.mark}\n")


NEW: Final = 'base = "demo" # what is not stated here comes from the demo shop\n\n'


def write_coupons(fitted: Fitted, path: str | os.PathLike[str]) -> Path:
    """Write fitted test strips into a shop file.

    Parameters
    ----------
    fitted : Coupons
        From `tb.coupons`.
    path : str or path-like
        A shop file (.toml); if there is none yet, one that stands on the demo shop is begun.

    Returns
    -------
    Path
        The file, whole or as it was. Rows of the same sheet and tool are replaced; comments stay.

    Raises
    ------
    BadFile
        The shop file has mistakes, before or with the new rows (a sheet or tool that it does not have).
    BadValue
        Nothing to write, or a name that is no .toml file.
    """
    if not hasattr(fitted, "bends"):
        raise BadValue("coupons", type(fitted).__name__, "what tb.coupons(file, shop) answers")
    if not fitted.bends and not fitted.draws:
        raise BadValue("coupons", "none", "at least one sheet and tool with test strips")
    file = target(path, ".toml", "shop")
    if file.exists():
        doc = read_toml(file)
        shop_from(doc)  # a file with mistakes is not touched
        raw = file.read_bytes().decode("utf-8-sig")
    else:
        raw = NEW
    text = tomlkit.parse(raw)
    if fitted.bends:
        _bends(text, fitted.bends)
    for d in fitted.draws:
        _draw(text, d)
    new = tomlkit.dumps(text)
    shop_from(parse_toml(str(file), new.encode("utf-8")))
    write_whole({file: new})
    return file


def _bends(text: Any, rows: tuple[BendCoupon, ...]) -> None:
    listed = text.get("coupons")
    if listed is None:
        listed = tomlkit.aot()
        text.append("coupons", listed)
    for row in rows:
        values = {f.name: getattr(row, f.name) for f in fields(row)}
        old = next((r for r in listed if (r.get("sheet"), r.get("tool")) == (row.sheet, row.tool)), None)
        if old is not None:
            for name, value in values.items():
                old[name] = value
            continue
        table = tomlkit.table()
        for name, value in values.items():
            table.add(name, value)
        listed.append(table)


def _draw(text: Any, row: DrawCoupon) -> None:
    if "rolls" not in text:
        text.append("rolls", tomlkit.table(is_super_table=True))
    rolls = text["rolls"]
    if row.roll not in rolls:
        rolls.append(row.roll, tomlkit.table())
    note = f"±{row.band:.2f}, {row.strips} strips of {row.sheet}"
    rolls[row.roll]["draw_factor"] = tomlkit.item(row.draw_factor).comment(note)
    rolls[row.roll]["source"] = row.source
