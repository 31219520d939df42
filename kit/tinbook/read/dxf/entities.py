"""Read a DXF file as strokes: units, exploded blocks, every entity as lines and arcs with its layer and line type."""

from __future__ import annotations

import fnmatch
import math
import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Literal

from tinbook.errors import BadFile, BadValue, Mistake, of_kind
from tinbook.paths import existing
from tinbook.plane.loops import Edge
from tinbook.read.dxf.notes import Notes
from tinbook.read.dxf.shapes import DRAWN, FAR, TEXTS, place_of
from tinbook.values import dataclass

Role = Literal["cut", "fold", "etch", "ignore"]
ROLES: tuple[Role, ...] = ("cut", "fold", "etch", "ignore")

UNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 8: 25.4e-6, 9: 0.0254, 13: 1e-3, 14: 100.0}
"""$INSUNITS to mm (the format owner's reference, as ezdxf's page on units gives it)."""
NAMES = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}

LARGEST = 60_000_000
MOST = 100_000
"""Bytes of a file and entities after exploding: beyond these a drawing is no single part (own proposal). With
`notes.SECONDS` of computing they keep a reading below about 2 GB."""
DEEPEST = 12
MOST_COPIES = 10_000
"""Blocks within blocks, and copies of a block in rows and columns: what goes beyond is left out and named."""

_FOLD = ("*bend*", "*fold*", "*biege*", "*kant*", "*crease*")
_ETCH = ("*etch*", "*engrav*", "*mark*", "*scribe*", "*text*", "*grav*")
_IGNORE = ("defpoints", "*dim*", "*border*", "*titleblock*", "*title_block*", "*annot*", "*construction*")
_DASHED = ("*dash*", "*hidden*", "*center*", "*centre*", "*phantom*", "*divide*", "*dot*")


@dataclass(slots=True)
class Stroke:
    """One entity as lines and arcs.

    Parameters
    ----------
    role : str
        What its layer or line type says: "cut" by default, "dashed" when only the line type hints.
    linetype : str
        Its own, or its layer's.
    """

    edges: list[Edge]
    role: str
    layer: str
    linetype: str = ""


@dataclass(frozen=True, slots=True)
class Drawing:
    """The strokes of a file in mm.

    Parameters
    ----------
    scale : float
        mm for one unit of the drawing.
    unit : str
        How the unit was found: "mm", "in", ..., "none stated", "as asked".
    repaired : int
        Errors that the DXF library mended while reading.
    """

    strokes: list[Stroke]
    scale: float
    unit: str
    repaired: int


def drawing(path: Path, tol: float, hints: Mapping[str, str] | None, units: str | None, notes: Notes) -> Drawing:
    """Read a file's model space as strokes.

    Raises
    ------
    BadFile
        Not a DXF file, damaged beyond reading, empty, or far too large.
    BadValue
        Hints or units that are not known.
    """
    rules = _rules(hints)
    document, repaired = _open(path)
    code = document.header.get("$INSUNITS", 0)
    if units is not None:
        if units not in NAMES:
            raise BadValue("units", units, f"one of {', '.join(NAMES)}")
        scale, unit = NAMES[units], "as asked"
    elif code in UNITS:
        scale = UNITS[code]
        unit = {1.0: "mm", 25.4: "in"}.get(scale, f"unit {code}")
    else:
        # $MEASUREMENT tells only which hatch patterns to load, so it is no proof of the unit.
        scale, unit = 1.0, "none stated"
    strokes: list[Stroke] = []
    try:
        space = document.modelspace()
    except KeyError:
        raise BadFile(str(path), [Mistake("BLOCKS", "no model space; valid: a DXF file with one")]) from None
    if _entities(document, space, {}, 0) > MOST:
        what = f"more than {MOST} entities once blocks are exploded; valid: a drawing of one part"
        raise BadFile(str(path), [Mistake("ENTITIES", what)])
    for entity in _exploded(document, space, notes, 0):
        notes.budget.check("reading its lines")
        stroke = _stroke(entity, document, scale, tol, rules, notes)
        if stroke is not None:
            strokes.append(stroke)
    return Drawing(strokes, scale, unit, repaired)


def _open(path: Path) -> tuple[Any, int]:
    import ezdxf
    from ezdxf import recover

    shown = str(path)
    existing(path, "a DXF file")
    size = path.stat().st_size
    if size == 0:
        raise BadFile(shown, [Mistake("file", "empty; valid: a DXF file")])
    if size > LARGEST:
        raise BadFile(shown, [Mistake("file", f"{size} bytes; valid: at most {LARGEST} bytes")])
    if not os.access(path, os.R_OK):
        raise BadFile(shown, [Mistake("file", "cannot be read; valid: a readable file")])
    with path.open("rb") as file:
        start = file.read(4096)
    if start[:4] == b"AC10":
        raise BadFile(shown, [Mistake("file", "a DWG file; valid: a DXF file (save it as DXF)")])
    if start[:2] == b"PK":
        raise BadFile(shown, [Mistake("file", "a ZIP archive; valid: the DXF file inside it")])
    if b"SECTION" not in start and not start.startswith(b"AutoCAD Binary DXF"):
        raise BadFile(shown, [Mistake("first lines", "no SECTION; valid: a DXF file, text or binary")])
    try:
        return ezdxf.readfile(shown), 0
    except Exception as first:  # noqa: BLE001 - a damaged file raises whatever the library stumbles on
        try:
            document, auditor = recover.readfile(shown)
        except Exception:  # noqa: BLE001 - as above
            what = f"damaged ({type(first).__name__}: {str(first)[:80]}); valid: a DXF file that another reader opens"
            raise BadFile(shown, [Mistake("file", what)]) from None
        return document, max(1, len(auditor.fixes) + len(auditor.errors))


