"""The layouts of a nested job as a JSON file, and back: what a hand corrected is kept, and nobody nests it anew."""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from tinbook.errors import BadFile, BadValue, Mistake, TinbookError, UnknownName, of_kind
from tinbook.fields import Choice, Count, Flag
from tinbook.job.declared import Job
from tinbook.job.nested import Group, JobNest, nest_job, plates_for, stock_without
from tinbook.job.nesting.by_hand import faults
from tinbook.job.nesting.layout import Blank, Placement, Plate, PlateLayout, ranged
from tinbook.job.stock.values import NO_STOCK, Stock
from tinbook.paths import existing
from tinbook.shop.shop import Shop
from tinbook.write.drafts import Draft
from tinbook.write.files import target
from tinbook.write.stamp import stamp_of_drawing

FORMAT: Final = 1
LARGEST: Final = 10_000_000
"""Bytes: 5000 blanks need about one million."""
_FAR: Final = 1e6


def write_layouts(nest: JobNest, path: str | os.PathLike[str], *, replace: bool = False) -> Path:
    """Write where every blank of a nested job lies, corrected by hand or not; `read_layouts` gives it back.

    Parameters
    ----------
    nest : JobNest
        From `nest_job`, `move_in_job`, `nest_around`, or the workbench.
    path : str or path-like
        File name ending in .json, or an existing folder.
    replace : bool
        Write over whatever is there; else only earlier layouts of the same job give way.

    Returns
    -------
    Path
        The file.
    """
    of_kind(nest, JobNest, "nest", "what tb.job.nest_job gives")
    name = f"{nest.job.number}_layouts"
    file = target(path, ".json", name)
    text = layouts_to_json(nest)
    stamp = stamp_of_drawing(name, [text])
    head, rest = text.split("\n", 1)
    return Draft(file=file, stamp=stamp, replace=replace).write(f'{head}\n "stamp": "{stamp.mark}",\n{rest}')


def read_layouts(
    path: str | os.PathLike[str], job: Job, shop: Shop, stock: Stock = NO_STOCK, *, sets: int = 1
) -> JobNest:
    """Return a nested job with the layouts of a file.

    Parameters
    ----------
    path : str or path-like
        As `write_layouts` writes it.
    job, shop, stock, sets
        As for `nest_job`: those with which it was nested.

    Returns
    -------
    JobNest

    Raises
    ------
    BadFile
        No such file; layouts of another job, or of other quantities; blanks that overlap, come too close, leave their
        sheet, lie twice or not at all; plates that the stock does not have.
    """
    file = existing(path, "layouts of a job")
    try:
        raw = file.read_bytes()[: LARGEST + 1]
        text = raw.decode("utf-8")
    except (OSError, UnicodeDecodeError) as wrong:
        raise BadFile(str(file), [Mistake("file", f"cannot be read: {wrong}"[:200])]) from None
    if len(raw) > LARGEST:
        raise BadFile(str(file), [Mistake("file", f"is larger than {LARGEST // 10**6} MB")])
    return laid_out(nest_job(job, shop, stock, sets=sets, effort=0), text, str(file))


def layouts_to_json(nest: JobNest) -> str:
    """Return the layouts as text; numbers exact, the same text every time."""
    groups = [
        {
            "sheet": group.sheet,
            "traced": group.traced,
            "plates": [
                {
                    "plate": k.plate.name,
                    "blanks": [{n: getattr(p, n) for n in Placement.__slots__} for p in k.placements],
                }
                for k in group.nest.layouts
            ],
        }
        for group in nest.groups
    ]
    found = {"format": FORMAT, "job": nest.job.number, "sets": nest.sets, "groups": groups}
    return json.dumps(found, indent=1, allow_nan=False) + "\n"


def laid_out(nest: JobNest, text: str, name: str) -> JobNest:
    """Return a nested job with the layouts of a text instead of its own; see `read_layouts`."""
    try:
        return _laid_out(nest, json.loads(text))
    except (ValueError, RecursionError) as wrong:
        if not isinstance(wrong, TinbookError):
            raise BadFile(name, [Mistake("text", f"is no JSON: {wrong}"[:200])]) from None
        raise BadFile(name, [Mistake("layouts", str(wrong))]) from None
    except TinbookError as wrong:
        raise BadFile(name, [Mistake("layouts", str(wrong))]) from None


