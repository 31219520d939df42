"""A part as one TOML file, and back: everything it holds, every mistake reported at once."""

from __future__ import annotations

import json
from dataclasses import MISSING, fields, is_dataclass
from pathlib import Path
from typing import Any, Final

from tinbook import units
from tinbook.errors import BadValue, TinbookError
from tinbook.part.features import Corner, Fold, Hem, Hole, HoleGrid, HoleRow, Relief
from tinbook.part.forms import FORMS
from tinbook.part.outline import Outline
from tinbook.part.part import Part
from tinbook.plane.loops import Edge, Loop
from tinbook.shop.tomlfile import TomlText, parse_toml, read_toml

HEAD: Final = ("number", "rev", "sheet", "title", "quantity", "trim", "marking", "other_hand")
TABLES: Final[dict[str, tuple[str, type]]] = {
    "fold": ("folds", Fold),
    "hole": ("holes", Hole),
    "row": ("holes", HoleRow),
    "grid": ("holes", HoleGrid),
    **{kind.TABLE: ("forms", kind) for kind in FORMS},
}
"""Table in the file -> where the part keeps it, and as what; holes of all three kinds keep their order by `place`."""

ALL: Final = "*"
"""In `clean`: every edge of the part."""

INSIDE: Final = {"relief": Relief, "corner": Corner, "hem": Hem}
ANGLES: Final = {"angle", "turn", "skew"}
PLAIN: Final = {
    "name",
    "panel",
    "edge",
    "direction",
    "to",
    "tool",
    "rule",
    "use",
    "size",
    "roll",
    "kind",
    "text",
    "face",
    "note",
}
COUNTS: Final = {"count", "copies", "counts"}
FLAGS: Final = {"curl", "closed"}
PAIRS: Final = {"leg", "skew", "centre", "first", "steps", "step", "at"}
BOTH_ENDS: Final = {"leg", "skew"}
"""Pairs of which one number stands for both."""


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
    lines = ["# A part of tinbook. Lengths in mm, angles in degrees turned through."]
    lines += [f"{name} = {_value(getattr(part, name))}" for name in HEAD if getattr(part, name) not in ("", False)]
    lines += [f"{name} = false" for name in ("marking",) if not part.marking]
    if part.clean:
        names = [edge if panel in ("", "base") else f"{panel}.{edge}" for panel, edge in part.clean]
        lines.append(f"clean = {_value([name or ALL for name in names])}")
    lines += ["", "# Outline of the base panel, anticlockwise from the up side, to outside mould lines.", "outline = ["]
    for e in part.base.loop.edges:
        bulge = f", bulge = {_value(e.bulge)}" if e.bulge else ""
        lines.append(f"  {{ name = {_value(e.name)}, start = {_value(e.start)}{bulge} }},")
    lines.append("]")
    for table, (where, kind) in TABLES.items():
        for place, feature in enumerate(getattr(part, where)):
            if type(feature) is kind:
                lines += ["", f"[[{table}]]"]
                lines += [f"place = {place + 1}"] if where == "holes" else []
                lines += _rows(feature)
    return "\n".join(lines) + "\n"


def part_from_toml(text: str, name: str = "part") -> Part:
    """Return the part of a TOML text; see `read_part`."""
    return _part(parse_toml(name, text.encode("utf-8")))


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
    return _part(read_toml(path))


def _rows(feature: Any) -> list[str]:
    rows = []
    for f in fields(feature):
        value = getattr(feature, f.name)
        default = (
            f.default if f.default is not MISSING else f.default_factory() if callable(f.default_factory) else MISSING
        )
        if value is not None and value != default:
            rows.append(f"{f.name} = {_value(value)}")
    return rows


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, Loop):
        return "[" + ", ".join(_value((*e.start, e.bulge, *([e.name] if e.name else []))) for e in value.edges) + "]"
    if is_dataclass(value):
        return "{ " + ", ".join(_rows(value)) + " }"
    return "[" + ", ".join(map(_value, value)) + "]"


def _part(doc: TomlText) -> Part:
    data = doc.data
    known = {*HEAD, "clean", "outline", *TABLES}
    for key in data:
        if key not in known:
            doc.add((key,), f"is not a key of a part file; valid: {', '.join(sorted(known))}")
    if not isinstance(data.get("other_hand", False), bool):
        doc.add(("other_hand",), f"{data['other_hand']!r} is not usable; valid: true or false")
    clean = data.get("clean", [])
    if not isinstance(clean, list) or not all(isinstance(name, str) for name in clean):
        doc.add(("clean",), f"{clean!r} is not usable; valid: a list of edges, or of '{ALL}' alone")
    base = _outline(doc)
    features: dict[str, list[tuple[int, Any]]] = {where: [] for where, _ in TABLES.values()}
    for table, (where, kind) in TABLES.items():
        rows = data.get(table, [])
        if not isinstance(rows, list):
            doc.add((table,), f"must be rows [[{table}]]")
            continue
        for i, row in enumerate(rows):
            made = _feature(doc, (table, i), row, kind, extra=("place",) if where == "holes" else ())
            if made is not None:
                features[where].append((_place(doc, (table, i), row), made))
    doc.raise_mistakes()
    assert base is not None
    try:
        head = {k: data[k] for k in ("rev", "title", "quantity", "trim", "marking") if k in data}
        part = Part(data.get("number", ""), sheet=data.get("sheet", ""), base=base, **head)
        ordered = {w: tuple(f for _, f in sorted(rows, key=lambda r: r[0])) for w, rows in features.items()}
        part = part.with_features(**ordered)
        for name in clean:
            part = part.keep_clean(*(() if name == ALL else (name,)))
        return part.mirrored() if data.get("other_hand", False) else part
    except TinbookError as wrong:
        doc.note(0, "", str(wrong))
        doc.raise_mistakes()
        raise