def _rules(hints: Mapping[str, str] | None) -> list[tuple[str, str, str]]:
    """Return (what, pattern, role) with the user's own before the built-in ones."""
    made: list[tuple[str, str, str]] = []
    of_kind(hints, (Mapping, type(None)), "hints", "{'layer:NAME': 'fold'}")
    for key, role in (hints or {}).items():
        if role not in ROLES:
            raise BadValue(f"hints[{key!r}]", role, f"one of {', '.join(ROLES)}")
        what, _, pattern = str(key).rpartition(":")
        if what not in ("", "layer", "linetype"):
            raise BadValue("hints", key, "'LAYER', 'layer:LAYER' or 'linetype:NAME', with * as wildcard")
        made.append((what or "layer", pattern.lower(), role))
    for patterns, role in ((_IGNORE, "ignore"), (_FOLD, "fold"), (_ETCH, "etch")):
        made += [("layer", p, role) for p in patterns]
    made += [("linetype", p, "dashed") for p in _DASHED]
    return made


def _role(layer: str, linetype: str, rules: list[tuple[str, str, str]]) -> str:
    for what, pattern, role in rules:
        if fnmatch.fnmatchcase((layer if what == "layer" else linetype).lower(), pattern):
            return role
    return "cut"


def _copies(insert: Any) -> int:
    return int(max(insert.dxf.get("row_count", 1), 1) * max(insert.dxf.get("column_count", 1), 1))


def _entities(document: Any, entities: Any, known: dict[tuple[str, int], int], depth: int) -> int:
    """Return how many there will be once blocks are exploded, an inserted block counted too, without exploding any."""
    total = 0
    for entity in entities:
        total += 1
        if entity.dxftype() != "INSERT" or depth > DEEPEST or _copies(entity) > MOST_COPIES:
            continue
        name = str(entity.dxf.get("name", ""))
        if (name, depth) not in known:
            block = document.blocks.get(name)
            known[name, depth] = 0 if block is None else _entities(document, block, known, depth + 1)
        total += _copies(entity) * known[name, depth]
    return total


def _exploded(document: Any, entities: Any, notes: Notes, depth: int) -> Iterator[Any]:
    for entity in entities:
        kind = entity.dxftype()
        if kind != "INSERT":
            yield entity
            continue
        many = _copies(entity)
        if depth > DEEPEST or many > MOST_COPIES:
            notes.add("left out", None, "block too deep or repeated too often")
            continue
        notes.add("blocks", None, entity.dxf.get("name", "?"))
        try:
            copies = list(entity.multi_insert()) if many > 1 else [entity]
            yield from entity.attribs
            for one in copies:
                yield from _exploded(document, one.virtual_entities(), notes, depth + 1)
        except Exception:  # noqa: BLE001 - a damaged block raises whatever it stumbles on
            notes.add("left out", None, "damaged block")


def _stroke(
    entity: Any, document: Any, scale: float, tol: float, rules: list[tuple[str, str, str]], notes: Notes
) -> Stroke | None:
    kind = entity.dxftype()
    try:
        layer = str(entity.dxf.get("layer", "0"))
        table = document.layers.get(layer) if document.layers.has_entry(layer) else None
        if table is not None and (table.is_off() or table.is_frozen()):
            notes.add("left out", None, f"layer {layer} switched off")
            return None
        if kind in TEXTS:
            notes.texts.append(place_of(entity.dxf.insert, scale))
        linetype = str(entity.dxf.get("linetype", "BYLAYER"))
        if linetype.upper() in ("BYLAYER", "BYBLOCK", "") and table is not None:
            linetype = str(table.dxf.get("linetype", "CONTINUOUS"))
        role = _role(layer, linetype, rules)
        if role == "ignore":
            notes.add("left out", None, f"layer {layer}")
            return None
        if kind not in DRAWN:
            notes.add("left out", None, kind)
            return None
        edges = DRAWN[kind](entity, scale, tol, notes)
    except Exception:  # noqa: BLE001 - a damaged entity raises whatever it stumbles on; it is counted
        notes.add("left out", None, f"damaged {kind}")
        return None
    edges = [e for e in edges if e.start != e.end]
    if not edges:
        notes.add("left out", None, f"{kind} without length")
        return None
    if not all(math.isfinite(v) and abs(v) < FAR for e in edges for v in (*e.start, *e.end)):
        notes.add("left out", None, f"{kind} out of all bounds")
        return None
    if not all(math.isfinite(e.bulge) and abs(e.bulge) < 1e4 for e in edges):
        notes.add("left out", None, f"damaged {kind}")
        return None
    return Stroke(edges, role, layer, linetype)