def _laid_out(nest: JobNest, found: Any) -> JobNest:
    of_kind(found, Mapping, "text", "a table with format, job, sets and groups")
    if found.get("format") != FORMAT:
        raise BadValue("format", found.get("format"), f"{FORMAT}; a newer kit reads newer layouts")
    for field, own in (("job", nest.job.number), ("sets", nest.sets)):
        if found.get(field) != own:
            raise BadValue(field, found.get(field), f"layouts of {own!r}")
    rows = {(_of(g, "sheet"), _of(g, "traced")): _several(g, "plates") for g in _several(found, "groups")}
    keys = [(g.sheet, g.traced) for g in nest.groups]
    if set(rows) != set(keys):
        raise BadValue("groups", [k[0] for k in rows], f"those of the job: {', '.join(k[0] for k in keys)}")
    left, groups = nest.stock, {}
    for key in sorted(keys, key=lambda k: not k[1]):  # traced metal chooses first, as it does in nesting
        group = nest.groups[keys.index(key)]
        groups[key] = _group(nest, group, left, rows[key])
        left = stock_without(left, [groups[key]])
    return replace(nest, groups=tuple(groups[key] for key in keys))


def _group(nest: JobNest, group: Group, left: Stock, rows: list[Any]) -> Group:
    metal, cutter = nest.shop.sheet_by_key(group.sheet), nest.shop.cutter(group.cutter)
    plates = {p.name: p for p in plates_for(metal, cutter, nest.shop, left, group.traced, nest.new_sheets)}
    blanks = {b.name: b for b in group.nest.blanks}
    layouts = [_layout(row, plates, blanks) for row in rows]
    for plate in plates.values():
        used = sum(k.plate is plate for k in layouts)
        if plate.quantity is not None and used > plate.quantity:
            raise BadValue(f"plate '{plate.name}'", used, f"at most {plate.quantity}: the stock has no more")
    placed = Counter((p.blank, p.copy) for k in layouts for p in k.placements)
    wanted = [(b.name, n) for b in blanks.values() for n in range(1, b.quantity + 1)]
    for blank, copy in dict.fromkeys((*placed, *wanted)):
        if placed[blank, copy] != 1:
            raise BadValue(f"{blank} no. {copy}", placed[blank, copy], "1: each lies on one sheet, once")
    for n, layout in enumerate(layouts, 1):
        wrong = faults(layout, group.nest.blanks, group.nest.gap, group.nest.margins, n)
        if wrong:
            raise BadValue(wrong[0].where, wrong[0].what, "blanks that keep gap, margins and grain")
    return replace(group, nest=group.nest.with_layouts(layouts))


def _layout(row: Any, plates: Mapping[str, Plate], blanks: Mapping[str, Blank]) -> PlateLayout:
    name = Choice(tuple(plates)).read(_of(row, "plate"), "plate")
    placements = tuple(_placement(p, blanks) for p in _several(row, "blanks"))
    if not placements:
        raise BadValue(f"plate '{name}'", 0, "at least one blank on it")
    return PlateLayout(plate=plates[name], placements=placements, reach=0.0)


def _placement(row: Any, blanks: Mapping[str, Blank]) -> Placement:
    name = _of(row, "blank")
    if name not in blanks:
        raise UnknownName("blank", name, blanks)
    x, y, angle = (ranged(f"{name} {n}", _of(row, n), -_FAR, _FAR) for n in ("x", "y", "angle"))
    over, locked = (Flag().read(_of(row, n), f"{name} {n}") for n in ("turned_over", "locked"))
    copy = Count(1, blanks[name].quantity).read(_of(row, "copy"), f"{name} copy")
    return Placement(blank=name, copy=copy, x=x, y=y, angle=angle, turned_over=over, locked=locked)


def _of(row: Any, field: str) -> Any:
    of_kind(row, Mapping, field, "a table")
    found = row.get(field)
    if found is None or isinstance(found, list | dict):
        raise BadValue(field, found, "one value")
    return found


def _several(row: Any, field: str) -> list[Any]:
    of_kind(row, Mapping, field, "a table")
    found = row.get(field)
    of_kind(found, list, field, "a list")
    return list(found)
