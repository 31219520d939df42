"""What comes with the kit whatever the shop: grades and tables of fixings, by their standards."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Final, TypeVar

from tinbook.shop.fixings import Bolt, ClearanceHole, Fixings, LouvreDie, NutInsert, PlugWeld, Pressed, TackScrew
from tinbook.shop.material import Material
from tinbook.shop.rows import Reader
from tinbook.shop.tomlfile import TomlText, parse_toml
from tinbook.values import dataclass

_T = TypeVar("_T")

FIXINGS: Final[dict[str, tuple[type, str]]] = {
    "clearances": (ClearanceHole, "size"),
    "nut_inserts": (NutInsert, "key"),
    "bolts": (Bolt, "size"),
    "pressed": (Pressed, "key"),
    "louvre_dies": (LouvreDie, "key"),
    "plug_welds": (PlugWeld, ""),
    "tack_screws": (TackScrew, ""),
}
"""Tables by name: what a row is, and the field that is its key; rows without one are a list by thickness."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Library:
    """Grades and tables of fixings."""

    materials: tuple[Material, ...]
    fixings: Fixings


@cache
def library() -> Library:
    """Read the kit's own tables, once."""
    doc = packaged("materials.toml", "fixings.toml")
    reader = Reader(doc, own=False)
    materials = reader.table("materials", Material)
    fixings = fixings_over(reader, Fixings())
    doc.raise_mistakes()
    return Library(materials=tuple(materials.values()), fixings=fixings)


def packaged(*names: str) -> TomlText:
    """Return data files of the package as one text."""
    folder = Path(__file__).with_name("data")
    text = b"\n".join((folder / name).read_bytes() for name in names)
    return parse_toml(" + ".join(names), text)


def fixings_over(reader: Reader, old: Fixings) -> Fixings:
    """Read the tables of fixings; a table given by a shop is laid over the standard one row by row."""
    data = reader.section("fixings", (), dict)
    for name in data:
        if name not in FIXINGS:
            reader.unknown(("fixings", name), name, list(FIXINGS))
    return Fixings(**{name: _rows(reader, name, cls, getattr(old, name), key) for name, (cls, key) in FIXINGS.items()})


def _rows(reader: Reader, name: str, cls: type[_T], old: tuple[_T, ...], key: str) -> tuple[_T, ...]:
    if not key:
        return _listed(reader, name, cls, old)
    before = {str(getattr(row, key)): row for row in old}
    return tuple(reader.table(name, cls, before, at=("fixings",), key_field=key).values())


def _listed(reader: Reader, name: str, cls: type[_T], old: tuple[_T, ...]) -> tuple[_T, ...]:
    """Read rows of a list; a list in a shop's file replaces the standard one, whose ranges must not mix with it."""
    given = reader.section(name, ("fixings",), list)
    rows = [reader.row(cls, ("fixings", name, n), row, {}, None) for n, row in enumerate(given)]
    for n, row in enumerate(rows):
        for m, other in enumerate(rows[:n]):
            if row is None or other is None or getattr(row, "size", "") != getattr(other, "size", ""):
                continue
            if row.over < other.upto and other.over < row.upto:  # type: ignore[attr-defined]
                reader.doc.add(("fixings", name, n), f"its thickness range overlaps row {m + 1}; one row a thickness")
    return tuple(r for r in rows if r is not None) or old
