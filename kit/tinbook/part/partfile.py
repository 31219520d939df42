"""A part as one TOML file, and back: everything it holds, every mistake reported at once.

The keys of a row are the fields of its feature, read by the kinds in their annotations; a new field needs nothing here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import MISSING, fields, is_dataclass, replace
from math import inf
from pathlib import Path
from typing import Any, Final

import tomlkit

from tinbook.errors import TinbookError
from tinbook.fields import Kind, Number, Pair, Several, Text, kinds
from tinbook.finding import Finding, Findings
from tinbook.part.features import Fold, Hole, HoleGrid, HoleRow
from tinbook.part.forms import FORMS
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Edge, Loop
from tinbook.shop.rows import Reader
from tinbook.shop.tomlfile import KeyPath, TomlText, parse_toml, read_toml

ALL: Final = "*"
"""In `clean`: every edge of the part."""
HEAD: Final[dict[str, Kind]] = kinds(Part) | {"clean": Several(Text(), 0, what="edges")}
"""Keys at the top of the file."""
TABLES: Final[dict[str, tuple[str, type]]] = {
    "fold": ("folds", Fold),
    "hole": ("holes", Hole),
    "row": ("holes", HoleRow),
    "grid": ("holes", HoleGrid),
    **{kind.TABLE: ("forms", kind) for kind in FORMS},
}
"""Table in the file -> where the part keeps it, and as what; holes of all three kinds keep their order by `place`."""

FOUND: Final = "finding"
"""Table in the file of what was found while the outlines were measured."""

CORNER: Final[dict[str, Kind]] = {"name": Text(), "start": Pair(Number("mm")), "bulge": Number()}
"""Keys of an edge in `outline`."""


def part_values(part: Part) -> dict[str, Any]:
    """Return all that a part holds as plain values: numbers, texts, lists and tables.

    Parameters
    ----------
    part : Part
        Any part.

    Returns
    -------
    dict
        As `part_to_toml` writes it; lengths in mm, angles in degrees.
    """
    values: dict[str, Any] = {n: plain(v) for n in kinds(Part) if (v := getattr(part, n)) not in (None, "", False, ())}
    values |= {} if part.marking else {"marking": False}
    if part.clean:
        names = [edge if panel in ("", "base") else f"{panel}.{edge}" for panel, edge in part.clean]
        values["clean"] = [name or ALL for name in names]
    values["outline"] = [
        {"name": e.name, "start": list(e.start)} | ({"bulge": e.bulge} if e.bulge else {}) for e in part.base.loop.edges
    ]
    if part.base.findings:
        values[FOUND] = [
            {k: v for k, v in row_of(f).items() if v == v and v not in (inf, -inf)} for f in part.base.findings
        ]
    for table, (where, kind) in TABLES.items():
        rows = [(n, f) for n, f in enumerate(getattr(part, where), 1) if type(f) is kind]
        if rows:
            values[table] = [({"place": n} if where == "holes" else {}) | row_of(f) for n, f in rows]
    return values


def part_to_toml(part: Part) -> str:
    """Return a part as the text of a TOML file; lengths in mm, angles in degrees, numbers exact.

    Parameters
    ----------
    part : Part
        Any part.

    Returns
    -------
    str
    """
    doc = tomlkit.document()
    doc.add(tomlkit.comment("A part of tinbook. Lengths in mm, angles in degrees turned through."))
    for key, value in part_values(part).items():
        if key == "outline":
            doc.add(tomlkit.nl())
            doc.add(
                tomlkit.comment("Outline of the base panel, anticlockwise from the up side, to outside mould lines.")
            )
            doc.add(key, inline(value).multiline(True))
        elif key in (FOUND, *TABLES):
            rows = tomlkit.aot()
            for row in value:
                table = tomlkit.table()
                for name, entry in row.items():
                    table.add(name, inline(entry))
                rows.append(table)
            doc.add(tomlkit.nl())
            doc.add(key, rows)
        else:
            doc.add(key, value)
    return tomlkit.dumps(doc)


def part_from_toml(text: str, name: str = "part") -> Part:
    """Return the part of a TOML text; see `read_part`."""
    return part_of(parse_toml(name, text.encode("utf-8")))


def read_part(path: str | Path) -> Part:
    """Read a part from a TOML file.

    Parameters
    ----------
    path : str or Path
        A file as `part_to_toml` writes it; lengths and angles may carry units as text.

    Returns
    -------
    Part

    Raises
    ------
    BadFile
        With every mistake, each with its line and its path in the file.
    """
    return part_of(read_toml(path))


def row_of(feature: Any) -> dict[str, Any]:
    """Return the fields of a feature that differ from their defaults."""
    row = {}
    for f in fields(feature):
        value = getattr(feature, f.name)
        default = f.default
        if value is not None and value != default:
            row[f.name] = plain(value)
    return row


def plain(value: Any) -> Any:
    """Return a value of a part as a file holds it."""
    if isinstance(value, Loop):
        return [[*e.start, e.bulge, *([e.name] if e.name else [])] for e in value.edges]
    if is_dataclass(value):
        return row_of(value)
    return [plain(v) for v in value] if isinstance(value, tuple) else value


def inline(value: Any) -> Any:
    """Return a value whose tables stand on one line."""
    if isinstance(value, dict):
        table = tomlkit.inline_table()
        table.update({k: inline(v) for k, v in value.items()})
        return table
    if isinstance(value, list) and value and isinstance(value[0], dict):
        rows = tomlkit.array()
        for v in value:
            rows.append(inline(v))
        return rows
    return tomlkit.item(value)


def part_of(doc: TomlText) -> Part:
    """Return the part of a TOML text that was read."""
    data = doc.data
    head = read_row(doc, (), data, HEAD, ("number", "sheet"), ("outline", FOUND, *TABLES))
    base = _outline(doc)
    tables = {FOUND: ("findings", Finding), **TABLES}
    features: dict[str, list[tuple[int, Any]]] = {where: [] for where, _ in tables.values()}
    for table, (where, kind) in tables.items():
        rows = data.get(table, [])
        if not isinstance(rows, list):
            doc.add((table,), f"must be rows [[{table}]]")
            continue
        for i, row in enumerate(rows):
            made = _feature(doc, (table, i), row, kind, extra=("place",) if where == "holes" else ())
            if made is not None:
                features[where].append((_place(doc, (table, i), row), made))
    doc.raise_mistakes()
    assert head is not None
    assert base is not None
    clean = head.pop("clean", ())
    ordered: dict[str, Any] = {w: tuple(f for _, f in sorted(rows, key=lambda r: r[0])) for w, rows in features.items()}
    base = replace(base, findings=Findings(ordered.pop("findings")))
    try:
        part = Part(**head, base=base, **ordered)
        for name in clean:
            part = part.keep_clean(*(() if name == ALL else (name,)))
        return part
    except TinbookError as wrong:
        doc.note(0, "", str(wrong))
        doc.raise_mistakes()
        raise


def _outline(doc: TomlText) -> Outline | None:
    rows = doc.data.get("outline")
    if not isinstance(rows, list) or len(rows) < 2:
        doc.add(("outline",), "must be a list of two or more edges { name, start, bulge }")
        return None
    corners = [read_row(doc, ("outline", i), row, CORNER, needed=("start",)) for i, row in enumerate(rows)]
    good = [c for c in corners if c is not None]
    if len(good) != len(rows):
        return None
    ends = [c["start"] for c in (*good[1:], *good[:1])]
    edges = [Edge(c["start"], end, c.get("bulge", 0.0), c.get("name", "")) for c, end in zip(good, ends, strict=True)]
    try:
        return Outline.from_edges(edges)
    except TinbookError as wrong:
        doc.add(("outline",), str(wrong))
        return None


def _place(doc: TomlText, path: KeyPath, row: dict[str, Any]) -> int:
    place = row.get("place", 10**6)
    if isinstance(place, bool) or not isinstance(place, int):
        doc.add((*path, "place"), f"{place!r} is not usable; valid: a whole number")
        return 0
    return place


def _feature(doc: TomlText, path: KeyPath, row: Any, cls: type, extra: tuple[str, ...] = ()) -> Any:
    needed = [f.name for f in fields(cls) if f.default is MISSING]
    values = read_row(doc, path, row, kinds(cls), needed, extra)
    try:
        return None if values is None else cls(**values)
    except TinbookError as wrong:
        doc.add(path, str(wrong))
        return None


def read_row(
    doc: TomlText,
    path: KeyPath,
    row: Any,
    known: dict[str, Kind],
    needed: Iterable[str],
    extra: tuple[str, ...] = (),
) -> dict[str, Any] | None:
    """Return what the keys of a row say; None where it has mistakes, all of them noted."""
    if not isinstance(row, dict):
        doc.add(path, f"must be a table with {', '.join(known)}")
        return None
    before = len(doc.mistakes)
    reader, values = Reader(doc, own=True), dict[str, Any]()
    for key, given in row.items():
        if key in known:
            reader.take(values, key, known[key], given, (*path, key))
        elif key not in extra:
            reader.unknown((*path, key), key, [*known, *extra])
    for name in needed:
        if name not in row:
            doc.add(path, f"{name} is missing; valid: {known[name].valid}")
    return values if len(doc.mistakes) == before else None