def _outline(doc: TomlText) -> Outline | None:
    rows = doc.data.get("outline")
    if not isinstance(rows, list) or len(rows) < 2:
        doc.add(("outline",), "must be a list of two or more edges { name, start, bulge }")
        return None
    corners: list[tuple[tuple[float, float], float, str]] = []
    for i, row in enumerate(rows):
        path = ("outline", i)
        if not isinstance(row, dict):
            doc.add(path, "must be a table { name, start, bulge }")
            continue
        for key in set(row) - {"name", "start", "bulge"}:
            doc.add((*path, key), "is not a key of an edge; valid: name, start, bulge")
        try:
            start = units.point(row.get("start"), "start")
            bulge, name = units.number(row.get("bulge", 0.0), "", "bulge"), row.get("name", "")
            if not isinstance(name, str):
                raise BadValue("name", name, "text")
            corners.append((start, bulge, name))
        except TinbookError as wrong:
            doc.add(path, str(wrong))
    if len(corners) != len(rows):
        return None
    edges = [Edge(c[0], corners[(i + 1) % len(corners)][0], c[1], c[2]) for i, c in enumerate(corners)]
    try:
        return Outline.from_edges(edges)
    except TinbookError as wrong:
        doc.add(("outline",), str(wrong))
        return None


def _place(doc: TomlText, path: tuple[str | int, ...], row: dict[str, Any]) -> int:
    place = row.get("place", 10**6)
    if isinstance(place, bool) or not isinstance(place, int):
        doc.add((*path, "place"), f"{place!r} is not usable; valid: a whole number")
        return 0
    return place


def _feature(doc: TomlText, path: tuple[str | int, ...], row: Any, kind: type, extra: tuple[str, ...] = ()) -> Any:
    if not isinstance(row, dict):
        doc.add(path, "must be a table")
        return None
    known = {f.name: f for f in fields(kind)}
    good = True
    values: dict[str, Any] = {}
    for key, given in row.items():
        if key in extra:
            continue
        if key not in known:
            doc.add((*path, key), f"is not a key here; valid: {', '.join(known)}")
            good = False
            continue
        try:
            values[key] = _read(doc, (*path, key), key, given)
        except (TinbookError, TypeError, ValueError, KeyError) as wrong:
            doc.add((*path, key), str(wrong))
            good = False
    needed = [n for n, f in known.items() if f.default is MISSING and f.default_factory is MISSING and n not in row]
    for name in needed:
        doc.add(path, f"{name} is missing")
    if not good or needed:
        return None
    try:
        return kind(**values)
    except TinbookError as wrong:
        doc.add(path, str(wrong))
        return None


def _read(doc: TomlText, path: tuple[str | int, ...], key: str, given: Any) -> Any:
    if key in INSIDE:
        return _feature(doc, path, given, INSIDE[key]) or INSIDE[key]()
    if key == "path":
        if not isinstance(given, list):
            raise BadValue(key, given, "a list of points [x, y]")
        return tuple(units.point(p, f"{key} {i + 1}") for i, p in enumerate(given))
    if key == "edges":
        if not isinstance(given, list) or not all(isinstance(p, list) and len(p) == 2 for p in given):
            raise BadValue(key, given, "a list of [panel, edge]")
        return tuple((str(a), str(b)) for a, b in given)
    if key in ("loop", "shape", "strip"):
        return _loop(key, given)
    if key in FLAGS:
        if not isinstance(given, bool):
            raise BadValue(key, given, "true or false")
        return given
    if key in PLAIN:
        if not isinstance(given, str):
            raise BadValue(key, given, "text")
        return given
    if key in COUNTS:
        numbers = given if isinstance(given, list) else [given]
        several = key == "counts"
        if several is not isinstance(given, list) or any(type(n) is not int for n in numbers):
            raise BadValue(key, given, "a pair of whole numbers [a, b]" if several else "a whole number")
        return tuple(numbers) if several else given
    read = units.angle if key in ANGLES else units.length
    if key not in PAIRS:
        return read(given, key)
    if key in BOTH_ENDS and not isinstance(given, list):
        given = [given, given]
    if not isinstance(given, list) or len(given) != 2:
        raise BadValue(key, given, "a pair of numbers [a, b]")
    return read(given[0], key), read(given[1], key)


def _loop(key: str, given: Any) -> Loop:
    """Read a contour: rows [x, y, bulge] or [x, y, bulge, name]."""
    if (
        not isinstance(given, list)
        or len(given) < 2
        or not all(isinstance(r, list) and len(r) in (3, 4) for r in given)
    ):
        raise BadValue(key, given, "two or more rows [x, y, bulge] or [x, y, bulge, name]")
    rows = [[units.number(v, "", key) for v in row[:3]] for row in given]
    names = [str(row[3]) if len(row) == 4 else "" for row in given]
    ends = [*rows[1:], rows[0]]
    edges = [
        Edge((x, y), (to[0], to[1]), bulge, name) for (x, y, bulge), to, name in zip(rows, ends, names, strict=True)
    ]
    Outline.from_edges(edges)  # refuses a contour that is open, crossing or empty
    return Loop(tuple(edges))
